"""Conditions that shift base rates, and variants of which one is there at most: few enough to stay exact."""

from __future__ import annotations

from collections.abc import Iterator
from math import prod

from reasoner.graph.checks.base import Check, Spot, rule
from reasoner.graph.pack import Pack
from reasoner.graph.records import Hypothesis, Shift

__all__ = ["CHECKS", "MOST_DRIVERS", "MOST_STATES"]

MOST_DRIVERS = 3
MOST_STATES = 16
_LEAST_LEFT = 0.05  # of the chance that none of the variants is there


@rule("K-DRIVER")
def shifted_by_what_cannot(pack: Pack) -> Iterator[Spot]:
    """A base rate is shifted by something that cannot shift it.

    A condition shifts restrictions, once each, by an odds ratio above 0 that is not 1. What shifts is not shifted
    itself, and a variant (`one_of`) is not shifted.
    """
    known = pack.knowledge.hypotheses
    for hypothesis in pack.records["hypothesis"]:
        seen: set[str] = set()
        for n, shift in enumerate(hypothesis.shifted_by):
            message = _shift(hypothesis, shift, known.get(shift.by), shift.by in seen)
            if message:
                hint = "write a condition that nothing shifts, and an odds ratio such as 2.0"
                yield Spot(hypothesis, ("shifted_by", n), f"shifted_by {shift.by}: {message}", hint)
            seen.add(shift.by)


def _shift(hypothesis: Hypothesis, shift: Shift, by: Hypothesis | None, again: bool) -> str:
    if hypothesis.list != "restriction":
        return f"{hypothesis.id} is not a restriction"
    if hypothesis.one_of:
        return f"{hypothesis.id} is a variant of {hypothesis.one_of}"
    if by is not None and by.list != "condition":
        return f"{by.id} is not a condition"
    if again:
        return "it stands twice"
    return f"odds_ratio: found {shift.odds_ratio:g}" if shift.odds_ratio <= 0 or shift.odds_ratio == 1 else ""


@rule("K-ONE-OF")
def variants_add_up(pack: Pack) -> Iterator[Spot]:
    """Variants of one problem are not two or more, or leave no room for having none of them.

    At most one of them is there, so their base rates add up; in each setting the sum stays below .95.
    """
    for name, members in _variants(pack).items():
        if len(members) < 2:
            message = f"one_of: {name} has no second variant"
            yield Spot(members[0], ("one_of",), message, "name the same word at the other, or leave it out")
            continue
        for setting in dict.fromkeys(s for h in members for s in h.base_rate):
            rates = [h.base_rate.get(setting) or h.base_rate.get("not_stated") for h in members]
            if any(r is None or (r.word is not None and r.word not in pack.knowledge.words) for r in rates):
                continue
            whole = sum(pack.knowledge.number(r) for r in rates if r is not None)
            if whole > 1 - _LEAST_LEFT:
                message = f"one_of: variants of {name} add up to {whole:.2f} in {setting}"
                yield Spot(members[-1], ("one_of",), message, "lower their base rates")


@rule("K-STATES")
def too_many_states(pack: Pack) -> Iterator[Spot]:
    """More conditions shift base rates than three, or with the variants there are more than 16 joint states.

    Every joint state is worked out in full, so they must be few. The stages of one problem that shift something count
    as one condition.
    """
    hypotheses = pack.records["hypothesis"]
    variants = _variants(pack)
    unit_of = {h.id: name for name, members in variants.items() for h in members}
    drivers: list[str] = []
    for hypothesis in hypotheses:
        for n, shift in enumerate(hypothesis.shifted_by):
            unit = unit_of.get(shift.by, shift.by)
            if unit in drivers:
                continue
            drivers.append(unit)
            if len(drivers) > MOST_DRIVERS:
                message = f"shifted_by: {shift.by} would be the {len(drivers)}th condition that shifts base rates"
                yield Spot(hypothesis, ("shifted_by", n, "by"), message, "keep the three that matter most")
    states = prod(len(m) + 1 for m in variants.values()) * 2 ** len([d for d in drivers if d not in variants])
    if states > MOST_STATES and len(drivers) <= MOST_DRIVERS:
        last = [h for h in hypotheses if h.shifted_by or h.one_of][-1]
        path = ("shifted_by",) if last.shifted_by else ("one_of",)
        message = f"{path[0]}: {states} joint states of conditions and variants"
        yield Spot(last, path, message, f"keep them at {MOST_STATES} or fewer")


def _variants(pack: Pack) -> dict[str, list[Hypothesis]]:
    """Problem -> its variants."""
    found: dict[str, list[Hypothesis]] = {}
    for hypothesis in pack.records["hypothesis"]:
        if hypothesis.one_of:
            found.setdefault(hypothesis.one_of, []).append(hypothesis)
    return found


CHECKS: tuple[Check, ...] = (shifted_by_what_cannot, variants_add_up, too_many_states)
