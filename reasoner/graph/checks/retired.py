"""What is never asked, or no longer suggested, must not leave a danger rule without an answer."""

from __future__ import annotations

from collections.abc import Iterator

from reasoner.graph.checks.base import Check, Spot, rule
from reasoner.graph.pack import Pack
from reasoner.graph.rules import rules_of, steps

__all__ = ["CHECKS"]


@rule("K-RETIRED")
def retired_but_needed(pack: Pack) -> Iterator[Spot]:
    """A finding is retired although a danger screen, a gate or an always-ask question could then never be judged.

    A retired finding is never asked; an answer recorded earlier still counts. Where a rule that bears on safety reads
    it, say in instead: which finding is asked in its place, or do not retire it.
    """
    needed = _needed(pack)
    for finding in pack.records["finding"]:
        if finding.retired and not finding.instead and finding.id in needed:
            message = f"retired: {finding.id} is needed by {needed[finding.id]}"
            yield Spot(finding, ("retired",), message, "add instead: with the finding asked in its place, or keep it")


def _needed(pack: Pack) -> dict[str, str]:
    """Finding id -> what could not be judged without it."""
    found: dict[str, str] = {}
    for kind, record in pack.every():
        if kind in ("screen", "load_class", "protocol", "region"):
            for path, whole in rules_of(kind, record):
                for step in steps(whole, path):
                    if isinstance(step.rule, str):
                        found.setdefault(step.rule, f"the {kind.replace('_', ' ')} {record.id}")
    for question in pack.knowledge.region.always_ask:
        for ident in question.findings:
            found[ident] = f"the always-ask question {question.id}"
    return found


@rule("K-INSTEAD")
def instead_fits(pack: Pack) -> Iterator[Spot]:
    """instead: names no record of the kind, one that is retired too, or a finding that cannot stand in.

    A finding asked in place of another has the same side and danger: yes still means danger, on the same leg.
    """
    for kind in ("finding", "option"):
        known = {record.id: record for record in pack.records[kind]}
        for record in pack.records[kind]:
            if not record.instead:
                continue
            other = known.get(record.instead)
            message = ""
            if not record.retired:
                message = f"instead: {record.id} is not retired"
            elif other is None:
                message = f"instead: there is no {kind} {record.instead}"
            elif other.retired:
                message = f"instead: {record.instead} is retired too"
            elif kind == "finding" and (other.sided, other.danger) != (record.sided, record.danger):
                message = f"instead: {record.instead} differs in sided or danger"
            elif kind == "finding" and other.kind in ("measured", "composite"):
                message = f"instead: {record.instead} cannot be asked"
            if message:
                yield Spot(record, ("instead",), message, f"name a {kind} in use that means the same")


@rule("K-GENERAL")
def general_but_needed(pack: Pack) -> Iterator[Spot]:
    """A general word is needed by a danger screen, a gate or an always-ask question, or stands for itself.

    A general word is never asked, so that such a rule could stay open for ever; and "heel pain" is no answer to "pain
    at the back of the heel?". Name the nearer finding in the rule.
    """
    needed = _needed(pack)
    for finding in pack.records["finding"]:
        if finding.general_for and finding.id in needed:
            message = f"general_for: {finding.id} is needed by {needed[finding.id]}"
            yield Spot(finding, ("general_for",), message, "name a nearer finding there, or take general_for: out")
        elif finding.id in finding.general_for:
            message = f"general_for: {finding.id} stands for itself"
            yield Spot(finding, ("general_for",), message, "name only nearer findings")


CHECKS: tuple[Check, ...] = (retired_but_needed, instead_fits, general_but_needed)
