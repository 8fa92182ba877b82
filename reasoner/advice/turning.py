"""What would turn the order of a list: the one figure that is soonest to do it, and how its first ones go together."""

from __future__ import annotations

import numpy as np

from reasoner.advice.explanation import chance_words, name_of
from reasoner.advice.side import SideView
from reasoner.advice.sources import basis_words
from reasoner.graph.knowledge import Knowledge
from reasoner.inference.explain import MOST_JOINT, joint
from reasoner.inference.flips import Flip, Parameter, flips
from reasoner.inference.kernel import LIMITS

__all__ = ["flip_rows", "joint_rows", "ranked_ids"]

_MOST_FLIPS = 3
_MOST_SETS = 5
_LEAST_SHARE = 0.02
_MOST_BITS = 10.0  # live bits up to which a figure each end is quick to try
Row = tuple[str, ...]


def ranked_ids(knowledge: Knowledge, view: SideView, of_list: str) -> list[str]:
    """Ids of one list (its name in the pack), most likely first."""
    ids = [h.id for h in knowledge.hypotheses.values() if h.list == of_list]
    return sorted(ids, key=lambda i: -view.beliefs.chance(i))


def flip_rows(knowledge: Knowledge, view: SideView, lead: str, rivals: list[str]) -> tuple[Row, ...]:
    """The single figures that, inside their intervals, put a rival before `lead`: soonest first."""
    believed = view.beliefs
    if believed.posterior.peak_bits > min(_MOST_BITS, LIMITS.live_bits) or believed.posterior.impossible:
        return (("too many answers are open at once to try every figure",),)
    found = flips(believed.network, believed.compiled.intervals, believed.evidence, lead, rivals)
    if not found:
        return (("no single base rate, link or leak inside its interval does",),)
    return tuple(_row(knowledge, view, flip) for flip in found[:_MOST_FLIPS])


def _row(knowledge: Knowledge, view: SideView, flip: Flip) -> Row:
    p = flip.parameter
    way = "from" if flip.at > p.value else "down from"
    other = knowledge.hypotheses[flip.other].name if flip.other in knowledge.hypotheses else flip.other
    said = (
        f"{chance_words(p.value)} here, may be {chance_words(p.low)} to {chance_words(p.high)}; "
        f"{way} {chance_words(flip.at)} on {other} comes first"
    )
    return (_named(knowledge, p), said, _basis(knowledge, view, p))


def _named(knowledge: Knowledge, p: Parameter) -> str:
    if p.kind == "base_rate":
        return f"base rate of {name_of(knowledge, p.cause)}"
    level = f", level {p.level}" if p.level > 1 else ""
    if p.kind == "leak":
        return f"{name_of(knowledge, p.node)} without any of them{level}"
    return f"{name_of(knowledge, p.cause)} brings {name_of(knowledge, p.node)}{level}"


def _basis(knowledge: Knowledge, view: SideView, p: Parameter) -> str:
    """Says who, where the figure stands in one record as it is."""
    h = knowledge.hypotheses.get(p.cause)
    if p.kind == "base_rate" and h is not None:
        setting = view.facts.state.context.setting or "not_stated"
        figure = h.base_rate.get(setting) or h.base_rate["not_stated"]
        return basis_words(knowledge, figure.basis, figure.evidence)
    link = next((k for k in h.produces if k.finding == p.node), None) if h is not None else None
    if link is not None:
        return basis_words(knowledge, link.basis, link.evidence)
    record = knowledge.findings.get(p.node) or knowledge.groups.get(p.node)
    leak = record.leak if record is not None and p.kind == "leak" else None
    return "" if leak is None else basis_words(knowledge, leak.basis, leak.evidence)


def joint_rows(knowledge: Knowledge, view: SideView, of_list: str) -> tuple[Row, ...]:
    """The six most likely of a list taken together: the likeliest sets of them, and how much those leave over."""
    believed = view.beliefs
    ids = ranked_ids(knowledge, view, of_list)[:MOST_JOINT]
    if len(ids) < 2 or believed.posterior.impossible or believed.posterior.approximate:
        return ()
    table = joint(believed.network, believed.evidence, ids)
    order = np.argsort(-table, axis=None)[:_MOST_SETS]
    rows: list[Row] = []
    told = 0.0
    for flat in order:
        where = np.unravel_index(int(flat), table.shape)
        share = float(table[where])
        if share < _LEAST_SHARE:
            break
        told += share
        names = [knowledge.hypotheses[i].name for i, on in zip(ids, where, strict=True) if on]
        rows.append((" and ".join(names) or "none of the six", chance_words(share)))
    if told < 1 - _LEAST_SHARE:
        rows.append(("any other set of the six", chance_words(1 - told)))
    return tuple(rows)
