"""What every plan and every placement says about itself."""

from collections.abc import Iterable

CAUTION = (
    "This plan is advice. Site rules, local codes and the responsible test-safety staff decide. "
    "An independent means of stopping every mover must exist and be tested before the run."
)

WHO_REACTS = (
    "The plan supposes that the subject's own system does nothing. If it brakes or steers, the others "
    "carry on as planned once launched."
)

# The one list: documents hold it, reports make a sentence of it.
NOT_MODELLED = (
    "tyres beyond the friction and slope of the site file",
    "braking and cornering at once without `combined: ellipse`",
    "loss of steering or of one brake, skidding",
    "wind",
    "bodies that leave their paths after touching",
    "movers that roll on when a trigger fails",
    "drivers' and controllers' errors beyond the path and position errors asked for",
    "people and traffic on the site",
    "heights, drainage and kerbs",
    "what lies beyond the edge of the drivable area",
)


def not_modelled_sentence(listed: Iterable[str] = NOT_MODELLED) -> str:
    """Give what is not modelled in one sentence."""
    return f"Not modelled: {'; '.join(listed)}."


# What stands at the end of everything that is printed or shown of a plan.
CAUTIONS = (CAUTION, WHO_REACTS, not_modelled_sentence())

# The same in one line, where it stands again and again; the guide's page has all of it.
CAUTION_LINE = (
    "Advice only: the responsible test-safety staff decide. In full: `choreo guide guarantees`."
)
