"""Progress of a case on a page: the plot of the main measure and, for each measure, what may be said about it."""

from __future__ import annotations

from collections.abc import Iterator
from math import isinf

from reasoner.consult.setting_up import setup_wanted
from reasoner.consult.words import number, of_side, signed, sureness
from reasoner.graph.knowledge import Knowledge
from reasoner.reports.goals import GoalState
from reasoner.reports.progress import MeasureProgress, Progress, SingleCase
from reasoner.reports.series import Point
from reasoner.views.page import Block, Gap, Heading, Page, Para, Rows
from reasoner.views.plot import KEY, MOST_VISITS, Plotted, plot

__all__ = ["band_of", "progress_page"]

_CHANGE = {
    "beyond": "better by more than error and drift",
    "within": "within error and drift: no change is claimed",
    "worse": "worse by more than error",
}
_GAIN = {"beyond": "beyond error", "within": "within error", "worse": "worse"}
_STANDS = {"reached": "reached", "about_there": "about there, within error", "short": "short of it",
           "unknown": "its error is not known"}  # fmt: skip
_MOST_ROWS = 8


def progress_page(knowledge: Knowledge, case: str, progress: Progress, invented: bool, last: str) -> Page:
    """The page. `last`: date of the latest entry."""
    visits = "1 visit" if progress.visits == 1 else f"{progress.visits} visits"
    blocks: list[Block] = [Heading(f"Progress  {case}", f"{visits}, to {last}")]
    if invented:
        blocks.append(Para("INVENTED PATIENT", tone="caution"))
    if not progress.measures:
        return (*blocks, Para("nothing was measured before treatment yet: nothing to follow"))
    for at, one in enumerate(progress.measures):
        blocks += [Gap(), *_measure(knowledge, one, plotted=at == 0)]
    if progress.reopen is not None:
        blocks += [Gap(), *_reopened(progress)]
    return tuple(blocks)


def band_of(one: MeasureProgress) -> tuple[float, float] | None:
    """Edges beyond which a value differs from the first by more than error (and, for the better, drift)."""
    series = one.series
    if series.error is None:
        return None
    first, mdc, sign = series.points[0].before, series.error.mdc95, 1 if series.record.better == "higher" else -1
    low, high = sorted((first - sign * mdc, first + sign * (mdc + series.drift)))
    return low, high


def _unit(one: MeasureProgress) -> str:
    unit = one.series.record.unit
    return f" {unit}" if unit[:1].isalpha() or unit[:1] == "%" else " of 10" if unit == "0-10" else ""


def _measure(knowledge: Knowledge, one: MeasureProgress, plotted: bool) -> Iterator[Block]:
    series, unit = one.series, _unit(one)
    better = "higher is better" if series.record.better == "higher" else "lower is better"
    yield Heading(f"{series.record.name}{of_side(series.side)},{unit or ' ' + series.record.unit}", better)
    if plotted:
        points = [Plotted(p.visit, p.before, p.after, bool(p.given)) for p in series.points]
        for line in plot(points, band_of(one), one.goal.target if one.goal is not None else None):
            yield Para(line, indent=0)
        yield Para(KEY, indent=2, tone="quiet")
        if len(points) > MOST_VISITS:
            yield Para(f"the first {len(points) - MOST_VISITS} visits are not drawn")
    yield from (Para(text) for text in one.warnings)
    yield Para(_since_start(one, unit), tone="strong")
    yield from (Para(text) for text in _details(one, unit))
    nexts = (*series.points[1:], None)
    rows = tuple(_visit(p, unit, q) for p, q in zip(series.points, nexts, strict=True) if p.after is not None)
    if rows:
        yield Rows((("visit", "before -> after", "kept at the next visit"), *rows[-_MOST_ROWS:]), first=8)
    if one.goals:
        yield Rows(tuple(_goal(g, unit) for g in one.goals), first=36)
    yield from (Para(text) for text in (*_trend(one, unit), *_single(one.single), *_courses(one, unit)))


def _since_start(one: MeasureProgress, unit: str) -> str:
    series = one.series
    first, last = series.points[0], series.points[-1]
    if first is last:
        return f"visit {first.visit}: {number(first.before)}{unit}; one visit shows no change"
    moved = f"visit {first.visit} to {last.visit}: {number(first.before)} -> {number(last.before)}{unit}"
    judged = series.change_class
    return f"{moved}: {_CHANGE[judged] if judged else 'its error is not known, so no change is claimed'}"


def _details(one: MeasureProgress, unit: str) -> Iterator[str]:
    series = one.series
    if series.error is not None:
        note = f"; {series.error.note}" if series.error.note else ""
        drift = f"; {number(series.drift)} more for repetition" if series.drift else ""
        tool = series.tool.replace("_", " ")
        least = f"{number(series.error.mdc95)}{unit} between visits"
        yield f"least change beyond error {least} ({tool}, {series.error.basis}{note}){drift}"
    if one.chances is not None:
        c = one.chances
        worth = f", worthwhile {_chance(c.above_worthwhile)}" if c.above_worthwhile is not None else ""
        drift = f"above drift {_chance(c.above_drift)}"
        yield f"chance that the true change is above none {_chance(c.above_zero)}, {drift}{worth}"
    if series.other_tool:
        yield f"{series.other_tool} visits were measured with another tool: not joined with these"
    bare = [str(p.visit) for p in series.points if not p.setup] if setup_wanted(series.record) else []
    if bare:
        where = f"visit {', '.join(bare)}" if len(bare) < 5 else f"{len(bare)} of {len(series.points)} visits"
        yield f"set-up not recorded at {where}: keep it the same, and write it down ({series.record.setup[0]})"


def _chance(value: float) -> str:
    return "over .99" if value > 0.99 else "under .01" if value < 0.01 else sureness(value)


def _visit(p: Point, unit: str, following: Point | None) -> tuple[str, str, str]:
    assert p.after is not None
    assert p.gain is not None
    judged = f", {_GAIN[p.gain_class]}" if p.gain_class else ""
    moved = f"{number(p.before)} -> {number(p.after)}{judged}"
    if following is None:
        return str(p.visit), moved, ""
    if p.gain_class != "beyond":
        return str(p.visit), moved, "nothing to carry over"
    kept = p.gain * (following.before - p.before) / (p.after - p.before)
    return str(p.visit), moved, f"{signed(kept)} of {signed(p.gain)}{unit}"


def _goal(goal: GoalState, unit: str) -> tuple[str, str, str]:
    source = f" ({goal.basis})" if goal.basis is not None else ""
    wide = f" ({number(goal.range[0])} to {number(goal.range[1])})" if goal.range is not None else ""
    left = f", {number(goal.short_by)} to go" if goal.state == "short" else ""
    text = _STANDS[goal.state] + left + (f"; {goal.note}" if goal.note and goal.kind != "task" else "")
    return goal.name + source, f"{number(goal.target)}{wide}{unit}", text


def _trend(one: MeasureProgress, unit: str) -> Iterator[str]:
    series = one.series
    if one.line is not None and series.error is not None and one.gap_days > 0 and not one.falls:
        predicted = one.line.prediction(series.days[-1] + one.gap_days, series.error.value)
        least, most = series.record.possible
        low, high = (min(most, max(least, end)) for end in predicted)
        yield f"if the line went on, the next visit would read {number(low)} to {number(high)}{unit} (95 %)"
    short = one.goal is not None and one.goal.state == "short"
    if short and one.to_goal is not None and one.to_goal.state != "reached" and not (one.stands or one.falls):
        yield _visits_to_goal(one)  # what stands still or falls back keeps no pace to count on
    if one.plateau is not None and one.plateau.state != "gaining":
        p = one.plateau
        word = "plateau" if p.state == "flat" else "falling"
        meant = f"less than is worthwhile ({number(p.needed)})" if p.state == "flat" else "for the worse"
        yield f"{word}: {signed(p.gain)}{unit} over the last {p.visits} visits, {meant}"
    if one.reversal is not None:
        best = series.points[one.reversal]
        yield f"reversal: more than error behind the best so far ({number(best.before)} at visit {best.visit})"


def _visits_to_goal(one: MeasureProgress) -> str:
    assert one.to_goal is not None
    if one.to_goal.state == "untold" or one.gap_days <= 0:
        return "visits to the goal: the slope is too uncertain, or the visits too few, to say"
    gap = one.gap_days
    low, high = one.to_goal.low / gap, one.to_goal.high / gap
    upper = "any number" if isinf(high) or high > 99 else f"{high:.0f}"
    return (
        f"visits to the goal at this pace: about {one.to_goal.days / gap:.0f} ({low:.0f} to {upper}); "
        "recovery mostly flattens, so rather more"
    )


def _single(single: SingleCase) -> Iterator[str]:
    if single.overlap is None or single.band is None:
        return
    o, b = single.overlap, single.band
    spread = f"standard error {sureness(o.nap_se)}" if o.nap_se >= 0.005 else "too few values for a standard error"
    yield (
        f"{single.baseline} values before treatment, {single.during} after it began: NAP {sureness(o.nap)} "
        f"({spread}), Tau {o.tau:.2f}, Tau-U {o.tau_u:.2f} over {o.pairs} pairs (m x n)"
    )
    if o.baseline_trend > 0:
        yield "it was already getting better before treatment: part of this would have come anyway"
    rule = "two in a row outside it: a signal" if b.signal else "no two in a row outside it: no signal"
    outside = f"{len(b.outside)} of {single.during} outside"
    yield f"two-standard-deviation band {number(b.low)} to {number(b.high)}: {outside}; {rule}"
    if single.serial is not None:
        yield f"neighbouring values go together (lag 1 {single.serial:.2f}): band and standard error are too narrow"


def _courses(one: MeasureProgress, unit: str) -> Iterator[str]:
    for beside in one.courses:
        course = beside.course
        what = "short of the other side" if course.of == "side_difference" else "the value"
        head = f"published course, {course.name} ({course.basis}): "
        if beside.expected is None:
            yield f"{head}its weeks are {course.weeks[0]:g} to {course.weeks[-1]:g}, this is week {beside.weeks:.0f}"
            continue
        own = f"; here {number(beside.own)}" if beside.own is not None else ""
        note = f". {course.note}" if course.note else ""
        yield f"{head}week {beside.weeks:.0f}, {what} about {number(beside.expected)}{unit}{own}{note}"


def _reopened(progress: Progress) -> Iterator[Block]:
    assert progress.reopen is not None
    flat = [m.series.record.name for m in progress.measures if m.stands]
    back = [m.series.record.name for m in progress.measures if m.falls]
    why = "; ".join(p for p in (
        f"plateau: {', '.join(flat)}" if flat else "", f"reversal: {', '.join(back)}" if back else ""
    ) if p)
    yield Heading("A plateau reopens the hypotheses" if flat else "A reversal reopens the hypotheses", why)
    if progress.reopen.treated:
        yield Para("treated so far, with this result: " + ", ".join(progress.reopen.treated))
    if progress.reopen.untreated:
        yield Para("what may limit and was not acted on: " + ", ".join(progress.reopen.untreated))
    yield Para("screen again, begin a new assessment (new assessment), and ask what was really done at home")
