"""Why something is not first, or not open: told against what stands before it."""

from __future__ import annotations

import numpy as np

from reasoner.advice.beliefs import Beliefs, contributions
from reasoner.advice.explanation import Explanation, Section, chance_words, name_of
from reasoner.advice.figures import figures_of
from reasoner.advice.side import SideView
from reasoner.advice.sources import basis_words
from reasoner.advice.treatments import judge_option, worth_of
from reasoner.advice.turning import flip_rows, ranked_ids
from reasoner.advice.why_hypothesis import would_change
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Hypothesis, OptionRecord
from reasoner.options.gate import GateResult
from reasoner.safety.rules import evaluate

__all__ = ["why_not_hypothesis", "why_not_option"]

_NOTICEABLE = 0.05  # nats
_MOST = 4
Row = tuple[str, ...]


def why_not_hypothesis(knowledge: Knowledge, h: Hypothesis, view: SideView) -> Explanation:
    """Against the first of its list: base rates, answers against it, answers that favour the other, what would help."""
    believed = view.beliefs
    ids = ranked_ids(knowledge, view, h.list)
    first, place = ids[0], ids.index(h.id)
    name = h.name if view.label is None else f"{h.name}, {view.label}"
    stands: list[Row] = [("chance on these answers", chance_words(believed.chance(h.id)))]
    if place == 0:
        stands.append(("it is the first of its list", ""))
        return Explanation("not first", h.id, name, (Section("where it stands", tuple(stands)),))
    lead = knowledge.hypotheses[first]
    stands += [
        ("place in its list", f"{place + 1} of {len(ids)}"),
        (f"first: {lead.name}", chance_words(believed.chance(first))),
        ("base rates here", f"{chance_words(believed.base(h.id))} against {chance_words(believed.base(first))}"),
    ]
    against = [c for c in contributions(believed, h.id) if c.nats < -_NOTICEABLE][:_MOST]
    sections = (
        Section("where it stands", tuple(stands)),
        Section(
            "answers against it (without that answer alone)",
            tuple((_said(knowledge, c.value), chance_words(c.if_wrong or 0.0)) for c in against),
        ),
        Section(f"answers that put {lead.name} before it", _favour(knowledge, believed, h.id, first)),
        Section(
            "single answers left that would put it first",
            tuple(row for row in would_change(knowledge, h, view) if row[-1].endswith(f"{h.name} would come first")),
        ),
        Section("single figures that would put it first", flip_rows(knowledge, view, first, [h.id])),
    )
    return Explanation("not first", h.id, name, tuple(s for s in sections if s.rows))


def _favour(knowledge: Knowledge, believed: Beliefs, this: str, first: str) -> tuple[Row, ...]:
    """Readings without which the gap in log odds would be smaller, the widest step first."""
    places = [believed.network.cause_index[i] for i in (this, first)]
    now = _log_odds(believed.posterior.chance[places])
    rows: list[tuple[float, Row]] = []
    for row, reading in enumerate(believed.evidence.readings):
        alone = believed.without[row, places]
        step = (now[1] - now[0]) - float(np.diff(_log_odds(alone))[0])
        if step > _NOTICEABLE:
            said = _said(knowledge, believed.said.get(reading.name, reading.name))
            without = f"without it {chance_words(float(alone[0]))} against {chance_words(float(alone[1]))}"
            rows.append((step, (said, without)))
    return tuple(r for _, r in sorted(rows, key=lambda r: -r[0])[:_MOST])


def _log_odds(chance: np.ndarray) -> np.ndarray:
    kept = np.clip(chance, 1e-12, 1 - 1e-12)
    return np.asarray(np.log(kept) - np.log1p(-kept))


def _said(knowledge: Knowledge, value: str) -> str:
    name, absent = value.removesuffix("=absent"), value.endswith("=absent")
    return f"no: {name_of(knowledge, name)}" if absent else name_of(knowledge, name)


def why_not_option(option: OptionRecord, view: SideView) -> Explanation:
    """Its gates, whether it is thought of here at all, and what is worth more on the same sign."""
    knowledge = view.facts.knowledge
    gate = judge_option(option, view.gates)
    rows = [
        (b.state.replace("_", " "), b.say, basis_words(knowledge, b.basis, b.evidence)) for b in gate.barriers
    ]
    thought: list[Row] = []
    if option.retired:
        thought.append(("not used here", option.retired))
    elif option.consider_when is not None:
        verdict = evaluate(option.consider_when, view.gates.rules).verdict
        if not verdict.possibly:
            thought.append(("what it is thought of for does not hold on these answers", ""))
    sections = (
        Section("state", ((gate.state.replace("_", " "), "" if rows else "nothing bars it on these answers"),)),
        Section("what bars it or asks for care", tuple(rows)),
        Section("whether it is thought of", tuple(thought)),
        Section("worth more on the same sign", _worth_more(option, gate, view)),
    )
    name = option.name if view.label is None else f"{option.name}, {view.label}"
    return Explanation("not first", option.id, name, tuple(s for s in sections if s.rows))


def _worth_more(option: OptionRecord, gate: GateResult, view: SideView) -> tuple[Row, ...]:
    """Open options with a higher value on its sign."""
    knowledge = view.facts.knowledge
    own = figures_of(option, view.facts)
    if option.lane != "try_now" or gate.state == "barred":
        return ()
    if own is None:
        return (("no figure for this sign, so it is not ranked",),)
    value = worth_of(option, own, view.beliefs).value
    better: list[tuple[float, str]] = []
    for other in knowledge.options.values():
        if other.lane != "try_now" or other.id == option.id or not judge_option(other, view.gates).open:
            continue
        figures = figures_of(other, view.facts)
        if figures is None or figures.sign != own.sign:
            continue
        worth = worth_of(other, figures, view.beliefs).value
        if worth > value:
            better.append((worth, other.name))
    best = sorted(better, reverse=True)[:_MOST]
    return tuple((name, f"{chance_words(worth)} against {chance_words(value)}") for worth, name in best)
