"""Who comes, as it would stand in the record if all of it had been asked."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Literal

from reasoner.case.state import Anchor, Context, Immobilised, Surgery
from reasoner.graph.scenario import Scenario

__all__ = ["ANCHORS", "OTHER", "context_of"]

OTHER: Mapping[str, Literal["left", "right"]] = {"left": "right", "right": "left"}
ANCHORS = ("injury", "surgery", "cast_off", "union_on_film", "symptoms")


def context_of(scenario: Scenario, at: datetime) -> Context:
    """Who and how, as it would stand in the record if all of it had been asked."""
    p = scenario.person
    days = {a: Anchor(p.days_since.get(a), at, none=a not in p.days_since) for a in ANCHORS}
    cast = (
        Immobilised(none=True)
        if p.immobilised_weeks is None
        else Immobilised(False, p.immobilised_weeks, p.immobilised_position or None)
    )
    surgery = (
        Surgery(none=True) if not p.procedure else Surgery(False, p.procedure, None, p.weight_bearing or None, p.orders)
    )
    return Context(p.side, float(p.age), p.sex, p.setting, days, cast, surgery)
