"""The set-up of a measure: shown with the question, and asked for where a number comes without it.

Two values taken differently are no change of the patient's. What somebody tells in a number of words has no set-up.
"""

from __future__ import annotations

from reasoner.consult.situation import Situation
from reasoner.graph.records import Measure

__all__ = ["setup_asked", "setup_wanted"]

_TOLD = ("pain", "function", "other")  # kinds that are told, not taken


def setup_wanted(record: Measure) -> tuple[str, ...]:
    """The line for the question; none where the measure has nothing to set up."""
    if record.kind in _TOLD or not record.setup:
        return ()
    return (f"keep, and say after the numbers: {'; '.join(record.setup)}",)


def setup_asked(case: Situation, record: Measure, given: str) -> tuple[str, ...]:
    """The line after a number that came without, once a visit and measure: what was kept last time, else what to keep.

    A set-up said for one side or for an earlier value of the visit stands for the others too.
    """
    if given or not setup_wanted(record):
        return ()
    taken = [m for m in case.state.measurements if m.measure == record.id]
    if any(m.visit == case.state.visit for m in taken):
        return ()
    before = [m for m in taken if m.setup]
    kept = f"on visit {before[-1].visit} it was: {before[-1].setup}" if before else "; ".join(record.setup)
    return (f"  set-up not said ({kept}). To add it: undo, and type the numbers again with it",)
