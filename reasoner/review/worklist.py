"""A folder of trails as a list of work: possible missed danger first, then what nobody has read, then the rest."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from reasoner.problems import InputRefused, Problem
from reasoner.review.counted import Fault, counted, in_order
from reasoner.review.reading import Reading
from reasoner.review.remarks import read_by, remarks_of, unread

__all__ = ["Work", "worklist"]


@dataclass(frozen=True, slots=True)
class Work:
    """One trail. `refused`: why it cannot be read; then nothing else holds."""

    path: Path
    case: str
    kind: str = ""
    clinician: str = ""
    visits: int = 0
    lines: int = 0
    unread: bool = True
    read_by: tuple[str, ...] = ()
    remarks: int = 0
    faults: tuple[Fault, ...] = ()
    refused: tuple[Problem, ...] = ()

    @property
    def dangers(self) -> tuple[Fault, ...]:
        """What calls for the telephone."""
        return tuple(f for f in self.faults if f.code in ("danger", "withdrawn"))


def worklist(
    paths: Iterable[Path],
    open_: Callable[[Path], Reading],
    missed: Callable[[Reading], Sequence[Fault]] = lambda reading: (),
) -> tuple[Work, ...]:
    """Every trail, most pressing first. `open_` verifies and opens one; what it refuses is listed with the reason.

    `missed`: dangers known from the truth of a practice case, which the record alone does not show. Beliefs are not
    worked out here: faults that need them stand on page one of the trail itself.
    """
    found = [_work(path, open_, missed) for path in paths]
    return tuple(sorted(found, key=lambda w: (not w.refused, not (w.dangers and w.kind == "real"), not w.dangers,
                                              not w.unread, -len(w.faults), w.case)))  # fmt: skip


def _work(path: Path, open_: Callable[[Path], Reading], missed: Callable[[Reading], Sequence[Fault]]) -> Work:
    try:
        reading = open_(path)
        remarks = remarks_of(path, reading.entries)
    except InputRefused as refused:
        return Work(path, path.stem, refused=refused.problems)
    first = reading.state.visits[0] if reading.state.visits else None
    return Work(
        path=path,
        case=reading.case,
        kind=reading.state.kind,
        clinician=first.clinician if first is not None else reading.recorded[0].by,
        visits=len(reading.state.visits),
        lines=len(reading.entries),
        unread=unread(remarks, reading.entries),
        read_by=tuple(read_by(remarks)),
        remarks=sum(r.kind == "remark" for r in remarks),
        faults=in_order((*missed(reading), *counted(reading, ()))),
    )
