"""One retest sign before and after: the change for the better, against its error and what comes by itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reasoner.case.state import Measurement
from reasoner.graph import records
from reasoner.measures.baseline import value
from reasoner.measures.change import SignChange, benefit, change_class
from reasoner.measures.error import ErrorUsed, Interval, standard_error

__all__ = ["SignResult", "change_of"]


@dataclass(frozen=True, slots=True)
class SignResult:
    """One retest sign: its values, the change for the better, the error it was judged against. Own unit.

    `mdc95` None: no error is known for it, so that no change of it can count as more than error.
    """

    record: records.Measure
    before: float
    after: float
    change: SignChange
    mdc95: float | None
    drift: float
    note: str = ""


def change_of(
    record: records.Measure, before: Measurement, after: Sequence[float], interval: Interval = "within_visit"
) -> SignResult:
    """The change against error and drift. Drift is what warm-up brings: between visits there is none."""
    was, now = value(before.values), value(after)
    change = benefit(was, now, record.better)
    # drift is stated for the better: what comes without effective treatment
    drift = record.drift.mean if record.drift is not None and interval == "within_visit" else 0.0
    error = standard_error(record, before.tool, interval=interval, trials=min(len(before.values), len(after)))
    if error is None:
        return SignResult(record, was, now, SignChange(record.kind, change, "within"), None, drift)
    mdc = _mdc(error)
    sign = SignChange(record.kind, change, change_class(change, mdc, drift))
    return SignResult(record, was, now, sign, mdc, drift, error.note)


def _mdc(error: ErrorUsed) -> float:
    stated = error.figure.mdc95 if error.figure is not None else None
    return stated if stated is not None and error.exact else error.mdc95
