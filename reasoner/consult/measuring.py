"""Measures before treatment, and the signs that every retest repeats."""

from __future__ import annotations

from reasoner.case.events import IrritabilityStated, Measured, SignsChosen
from reasoner.case.state import Measurement, Side
from reasoner.consult import words
from reasoner.consult.carrying import kept_since, warm_up
from reasoner.consult.commands import ChooseSigns, Measure, StateIrritability
from reasoner.consult.irritability import judge_irritability
from reasoner.consult.limits import beyond_limit, ends_provoking
from reasoner.consult.setting_up import setup_asked
from reasoner.consult.situation import Decision, Situation, refuse
from reasoner.consult.watching import exchanged, warnings
from reasoner.graph import records
from reasoner.measures.baseline import side_difference, steady, value
from reasoner.measures.error import side_difference_error

__all__ = [
    "MOST_SIGNS", "baseline_of", "choose_signs", "measure", "needs_retest", "place", "sign_name", "signs",
    "state_irritability",
]

MOST_SIGNS = 3
_OTHER: dict[Side, Side] = {"left": "right", "right": "left"}


def place(case: Situation, command: Measure) -> tuple[records.Measure, Side, str] | Decision:
    """Measure, side and tool of what was entered; a refusal where one of them has to be said or a number cannot be."""
    record = case.knowledge.measures[command.measure]
    if record.derived:
        return refuse(f"{record.name}: worked out from others ({record.derived})", "enter those")
    side = case.one_side(command.side, record.sided)
    if side is None:
        return refuse(f"{record.name}: which side?", f"write it: {record.name} L ... R ...")
    used = baseline_of(case, record.id, side)
    tool = command.tool or (used.tool if used is not None else record.tools[0].id if record.tools else "")
    low, high = record.possible
    source = f" ({record.possible_source})" if record.possible_source else ""
    for number in command.values:
        if not low <= number <= high:
            return refuse(
                f"{record.name} {words.number(number)} {record.unit}: not possible",
                f"it runs from {words.number(low)} to {words.number(high)} {record.unit}{source}; check unit and sign",
            )
    if not command.values:
        return refuse(f"{record.name}: no number", f"write for example: {record.name} {words.number(low)}")
    return record, side, tool


def measure(case: Situation, command: Measure) -> Decision:
    """Record trials of one side as a baseline, and say what they mean so far.

    After a treatment in this assessment a number is no baseline any more: it belongs to a retest.
    """
    placed = place(case, command)
    if isinstance(placed, Decision):
        return placed
    record, side, tool = placed
    if _treated_already(case):
        return refuse(
            f"{record.name}: something was already given in this assessment, so this is a retest",
            f"write: retest {record.name} ...   (for a new picture: new assessment)",
        )
    event = Measured(record.id, side, tool, command.values, command.setup)
    return Decision((event,), tuple(_says(case, record, side, tool, command)))


def _treated_already(case: Situation) -> bool:
    """Was something given that a retest belongs to? An explanation does not change a joint."""
    return any(
        needs_retest(case.knowledge.options.get(p.option)) and p.assessment == case.state.assessment
        for p in case.state.loops
        if p.visit == case.state.visit
    )


def needs_retest(option: records.OptionRecord | None) -> bool:
    """Is an option test-treat-retest? Unknown ones are."""
    return option is None or option.lane == "try_now" or bool(option.retest)


def _says(case: Situation, record: records.Measure, side: Side, tool: str, command: Measure) -> list[str]:
    unit = f" {record.unit}" if record.unit[:1].isalpha() else " of 10" if record.unit == "0-10" else ""
    said = f"{sign_name(case, record.id)}{words.of_side(side)} {words.number(value(command.values))}{unit}"
    if len(command.values) > 1:
        said += f" (mean of {len(command.values)})"
    if command.setup:
        said += f", {command.setup}"
    lines = [said]
    if record.trials > 1 and steady(command.values, record.settle_within) is False:
        lines.append(f"  the last two trials are not within {words.number(record.settle_within or 0)}: repeat")
    if record.usual is not None and not record.usual[0] <= value(command.values) <= record.usual[1]:
        lines.append("  outside what is usual: check the set-up and the sign")
    lines += _difference(case, record, side, tool, command)
    lines += setup_asked(case, record, command.setup)
    lines += beyond_limit(case, record.id)
    lines += ends_provoking(case, record.id, command.values)
    lines += kept_since(case, record, side, command.values)
    lines += warm_up(case, record, side, command.values)
    lines += exchanged(case, record, side, tool, command.values)
    lines += warnings(case, record, side, tool, command.values)
    return lines


def _difference(case: Situation, record: records.Measure, side: Side, tool: str, command: Measure) -> list[str]:
    """How far the case's side falls short of the other, once both are there."""
    other = baseline_of(case, record.id, _OTHER[side]) if side in _OTHER else None
    if other is None:
        return []
    ours = case.state.context.side
    this, that = value(command.values), value(other.values)
    if ours == other.side:  # the good side was entered last
        this, that = that, this
    d = side_difference(this, that, record.better)
    error = side_difference_error(record, tool, trials=len(command.values), other_trials=len(other.values))
    if error is None:
        return [f"  difference between sides {words.number(d)}; no error is known for this measure"]
    beyond = "beyond error" if abs(d) >= error.mdc95 else "within error"
    return [f"  difference between sides {words.number(d)} (give or take {words.number(1.96 * error.value)}): {beyond}"]


def baseline_of(case: Situation, measure: str, side: Side) -> Measurement | None:
    """Latest value of a measure on one side in this visit and assessment, before or after treatment."""
    found = None
    for taken in case.state.measurements:
        same = taken.measure == measure and taken.side == side
        if same and taken.visit == case.state.visit and taken.assessment == case.state.assessment:
            found = taken
    return found


def sign_name(case: Situation, measure: str) -> str:
    """How a retest sign is called here: the function goes by the patient's own words."""
    if measure == case.knowledge.region.function_sign and case.state.function_words:
        return f'"{case.state.function_words}"'
    return case.knowledge.measures[measure].name


def signs(case: Situation) -> tuple[str, ...]:
    """Measures a retest repeats: the chosen ones, else the pack's three that were measured in this visit."""
    if case.state.retest_signs:
        return case.state.retest_signs
    region = case.knowledge.region
    usual = (region.function_sign, region.pain_sign, region.main_measure)
    here = {m.measure for m in case.state.measurements if m.visit == case.state.visit}
    return tuple(s for s in dict.fromkeys(usual) if s and s in here)


def choose_signs(case: Situation, command: ChooseSigns) -> Decision:
    """One to three signs."""
    if not 1 <= len(set(command.signs)) <= MOST_SIGNS or len(set(command.signs)) != len(command.signs):
        return refuse(f"{len(command.signs)} retest signs", f"choose one to {MOST_SIGNS} different ones")
    names = [case.knowledge.measures[s].name for s in command.signs]
    said = f"retest signs: {', '.join(names)}"
    if command.function_words:
        said += f" (function: {command.function_words})"
    return Decision((SignsChosen(command.signs, command.function_words),), (said,))


def state_irritability(case: Situation, command: StateIrritability) -> Decision:
    """What sets it off, how bad, how long."""
    if command.intensity is not None and not 0 <= command.intensity <= 10:
        return refuse(f"{words.number(command.intensity)} of 10: not possible", "write 0 to 10: 5/10")
    if command.minutes is not None and command.minutes < 0:
        return refuse("minutes below zero: not possible", "write for example: 5 min")
    event = IrritabilityStated(command.activity, command.effort, command.intensity, command.minutes)
    judged = judge_irritability(case.knowledge, command.effort, command.intensity, command.minutes)
    return Decision((event,), (f"irritability: {judged.level} ({judged.inputs})",))
