"""Small knowledge and states made in Python, for tests that need only a few records. Invented; no clinical claim."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from typing import Any

from reasoner.case.state import Answer, CaseState, Context, Side, Visit
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import (
    AlwaysAsk,
    Figure,
    Finding,
    Hypothesis,
    LoadClass,
    Measure,
    OptionRecord,
    Policy,
    Position,
    Protocol,
    Region,
    Scales,
    Screen,
    Setting,
    Word,
)

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
PRACTICE: Any = "practice"
SCALES = Scales(
    words=tuple(
        Word(id=i, value=v, range=(max(v - 0.15, 0.01), min(v + 0.04, 0.99)))
        for i, v in (("almost_always", 0.95), ("usually", 0.8), ("often", 0.6), ("sometimes", 0.35), ("rarely", 0.05))
    )
)
POLICY = Policy(
    certainty_weight={"high": 1.0, "moderate": 0.75, "low": 0.5, "very_low": 0.25},
    leak_floor={"told": 0.05, "seen": 0.02, "tested": 0.02, "measured": 0.02, "composite": 0.02},
)


def finding(ident: str, **fields: Any) -> Finding:
    """A told, unsided finding unless said otherwise."""
    given = {"kind": "told", "sided": False, "name": ident, **fields}
    return Finding(id=ident, leak=Figure(value=0.05, basis=PRACTICE), **given)


def screen(ident: str, **fields: Any) -> Screen:
    """An emergency screen that closes everything unless said otherwise."""
    given: dict[str, Any] = {
        "name": ident, "send": "emergency", "hands": "nothing", "say_met": "met", "next_step": "send", **fields
    }
    return Screen(id=ident, basis=PRACTICE, **given)


def knowledge(
    findings: Iterable[Finding] = (),
    screens: Iterable[Screen] = (),
    hypotheses: Iterable[Hypothesis] = (),
    load_classes: Iterable[LoadClass] = (),
    options: Iterable[OptionRecord] = (),
    protocols: Iterable[Protocol] = (),
    measures: Iterable[Measure] = (),
    always_ask: Iterable[AlwaysAsk] = (),
    covers: Any = None,
) -> Knowledge:
    """A Knowledge value with just these records."""
    region = Region(
        id="knee_of_a_robot",
        name="test region",
        covers=covers or {"age": {"at_least": 16}},
        covers_say="outside whom this pack covers",
        settings=(Setting(id="not_stated", name="not stated"), Setting(id="after_sprain", name="after sprain")),
        always_ask=tuple(always_ask),
        positions=(Position(id="sit", name="sit"),),
    )
    return Knowledge(
        region, POLICY, SCALES, _by_id(findings), {}, {}, _by_id(hypotheses), _by_id(measures), _by_id(options),
        _by_id(load_classes), _by_id(protocols), _by_id(screens), {}, "test",
    )


def _by_id(records: Iterable[Any]) -> dict[str, Any]:
    return {r.id: r for r in records}


def state(
    answers: Mapping[str, str | float | tuple[str, Side]] | None = None,
    context: Context | None = None,
    **fields: Any,
) -> CaseState:
    """A one-visit state: {finding: "present"}, {finding: .7} for a sureness, {finding: ("absent", "left")}."""
    made = []
    for seq, (ident, value) in enumerate((answers or {}).items(), 1):
        side: Side = "none"
        sure = None
        if isinstance(value, tuple):
            value, side = value
        if isinstance(value, float):
            value, sure = ("present" if value >= 0.5 else "absent"), value
        made.append(Answer(ident, side, value, sure, NOW, seq=seq))  # type: ignore[arg-type]
    return CaseState(
        case="test", context=context or Context(), answers=tuple(made), visits=(Visit(1, NOW),), **fields
    )
