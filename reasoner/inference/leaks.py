"""Leaks: the chance of a finding with none of the modelled causes. Too small ones are the dangerous error."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Figure, Hypothesis, Place
from reasoner.inference.accuracy import BASE_RATE_LIMITS, Span, leak_from_specificity, shrink_factor
from reasoner.inference.judged import interval_of
from reasoner.inference.strengths import Notes, Strength, healthy_leak

__all__ = ["base_rate", "leak_of", "stated_rate"]


def leak_of(knowledge: Knowledge, node: str, links: Sequence[Strength], notes: Notes) -> tuple[Span, ...]:
    """Leak of one finding or group, one a cut.

    From every published specificity on its links, averaged; else the healthy group of a measured finding; else as
    stated. Never below the floor of its kind, unless a published specificity is higher.
    """
    kind, stated, place = _record(knowledge, node)
    floor = _floor(knowledge, kind, links)
    computed = [_from_specificity(knowledge, node, one, links, floor, notes) for one in links if one.spec is not None]
    known = [span for span in computed if span is not None]
    if known:
        return (Span(*(sum(ends) / len(known) for ends in zip(*known, strict=True))),)
    finding = knowledge.findings.get(node)
    if finding is not None and finding.measured is not None:
        return healthy_leak(knowledge, finding, notes)
    if stated is None:
        notes.add("N-LEAK-MISSING", place, (), f"{node}: no leak is stated", "leak: {word: rarely, basis: practice}")
        return (Span.of(floor),)
    value = Span.of(knowledge.number(stated), interval_of(knowledge, stated))
    if value.value < floor - 1e-12:
        message = f"{node}: leak {value.value:g} raised to {floor:g}"
        notes.add("N-LEAK-RAISED", place, ("leak",), message, info=True)
    return (value.at_least(floor),)


def _record(knowledge: Knowledge, node: str) -> tuple[str, Figure | None, Place]:
    """(kind, stated leak, place); a group takes the kind of its members with the highest floor."""
    if node in knowledge.findings:
        finding = knowledge.findings[node]
        return finding.kind, finding.leak, finding.place
    group = knowledge.groups[node]
    kinds = {knowledge.findings[m.finding].kind for m in group.members if m.finding in knowledge.findings}
    floors = knowledge.policy.leak_floor
    return max(sorted(kinds), key=lambda k: floors.get(k, 0.02), default="tested"), group.leak, group.place


def _floor(knowledge: Knowledge, kind: str, links: Sequence[Strength]) -> float:
    stated = knowledge.policy.leak_floor.get(kind, 0.02)
    specs = [one.spec.value for one in links if one.spec is not None and one.published]
    return min([stated, *(1 - spec for spec in specs)])


def _from_specificity(
    knowledge: Knowledge, node: str, one: Strength, links: Sequence[Strength], floor: float, notes: Notes
) -> Span | None:
    """The leak one published specificity implies; None where it cannot hold beside the other links."""
    assert one.spec is not None
    others = [k for k in links if k.hypothesis != one.hypothesis]
    rates = {k.hypothesis: stated_rate(knowledge, k.hypothesis, one.study_setting) for k in others}
    pairs = [(rates[k.hypothesis], k.reach[0].value) for k in others]
    leak, low, high = (leak_from_specificity(spec, pairs) for spec in (one.spec.value, one.spec.high, one.spec.low))
    if leak < -1e-12:
        _cannot_hold(node, one, others, rates, floor, leak, notes)
        return None
    if leak < floor - 1e-12:
        message = f"{node}: the leak left by specificity {one.spec.value:g} is {leak:.3f}, raised to {floor:g}"
        notes.add("N-LEAK-RAISED", one.place, one.path, message, info=True)
    return Span(leak, low, high).at_least(floor)


def _cannot_hold(
    node: str,
    one: Strength,
    others: Sequence[Strength],
    rates: Mapping[str, float],
    floor: float,
    leak: float,
    notes: Notes,
) -> None:
    assert one.spec is not None
    fixed = [(rates[k.hypothesis], k.reach[0].value) for k in others if k.published]
    free = [(rates[k.hypothesis], k.reach[0].value) for k in others if not k.published]
    k = shrink_factor(one.spec.value, floor, fixed, free)
    shrink = f"multiply the unpublished links to {node} by {k:.2f} (derived:), or " if k is not None else ""
    where = one.study_setting or "not_stated"
    notes.add(
        "N-CANNOT-HOLD", one.place, one.path,
        f"{node}: these accuracies cannot all hold: specificity {one.spec.value:g} for {one.hypothesis} leaves a leak "
        f"of {leak:.3f} beside the other {len(others)} links (base rates: {where})",
        f"{shrink}mark this link sensitivity_only: true",
    )  # fmt: skip


def base_rate(knowledge: Knowledge, hypothesis: Hypothesis, setting: str) -> tuple[float, tuple[float, float] | None]:
    """Stated base rate in a setting (`not_stated` where the setting is not named) and its interval, within limits."""
    figure = hypothesis.base_rate.get(setting) or hypothesis.base_rate.get("not_stated")
    if figure is None:  # the graph's own checks report it
        return BASE_RATE_LIMITS[0], None
    low, high = BASE_RATE_LIMITS
    return min(max(knowledge.number(figure), low), high), interval_of(knowledge, figure)


def stated_rate(knowledge: Knowledge, hypothesis: str, setting: str) -> float:
    """The same by id, the value only; an empty setting is `not_stated`."""
    return base_rate(knowledge, knowledge.hypotheses[hypothesis], setting or "not_stated")[0]
