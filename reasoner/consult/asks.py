"""One question as the agenda proposes it, and how questions of the advice become one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from reasoner.advice.asking import context_question
from reasoner.advice.records import Question
from reasoner.consult.commands import Command
from reasoner.consult.setting_up import setup_wanted
from reasoner.consult.situation import Situation

__all__ = ["Ask", "AskKind", "asked_already", "context_ask", "of_question"]

AskKind = Literal[
    "confirm", "context", "bundle", "facts", "finding", "measure", "text", "signs", "irritability", "judgement",
    "date", "flare", "stall", "handover", "exam", "retest", "act",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Ask:
    """One question. `name` is what it is about (finding, bundle, measure, heading, context name; ids between commas).

    `accepts`: what a y to a `confirm` or `date` does; for the other kinds the plan that an empty line takes up, never a
    fact.
    """

    id: str
    kind: AskKind
    name: str
    text: str
    hint: str = ""
    why: str = ""
    position: str = ""
    progress: str = ""
    accepts: Command | None = None
    more: tuple[str, ...] = ()  # lines below the question: the plan it proposes
    also: tuple[str, ...] = ()  # headings after this one that the same line may fill, between semicolons


def context_ask(case: Situation, name: str, why: str = "") -> Ask:
    """A question about who, when and what was done."""
    hints = {
        "setting": "one of: " + "; ".join(s.name for s in case.knowledge.region.settings if s.id != "not_stated"),
        "days_since.injury": "for example: injury 6 weeks ago; or: injury none, symptoms 2 years",
        "surgery": "none, or what and when: operation 8 weeks ago",
        "immobilised": "none, or for example: boot 3 weeks",
        "days_since.surgery": "for example: operation 8 weeks ago",
        "orders": "orders known, orders not seen, orders conflicting",
        "age": "years; ? not known",
    }
    return Ask(f"context.{name}", "context", name, context_question(name).ask, hints.get(name, ""), why)


def of_question(case: Situation, question: Question) -> Ask | None:
    """An Ask for a question of the advice; None if it was asked in this visit and could not be answered."""
    name = question.id
    bundles = {b.id: b for b in case.knowledge.region.always_ask}
    if name in bundles:
        said = [b for b in case.state.bundles if b.bundle == name and b.visit == case.state.visit]
        if said and said[-1].value == "unknown":
            return None
        hint = "n none of these, y one of them, ? not known"
        if "age" in bundles[name].context:
            hint = "for example: 34, n (none of these); y one of them, ? not known"
        return Ask(f"bundle.{name}", "bundle", name, question.ask, hint, question.why)
    if name in case.knowledge.findings:
        if asked_already(case, name):
            return None
        return Ask(f"finding.{name}", "finding", name, question.ask, _yes_is(case, question), question.why,
                   question.position)  # fmt: skip
    if name in case.knowledge.measures:
        record = case.knowledge.measures[name]
        example = f"{record.name} L ... R ..." if record.sided else f"{record.name} ..."
        return Ask(
            f"measure.{name}", "measure", name, question.ask, example, question.why, question.position,
            more=setup_wanted(record),
        )
    if name in case.state.context.unknown or name.startswith("competence."):
        return None
    return context_ask(case, name, question.why)


def _yes_is(case: Situation, question: Question) -> str:
    """What y records, wherever the question tells what to do and not what is looked for."""
    answers = "y, n, ? or ~.7"
    if question.ask.rstrip().endswith("?"):
        return answers
    return f"y = {case.knowledge.findings[question.id].name}; {answers.removeprefix('y, ')}"


def asked_already(case: Situation, finding: str) -> bool:
    """Asked and not answerable in this visit: not asked again."""
    return any(
        a.value == "unknown" and a.finding == finding and a.visit == case.state.visit
        for a in case.facts.standing.values()
    )
