"""The trail line by line: what was recorded, the belief before and after each answer, remarks beside it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from reasoner.consult.describe import describe
from reasoner.review.moments import Moment, Move, moves
from reasoner.review.reading import Reading
from reasoner.review.remarks import Remark

__all__ = ["Line", "timeline"]


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the trail; `move`: what it moved most, where beliefs were worked out just after it."""

    seq: int
    at: datetime
    by: str
    visit: int
    text: str
    move: Move | None = None
    remarks: tuple[Remark, ...] = ()


def timeline(
    reading: Reading, found: Sequence[Moment], remarks: Sequence[Remark] = (), start: int = 1, count: int = 60
) -> tuple[Line, ...]:
    """`count` lines from `start` on."""
    return tuple(_lines(reading, found, remarks, start, count))


def _lines(
    reading: Reading, found: Sequence[Moment], remarks: Sequence[Remark], start: int, count: int
) -> Iterator[Line]:
    by_line: Mapping[int, Move] = {m.seq: m for m in moves(found, reading.knowledge)}
    visit = 0
    for one in reading.recorded:
        visit = getattr(one.event, "number", visit) if type(one.event).__name__ == "VisitOpened" else visit
        if one.seq < start:
            continue
        if one.seq >= start + count:
            return
        beside = tuple(r for r in remarks if r.on == one.seq)
        text = describe(reading.knowledge, one.event)
        yield Line(one.seq, one.at, one.by, visit, text, by_line.get(one.seq), beside)
