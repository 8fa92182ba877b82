"""The retest of a treatment: the same signs, side and tool; each change against its error; one verdict over all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from reasoner.case.events import Event, Measured, Retested
from reasoner.case.state import Loop, Measurement, Side
from reasoner.consult import words
from reasoner.consult.changing import SignResult, change_of
from reasoner.consult.commands import Measure, Retest
from reasoner.consult.measuring import place, sign_name, signs
from reasoner.consult.situation import Decision, Situation, refuse
from reasoner.consult.suggest import suggestion
from reasoner.consult.treating import open_loop
from reasoner.consult.watching import warnings
from reasoner.graph import records
from reasoner.measures.baseline import value
from reasoner.measures.change import verdict

__all__ = ["VERDICTS", "SignResult", "before_loop", "change_of", "retest"]

Outcome = Literal["beyond", "within", "worse", "range_only", "no_comparison"]
VERDICTS = {
    "beyond": "more than error, warm-up and touch",
    "within": "within error, warm-up and touch",
    "worse": "worse",
    "range_only": "range only: the function not beyond error",
    "no_comparison": "no comparison: nothing was measured before",
}


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
    jumped = [r for r in readings if _jump(r)]
    if jumped and not command.rechecked:
        return _recheck_first(case, jumped)
    own = [r.result for r in readings if r.result is not None and r.side in (loop.side, "none")]
    said: Outcome = "no_comparison"
    if own or command.unwanted:
        said = verdict([r.change for r in own], command.unwanted, case.knowledge.policy.pain_worse)
    events: list[Event] = [r.event for r in readings]
    rechecked = tuple(r.record.id for r in jumped)
    events.append(Retested(loop.number, said, command.unwanted, rechecked))
    lines = [_line(case, r) for r in readings]
    for r in readings:
        lines += warnings(case, r.record, r.side, r.event.tool, r.event.values)
    lines.append(_together(case, said, own, command.unwanted) + _predicted(loop))
    lines += _against_control(case, loop, readings)
    if _earlier(case, loop):
        lines.append("  an earlier technique had the same target: a change belongs to the sequence, not to this one")
    return Decision(tuple(events), (*lines, *suggestion(case, loop, said)))


def _jump(reading: _Reading) -> bool:
    bound = reading.record.recheck_jump
    return bound is not None and reading.result is not None and abs(reading.result.change.change) >= bound


def _recheck_first(case: Situation, jumped: Sequence[_Reading]) -> Decision:
    """So large a change is looked at again before it counts."""
    one = jumped[0]
    assert one.result is not None
    assert one.record.recheck_jump is not None  # a jump is one over a stated bound
    kept = f" ({'; '.join(one.record.setup)})" if one.record.setup else ""
    return refuse(
        f"{sign_name(case, one.record.id)} moved by {words.signed(one.result.change.change)}, "
        f"{words.number(one.record.recheck_jump)} or more: check the set-up and measure again before it counts{kept}",
        "then the same line again with: set-up checked",
        needs=("recheck",),
    )


def _earlier(case: Situation, loop: Loop) -> bool:
    """Was a technique with one of the same targets given before in this assessment?"""
    options = case.knowledge.options
    mine = set(options[loop.option].acts_on) if loop.option in options else set()
    return any(
        p.number < loop.number
        and p.assessment == loop.assessment
        and (p.option == loop.option or (p.option in options and mine & set(options[p.option].acts_on)))
        for p in case.state.loops
    )


def _against_control(case: Situation, loop: Loop, readings: Sequence[_Reading]) -> list[str]:
    """What the untreated side gained over the same time."""
    return [
        f"  untreated side {r.record.name} {words.signed(r.result.change.change)}: that much is not the treatment"
        for r in readings
        if r.result is not None and r.side not in (loop.side, "none")
    ]


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
    if _jump(reading):
        line += "; set-up checked again"
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
