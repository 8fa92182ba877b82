"""Options on one side: gates first, then the chance of a worthwhile change for those that may be tried now."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from reasoner.advice.beliefs import Beliefs
from reasoner.advice.draws import COUNT, SEED, Drawn, inside
from reasoner.advice.figures import effect_of, figures_of, links_of, places_of
from reasoner.advice.records import OptionAdvice
from reasoner.advice.signed import signed_looser
from reasoner.advice.suspicion import suspicions
from reasoner.facts.facts import Facts
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import OptionRecord
from reasoner.inference.network import Numbers
from reasoner.inference.responses import response_chances, silent_apart, silent_held
from reasoner.options.drawn import response_draws, value_draws
from reasoner.options.gate import HANDS, Gatekeeper, GateResult, worst
from reasoner.options.value import Response, Worth, worth
from reasoner.safety.rules import evaluate

__all__ = ["judge_option", "options_advice", "value_ranges", "worth_of"]

LANES = ("due", "try_now", "protect", "ask_or_send")
_STATES = ("offered", "caution", "not_yet", "barred")
COVERED_LANES = ("due", "try_now")


def judge_option(option: OptionRecord, gates: Gatekeeper) -> GateResult:
    """The gate's verdict on one option: its load classes, its own cautions, and whom the pack covers.

    Outside the pack only protection and referral remain: nothing that loads the joint, whatever its lane.
    """
    covered_only = _loads(option, gates.facts.knowledge) or option.lane in COVERED_LANES
    return gates.judge(option.load_classes, option.cautions, covered_only=covered_only)


def _loads(option: OptionRecord, knowledge: Knowledge) -> bool:
    """Does it do more to the joint than protect it?"""
    classes = (knowledge.load_classes[name] for name in option.load_classes)
    return any(HANDS[c.needs_hands] > HANDS["protect_only"] for c in classes)


def options_advice(
    facts: Facts, gates: Gatekeeper, believed: Beliefs, *, side: str | None, drawn: Drawn | None = None
) -> tuple[OptionAdvice, ...]:
    """Every option in its lane; what may be tried is sorted by value, the barred are never ranked.

    `drawn`: what the ranges of the values come from, where the numbers were drawn.
    """
    knowledge = facts.knowledge
    doubts = suspicions(knowledge, believed, gates.screening.results())
    judged = [
        (o, worst([*gate.barriers, *doubts]) if _loads(o, knowledge) else gate)
        for o in knowledge.options.values()
        for gate in [judge_option(o, gates)]
    ]
    figures = {
        o.id: found
        for o, gate in judged
        if o.lane == "try_now" and gate.state != "barred" and (found := figures_of(o, facts)) is not None
    }
    chances = _chances(figures, knowledge, believed)
    worths = {ident: worth(found, *chances[ident]) for ident, found in figures.items()}
    open_ = {o.id for o, gate in judged if gate.open}
    shown = {ident: found for ident, found in figures.items() if ident in open_}
    within = {} if drawn is None else value_ranges(shown, chances, facts, believed, drawn)
    made = [
        _advice(o, gate, figures.get(o.id), worths.get(o.id), gates, side, within.get(o.id)) for o, gate in judged
    ]
    return tuple(
        sorted(
            made,
            key=lambda a: (
                LANES.index(a.lane), not a.relevant, _STATES.index(a.state), -(a.value if a.value is not None else -1)
            ),
        )
    )


def _chances(
    figures: Mapping[str, Response], knowledge: Knowledge, believed: Beliefs
) -> dict[str, tuple[float, float]]:
    """Option -> P(response | evidence), and the same with only touch to bring it."""
    if not figures:
        return {}
    rows: list[Numbers] = []
    for touch_only in (False, True):
        for ident, found in figures.items():
            rows.append(links_of(knowledge.options[ident], found, believed.network, touch_only=touch_only))
    leaks = np.array([f.leak for f in figures.values()] * 2)
    chances = response_chances(believed.network, believed.evidence, np.array(rows), leaks).tolist()
    return dict(zip(figures, zip(chances[: len(figures)], chances[len(figures) :], strict=True), strict=True))


def value_ranges(
    figures: Mapping[str, Response],
    chances: Mapping[str, tuple[float, float]],
    facts: Facts,
    believed: Beliefs,
    drawn: Drawn,
) -> dict[str, tuple[float, float]]:
    """Option -> 5-95 % of its value, beliefs and its own figures drawn together.

    What binds an option's targets to each other is held as it is at the stated numbers (`chances`): a sweep for every
    option in every draw would move an end by less than its second digit.
    """
    knowledge, ranges = facts.knowledge, {}
    for ident, stated in figures.items():
        option = knowledge.options[ident]
        effect = effect_of(option, facts)
        one = None if effect is None else response_draws(effect, knowledge, len(option.acts_on), SEED, ident, COUNT)
        if one is None:
            continue
        silent = []
        for touch_only, chance in zip((False, True), chances[ident], strict=True):
            now = silent_apart(places_of(option, stated, believed.network, touch_only), believed.posterior.chance)
            apart = silent_apart(places_of(option, one, believed.network, touch_only), drawn.batch.chance)
            silent.append(silent_held((1 - chance) / (1 - stated.leak), now, apart))
        ranges[ident] = inside(value_draws(stated, one, *silent))
    return ranges


def worth_of(option: OptionRecord, figures: Response, believed: Beliefs) -> Worth:
    """Value of one option with these figures."""
    rows = [links_of(option, figures, believed.network, touch_only=touch) for touch in (False, True)]
    hold, touch = response_chances(believed.network, believed.evidence, np.array(rows), np.full(2, figures.leak))
    return worth(figures, float(hold), float(touch))


def _advice(
    option: OptionRecord,
    gate: GateResult,
    figures: Response | None,
    value: Worth | None,
    gates: Gatekeeper,
    side: str | None,
    within: tuple[float, float] | None,
) -> OptionAdvice:
    reasons = [b.say for b in gate.barriers]
    if option.lane == "try_now" and gate.state != "barred" and figures is None:
        reasons.append("no figure for this sign")
    if option.retired:
        reasons.append(f"not used here: {option.retired}")
    if gate.open:
        reasons += signed_looser(option, gates)
    return OptionAdvice(
        id=option.id,
        name=option.name,
        lane=option.lane,
        state=gate.state,
        value=None if value is None else value.value,
        if_touch=None if value is None else value.if_touch,
        chance_real_change=None if value is None else value.if_hold,
        certainty="" if figures is None else figures.certainty,
        sign="" if figures is None else figures.sign,
        reasons=tuple(dict.fromkeys(reasons)),
        missing=gate.missing,
        relevant=_relevant(option, gates),
        side=side,
        range=within,
    )


def _relevant(option: OptionRecord, gates: Gatekeeper) -> bool:
    """Worth showing: its `consider_when` is not certainly false, or one of its screens is met or open.

    A retired option is never suggested; what was done with it is still understood.
    """
    if option.retired:
        return False
    if option.for_screens and any(gates.screening.result(s).closing for s in option.for_screens):
        return True
    if option.for_screens and option.consider_when is None:
        return False
    return evaluate(option.consider_when, gates.rules).verdict.possibly
