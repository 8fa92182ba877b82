"""Options on one side: gates first, then the chance of a worthwhile change for those that may be tried now."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from reasoner.advice.beliefs import Beliefs
from reasoner.advice.draws import COUNT, SEED, Drawn, inside
from reasoner.advice.figures import effect_of, figures_of, links_of
from reasoner.advice.records import OptionAdvice
from reasoner.advice.signed import signed_looser
from reasoner.facts.facts import Facts
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import OptionRecord
from reasoner.inference.network import Numbers
from reasoner.inference.responses import CONTACT, response_chances, silent_draws
from reasoner.options.drawn import ResponseDraws, response_draws, value_draws
from reasoner.options.gate import HANDS, Gatekeeper, GateResult
from reasoner.options.value import Response, Worth, worth
from reasoner.safety.rules import evaluate

__all__ = ["effect_of", "figures_of", "judge_option", "links_of", "options_advice", "value_ranges", "worth_of"]

LANES = ("due", "try_now", "protect", "ask_or_send")
_STATES = ("offered", "caution", "not_yet", "barred")
COVERED_LANES = ("due", "try_now")


def judge_option(option: OptionRecord, gates: Gatekeeper) -> GateResult:
    """The gate's verdict on one option: its load classes, its own cautions, and whom the pack covers.

    Outside the pack only protection and referral remain: nothing that loads the joint, whatever its lane.
    """
    classes = [gates.facts.knowledge.load_classes[name] for name in option.load_classes]
    loads = any(HANDS[c.needs_hands] > HANDS["protect_only"] for c in classes)
    return gates.judge(option.load_classes, option.cautions, covered_only=loads or option.lane in COVERED_LANES)


def options_advice(
    facts: Facts, gates: Gatekeeper, believed: Beliefs, *, side: str | None, drawn: Drawn | None = None
) -> tuple[OptionAdvice, ...]:
    """Every option in its lane; what may be tried is sorted by value, the barred are never ranked.

    `drawn`: what the ranges of the values come from, where the numbers were drawn.
    """
    knowledge = facts.knowledge
    judged = [(o, judge_option(o, gates)) for o in knowledge.options.values()]
    figures = {
        o.id: found
        for o, gate in judged
        if o.lane == "try_now" and gate.state != "barred" and (found := figures_of(o, facts)) is not None
    }
    worths = _worths(figures, knowledge, believed)
    open_ = {o.id for o, gate in judged if gate.open}
    shown = {ident: found for ident, found in figures.items() if ident in open_}
    within = {} if drawn is None or not shown else value_ranges(shown, facts, believed, drawn)
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


def _worths(figures: dict[str, Response], knowledge: Knowledge, believed: Beliefs) -> dict[str, Worth]:
    if not figures:
        return {}
    rows: list[Numbers] = []
    for touch_only in (False, True):
        for ident, found in figures.items():
            rows.append(links_of(knowledge.options[ident], found, believed.network, touch_only=touch_only))
    leaks = np.array([f.leak for f in figures.values()] * 2)
    chances = response_chances(believed.network, believed.evidence, np.array(rows), leaks)
    half = len(figures)
    return {
        ident: worth(f, float(chances[i]), float(chances[half + i])) for i, (ident, f) in enumerate(figures.items())
    }


def value_ranges(
    figures: Mapping[str, Response], facts: Facts, believed: Beliefs, drawn: Drawn
) -> dict[str, tuple[float, float]]:
    """Option -> 5-95 % of its value, beliefs and its own figures drawn together."""
    knowledge, causes = facts.knowledge, believed.network.cause_index
    found: dict[str, ResponseDraws] = {}
    for ident in figures:
        option = knowledge.options[ident]
        effect = effect_of(option, facts)
        one = None if effect is None else response_draws(effect, knowledge, len(option.acts_on), SEED, ident, COUNT)
        if one is not None:
            found[ident] = one
    touch: list[dict[str, Numbers]] = [{CONTACT: one.contact_c} for one in found.values()]
    hold: list[dict[str, Numbers]] = [
        {CONTACT: one.contact_c} | {t: one.target_c for t in knowledge.options[ident].acts_on if t in causes}
        for ident, one in found.items()
    ]
    silent = silent_draws(believed.network, believed.evidence, drawn.vary, drawn.batch, [*hold, *touch])
    return {
        ident: inside(value_draws(figures[ident], one, silent[k], silent[len(found) + k]))
        for k, (ident, one) in enumerate(found.items())
    }


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
        reasons += signed_looser(option, gates.facts.knowledge)
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
