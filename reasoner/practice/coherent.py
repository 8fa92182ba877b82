"""Makes a drawn set one that can be true of one person: of what cannot hold together the least likely gives way.

What cannot is stated as rules beside the scenarios (`case_scenarios/coherence.yaml`). What a scenario states itself
never gives way; a rule that only stated facts break is handed back as broken.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Mapping
from datetime import UTC, datetime
from random import Random

from reasoner.case.state import Answer, CaseState, Measurement, Side
from reasoner.facts.facts import Facts
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Rule
from reasoner.graph.rules import steps
from reasoner.graph.scenario import Follows, Scenario
from reasoner.practice.person import OTHER, context_of
from reasoner.safety.rules import RuleContext, evaluate
from reasoner.safety.screens import Screening

__all__ = ["coherent", "followed", "seen"]

Chance = Callable[[str], float]
_MOMENT = datetime(2026, 1, 1, tzinfo=UTC)


def seen(scenario: Scenario, knowledge: Knowledge, found: Mapping[str, bool]) -> Screening:
    """The screens and rules over a set and the stated measures, as if all of it had been asked of the affected side."""
    side: Side = scenario.person.side
    answers = tuple(
        Answer(f, side if knowledge.findings[f].sided else "none", "present" if there else "absent", at=_MOMENT)
        for f, there in found.items()
    )
    taken = tuple(_taken(knowledge, measure, where, value)
                  for measure, sides in scenario.measures.items() for where, value in sides.items())  # fmt: skip
    state = CaseState(context=context_of(scenario, _MOMENT), answers=answers, measurements=taken)
    return Screening(Facts(knowledge, state, _MOMENT))


def _taken(knowledge: Knowledge, measure: str, where: str, value: float) -> Measurement:
    sides: dict[str, Side] = {"left": "left", "right": "right"}
    tool = knowledge.measures[measure].tools[0].id if knowledge.measures[measure].tools else ""
    return Measurement(measure, sides.get(where, "none"), tool, (value,), at=_MOMENT)


def coherent(
    scenario: Scenario, knowledge: Knowledge, found: Mapping[str, bool], chance: Chance
) -> tuple[dict[str, bool], tuple[str, ...]]:
    """The set with what cannot be so taken back, and the rules that stated facts alone break.

    chance: of a finding, given what is true of them. After what goes with something was added, a finding is only ever
    taken from present to absent, so it ends.
    """
    kept = dict(found)
    stated = {f for f, reply in scenario.answers.items() if reply.value != "unknown"}
    for one in scenario.coherence.implies:
        if evaluate(one.when, seen(scenario, knowledge, kept).rules).verdict.certainly:
            kept.update((f, True) for f in one.present if f not in stated)
    for group in scenario.coherence.at_most_one:
        there = sorted((f for f in group if kept.get(f)), key=lambda f: (f not in stated, -chance(f)))
        kept.update((f, False) for f in there[1:] if f not in stated)
    broken: dict[str, None] = {}
    while True:
        rules = seen(scenario, knowledge, kept).rules
        wrong = [r for r in scenario.coherence.never if str(r) not in broken and evaluate(r, rules).verdict.certainly]
        if not wrong:
            return _with_general(knowledge, kept, stated), tuple(broken)
        for rule in wrong:
            may = [f for f in _asserted(rule) if kept.get(f) and f not in stated]
            if may:
                kept[min(may, key=chance)] = False
            elif not any(found.get(f) and not kept.get(f) for f in _asserted(rule)):
                broken[str(rule)] = None  # nothing in it was taken back just now, and nothing can be


def _with_general(knowledge: Knowledge, kept: dict[str, bool], stated: Container[str]) -> dict[str, bool]:
    """A general word is true where one of the nearer findings it stands for is; with only measures near, as drawn.

    A nearer finding may be a general word itself: gone over until nothing changes.
    """
    words = {f.id: [n for n in f.general_for if n in kept] for f in knowledge.findings.values() if f.id in kept}
    words = {word: nearer for word, nearer in words.items() if nearer and word not in stated}
    for _ in words:
        changed = {word: any(kept[n] for n in nearer) for word, nearer in words.items()}
        if all(kept[word] == there for word, there in changed.items()):
            break
        kept.update(changed)
    return kept


def _asserted(rule: Rule) -> list[str]:
    """Findings a rule needs to be present."""
    return [s.rule for s in steps(rule) if isinstance(s.rule, str) and not s.under_not]


def followed(
    scenario: Scenario, rules: RuleContext, values: dict[tuple[str, str], float], free: Iterable[str], random: Random
) -> None:
    """Set the measures that follow from what was found. `free`: measures nothing else has fixed."""
    wanted = set(free)
    for one in scenario.coherence.follows:
        if one.measure in wanted and evaluate(one.when, rules).verdict.certainly:
            _set(scenario, one, values, random)


def _set(scenario: Scenario, one: Follows, values: dict[tuple[str, str], float], random: Random) -> None:
    side = scenario.person.side
    here = side if (one.measure, side) in values else "none"
    value = random.uniform(*one.between)
    values[one.measure, here] = value + (values[one.measure, OTHER[side]] if one.beyond_other_side else 0.0)
