"""Hypotheses, findings and groups: nothing counts twice, every scale runs one way."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from reasoner.graph.checks.base import Check, Spot, rule
from reasoner.graph.checks.rules import findings_in
from reasoner.graph.pack import Pack
from reasoner.graph.records import Figure, GroupMember, Hypothesis, Link

__all__ = ["CHECKS"]


@rule("K-BASE-RATE")
def base_rate_not_stated(pack: Pack) -> Iterator[Spot]:
    """A hypothesis has no base rate for `not_stated`.

    It stands in for every setting the hypothesis does not name, and for a visit whose setting is not known yet.
    """
    for hypothesis in pack.records["hypothesis"]:
        if "not_stated" not in hypothesis.base_rate:
            message = f"base_rate: {hypothesis.id} has none for not_stated"
            yield Spot(hypothesis, ("base_rate",), message, "add not_stated: {word: seldom, basis: practice}")


@rule("K-NO-LINK")
def hypothesis_without_link(pack: Pack) -> Iterator[Spot]:
    """A hypothesis produces no finding, so that no answer could ever move it.

    Say what it produces, or leave it out. The reference of a group is linked to it through the members' accuracy.
    """
    references = {group.reference for group in pack.records["group"]}
    for hypothesis in pack.records["hypothesis"]:
        if not hypothesis.produces and hypothesis.id not in references:
            yield Spot(hypothesis, ("id",), f"{hypothesis.id} produces nothing", "add produces:, or leave it out")


@rule("K-LINK-TWICE")
def same_link_twice(pack: Pack) -> Iterator[Spot]:
    """A hypothesis names the same finding twice, so that one answer would count twice.

    Keep the better founded of the two.
    """
    for hypothesis in pack.records["hypothesis"]:
        seen: set[str] = set()
        for n, link in enumerate(hypothesis.produces):
            if link.finding in seen:
                message = f"produces: {link.finding} stands twice"
                yield Spot(hypothesis, ("produces", n, "finding"), message, "keep one")
            seen.add(link.finding)


@rule("K-COUNTED-TWICE")
def fact_counted_twice(pack: Pack) -> Iterator[Spot]:
    """A fact is in a hypothesis' base rate and in its links, so that it would count twice.

    What modifies the base rate, and what a setting accounts for that the base rate names, is not also a finding the
    hypothesis produces (on its own or in a group).
    """
    for hypothesis in pack.records["hypothesis"]:
        by_finding = dict(_linked(pack, hypothesis))
        for n, modifier in enumerate(hypothesis.modifiers):
            for path, ident in findings_in(pack, modifier.fact, ("modifiers", n, "fact")):
                if ident in by_finding:
                    message = f"modifiers: {ident} is also produced"
                    yield Spot(hypothesis, path, message, "keep it as a modifier or as a link")
        for setting in hypothesis.base_rate:
            known = pack.knowledge.settings.get(setting)
            for ident in known.accounts_for if known is not None else ():
                if ident in by_finding:
                    message = f"produces: {ident} is accounted for by the setting {setting}"
                    yield Spot(hypothesis, by_finding[ident], message, "leave the link out, or the base rate of it")


def _linked(pack: Pack, hypothesis: Hypothesis) -> Iterator[tuple[str, tuple[str | int, ...]]]:
    """(finding id, field path) of every finding a hypothesis is linked to, through groups as well."""
    for n, link in enumerate(hypothesis.produces):
        path = ("produces", n, "finding")
        yield link.finding, path
        group = pack.knowledge.groups.get(link.finding)
        for member in group.members if group is not None else ():
            yield member.finding, path


@rule("K-GROUP-LINK")
def member_linked_alone(pack: Pack) -> Iterator[Spot]:
    """A member of a group, or an item of a composite, is also linked on its own where it would count twice.

    Signs in a group are readings of one latent sign: hypotheses link to the group, not to its members. The items of
    a composite finding carry no link of their own to the hypothesis the composite is linked to.
    """
    group_of = pack.knowledge.group_of
    for hypothesis in pack.records["hypothesis"]:
        linked = {link.finding for link in hypothesis.produces}
        items = {
            inner: ident
            for ident in linked
            if ident in pack.knowledge.findings and pack.knowledge.findings[ident].composite is not None
            for _, inner in findings_in(pack, pack.knowledge.findings[ident].composite)
        }
        for n, link in enumerate(hypothesis.produces):
            group = group_of.get(link.finding)
            if group is not None and (group in linked or pack.knowledge.groups[group].reference == hypothesis.id):
                message = f"produces: {link.finding} also counts in the group {group}"
                yield Spot(hypothesis, ("produces", n, "finding"), message, f"link {group} instead")
            elif link.finding in items:
                message = f"produces: {link.finding} also counts in {items[link.finding]}"
                yield Spot(hypothesis, ("produces", n, "finding"), message, "keep one of the two links")


@rule("K-ONE-GROUP")
def member_of_two_groups(pack: Pack) -> Iterator[Spot]:
    """A finding is a member of two groups, or twice of one, so that one answer would count twice."""
    owner: dict[str, str] = {}
    for group in pack.records["group"]:
        for n, member in enumerate(group.members):
            if member.finding in owner:
                message = f"members: {member.finding} is already in {owner[member.finding]}"
                yield Spot(group, ("members", n, "finding"), message, "keep it in one")
            owner.setdefault(member.finding, group.id)


@rule("K-READING")
def reading_says_nothing(pack: Pack) -> Iterator[Spot]:
    """A member of a group states its accuracy twice or not at all, or reads no better than chance.

    Either sens and spec (for the group's reference) with a sum above 1, or when_present (a word or number) above
    when_absent.
    """
    for group in pack.records["group"]:
        for n, member in enumerate(group.members):
            message = _reading(pack, member)
            if message:
                hint = "write sens and spec with a sum above 1, or when_present above when_absent"
                yield Spot(group, ("members", n), f"members {member.finding}: {message}", hint)


def _reading(pack: Pack, member: GroupMember) -> str:
    published = member.sens is not None or member.spec is not None
    if published and member.when_present is not None:
        return "found sens or spec and when_present"
    if published:
        if member.sens is None or member.spec is None:
            return "sens is missing" if member.sens is None else "spec is missing"
        return "" if member.sens + member.spec > 1 else f"sens + spec is {member.sens + member.spec:g}"
    if member.when_present is None:
        return "found no accuracy"
    high = _number(pack, member.when_present)
    low = _number(pack, member.when_absent) if member.when_absent is not None else 0.0
    return "" if high is None or low is None or high > low else "when_present is not above when_absent"


def _number(pack: Pack, figure: Figure) -> float | None:
    """Value of a figure; None for a word or form that another rule refuses."""
    if figure.word is not None:
        return pack.knowledge.words[figure.word][0] if figure.word in pack.knowledge.words else None
    return figure.value


@rule("K-POLARITY")
def wrong_polarity(pack: Pack) -> Iterator[Spot]:
    """A finding makes its hypothesis less likely when present (LR+ below 1, or LR- above 1).

    Store such a test the other way round: as a finding whose presence speaks for the hypothesis.
    """
    for hypothesis in pack.records["hypothesis"]:
        for n, link in enumerate(hypothesis.produces):
            message = _polarity(link)
            if message:
                hint = "reword the finding so that present speaks for it"
                yield Spot(hypothesis, ("produces", n), f"produces {link.finding}: {message}", hint)


def _polarity(link: Link) -> str:
    if link.sens is not None and link.spec is not None and link.sens + link.spec <= 1:
        return f"sens + spec is {link.sens + link.spec:g}, so present speaks against it"
    if link.lr_pos is not None and link.lr_pos < 1:
        return f"lr_pos is {link.lr_pos:g}, so present speaks against it"
    if link.lr_neg is not None and link.lr_neg >= 1:
        return f"lr_neg is {link.lr_neg:g}, so absent does not speak against it"
    return ""


@rule("K-LEVELS")
def levels_fit(pack: Pack) -> Iterator[Spot]:
    """The levels of a link do not fit its measured finding, or rise with severity.

    One chance for each cut, from mild to severe: the chance that this cause alone brings the finding to that level
    or beyond. It can only stay or fall. Levels, and mean with sd, belong to measured findings only.
    """
    for hypothesis in pack.records["hypothesis"]:
        for n, link in enumerate(hypothesis.produces):
            message = _levels(pack, link)
            if message:
                path = ("produces", n, "levels" if link.levels else "finding")
                yield Spot(hypothesis, path, f"produces {link.finding}: {message}", "one chance a cut, never rising")


def _levels(pack: Pack, link: Link) -> str:
    finding = pack.knowledge.findings.get(link.finding)
    known = finding is not None or link.finding in pack.knowledge.groups
    if not known or (not link.levels and link.mean is None):
        return ""
    if finding is None or finding.measured is None:
        return "levels, mean and sd are for measured findings"
    if not link.levels:
        return ""
    if len(link.levels) != len(finding.measured.cuts):
        return f"{len(link.levels)} levels for {len(finding.measured.cuts)} cuts"
    words = pack.knowledge.words
    if any(isinstance(c, str) and c not in words for c in link.levels):
        return ""
    chances = [pack.knowledge.chance(c) for c in link.levels]
    return "a later level is more likely than an earlier one" if any(b > a for a, b in pairwise(chances)) else ""


@rule("K-CUTS")
def cuts_run_one_way(pack: Pack) -> Iterator[Spot]:
    """The cuts of a measured finding do not run from mild to severe, or are not one to three.

    Rising where more is worse, falling where less is worse. A side difference is always worse upwards. level_names
    has one name more than there are cuts.
    """
    for finding in pack.records["finding"]:
        measured = finding.measured
        if measured is None:
            continue
        rising = measured.worse == "higher"
        in_order = all((b > a) if rising else (b < a) for a, b in pairwise(measured.cuts))
        if not 1 <= len(measured.cuts) <= 3 or not in_order:
            found = "[" + ", ".join(f"{c:g}" for c in measured.cuts) + "]"
            hint = f"one to three, {'rising' if rising else 'falling'} from mild to severe"
            yield Spot(finding, ("measured", "cuts"), f"cuts: found {found}", hint)
        if measured.of == "side_difference" and not rising:
            message = "worse: a side difference is counted so that more is worse"
            yield Spot(finding, ("measured", "worse"), message, "leave it out")
        if measured.level_names and len(measured.level_names) != len(measured.cuts) + 1:
            message = f"level_names: {len(measured.level_names)} names for {len(measured.cuts) + 1} levels"
            yield Spot(finding, ("measured", "level_names"), message, "one name a level, none first")


@rule("K-FINDING")
def finding_kind(pack: Pack) -> Iterator[Spot]:
    """A finding's kind does not fit what it holds.

    measured needs `measured:`, composite needs `composite:`, and only they; told, seen and tested need `ask:`, because
    nobody could answer them otherwise; one that provokes names its load classes, because it may be barred.
    """
    for finding in pack.records["finding"]:
        for name in ("measured", "composite"):
            given = getattr(finding, name) is not None
            if given != (finding.kind == name):
                message = f"kind: {finding.kind}, " + (f"but there is {name}:" if given else f"but {name}: is missing")
                yield Spot(finding, (name,) if given else ("kind",), message, "correct one of them")
        if finding.kind in ("told", "seen", "tested") and not finding.ask.strip():
            yield Spot(finding, ("id",), f"ask: {finding.id} does not say how to ask or test", "add ask:")
        if finding.provokes and not finding.load_classes:
            yield Spot(finding, ("provokes",), "provokes: no load class is named", "add load_classes: [id]")


@rule("K-SERIOUS")
def serious_without_limit(pack: Pack) -> Iterator[Spot]:
    """A hypothesis on the serious list has no `act_above` or no `next_step`.

    act_above is the chance above which one acts: it weighs the questions about it. next_step says what to do.
    """
    for hypothesis in pack.records["hypothesis"]:
        if hypothesis.list == "serious":
            limit = hypothesis.act_above
            if limit is None or not 0 < limit < 1:
                found = "is missing" if limit is None else f"found {limit:g}"
                path = ("list",) if limit is None else ("act_above",)
                yield Spot(hypothesis, path, f"act_above: {found}", "add for example act_above: 0.02")
            if not hypothesis.next_step.strip():
                yield Spot(hypothesis, ("list",), "next_step: is missing", "say what to do about it")


CHECKS: tuple[Check, ...] = (
    base_rate_not_stated,
    hypothesis_without_link,
    same_link_twice,
    fact_counted_twice,
    member_linked_alone,
    member_of_two_groups,
    reading_says_nothing,
    wrong_polarity,
    levels_fit,
    cuts_run_one_way,
    finding_kind,
    serious_without_limit,
)
