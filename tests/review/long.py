"""A trail of many lines, as if one case came for months: written at once, not through a session."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

from reasoner.case import events as ev
from reasoner.case.codec import encode
from reasoner.graph.knowledge import Knowledge
from reasoner.trail.line import FIRST_PREVIOUS
from reasoner.trail.line import encode as as_line

_BEGAN = datetime(2025, 1, 6, 9, 0, tzinfo=UTC)


def long_trail(knowledge: Knowledge, folder: Path, lines: int) -> Path:
    """At least so many lines, whole visits, in a file of that folder: a copy outside the state folder."""
    file = folder / "long-case-1.jsonl"
    previous, written = FIRST_PREVIOUS, list[bytes]()
    for seq, (at, event) in enumerate(_events(knowledge, lines), 1):
        line = encode(event)
        raw = as_line(
            seq, previous, line.name, line.payload, at=at, by="KM", role="graduate", knowledge=knowledge.digest,
            text_hashes={},
        )  # fmt: skip
        previous = json.loads(raw)["hash"]
        written.append(raw)
    file.write_bytes(b"\n".join(written) + b"\n")
    return file


def _events(knowledge: Knowledge, lines: int) -> Iterator[tuple[datetime, ev.Event]]:
    now, made, number = _BEGAN, 1, 0
    yield now, ev.CaseOpened("long-case-1", "demo", knowledge.region.id)
    while made < lines:
        number, now = number + 1, now + timedelta(days=3)
        for event in _visit(knowledge, number):
            made, now = made + 1, now + timedelta(seconds=20)
            yield now, event


def _visit(knowledge: Knowledge, number: int) -> Iterator[ev.Event]:
    random = Random(number)
    plain = [f for f in knowledge.findings.values() if f.composite is None and f.measured is None and not f.danger]
    yield ev.VisitOpened(number)
    if number == 1:
        yield ev.ContextStated("side", "left")
        yield ev.ContextStated("setting", "after_sprain")
    for bundle in knowledge.region.always_ask:
        yield ev.BundleAnswered(bundle.id, "absent", bundle.findings)
    for finding in random.sample(plain, 60):
        value = random.choice(("present", "absent", "absent", "unknown"))
        yield ev.Answered(finding.id, "left" if finding.sided else "none", value)
    for side in ("left", "right"):
        yield ev.Measured("knee_to_wall", side, "tape", (4.0, 4.5, 4.5))
    yield ev.Treated(number, "posterior_talar_glide_3", "left", "offered")
    yield ev.Measured("knee_to_wall", "left", "tape", (5.0, 5.0, 4.5), phase="retest", loop=number)
    yield ev.Retested(number, "within")
    yield ev.VisitClosed()
