"""What each hypothesis does to each finding or group, as chances with intervals; problems noted on the way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Figure, Finding, Group, GroupMember, Hypothesis, Link, Place
from reasoner.inference.accuracy import Span, chance_from_accuracy, not_certain, sens_spec_from_ratios
from reasoner.inference.graded import exceedance, reach_alone, study_error
from reasoner.inference.groups import Member, latent_accuracy, member_chances, shrunk_by_agreement
from reasoner.inference.judged import interval_of, judged
from reasoner.problems import Problem

__all__ = ["Notes", "Strength", "group_members", "healthy_leak", "measuring_error", "strengths"]


@dataclass
class Notes:
    """Problems found while working the figures out."""

    found: list[Problem] = field(default_factory=list)

    def add(
        self, code: str, place: Place, path: Sequence[str | int], message: str, hint: str = "", *, info: bool = False
    ) -> None:
        """Note one problem at a field of a record."""
        level = "info" if info else "error"
        self.found.append(Problem(code, message, hint, place.file, place.at(*path), level))


@dataclass(frozen=True, slots=True)
class Strength:
    """One link worked out. reach: one chance a cut. spec: published specificity that fixes the finding's leak."""

    hypothesis: str
    node: str
    reach: tuple[Span, ...]
    published: bool
    hard: bool = False  # from a published accuracy: of a measured finding, read its cut-off as it stands
    spec: Span | None = None
    study_setting: str = ""
    place: Place = field(default_factory=Place)
    path: tuple[str | int, ...] = ()


def strengths(knowledge: Knowledge, notes: Notes) -> list[Strength]:
    """Every link of every hypothesis, group references included, in file order."""
    made = []
    for hypothesis in knowledge.hypotheses.values():
        for n, link in enumerate(hypothesis.produces):
            one = _strength(knowledge, hypothesis, n, link, notes)
            if one is not None and any(span.value > 0 for span in one.reach):
                made.append(one)
    for group in knowledge.groups.values():
        reference = _reference(knowledge, group, notes)
        if reference is not None:
            made.append(reference)
    return made


def _strength(knowledge: Knowledge, h: Hypothesis, n: int, link: Link, notes: Notes) -> Strength | None:
    node, path = link.finding, ("produces", n)
    if node in knowledge.group_of:
        group = knowledge.group_of[node]
        notes.add("N-GROUP-LINK", h.place, path, f"{h.id}: {node} belongs to {group}", f"link to {group} instead")
        return None
    if node in knowledge.groups:
        tests = _tests(knowledge, knowledge.groups[node])
        if knowledge.groups[node].reference == h.id and tests:  # `_reference` makes this link
            if (link.sens, link.spec) != latent_accuracy(tests):
                message = f"{h.id}: its link to {node} is worked out from the members, not from here"
                notes.add("N-GROUP-REFERENCE", h.place, path, message, "leave this link out", info=True)
            return None
        return _plain(knowledge, h, path, link, None, notes)
    finding = knowledge.findings.get(node)
    if finding is None:  # the graph's own checks report it
        return None
    if finding.measured is not None and (link.levels or link.mean is not None or len(finding.measured.cuts) > 1):
        return _graded(knowledge, h, path, link, finding, notes)
    return _plain(knowledge, h, path, link, finding, notes)


# ------------------------------------------------------------------------------------------------ yes/no


def _plain(
    knowledge: Knowledge, h: Hypothesis, path: tuple[str | int, ...], link: Link, finding: Finding | None, notes: Notes
) -> Strength | None:
    """One chance c: stated, or from an accuracy."""
    spec: Span | None = None
    if link.chance is not None:
        chance = _stated(knowledge, h, path, link.chance, link.range, link.basis, notes)
    else:
        worked = _from_accuracy(knowledge, h, path, link, notes)
        if worked is None:
            return None
        chance, spec = worked
    chance = _agreed(h, path, finding, chance, notes)
    return Strength(
        h.id, link.finding, (chance,), link.basis == "published", link.chance is None,
        None if link.sensitivity_only else spec, link.study_setting, h.place, path,
    )  # fmt: skip


def _stated(
    knowledge: Knowledge,
    h: Hypothesis,
    path: tuple[str | int, ...],
    stated: str | float,
    interval: tuple[float, float] | None,
    basis: str,
    notes: Notes,
) -> Span:
    value = knowledge.chance(stated)
    if interval is None:
        interval = knowledge.words[stated][1] if isinstance(stated, str) else judged(knowledge, value, basis)
    return Span.of(_certain(knowledge, h.place, path, value, notes), interval)


def _certain(knowledge: Knowledge, place: Place, path: Sequence[str | int], value: float, notes: Notes) -> float:
    kept = not_certain(value, knowledge.policy.zero_or_one)
    if kept != value:
        notes.add("N-ZERO-ONE", place, path, f"found {value:g}: taken as {kept:g}", info=True)
    return kept


def _from_accuracy(
    knowledge: Knowledge, h: Hypothesis, path: tuple[str | int, ...], link: Link, notes: Notes
) -> tuple[Span, Span | None] | None:
    """(c, Sp or None) from sens and spec, or from likelihood ratios; None for what the graph's own checks refuse."""
    if link.lr_neg is not None:
        if link.lr_neg >= 1 or (link.lr_pos is not None and link.lr_pos <= 1):
            return None
        c = Span.of(_certain(knowledge, h.place, path, 1 - link.lr_neg, notes))
        if link.lr_pos is None:
            return c, None
        return c, Span.of(sens_spec_from_ratios(link.lr_pos, link.lr_neg)[1])
    if link.sens is None or link.spec is None:
        return None
    sens = _certain(knowledge, h.place, path, link.sens, notes)
    spec = _certain(knowledge, h.place, path, link.spec, notes)
    if sens + spec <= 1:
        return None
    sens_ends, spec_ends = Span.of(sens, link.range), Span.of(spec, link.spec_range)
    ends = [
        max(0.0, chance_from_accuracy(_inside(a), _inside(b)))
        for a, b in ((sens_ends.low, spec_ends.low), (sens_ends.high, spec_ends.high))
    ]
    return Span.of(chance_from_accuracy(sens, spec), ends), spec_ends


def _inside(chance: float) -> float:
    return min(max(chance, 0.001), 0.999)


def _agreed(h: Hypothesis, path: tuple[str | int, ...], finding: Finding | None, chance: Span, notes: Notes) -> Span:
    """A hand-felt link shrunk by the lower end of published agreement."""
    if finding is None or not finding.hand_felt or finding.agreement is None or finding.agreement.value is None:
        return chance
    interval = finding.agreement.range
    kappa = interval[0] if interval is not None else finding.agreement.value
    if kappa <= 0:
        message = f"{h.id}: {finding.id} is felt by hand and its agreement reaches {kappa:g}: no weight"
        notes.add("N-NO-AGREEMENT", h.place, path, message, info=True)
    return chance.times(min(max(kappa, 0.0), 1.0))


# ------------------------------------------------------------------------------------------------ graded


def _graded(
    knowledge: Knowledge, h: Hypothesis, path: tuple[str | int, ...], link: Link, finding: Finding, notes: Notes
) -> Strength | None:
    """One chance a cut: words or numbers, or from the mean and SD of people with this cause."""
    measured = finding.measured
    assert measured is not None
    cuts = len(measured.cuts)
    name = f"{h.id} and {finding.id}"
    if link.levels:
        spans = [_stated(knowledge, h, path, level, None, link.basis, notes) for level in link.levels]
        spans = (spans + [Span.of(0.0)] * cuts)[:cuts]  # the graph's own checks refuse a wrong number
    elif link.mean is not None and link.sd is not None:
        spans = _from_spread(knowledge, link.mean, link.sd, finding)
    else:
        message = f"{name}: one strength for {cuts} cuts"
        notes.add("N-LEVELS", h.place, path, message, "state levels, or mean and sd")
        return None
    if any(after.value > before.value for before, after in pairwise(spans)):
        shown = ", ".join(f"{s.value:.2f}" for s in spans)
        notes.add("N-LEVELS", h.place, path, f"{name}: chances rise with the level ({shown})", "correct the figures")
    return Strength(h.id, finding.id, _falling(spans), link.basis == "published", place=h.place, path=path)


def _from_spread(knowledge: Knowledge, mean: float, sd: float, finding: Finding) -> list[Span]:
    measured = finding.measured
    assert measured is not None
    sign = 1 if measured.worse == "higher" else -1
    cuts = [sign * cut for cut in measured.cuts]
    error = measuring_error(knowledge, finding)
    without = [span.value for span in healthy_leak(knowledge, finding)]
    return [Span.of(u) for u in reach_alone(exceedance(sign * mean, sd, error, cuts), without)]


def healthy_leak(knowledge: Knowledge, finding: Finding, notes: Notes | None = None) -> tuple[Span, ...]:
    """Leak of a measured finding, one a cut: how often people with none of the causes are there; at least the floor."""
    measured = finding.measured
    assert measured is not None
    sign = 1 if measured.worse == "higher" else -1
    cuts = [sign * cut for cut in measured.cuts]
    error = measuring_error(knowledge, finding)
    if notes is not None and error > 0.866 * measured.healthy.sd:  # sqrt(3/4): see graded.exceedance
        message = f"{finding.id}: healthy sd {measured.healthy.sd:g} against an error of {error:.2g}"
        notes.add("N-SPREAD", finding.place, ("measured", "healthy"), message, info=True)
    floor = knowledge.policy.leak_floor.get(finding.kind, 0.02)
    shares = exceedance(sign * measured.healthy.mean, measured.healthy.sd, error, cuts)
    return _falling([Span.of(max(share, floor)) for share in shares])


def measuring_error(knowledge: Knowledge, finding: Finding) -> float:
    """Standard error of a measured finding's d as studies take it; 0 where none is stated."""
    measured = finding.measured
    assert measured is not None
    measure = knowledge.measures.get(measured.measure)
    return 0.0 if measure is None else study_error(measured, measure, dict(knowledge.measures))


def _falling(spans: Sequence[Span]) -> tuple[Span, ...]:
    """Never rising with the level, ends included."""
    kept: list[Span] = []
    for span in spans:
        kept.append(Span(*(min(a, b) for a, b in zip(span, kept[-1], strict=True))) if kept else span)
    return tuple(kept)


# ------------------------------------------------------------------------------------------------ groups


def _tests(knowledge: Knowledge, group: Group) -> list[tuple[float, float]]:
    """Published (sens, spec) of the members that have one and tell something."""
    stand_in = knowledge.policy.zero_or_one
    pairs = [_accuracy(member, stand_in) for member in group.members]
    return [pair for pair in pairs if pair is not None and sum(pair) > 1]


def _accuracy(member: GroupMember, stand_in: tuple[float, float]) -> tuple[float, float] | None:
    if member.sens is None or member.spec is None:
        return None
    return not_certain(member.sens, stand_in), not_certain(member.spec, stand_in)


def _reference(knowledge: Knowledge, group: Group, notes: Notes) -> Strength | None:
    """The reference hypothesis's link to a group's sign, from the members' accuracy."""
    tests = _tests(knowledge, group)
    if not tests or group.reference not in knowledge.hypotheses:
        linked = any(k.finding == group.id for k in _links(knowledge, group.reference))
        if not linked and group.reference in knowledge.hypotheses:
            message = f"{group.id}: no member has a published accuracy and {group.reference} is not linked to it"
            notes.add("N-GROUP-REFERENCE", group.place, ("reference",), message, "add the link to the hypothesis")
        return None
    sens, spec = latent_accuracy(tests)
    published = any(m.basis == "published" for m in group.members if m.sens is not None)
    chance = Span.of(chance_from_accuracy(sens, spec))
    return Strength(
        group.reference, group.id, (chance,), published, True, Span.of(spec), place=group.place, path=("members",)
    )


def _links(knowledge: Knowledge, hypothesis: str) -> tuple[Link, ...]:
    found = knowledge.hypotheses.get(hypothesis)
    return () if found is None else found.produces


def group_members(knowledge: Knowledge) -> dict[str, Member]:
    """Finding id -> how it reads its group's sign."""
    made = {}
    for group in knowledge.groups.values():
        tests = _tests(knowledge, group)
        latent = latent_accuracy(tests) if tests else (1.0, 1.0)
        for member in group.members:
            a, b = _member(knowledge, member, latent)
            exact = _accuracy(member, knowledge.policy.zero_or_one) is not None
            made[member.finding] = Member(
                member.finding, group.id, a.value, b.value,
                None if exact or a.low == a.high else (a.low, a.high),
                None if exact or b.low == b.high else (b.low, b.high),
            )  # fmt: skip
    return made


def _member(knowledge: Knowledge, member: GroupMember, latent: tuple[float, float]) -> tuple[Span, Span]:
    """(a, b); one half each for a reading that says nothing, which the graph's own checks refuse."""
    policy = knowledge.policy
    pair = _accuracy(member, policy.zero_or_one)
    if pair is not None:
        a, b = member_chances(*pair, latent) if sum(pair) > 1 else (0.5, 0.5)
        return Span.of(a), Span.of(b)
    finding = knowledge.findings.get(member.finding)
    floor = policy.leak_floor.get(finding.kind if finding is not None else "tested", 0.02)
    here, none = _chance_of(knowledge, member.when_present, 0.5), _chance_of(knowledge, member.when_absent, floor)
    none = none.at_least(floor)
    if member.agreement is None or member.agreement.value is None:
        return here, none
    interval = member.agreement.range
    kappa = min(interval[0] if interval is not None else member.agreement.value, 1.0)
    ends = [
        shrunk_by_agreement(a, b, kappa)[0]
        for a, b in ((here.value, none.value), (here.low, none.low), (here.high, none.high))
    ]
    return Span.of(ends[0], (ends[1], ends[2])), none


def _chance_of(knowledge: Knowledge, figure: Figure | None, otherwise: float) -> Span:
    """A member's chance with its interval, never 0 or 1; `otherwise` where it is not stated."""
    if figure is None:
        return Span.of(otherwise)
    value = not_certain(knowledge.number(figure), knowledge.policy.zero_or_one)
    return Span.of(value, interval_of(knowledge, figure))
