"""Why a hypothesis stands where it does: base rate, each answer's effect, what competes, what would change it."""

from __future__ import annotations

from math import exp

import numpy as np

from reasoner.advice.beliefs import Beliefs
from reasoner.advice.explanation import Explanation, Section, chance_words, name_of, rule_words, strength_words
from reasoner.advice.questions import open_questions
from reasoner.advice.side import SideView
from reasoner.advice.sources import basis_words
from reasoner.advice.turning import flip_rows, joint_rows, ranked_ids
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Hypothesis, Link
from reasoner.inference.explain import steps
from reasoner.inference.kernel import posteriors
from reasoner.inference.questions import candidates
from reasoner.inference.rows import Variation
from reasoner.safety.rules import evaluate
from reasoner.safety.screens import Screening

__all__ = ["why_hypothesis", "would_change"]

_NOTICEABLE = 0.005  # in a chance
_MOST = 6


def why_hypothesis(knowledge: Knowledge, h: Hypothesis, view: SideView, screening: Screening) -> Explanation:
    believed = view.beliefs
    place = believed.network.cause_index[h.id]
    name = h.name if view.label is None else f"{h.name}, {view.label}"
    sections = (
        Section("now", _now(knowledge, h, believed, screening)),
        Section("base rate", _base(knowledge, h, view, screening)),
        Section("each answer, in the order recorded (these add up)", _steps(knowledge, believed, place)),
        Section("what competes: chance of another if this one were certain", _competes(knowledge, h, believed)),
        Section("what would change the picture", would_change(knowledge, h, view)),
        Section("the single figure that would change the first of its list soonest", _soonest(knowledge, h, view)),
        Section("the six most likely of its list, taken together", joint_rows(knowledge, view, h.list)),
        Section("what it usually brings", tuple(_link(knowledge, link) for link in h.produces)),
    )
    return Explanation("hypothesis", h.id, name, tuple(s for s in sections if s.rows))


def _now(
    knowledge: Knowledge, h: Hypothesis, believed: Beliefs, screening: Screening
) -> tuple[tuple[str, ...], ...]:
    rows = [("chance on these answers", chance_words(believed.chance(h.id)))]
    if believed.posterior.approximate:
        rows.append(("", "approximate: too many answers open at once for an exact figure"))
    rows.append(("established by", h.establish))
    for screen in (s for s in knowledge.screens.values() if h.id in s.hypotheses or s.id in h.screens):
        result = screening.result(screen.id)
        rows.append(("screen", f"{screen.name}: {result.state.replace('_', ' ')}; this decides, not the chance"))
    if h.not_excluded_by:
        rows.append(("not excluded by", h.not_excluded_by))
    if h.next_step:
        rows.append(("next step", h.next_step))
    return tuple(rows)


def _base(knowledge: Knowledge, h: Hypothesis, view: SideView, screening: Screening) -> tuple[tuple[str, ...], ...]:
    setting = view.facts.state.context.setting or "not_stated"
    used = setting if setting in h.base_rate else "not_stated"
    figure = h.base_rate[used]
    name = knowledge.settings[used].name if used in knowledge.settings else used
    stated = knowledge.number(figure)
    rows = [(name, f"{chance_words(stated)}   {basis_words(knowledge, figure.basis, figure.evidence)}")]
    rules = screening.rules_for(view.facts)
    for modifier in h.modifiers:
        if not evaluate(modifier.fact, rules).verdict.certainly:
            continue
        ratio = modifier.odds_ratio if modifier.odds_ratio is not None else modifier.risk_ratio
        kind = "odds" if modifier.odds_ratio is not None else "risk, turned into odds"
        fact = modifier.fact if isinstance(modifier.fact, str) else rule_words(modifier.fact)
        source = basis_words(knowledge, modifier.basis, modifier.evidence)
        rows.append((name_of(knowledge, fact), f"{kind} times {ratio:g}   {source}"))
    rows += _hangs_together(knowledge, h)
    rows.append(("so here", chance_words(view.beliefs.base(h.id))))
    return tuple(rows)


def _hangs_together(knowledge: Knowledge, h: Hypothesis) -> list[tuple[str, str]]:
    """Conditions that move its base rate, and variants it is never there with."""
    rows = []
    for shift in h.shifted_by:
        source = basis_words(knowledge, shift.basis, shift.evidence)
        rows.append((f"where there is {name_of(knowledge, shift.by)}", f"odds times {shift.odds_ratio:g}   {source}"))
    others = [o.name for o in knowledge.hypotheses.values() if h.one_of and o.one_of == h.one_of and o.id != h.id]
    return [*rows, ("never together with", ", ".join(others))] if others else rows


def _steps(knowledge: Knowledge, believed: Beliefs, place: int) -> tuple[tuple[str, ...], ...]:
    moved = steps(believed.network, believed.evidence)
    prior = float(believed.network.prior[place])
    log_odds = float(np.log(prior) - np.log1p(-prior))
    rows = []
    for row, reading in enumerate(believed.evidence.readings):
        log_odds += float(moved[row, place])
        alone = float(believed.without[row, place])
        if abs(float(moved[row, place])) < 0.02 and abs(alone - float(believed.posterior.chance[place])) < _NOTICEABLE:
            continue
        after = 1 / (1 + exp(-log_odds))
        name = name_of(knowledge, reading.name)
        rows.append((name, f"to {chance_words(after)}", f"if it alone were wrong {chance_words(alone)}"))
    return tuple(rows)


def _competes(knowledge: Knowledge, h: Hypothesis, believed: Beliefs) -> tuple[tuple[str, ...], ...]:
    """Others whose chance falls most if this one is taken as certain: two explanations of the same answers."""
    network = believed.network
    drop = np.ones((network.prior.size, 1))
    drop[network.cause_index[h.id]] = 0.0
    given = posteriors(network, believed.evidence, Variation(rows=1, drop=drop)).chance[0]
    fall = believed.posterior.chance - given
    rows = []
    for place in np.argsort(-fall)[:3]:
        other = network.causes[int(place)]
        if fall[place] > 0.02 and other in knowledge.hypotheses:
            before, after = float(believed.posterior.chance[place]), float(given[place])
            rows.append((knowledge.hypotheses[other].name, f"{chance_words(before)} would be {chance_words(after)}"))
    return tuple(rows)


def would_change(knowledge: Knowledge, h: Hypothesis, view: SideView) -> tuple[tuple[str, ...], ...]:
    """Single answers not yet given that would put another first in its list, or put this one first."""
    believed = view.beliefs
    asked = open_questions(view)
    if not asked:
        return ()
    found = candidates(believed.network, believed.evidence, [o.asked for o in asked])
    rivals = [o.id for o in knowledge.hypotheses.values() if o.list == h.list]
    places = [believed.network.cause_index[i] for i in rivals]
    now = rivals[int(np.argmax(believed.posterior.chance[places]))]
    rows: list[tuple[float, tuple[str, ...]]] = []
    for q, one in enumerate(asked):
        for answer in range(found.answer.shape[1]):
            likely = float(found.answer[q, answer])
            if likely < 0.02:
                continue
            first = rivals[int(np.argmax(found.given[q, answer, places]))]
            if first != now and h.id in (first, now):
                said = one.answer_words(answer)
                rows.append((likely, (one.name, f"{said}: {knowledge.hypotheses[first].name} would come first")))
    rows.sort(key=lambda r: -r[0])
    return tuple(r for _, r in rows[:_MOST]) or (("", "no single answer left would change the first of its list"),)


def _soonest(knowledge: Knowledge, h: Hypothesis, view: SideView) -> tuple[tuple[str, ...], ...]:
    """Of the first: what would displace it; of another: what would put it first."""
    ids = ranked_ids(knowledge, view, h.list)
    if len(ids) < 2:
        return ()
    return flip_rows(knowledge, view, ids[0], ids[1:] if ids[0] == h.id else [h.id])


def _link(knowledge: Knowledge, link: Link) -> tuple[str, ...]:
    source = basis_words(knowledge, link.basis, link.evidence)
    return (name_of(knowledge, link.finding), f"{strength_words(link)}   {source}")
