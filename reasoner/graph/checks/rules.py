"""Rules among rules: danger signs only ever raise urgency, no rule waits for itself, nothing screens in vain."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from reasoner.graph.checks.base import Check, Spot, rule
from reasoner.graph.pack import Pack
from reasoner.graph.rules import Step, rules_of, steps
from reasoner.graph.source import FieldPath

__all__ = ["CHECKS", "findings_in"]

Node = tuple[str, str]  # ("screen" | "finding", id)


def findings_in(pack: Pack, whole: Any, path: FieldPath = ()) -> Iterator[tuple[FieldPath, str]]:
    """(field path, id) of every finding a rule reads, those inside composite findings included."""
    yield from _findings_in(pack, whole, path, frozenset())


def _findings_in(pack: Pack, whole: Any, path: FieldPath, seen: frozenset[str]) -> Iterator[tuple[FieldPath, str]]:
    for step in steps(whole, path):
        if not isinstance(step.rule, str):
            continue
        yield step.path, step.rule
        finding = pack.knowledge.findings.get(step.rule)
        if finding is not None and finding.composite is not None and step.rule not in seen:
            for _, inner in _findings_in(pack, finding.composite, path, seen | {step.rule}):
                yield step.path, inner


def _every_step(pack: Pack) -> Iterator[tuple[str, Any, Step]]:
    for kind, record in pack.every():
        for path, whole in rules_of(kind, record):
            for step in steps(whole, path):
                yield kind, record, step


@rule("K-DANGER")
def danger_reassures(pack: Pack) -> Iterator[Spot]:
    """A danger sign, a screen or a suspicion stands under `not`, or a danger sign has negative points or an age limit.

    A danger sign may only ever raise urgency and close gates; under `not` or with a minus it would do the opposite.
    Write the rule the other way round. A whole rule of whom the pack covers (`covers`) may say `not`, because there
    being outside is the careful side.
    """
    findings = pack.knowledge.findings
    for kind, record, step in _every_step(pack):
        if not (step.under_not or step.negative_points) or kind == "region":
            continue
        if isinstance(step.rule, str):
            inner = [i for _, i in findings_in(pack, step.rule) if i in findings and findings[i].danger]
            if inner:
                how = "under not" if step.under_not else "with negative points"
                message = f"the danger sign {inner[0]} stands {how}"
                yield Spot(record, step.path, message, "write the rule the other way round")
        elif step.operator in ("screen", "suspected") and step.under_not:
            message = f"{step.operator} {step.rule[step.operator]} stands under not"
            yield Spot(record, step.path, message, "write the rule the other way round")
    for finding in findings.values():
        if finding.danger and finding.absent_from_age is not None:
            message = f"the danger sign {finding.id} is taken as absent from an age on"
            yield Spot(finding, ("absent_from_age",), message, "leave it out: danger is asked at every age")


@rule("K-CYCLE")
def rule_waits_for_itself(pack: Pack) -> Iterator[Spot]:
    """A screen's or composite finding's rule leads back to itself.

    Through `screen:`, `suspected:` (all screens of that hypothesis) or a composite finding. Neither could ever be
    worked out.
    """
    leads_to = {node: list(_leads_to(pack, node)) for node in _rule_nodes(pack)}
    told: set[Node] = set()
    for start in leads_to:
        loop = _way_back(start, leads_to)
        if loop and not told & set(loop):
            told |= set(loop)
            kind, ident = start
            record = getattr(pack.knowledge, f"{kind}s")[ident]
            path: tuple[str, ...] = ("composite",) if kind == "finding" else ("rule",)
            names = " -> ".join(i for _, i in (*loop, start))
            yield Spot(record, path, f"the rule leads back to itself: {names}", "break the circle")


def _rule_nodes(pack: Pack) -> Iterator[Node]:
    for screen in pack.knowledge.screens:
        yield "screen", screen
    for finding in pack.knowledge.findings.values():
        if finding.composite is not None:
            yield "finding", finding.id


def _leads_to(pack: Pack, node: Node) -> Iterator[Node]:
    """Nodes the rules of a node read."""
    kind, ident = node
    knowledge = pack.knowledge
    record = knowledge.screens[ident] if kind == "screen" else knowledge.findings[ident]
    for _, whole in rules_of(kind, record):
        for step in steps(whole):
            if isinstance(step.rule, str):
                if step.rule in knowledge.findings and knowledge.findings[step.rule].composite is not None:
                    yield "finding", step.rule
            elif step.operator == "screen" and step.rule["screen"] in knowledge.screens:
                yield "screen", step.rule["screen"]
            elif step.operator == "suspected":
                yield from (("screen", s) for s in _screens_of(pack, step.rule["suspected"]))


def _screens_of(pack: Pack, hypothesis: Any) -> tuple[str, ...]:
    """Screens that stand for a hypothesis: named by it, or naming it."""
    own = pack.knowledge.hypotheses.get(hypothesis)
    named = own.screens if own is not None else ()
    naming = (s.id for s in pack.knowledge.screens.values() if hypothesis in s.hypotheses)
    return tuple(s for s in dict.fromkeys((*named, *naming)) if s in pack.knowledge.screens)


def _way_back(start: Node, leads_to: dict[Node, list[Node]]) -> tuple[Node, ...]:
    """The nodes from `start` back to it; empty when there is no way."""
    ways: list[tuple[Node, ...]] = [(start,)]
    seen: set[Node] = set()
    while ways:
        way = ways.pop()
        for following in leads_to[way[-1]]:
            if following == start:
                return way
            if following not in seen:
                seen.add(following)
                ways.append((*way, following))
    return ()


@rule("K-SUSPECTED")
def suspected_never(pack: Pack) -> Iterator[Spot]:
    """A rule asks whether something is suspected for which there is no screen, so that it never is.

    `{suspected: h}` is met or open with the screens of h: those the hypothesis names and those naming it.
    """
    if pack.broken.get("screen"):
        return
    for _, record, step in _every_step(pack):
        if step.operator == "suspected":
            ident = step.rule["suspected"]
            if ident in pack.knowledge.hypotheses and not _screens_of(pack, ident):
                message = f"no screen stands for {ident}, so it is never suspected"
                yield Spot(record, (*step.path, "suspected"), message, "name a screen in its screens:, or write a rule")


@rule("K-HOLDS")
def holds_for_form(pack: Pack) -> Iterator[Spot]:
    """How long an answer holds is not written as visit, lasting or a number of days.

    holds_for: visit (asked again next visit), lasting (kept), or for example `14 days`.
    """
    for finding in pack.records["finding"]:
        words = finding.holds_for.split()
        days = len(words) == 2 and words[0].isdigit() and int(words[0]) > 0 and words[1] in ("day", "days")
        if finding.holds_for not in ("visit", "lasting") and not days:
            message = f"holds_for: found {finding.holds_for[:40]}"
            yield Spot(finding, ("holds_for",), message, "write visit, lasting, or for example 14 days")


@rule("K-SCREEN-HOLDS")
def screen_on_old_answer(pack: Pack) -> Iterator[Spot]:
    """A screen reads a finding whose answer outlives the visit.

    Danger is asked about anew every visit: whatever a screen uses has `holds_for: visit`.
    """
    told: set[str] = set()
    for screen in pack.records["screen"]:
        for path, whole in rules_of("screen", screen):
            for _, ident in findings_in(pack, whole, path):
                finding = pack.knowledge.findings.get(ident)
                if finding is not None and finding.holds_for != "visit" and ident not in told:
                    told.add(ident)
                    message = f"holds_for: {finding.holds_for}, but the screen {screen.id} uses {ident}"
                    yield Spot(finding, ("holds_for",), message, "write holds_for: visit")


@rule("K-ALWAYS")
def always_ask_complete(pack: Pack) -> Iterator[Spot]:
    """The always-ask set is too long, or lacks a fact that every visit must ask for.

    At most 7 questions. Together they hold the `use_when` facts of every emergency and same-day screen (of one
    without use_when, the facts of its rule), and whatever decides whom the pack covers, age included.
    """
    region = pack.knowledge.region
    if len(region.always_ask) > 7:
        path = ("always_ask", 7)
        yield Spot(region, path, f"always_ask: {len(region.always_ask)} questions", "join some: at most 7")
    asked = {f for one in region.always_ask for f in one.findings}
    context = {c for one in region.always_ask for c in one.context}
    told: set[str] = set()
    for what, whole in _must_ask(pack):
        facts = [i for _, i in findings_in(pack, whole) if _is_fact(pack, i)]
        ages = ["age"] if any(s.operator == "age" for s in steps(whole)) else []
        for name in facts + ages:
            if name not in (context if name == "age" else asked) and name not in told:
                told.add(name)
                yield Spot(region, ("always_ask",), f"always_ask: {name} is not asked, but {what} needs it", "add it")


def _must_ask(pack: Pack) -> Iterator[tuple[str, Any]]:
    yield "covers", pack.knowledge.region.covers
    for screen in pack.knowledge.screens.values():
        if screen.send in ("emergency", "same_day"):
            yield f"the screen {screen.id}", screen.rule if screen.use_when is None else screen.use_when


def _is_fact(pack: Pack, ident: str) -> bool:
    """A finding that can be asked for: known, and not worked out from others."""
    finding = pack.knowledge.findings.get(ident)
    return finding is not None and finding.kind in ("told", "seen", "tested")


@rule("K-ALWAYS-FACT")
def always_ask_single_facts(pack: Pack) -> Iterator[Spot]:
    """An always-ask question holds nothing to record, or something that cannot be answered with yes or no.

    "No" to the question records each of its findings as absent, so each is one told, seen or tested fact.
    """
    for n, one in enumerate(pack.knowledge.region.always_ask):
        if not one.findings and not one.context:
            yield Spot(pack.knowledge.region, ("always_ask", n), f"always_ask {one.id}: nothing in it", "add findings:")
        for m, ident in enumerate(one.findings):
            finding = pack.knowledge.findings.get(ident)
            if finding is not None and finding.kind in ("measured", "composite"):
                path = ("always_ask", n, "findings", m)
                message = f"always_ask {one.id}: {ident} is {finding.kind}"
                yield Spot(pack.knowledge.region, path, message, "name the single facts behind it")


CHECKS: tuple[Check, ...] = (
    danger_reassures,
    rule_waits_for_itself,
    suspected_never,
    holds_for_form,
    screen_on_old_answer,
    always_ask_complete,
    always_ask_single_facts,
)
