"""Options, load classes, protocols and measures: what is done can be gated, dosed and measured again."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from reasoner.graph.checks.base import Check, Spot, rule
from reasoner.graph.pack import Pack
from reasoner.graph.records import Measure

__all__ = ["CHECKS"]

_MOST_WEEKS = 104


@rule("K-RETEST")
def tried_and_not_retested(pack: Pack) -> Iterator[Spot]:
    """An option to try now has nothing to measure again, or nothing it acts on.

    Try now means: test, treat, test the same sign again. Name retest: measures and acts_on: hypotheses.
    """
    for option in pack.records["option"]:
        if option.lane == "try_now":
            for name in ("retest", "acts_on"):
                if not getattr(option, name):
                    yield Spot(option, ("lane",), f"{name}: {option.id} is in try_now and names none", f"add {name}:")


@rule("K-EFFECT")
def effect_form(pack: Pack) -> Iterator[Spot]:
    """A response figure is stated twice or not at all, or is for a sign that is not measured again.

    gain and sd as numbers, or p1 (with or without p0) as words or chances; and its sign is one of retest.
    """
    for option in pack.records["option"]:
        for n, effect in enumerate(option.effects):
            numbers = effect.gain is not None or effect.sd is not None
            words = effect.p1 is not None or effect.p0 is not None
            message = ""
            if numbers and words:
                message = "found numbers and words"
            elif not numbers and effect.p1 is None:
                message = "found neither gain and sd nor p1"
            elif numbers and (effect.gain is None or effect.sd is None):
                message = "gain is missing" if effect.gain is None else "sd is missing"
            if message:
                hint = "write gain: and sd:, or p1: and p0:"
                yield Spot(option, ("effects", n), f"effects {effect.sign}: {message}", hint)
            if effect.sign not in option.retest:
                message = f"effects: {effect.sign} is not in retest"
                yield Spot(option, ("effects", n, "sign"), message, "add it to retest:")


@rule("K-CLASS")
def option_without_class(pack: Pack) -> Iterator[Spot]:
    """An option that does something names no load class, so that nothing could bar it.

    Every option but those that ask or send says what it does to the tissue. Explanation has a class too.
    """
    for option in pack.records["option"]:
        if option.lane != "ask_or_send" and not option.load_classes:
            yield Spot(option, ("lane",), f"load_classes: {option.id} names none", "add load_classes: [id]")


@rule("K-NO-OPTION")
def restriction_without_option(pack: Pack) -> Iterator[Spot]:
    """A restriction that no option acts on: naming it would lead nowhere.

    Add it to acts_on of an option, if only one that waits or asks.
    """
    if pack.broken.get("option"):
        return  # the one that acts on it may be the one that could not be read
    reached = {h for option in pack.records["option"] for h in option.acts_on}
    for hypothesis in pack.records["hypothesis"]:
        if hypothesis.list == "restriction" and hypothesis.id not in reached:
            message = f"no option acts on {hypothesis.id}"
            yield Spot(hypothesis, ("id",), message, "add it to acts_on: of an option")


@rule("K-WINDOW")
def window_sane(pack: Pack) -> Iterator[Spot]:
    """A healing window is not a number of whole weeks that can be meant, or its earlier limit is after its later one.

    later_weeks is 0 to 104, and earlier_weeks, where given, is not above it. The later limit is the one that counts.
    """
    for protocol in pack.records["protocol"]:
        for n, window in enumerate(protocol.windows):
            if not 0 <= window.later_weeks <= _MOST_WEEKS:
                message = f"windows.later_weeks: found {window.later_weeks}"
                yield Spot(protocol, ("windows", n, "later_weeks"), message, f"write 0 to {_MOST_WEEKS} whole weeks")
            if window.earlier_weeks is not None and not 0 <= window.earlier_weeks <= window.later_weeks:
                message = f"windows.earlier_weeks: {window.earlier_weeks} is not between 0 and {window.later_weeks}"
                yield Spot(protocol, ("windows", n, "earlier_weeks"), message, "the earlier limit first")


@rule("K-SCORE")
def score_shown(pack: Pack) -> Iterator[Spot]:
    """The score shown beside a screen is not a composite finding with points.

    `score:` of a screen names a finding of kind composite whose rule is a score.
    """
    for screen in pack.records["screen"]:
        finding = pack.knowledge.findings.get(screen.score)
        if finding is not None and not (isinstance(finding.composite, dict) and "score" in finding.composite):
            message = f"score: {screen.score} is not a composite with points"
            yield Spot(screen, ("score",), message, "name a composite finding whose rule is a score")


@rule("K-MEASURE")
def measure_sane(pack: Pack) -> Iterator[Spot]:
    """A measure could not be taken as it is written.

    possible: [low, high] with usual within it; at least one trial; a tool, unless it is derived as "a - b" from two
    other measures; tools whose per_unit is above 0; settle_within above 0.
    """
    for measure in pack.records["measure"]:
        for path, message, hint in _measure(measure):
            yield Spot(measure, path, message, hint)


def _measure(measure: Measure) -> Iterator[tuple[tuple[str | int, ...], str, str]]:
    low, high = measure.possible
    if low >= high:
        yield ("possible",), f"possible: found [{low:g}, {high:g}]", "low first"
    elif measure.usual is not None and not low <= measure.usual[0] < measure.usual[1] <= high:
        yield ("usual",), f"usual: found [{measure.usual[0]:g}, {measure.usual[1]:g}]", "low first, within possible"
    if measure.trials < 1:
        yield ("trials",), f"trials: found {measure.trials}", "write 1 or more"
    if measure.settle_within is not None and measure.settle_within <= 0:
        yield ("settle_within",), f"settle_within: found {measure.settle_within:g}", "write a number above 0"
    if measure.derived and len(measure.derived.split(" - ")) != 2:
        yield ("derived",), f"derived: found {measure.derived}", "write a - b, two measure ids"
    if not measure.derived and not measure.tools:
        yield ("id",), f"tools: {measure.id} names none", "add tools:, the usual one first"
    for n, tool in enumerate(measure.tools):
        if tool.per_unit <= 0:
            yield ("tools", n, "per_unit"), f"per_unit: found {tool.per_unit:g}", "write a number above 0"
    for n, watch in enumerate(measure.watch):
        if set(watch) != {"when", "say"} or not isinstance(watch.get("say"), str):
            yield ("watch", n), "watch: each has when: and say:", "write {when: a_finding, say: what to watch}"


@rule("K-ERROR")
def error_figure_form(pack: Pack) -> Iterator[Spot]:
    """An error figure states neither SEM nor MDC95.

    One of sem, mdc95 and mdc95_side_difference at least, in the measure's unit; the others follow from it.
    """
    for measure in pack.records["measure"]:
        for n, error in enumerate(measure.errors):
            if error.sem is None and error.mdc95 is None and error.mdc95_side_difference is None:
                yield Spot(measure, ("errors", n), f"errors {error.tool}: found no figure", "add sem: or mdc95:")


@rule("K-COURSE")
def course_form(pack: Pack) -> Iterator[Spot]:
    """A course of recovery has not one mean a week, or its weeks do not rise.

    weeks: rising, and mean: one for each of them; sd: one for each, or none.
    """
    for measure in pack.records["measure"]:
        for n, course in enumerate(measure.courses):
            weeks = course.weeks
            if not weeks or len(weeks) != len(course.mean) or len(course.sd) not in (0, len(weeks)):
                message = f"courses: {len(weeks)} weeks, {len(course.mean)} means, {len(course.sd)} sd"
                yield Spot(measure, ("courses", n), message, "write one mean (and one sd, or none) a week")
            elif any(a >= b for a, b in pairwise(weeks)):
                yield Spot(measure, ("courses", n, "weeks"), "courses: weeks do not rise", "earliest first")


CHECKS: tuple[Check, ...] = (
    course_form,
    tried_and_not_retested,
    effect_form,
    option_without_class,
    restriction_without_option,
    window_sane,
    score_shown,
    measure_sane,
    error_figure_form,
)
