"""What the next answer is worth: for every finding not yet asked, the chance of each answer and what it would do.

"Below level l" is one row that needs no digit (for yes/no: absent); what is above follows by subtraction. A member
of a group is a noisy reading of the group's sign: its answers are mixtures of the sign's levels.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from reasoner.inference.evidence import Evidence
from reasoner.inference.freeze import independent_levels, updated
from reasoner.inference.kernel import LIMITS, Limits, Posterior, log_with, peak_bits, posterior, posteriors
from reasoner.inference.network import Network, Numbers, touched
from reasoner.inference.rows import Variation

__all__ = ["Asked", "Candidates", "candidates", "entropy_bits", "gain_bits", "silent_given"]


_MOST_CUTS = 3  # of the usual measured findings; only for sizing batches


@dataclass(frozen=True, eq=False)
class Asked:
    """A question: what is asked, the node it bears on, and P(answer | level), (answers, K); None: the level itself."""

    name: str
    node: str
    table: Numbers | None = None


@dataclass(frozen=True, eq=False)
class Candidates:
    """answer[q, o] = P(answer o | evidence), 0 beyond a question's answers; given[q, o] = P(cause | that too), (n,).

    Answers of a yes/no finding: 0 = absent, 1 = present. exact[q] is False where only the cheap formula was used.
    """

    names: tuple[str, ...]
    answer: Numbers
    given: Numbers
    exact: npt.NDArray[np.bool_]
    now: Posterior

    @property
    def approximate(self) -> bool:
        """Was anything taken approximately?"""
        return self.now.approximate or not bool(self.exact.all())

    def only(self, rows: Sequence[int] | npt.NDArray[np.intp]) -> Candidates:
        """The same for some of the questions, by place."""
        names = tuple(self.names[k] for k in rows)
        return Candidates(names, self.answer[rows], self.given[rows], self.exact[rows], self.now)


def entropy_bits(chance: Numbers) -> Numbers:
    """H(p) of a yes/no, in bits; 0 at 0 and 1.

    >>> entropy_bits(np.array([0.5, 0.0, 1.0])).tolist()
    [1.0, 0.0, 0.0]
    """
    tiny = np.finfo(np.float64).tiny
    p, q = np.maximum(chance, tiny), np.maximum(1.0 - chance, tiny)
    return np.asarray(np.maximum(-(chance * np.log2(p) + (1.0 - chance) * np.log2(q)), 0.0))


def gain_bits(found: Candidates, weights: Numbers | None = None) -> Numbers:
    """Expected fall in summed entropy of the causes, (questions,), each cause weighted by `weights` (n,)."""
    each = np.ones(found.now.chance.shape) if weights is None else weights
    now = float(np.sum(entropy_bits(found.now.chance) * each))
    after = np.einsum("qo,qo->q", found.answer, entropy_bits(found.given) @ each)
    return np.asarray(np.maximum(now - after, 0.0))


def candidates(
    network: Network,
    evidence: Evidence,
    asked: Sequence[str | Asked],
    *,
    weights: Numbers | None = None,
    limits: Limits = LIMITS,
) -> Candidates:
    """Every answer to every question, exactly; `asked` names nodes or gives `Asked`.

    With more than `limits.live_bits` open, only the best `limits.exact` by the cheap formula (causes taken as
    independent, entropies weighted by `weights`) are exact; the rest keep the cheap figures and say so.
    """
    questions = [Asked(a, a) if isinstance(a, str) else a for a in asked]
    exact = np.ones(len(questions), dtype=bool)
    ranked = len(questions) > limits.exact and peak_bits(network, evidence) > limits.live_bits
    rows = 1 + _MOST_CUTS * (limits.exact if ranked else len(questions))
    # where findings must be frozen, the same ones now and in the rows that are compared with it
    now = posterior(network, evidence, limits=replace(limits, row_bits=limits.affordable(rows)))
    if ranked:
        cheap = _gather(questions, [_cheap(network, evidence, q.node, now.chance) for q in questions], exact, now)
        best = np.argsort(-gain_bits(cheap, weights), kind="stable")[: limits.exact]
        exact[:] = False
        exact[best] = True
        chosen = [questions[k] for k in best]
        some = _gather(chosen, _levels(network, evidence, [q.node for q in chosen], now, limits), exact[best], now)
        width = some.answer.shape[1]
        answer, given = cheap.answer.copy(), cheap.given.copy()
        answer[best, :width], given[best, :width] = some.answer[:, :width], some.given[:, :width]
        return Candidates(cheap.names, answer, given, exact, now)
    return _gather(questions, _levels(network, evidence, [q.node for q in questions], now, limits), exact, now)


def silent_given(
    network: Network,
    evidence: Evidence,
    asked: Sequence[Asked],
    found: Candidates,
    links: Sequence[Mapping[str, float]],
    *,
    limits: Limits = LIMITS,
) -> Numbers:
    """P(no response but for its leak | evidence, answer), (m, questions, answers), for m sets of links (cause -> c).

    `found`: what `candidates` said about the same questions, all of them exact. A link alone follows from its cause's
    chance, and so does one of a cause that nothing seen or asked bears on; several take one forward sweep.
    """
    free = ~touched(network, {*evidence.weights, *(q.node for q in asked)})
    silent = np.ones((len(links), *found.answer.shape))
    places: list[dict[int, float]] = []
    for k, link in enumerate(links):
        bound = {network.cause_index[cause]: c for cause, c in link.items()}
        for cause in [c for c in bound if free[c] or len(bound) == 1]:
            silent[k] *= 1.0 - bound.pop(cause) * found.given[:, :, cause]
        if len(bound) == 1:
            ((cause, c),) = bound.items()
            silent[k] *= 1.0 - c * found.given[:, :, cause]
        places.append(bound if len(bound) > 1 else {})
    several: dict[tuple[tuple[int, float], ...], list[int]] = {}  # options alike in all that counts take one sweep
    for k, bound in enumerate(places):
        if bound:
            several.setdefault(tuple(sorted(bound.items())), []).append(k)
    cuts = [(node, cut) for node in dict.fromkeys(q.node for q in asked) for cut in range(1, network.levels(node))]
    if not several or not cuts or found.now.impossible:
        return silent
    vary = _rows_below(network, evidence, cuts)
    keeps = [{cause: np.full(vary.rows, 1.0 - c) for cause, c in bound} for bound in several]
    which = np.array([k for alike in several.values() for k in alike])
    sweep_of = np.array([n for n, alike in enumerate(several.values(), start=1) for _ in alike])
    logs = log_with(network, evidence, vary, [{}, *keeps], limits=limits)
    mass = np.exp(logs - logs[0, 0])  # (1 + m, rows): P(below the cut, and no response | evidence)
    rows = {one: row for row, one in enumerate(cuts, start=1)}
    for q, one in enumerate(asked):
        below = [mass[:, rows[one.node, cut]] for cut in range(1, network.levels(one.node))]
        level = np.diff(np.array([np.zeros(len(mass)), *below, mass[:, 0]]), axis=0)  # (K, 1 + m)
        share = level if one.table is None else one.table @ level
        for answer, quiet in enumerate(np.maximum(share, 0.0)):
            if quiet[0] > 0:
                silent[which, q, answer] *= np.minimum(quiet[sweep_of] / quiet[0], 1.0)
    return silent


def _levels(
    network: Network, evidence: Evidence, nodes: Sequence[str], now: Posterior, limits: Limits
) -> list[tuple[Numbers, Numbers]]:
    """For each node P(level | evidence), (K,), and P(cause and level | evidence), (K, n)."""
    cuts = [(node, cut) for node in dict.fromkeys(nodes) for cut in range(1, network.levels(node))]
    if not cuts or now.impossible:
        return [_known_level(network, node, now.chance) for node in nodes]
    bits = min(limits.row_bits, limits.affordable(1 + _MOST_CUTS * len(nodes)))
    batch = posteriors(network, evidence, _rows_below(network, evidence, cuts), limits=replace(limits, row_bits=bits))
    share = np.exp(batch.log_evidence[1:] - batch.log_evidence[0])
    mass = dict(zip(cuts, zip(share, batch.chance[1:] * share[:, None], strict=True), strict=True))
    found = {}
    for node in dict.fromkeys(nodes):
        steps = [mass[node, cut] for cut in range(1, network.levels(node))]
        whole = np.array([0.0, *(float(s) for s, _ in steps), 1.0])
        joint = np.array([np.zeros_like(now.chance), *(j for _, j in steps), batch.chance[0]])
        found[node] = np.maximum(np.diff(whole), 0.0), np.maximum(np.diff(joint, axis=0), 0.0)
    return [found[node] for node in nodes]


def _rows_below(network: Network, evidence: Evidence, cuts: Sequence[tuple[str, int]]) -> Variation:
    """Row 0: as it is; row r: also "below this level". A finding already open gets it in its weights."""
    rows = len(cuts) + 1
    keep, log = np.ones((len(network.causes), rows)), np.zeros(rows)
    weights: dict[str, Numbers] = {}
    for row, (node, cut) in enumerate(cuts, start=1):
        if node in evidence.weights:
            if node not in weights:
                weights[node] = np.repeat(evidence.weights[node][:, None], rows, axis=1)
            weights[node][cut:, row] = 0.0
        else:
            place = network.place(node)
            keep[:, row] = 1.0 - network.reach[place][:, cut - 1]
            log[row] = _log(1.0 - network.leak[place][cut - 1])
    return Variation(rows=rows, weights=weights, keep=keep, log=log)


def _log(value: float) -> float:
    return float(np.log(value)) if value > 0 else -np.inf


def _known_level(network: Network, node: str, chance: Numbers) -> tuple[Numbers, Numbers]:
    levels = np.eye(network.levels(node))[0]
    return levels, levels[:, None] * chance


def _cheap(network: Network, evidence: Evidence, node: str, chance: Numbers) -> tuple[Numbers, Numbers]:
    """The same with independent causes at their chances now; for ranking."""
    table = independent_levels(network, node, chance)
    weight = evidence.weights.get(node)
    shown = table.level if weight is None else table.level * weight
    total = shown.sum()
    share = shown / total if total > 0 else table.level
    each = [updated(table, np.eye(share.size)[k], chance) for k in range(share.size)]
    return share, share[:, None] * np.array(each)


def _gather(
    questions: Sequence[Asked],
    levels: Sequence[tuple[Numbers, Numbers]],
    exact: npt.NDArray[np.bool_],
    now: Posterior,
) -> Candidates:
    """From levels to answers, padded to the widest question."""
    mixed = [
        (share, joint) if q.table is None else (q.table @ share, q.table @ joint)
        for q, (share, joint) in zip(questions, levels, strict=True)
    ]
    width = max((share.size for share, _ in mixed), default=2)
    answer = np.zeros((len(questions), width))
    given = np.tile(now.chance, (len(questions), width, 1))
    for q, (share, joint) in enumerate(mixed):
        answer[q, : share.size] = share
        seen = share > 0
        given[q, : share.size][seen] = np.clip(joint[seen] / share[seen, None], 0.0, 1.0)
    return Candidates(tuple(q.name for q in questions), answer, given, exact, now)
