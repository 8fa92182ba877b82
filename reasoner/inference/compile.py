"""Knowledge, a setting and the modifiers that hold -> a network. Everything but base rates is worked out once."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Hypothesis, Modifier
from reasoner.inference.accuracy import BASE_RATE_LIMITS, Span, odds_ratio_from_risk_ratio, shifted
from reasoner.inference.coupling import Coupling
from reasoner.inference.draws import Intervals
from reasoner.inference.graded import Scale
from reasoner.inference.groups import Member
from reasoner.inference.leaks import base_rate, leak_of, stated_rate
from reasoner.inference.misread import reading_table
from reasoner.inference.network import Network, Numbers
from reasoner.inference.questions import Asked, entropy_bits
from reasoner.inference.responses import CONTACT
from reasoner.inference.strengths import Notes, Strength, group_members, measuring_error, strengths
from reasoner.problems import Problem

__all__ = ["Compiled", "compile_network", "compile_problems"]

_MOST_VARIANTS = 0.95  # chance that one of the variants is there, at most
_ACT_ABOVE = 0.05  # serious hypothesis that states no limit of action


@dataclass(frozen=True, eq=False)
class Compiled:
    """A network ready for evidence. `members`, `scales`: how group members and measures are read.

    intervals: the same numbers as low and high ends. accounted_for: findings the setting already contains.
    """

    knowledge: Knowledge
    setting: str
    network: Network
    intervals: Intervals
    members: Mapping[str, Member]
    scales: Mapping[str, Scale]
    accounted_for: frozenset[str]

    def node(self, finding: str) -> str | None:
        """The node a finding bears on (its group's, if it is in one); None where it carries no weight here."""
        if finding in self.accounted_for:
            return None
        member = self.members.get(finding)
        node = finding if member is None else member.group
        return node if node in self.network.node_index else None

    def node_if_absent(self, finding: str) -> str | None:
        """The node that "absent" bears on: without the hypotheses that the pack says it must not speak against."""
        node = self.node(finding)
        without = _unreassuring(finding)
        return without if node == finding and without in self.network.node_index else node

    def asked(self, finding: str) -> Asked | None:
        """The finding as a question to the engine; None where its answer would move nothing."""
        node = self.node(finding)
        if node is None:
            return None
        member, scale = self.members.get(finding), self.scales.get(finding)
        if member is not None:
            return Asked(finding, node, member.table)
        if scale is None or scale.hard:
            return Asked(finding, node)
        error = measuring_error(self.knowledge, self.knowledge.findings[finding])
        return Asked(finding, node, reading_table(scale.cuts, *scale.reference, error) if error > 0 else None)

    @cached_property
    def entropy_weights(self) -> Numbers:
        """(n,) weight of each cause's entropy: 1/H(act_above) for serious ones, 1, and 0 for the hidden one."""
        weights = []
        for cause in self.network.causes:
            h = self.knowledge.hypotheses.get(cause)
            serious = h is not None and h.list == "serious"
            limit = h.act_above if h is not None and h.act_above is not None else _ACT_ABOVE
            inside = min(max(limit, 0.001), 0.999)
            weights.append(0.0 if h is None else 1 / float(entropy_bits(np.array(inside))) if serious else 1.0)
        return np.array(weights)


@dataclass(frozen=True, eq=False)
class _Foundation:
    """What does not depend on the setting: links, leaks, groups, what hangs together, problems."""

    network: Network  # priors all 0
    intervals: Intervals
    members: dict[str, Member]
    scales: dict[str, Scale]
    problems: tuple[Problem, ...]


def compile_network(
    knowledge: Knowledge, setting: str, true_modifiers: Collection[tuple[str, int]] = frozenset()
) -> Compiled:
    """The network for a setting. `true_modifiers`: (hypothesis id, place in its list) of modifiers that hold.

    An unknown or absent modifier adds no factor. Findings in the setting's `accounts_for` are left out.
    """
    base = _foundation(knowledge)
    known = knowledge.settings.get(setting)
    accounted = frozenset(known.accounts_for) if known is not None else frozenset()
    rates = [_rate(knowledge, h, setting, true_modifiers) for h in knowledge.hypotheses.values()]
    contact = knowledge.policy.contact_base_rate
    prior = np.array([*rates, Span.of(contact)])
    for unit in () if base.network.coupling is None else base.network.coupling.units:
        prior[list(unit)] *= min(1.0, _MOST_VARIANTS / prior[list(unit), 0].sum())  # modifiers may leave no room
    network, intervals = base.network, base.intervals
    if accounted & set(network.nodes):
        network, intervals = network.without(accounted), intervals.without(network, accounted)
    return Compiled(
        knowledge, setting, network.with_prior(prior[:, 0].copy()), intervals.with_prior(prior[:, 1:]),
        base.members, {name: scale.in_setting(setting) for name, scale in base.scales.items()}, accounted,
    )  # fmt: skip


def compile_problems(knowledge: Knowledge) -> tuple[Problem, ...]:
    """Problems (error) and notes (info) that show when the figures are worked out together."""
    return _foundation(knowledge).problems


# Records hold mappings and so cannot be hashed: the last few are found again by identity.
_KEPT: list[tuple[Knowledge, _Foundation]] = []
_MOST_KEPT = 4


def _foundation(knowledge: Knowledge) -> _Foundation:
    for known, foundation in _KEPT:
        if known is knowledge:
            return foundation
    made = _work_out(knowledge)
    _KEPT.insert(0, (knowledge, made))
    del _KEPT[_MOST_KEPT:]
    return made


def _work_out(knowledge: Knowledge) -> _Foundation:
    notes = Notes()
    causes = (*knowledge.hypotheses, CONTACT)
    by_node: dict[str, list[Strength]] = {}
    for one in strengths(knowledge, notes):
        by_node.setdefault(one.node, []).append(one)
    members = group_members(knowledge)
    nodes, ends = {}, {}
    for node, links in by_node.items():
        leak = leak_of(knowledge, node, links, notes)
        reach = np.zeros((len(causes), len(leak), 3))
        for one in links:
            reach[causes.index(one.hypothesis)] = np.array(one.reach)
        levels = np.array(leak)
        nodes[node] = (reach[:, :, 0], levels[:, 0])
        ends[node] = (reach[:, :, 1:], levels[:, 1:])
    for f in knowledge.findings.values():
        if f.id in nodes and f.reassuring_about:
            spared = [causes.index(h) for h in f.reassuring_about]
            for made in (nodes, ends):
                reach, levels = made[f.id]
                left = reach.copy()
                left[spared] = 0.0
                made[_unreassuring(f.id)] = (left, levels)
    scales = {
        f.id: Scale.of(f.id, f.measured, hard=any(one.hard for one in by_node.get(f.id, ())))
        for f in knowledge.findings.values()
        if f.measured is not None
    }
    for hypothesis in knowledge.hypotheses.values():
        _note_risk_ratios(knowledge, hypothesis, notes)
    zeros = np.zeros(len(causes))
    return _Foundation(
        Network.of(causes, zeros, nodes, _coupling(knowledge, causes)),
        Intervals(np.zeros((len(causes), 2)), tuple(r for r, _ in ends.values()), tuple(k for _, k in ends.values())),
        members,
        scales,
        tuple(notes.found),
    )


def _unreassuring(finding: str) -> str:
    """Name of the node that its absence is read on, where it must not speak against some of its causes."""
    return f"no {finding}"


def _coupling(knowledge: Knowledge, causes: tuple[str, ...]) -> Coupling | None:
    """Variants of one problem, conditions that shift base rates, and by how much; None where there are neither."""
    known = knowledge.hypotheses
    units: dict[str, list[str]] = {}
    for h in known.values():
        if h.one_of:
            units.setdefault(f"one of {h.one_of}", []).append(h.id)
    for shift in (s for h in known.values() for s in h.shifted_by if s.by in known):
        if not known[shift.by].one_of:
            units[shift.by] = [shift.by]
    if not units:
        return None
    members = [cause for unit in units.values() for cause in unit]
    moved = np.zeros((len(causes), len(members)))
    for h in known.values():
        for shift in (s for s in h.shifted_by if s.by in known):
            moved[causes.index(h.id), members.index(shift.by)] = np.log(shift.odds_ratio)
    return Coupling(tuple(tuple(causes.index(cause) for cause in unit) for unit in units.values()), moved)


# ------------------------------------------------------------------------------------------------ base rates


def _rate(knowledge: Knowledge, h: Hypothesis, setting: str, holding: Collection[tuple[str, int]]) -> Span:
    """Base rate with its modifiers, and its interval moved by the same odds."""
    value, interval = base_rate(knowledge, h, setting)
    ratios = [_odds_ratio(m, value) for n, m in enumerate(h.modifiers) if (h.id, n) in holding]
    low, high = interval if interval is not None else (value, value)
    return Span.of(shifted(value, ratios), (shifted(low, ratios), shifted(high, ratios)))


def _odds_ratio(modifier: Modifier, rate: float) -> float:
    if modifier.odds_ratio is not None:
        return modifier.odds_ratio
    if modifier.risk_ratio is not None:
        return odds_ratio_from_risk_ratio(modifier.risk_ratio, rate)
    return 1.0  # the graph's own checks report it


def _note_risk_ratios(knowledge: Knowledge, h: Hypothesis, notes: Notes) -> None:
    for n, modifier in enumerate(h.modifiers):
        if modifier.odds_ratio is None and modifier.risk_ratio is not None:
            rate = stated_rate(knowledge, h.id, "")
            ratio = odds_ratio_from_risk_ratio(modifier.risk_ratio, rate)
            capped = " (kept below .95)" if modifier.risk_ratio * rate > BASE_RATE_LIMITS[1] else ""
            message = (
                f"{h.id}: risk ratio {modifier.risk_ratio:g} is used as odds ratio {ratio:.2f} at base rate {rate:g}"
                f"{capped}, and likewise at each setting's"
            )
            notes.add("N-RISK-RATIO", h.place, ("modifiers", n), message, info=True)
