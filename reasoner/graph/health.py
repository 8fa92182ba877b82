"""Is the knowledge as a whole fit to reason with: nothing indistinguishable, nothing that leads nowhere, and how many
restrictions it expects in each setting before anything is asked."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from reasoner.graph.checks.base import Check, Spot, rule
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.pack import Pack
from reasoner.graph.records import Figure, Hypothesis, Link

__all__ = ["HEALTH_CHECKS", "expected_restrictions", "strengths_of"]

_REFERENCE = 0.99  # a group's signs are read through their accuracy for its reference: nothing brings them more surely


@rule("K-ALIKE")
def nothing_tells_it_apart(pack: Pack) -> Iterator[Spot]:
    """Everything a hypothesis brings, another of its list brings at least as surely.

    No finding could speak for it and against the other, so that it could lead on base rates alone. Add the finding
    that tells it apart, or make the two one.
    """
    strengths = {h.id: strengths_of(pack.knowledge, h) for h in pack.records["hypothesis"]}
    for hypothesis in pack.records["hypothesis"]:
        own = strengths[hypothesis.id]
        for other in pack.records["hypothesis"]:
            theirs = strengths[other.id]
            same_list = other.list == hypothesis.list and other.id != hypothesis.id
            if own and same_list and all(theirs.get(f, 0.0) >= c for f, c in own.items()):
                message = f"{other.id} brings all that {hypothesis.id} brings, as surely"
                yield Spot(hypothesis, ("id",), message, "add the finding that tells them apart")


@rule("K-NO-RESPONSE")
def restriction_without_response(pack: Pack) -> Iterator[Spot]:
    """A restriction has neither an option with a response figure nor a next step.

    A restriction is named so that something can be tried on it and measured again. Add effects: to an option that acts
    on it; where nothing by hand helps, say in next_step: what does.
    """
    if pack.broken.get("option"):
        return
    tried = {h for option in pack.records["option"] if option.effects for h in option.acts_on}
    for hypothesis in pack.records["hypothesis"]:
        if hypothesis.list == "restriction" and hypothesis.id not in tried and not hypothesis.next_step.strip():
            hint = "add effects: to an option that acts on it, or next_step:"
            yield Spot(hypothesis, ("id",), f"no response is stated for {hypothesis.id}", hint)


HEALTH_CHECKS: tuple[Check, ...] = (nothing_tells_it_apart, restriction_without_response)


def strengths_of(knowledge: Knowledge, hypothesis: Hypothesis) -> dict[str, float]:
    """Finding or group -> chance (0 to 1) that the hypothesis alone brings it; of a measure, its first level."""
    found = {link.finding: _strength(knowledge, link) for link in hypothesis.produces}
    found.update({g.id: _REFERENCE for g in knowledge.groups.values() if g.reference == hypothesis.id})
    return found


def _strength(knowledge: Knowledge, link: Link) -> float:
    """c of a link. Sensitivity stands for it where only a measure's mean is given: enough to compare two causes."""
    first = link.levels[0] if link.levels else link.chance
    if isinstance(first, str):
        return knowledge.words.get(first, (0.0, (0.0, 0.0)))[0]
    if first is not None:
        return first
    if link.sens is not None and link.spec:
        return max(0.0, 1 - (1 - link.sens) / link.spec)
    return max(0.0, 1 - link.lr_neg) if link.lr_neg is not None else 0.5


def expected_restrictions(knowledge: Knowledge) -> Mapping[str, float]:
    """Setting -> sum of the base rates of all restrictions: how many one expects before anything is asked."""
    restrictions = [h for h in knowledge.hypotheses.values() if h.list == "restriction"]
    return {
        setting: sum(_rate(knowledge, h.base_rate.get(setting) or h.base_rate["not_stated"]) for h in restrictions)
        for setting in knowledge.settings
    }


def _rate(knowledge: Knowledge, figure: Figure) -> float:
    return knowledge.words[figure.word][0] if figure.word is not None else figure.value or 0.0
