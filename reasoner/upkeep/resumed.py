"""A case taken up under other knowledge than its last entry was made with: what comes out differently in it."""

from __future__ import annotations

from datetime import datetime

from reasoner.case.state import CaseState
from reasoner.graph.knowledge import Knowledge
from reasoner.upkeep.impact import Looked, Move, impact, worst_first

__all__ = ["resumed_lines"]

_MOST = 6


def resumed_lines(
    digest: str, then: Knowledge | None, now: Knowledge, state: CaseState, at: datetime
) -> tuple[str, ...]:
    """For the opening, the worst first, a few lines.

    `digest`: of the knowledge of the last entry, which is not that of `now`. `then`: that knowledge, None where it is
    not kept here.
    """
    head = f"other knowledge than at the last entry ({digest[:4]}, now {now.digest[:4]})"
    if then is None:
        return (f"{head}: what it was is not kept here, so what differs cannot be told", *_under_patches(now))
    found = impact(then, now, [Looked(state.case, state, state, at)])
    if not found.moved:
        return (f"{head}: nothing in this case comes out differently", *_under_patches(now))
    moves = worst_first(found.moved[0][1])
    told = moves if len(moves) <= _MOST else moves[: _MOST - 1]
    more = (f"  and {len(moves) - len(told)} chances or options more",) if len(told) < len(moves) else ()
    return (f"{head}. In this case:", *(f"  {_words(m)}" for m in told), *more, *_under_patches(now))


def _words(move: Move) -> str:
    return f"{'NO LONGER MET: ' if move.kind == 'missed' else ''}{move.text}"


def _under_patches(now: Knowledge) -> tuple[str, ...]:
    """The clinic's changes whose shipped entry is another since they were written."""
    moved = [e.id for e in now.clinic.entries if e.moved] if now.clinic is not None else []
    if not moved:
        return ()
    named = f"{', '.join(moved[:3])}{f' and {len(moved) - 3} more' if len(moved) > 3 else ''}"
    return (f"  changed under the clinic's own ({named}): the stricter of both holds; knowledge review",)
