"""Rows of a sweep as what a day is made of: plans that may be run, and why the others may not."""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Iterator

from choreo.campaigns.records import Campaign, Row, Variant
from choreo.campaigns.staging.member import Member
from choreo.campaigns.staging.standing import moved_by_sights, standing_round
from choreo.campaigns.whole_day import LeftOut
from choreo.case import case_of
from choreo.plans import from_text


def answered(campaign: Campaign, rows: Iterable[Row]) -> Iterator[tuple[Variant, Member] | LeftOut]:
    """Give each variant with its plan, or left out. rows: of all variants in order, with documents."""
    for index, (variant, row) in enumerate(zip(campaign.variants(), rows, strict=True)):
        if row.verdict is None:
            yield LeftOut(variant, "faulty", row.reason)
        elif row.verdict != "feasible":
            yield LeftOut(variant, row.verdict, row.reason)
        else:
            plan = from_text(zlib.decompress(row.document).decode(), row.name)
            scenario = campaign.scenario_of(variant)
            stood = standing_round(case_of(scenario), plan)
            yield variant, Member(index, *stood, moved=moved_by_sights(scenario))
