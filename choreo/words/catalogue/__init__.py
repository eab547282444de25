"""Every code that a finding may carry, with the words for it; one file an area."""

from choreo.words.catalogue.campaign import CAMPAIGN
from choreo.words.catalogue.circuit import CIRCUIT
from choreo.words.catalogue.entry import Entry
from choreo.words.catalogue.geometry import GEOMETRY
from choreo.words.catalogue.guide import GUIDE
from choreo.words.catalogue.place import PLACE
from choreo.words.catalogue.plan import PLAN
from choreo.words.catalogue.problem import PROBLEM
from choreo.words.catalogue.recording import RECORDING
from choreo.words.catalogue.rules import RULES
from choreo.words.catalogue.scenario import INPUT, SCENARIO
from choreo.words.catalogue.share import SHARE
from choreo.words.catalogue.site import SITE
from choreo.words.catalogue.space import SPACE
from choreo.words.catalogue.verify import VERIFY

CATALOGUE: dict[str, Entry] = {
    **INPUT,
    **SCENARIO,
    **SITE,
    **GEOMETRY,
    **PROBLEM,
    **PLAN,
    **VERIFY,
    **SPACE,
    **PLACE,
    **CAMPAIGN,
    **CIRCUIT,
    **SHARE,
    **RULES,
    **RECORDING,
    **GUIDE,
}

__all__ = ["CATALOGUE", "Entry"]
