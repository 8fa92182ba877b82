"""advise(knowledge, state, now) -> Advice: the one place where screens, beliefs, questions and options meet.

Pure: the same knowledge, state and time give the same advice. Danger is worked out first and from rules alone;
no chance from the network opens a gate or closes a screen.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from reasoner.advice.asking import ask_first
from reasoner.advice.beliefs import hypotheses_advice
from reasoner.advice.changes import Change, first_changes, screen_could_change
from reasoner.advice.conflict import conflict
from reasoner.advice.danger import danger
from reasoner.advice.questions import Survey, next_questions, survey
from reasoner.advice.records import Advice
from reasoner.advice.side import side_views
from reasoner.advice.steadiness import steadiness
from reasoner.advice.treatments import options_advice
from reasoner.advice.trials import trials
from reasoner.advice.words import APART
from reasoner.case.state import CaseState
from reasoner.graph.knowledge import Knowledge
from reasoner.options.value import waiting
from reasoner.safety.rules import evaluate

__all__ = ["advise"]


def advise(knowledge: Knowledge, state: CaseState, now: datetime) -> Advice:
    """Everything the tool would say about this state now."""
    screening, views = side_views(knowledge, state, now)
    results, stops = screening.results(), danger(screening)
    covered = evaluate(knowledge.region.covers, screening.rules).verdict
    first = views[0].beliefs
    steady = {v.label: steadiness(knowledge, v.beliefs, v.drawn, side=v.label) for v in views}
    options = tuple(
        o for v in views for o in options_advice(v.facts, v.gates, v.beliefs, side=v.label, drawn=v.drawn)
    )
    surveyed = survey(views[0])
    changes = first_changes(views[0], options, [o.asked for o in surveyed.open], surveyed.found)
    return Advice(
        region=knowledge.region.id,
        knowledge=knowledge.digest,
        covered=None if covered.unknown else covered.certainly,
        screening_complete=stops.screening_complete,
        blocked=stops.blocked,
        ask_first=ask_first(screening.facts, screening),
        screens=stops.screens,
        hypotheses=tuple(
            h
            for v in views
            for h in hypotheses_advice(
                knowledge,
                v.beliefs,
                results,
                side=v.label,
                ranges=None if v.drawn is None else v.drawn.ranges(),
                apart=[s.list for s in steady[v.label] if s.words == APART],
            )
        ),
        questions=next_questions(surveyed, _changes_words(knowledge, surveyed, changes or ())),
        options=options,
        informative=len(first.evidence.readings),
        askable=sum(f.kind not in ("measured", "composite") and not f.general_for for f in knowledge.findings.values()),
        impossible=tuple(r.name for r in first.evidence.readings) if first.posterior.impossible else (),
        conflicts=tuple(c for v in views if (c := conflict(v.beliefs, side=v.label)) is not None),
        waiting=_waiting(knowledge, state),
        approximate=surveyed.approximate or any(v.beliefs.posterior.approximate for v in views),
        steadiness=tuple(s for v in views for s in steady[v.label]),
        trials=trials(views[0], options),
        nothing_changes=None if changes is None else not changes and not screen_could_change(screening),
        drawn=all(v.drawn is not None for v in views),
        not_covered_say="" if covered.certainly else knowledge.region.covers_say,
    )


def _changes_words(knowledge: Knowledge, surveyed: Survey, changes: Iterable[Change]) -> dict[str, str]:
    """Question id -> the answer that would put another option first, in words."""
    said: dict[str, str] = {}
    for change in changes:
        one = surveyed.open[change.question]
        answer, option = one.answer_words(change.answer), knowledge.options[change.option].name
        said.setdefault(one.id, f"{answer}: {option} would come first")
    return said


def _waiting(knowledge: Knowledge, state: CaseState) -> float | None:
    for sign in (*state.retest_signs, knowledge.region.main_measure):
        measure = knowledge.measures.get(sign)
        if measure is not None and measure.drift is not None:
            return waiting(measure, knowledge)
    return None
