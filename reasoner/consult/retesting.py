"""The retest of a treatment: the same signs, side and tool; each change against its error; one verdict over all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from reasoner.case.events import Event, Measured, Retested
from reasoner.case.state import Loop, Measurement, Side
from reasoner.consult import words
from reasoner.consult.commands import Measure, Retest
from reasoner.consult.measuring import place, sign_name, signs
from reasoner.consult.situation import Decision, Situation, refuse
from reasoner.consult.suggest import suggestion
from reasoner.consult.treating import open_loop
from reasoner.graph import records
from reasoner.measures.baseline import value
from reasoner.measures.change import SignChange, benefit, change_class, verdict
from reasoner.measures.error import ErrorUsed, standard_error

__all__ = ["VERDICTS", "SignResult", "before_loop", "change_of", "retest"]

Outcome = Literal["beyond", "within", "worse", "range_only", "no_comparison"]
VERDICTS = {
    "beyond": "more than error, warm-up and touch",
    "within": "within error, warm-up and touch",
    "worse": "worse",
    "range_only": "range only: the function did not move",
    "no_comparison": "no comparison: nothing was measured before",
}


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


def before_loop(case: Situation, loop: Loop, measure: str, side: Side) -> Measurement | None:
    """The last value before the treatment, in its visit and assessment."""
    found = None
    for taken in case.state.measurements:
        if (
            taken.measure == measure
            and taken.side == side
            and taken.seq < loop.seq
            and taken.visit == loop.visit
            and taken.assessment == loop.assessment
        ):
            found = taken
    return found


def change_of(record: records.Measure, before: Measurement, after: Sequence[float]) -> SignResult:
    """The change against error and drift."""
    was, now = value(before.values), value(after)
    change = benefit(was, now, record.better)
    # drift is stated for the better: what comes without effective treatment
    drift = record.drift.mean if record.drift is not None else 0.0
    error = standard_error(record, before.tool, trials=min(len(before.values), len(after)))
    if error is None:
        return SignResult(record, was, now, SignChange(record.kind, change, "within"), None, drift)
    mdc = _mdc(error)
    sign = SignChange(record.kind, change, change_class(change, mdc, drift))
    return SignResult(record, was, now, sign, mdc, drift, error.note)


def _mdc(error: ErrorUsed) -> float:
    stated = error.figure.mdc95 if error.figure is not None else None
    return stated if stated is not None and error.exact else error.mdc95


def retest(case: Situation, command: Retest) -> Decision:
    """Record the same signs again and the verdict; anything unwanted makes it worse whatever the numbers say."""
    loop = open_loop(case)
    if loop is None:
        return refuse("nothing waits for a retest", "a treatment comes first: treat ...")
    readings = []
    for entry in command.measures:
        read = _read(case, loop, entry)
        if isinstance(read, Decision):
            return read
        readings.append(read)
    missing = _missing(case, loop, readings)
    if missing:
        return refuse(
            f"the same signs have to come again; missing: {words.listed(missing)}",
            "add them to the line (or: excuse because ...)",
        )
    own = [r.result for r in readings if r.result is not None and r.side in (loop.side, "none")]
    said: Outcome = "no_comparison"
    if own or command.unwanted:
        said = verdict([r.change for r in own], command.unwanted, case.knowledge.policy.pain_worse)
    events: list[Event] = [r.event for r in readings]
    events.append(Retested(loop.number, said, command.unwanted))
    lines = [_line(case, r) for r in readings]
    lines.append(_together(case, said, own, command.unwanted) + _predicted(loop))
    return Decision(tuple(events), (*lines, *suggestion(case, loop, said)))


@dataclass(frozen=True, slots=True)
class _Reading:
    record: records.Measure
    side: Side
    event: Measured
    result: SignResult | None


def _read(case: Situation, loop: Loop, entry: Measure) -> _Reading | Decision:
    """One sign of the retest, on the side that was treated unless another is named."""
    if entry.side is None and case.knowledge.measures[entry.measure].sided:
        entry = replace(entry, side=loop.side)
    placed = place(case, entry)
    if isinstance(placed, Decision):
        return placed
    record, side, tool = placed
    before = before_loop(case, loop, record.id, side)
    if before is not None and before.tool != tool:
        return refuse(
            f"{record.name}: measured with {_tool(record, before.tool)} before and {_tool(record, tool)} now",
            "a change can only be seen with the same tool",
        )
    event = Measured(record.id, side, tool, entry.values, entry.setup, "retest", loop.number)
    return _Reading(record, side, event, change_of(record, before, entry.values) if before is not None else None)


def _missing(case: Situation, loop: Loop, readings: Sequence[_Reading]) -> list[str]:
    given = {(r.record.id, r.side) for r in readings}
    lacking = []
    for sign in signs(case):
        record = case.knowledge.measures[sign]
        side: Side = loop.side if record.sided else "none"
        if before_loop(case, loop, sign, side) is not None and (sign, side) not in given:
            lacking.append(sign_name(case, sign))
    return lacking


def _tool(record: records.Measure, ident: str) -> str:
    return next((t.name for t in record.tools if t.id == ident), ident)


def _line(case: Situation, reading: _Reading) -> str:
    record, result = reading.record, reading.result
    name = sign_name(case, record.id) + words.of_side(reading.side)
    if result is None:
        return f"{name} {words.number(value(reading.event.values))}: nothing to compare with"
    unit = f" {record.unit}" if record.unit[:1].isalpha() else ""
    needs = f" (needs {words.number(result.mdc95)})" if result.mdc95 is not None else ""
    text = {
        "beyond": f"beyond error{needs} and warm-up",
        "within": f"within error{needs} plus warm-up" if needs else "its error is not known: cannot count as a change",
        "worse": "worse by more than error",
    }[result.change.result]
    line = f"{name} {words.number(result.before)} -> {words.number(result.after)}{unit}: {text}"
    if record.recheck_jump is not None and abs(result.change.change) >= record.recheck_jump:
        line += "; so large that the set-up is checked again before it counts"
    return line


def _predicted(loop: Loop) -> str:
    """What was expected before, beside what came of it."""
    if loop.predicted is None:
        return ""
    return f"; a change worth having had a chance of {words.sureness(loop.predicted)}"


def _together(case: Situation, said: str, results: Sequence[SignResult], unwanted: tuple[str, ...]) -> str:
    if unwanted:
        return f"together: worse ({words.listed(u.replace('_', ' ') for u in unwanted)})"
    if said == "worse" and all(r.change.result != "worse" for r in results):
        up = words.number(case.knowledge.policy.pain_worse)
        return f"together: worse (pain is up by {up} or more of 10, whatever the error)"
    return f"together: {VERDICTS[said]}"
