"""Simulated examinations: what the choice of questions is worth. `python -m tests.benchmarks.examinations`.

Patients are drawn from the shipped network, a quarter from each of four settings, and examined with 20 questions in
several orders, each answered truthfully (tests of a group and measures with their own error). Printed: log loss on what
limits, in bits a patient (summed over the restrictions; smaller is better), before anything and after 5, 10 and 20
questions, with the standard error of the paired difference from best-first. It compares orders of asking inside one
model; it says nothing of how well the model fits people.

best first           greatest expected fall in uncertainty about what limits, worked out anew after every answer
best first, all      the same over all lists, weighed as a session weighs them (what is rare and serious counts more)
fixed, by worth      in the order of their worth before anything is asked: a good fixed examination
fixed, as examined   story, look, measure, test in the pack's own order, of what bears on a restriction
random, what bears   any finding that bears on a restriction
random               any finding that bears on anything
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.load import default_folder, load
from reasoner.inference.compile import Compiled, compile_network
from reasoner.inference.evidence import Evidence, Reading
from reasoner.inference.kernel import posterior
from reasoner.inference.questions import Asked, candidates, gain_bits
from reasoner.inference.simulate import Patients, simulate

SETTINGS = ("after_sprain", "after_immobilisation", "gradual_onset", "long_standing")
AFTER = (0, 5, 10, 20)
BLOCKS = ("told", "seen", "measured", "tested")  # as an examination goes

Pick = Callable[[Evidence, list[Asked]], Asked]


@dataclass(eq=False)
class Ward:
    """One setting: its network, what can be asked, and which of it bears on a restriction."""

    compiled: Compiled
    asked: list[Asked]
    limits: np.ndarray  # (n,) 1 for a restriction
    bearing: list[Asked]

    @classmethod
    def of(cls, knowledge: Knowledge, setting: str) -> Ward:
        compiled = compile_network(knowledge, setting)
        network = compiled.network
        limits = np.array([float(c in knowledge.hypotheses and knowledge.hypotheses[c].list == "restriction")
                           for c in network.causes])
        asked = [
            one for f in knowledge.findings.values()
            if f.kind != "composite" and not f.general_for and (one := compiled.asked(f.id)) is not None
        ]
        bearing = [a for a in asked if network.reach[network.place(a.node)][limits > 0].any()]
        kinds = [knowledge.findings[a.name].kind for a in bearing]
        order = sorted(range(len(bearing)), key=lambda k: BLOCKS.index(kinds[k]))
        return cls(compiled, asked, limits, [bearing[k] for k in order])


def examine(
    ward: Ward, patients: Patients, patient: int, questions: Sequence[Asked], pick: Pick, seed: int
) -> list[float]:
    """Log loss on the restrictions, bits, at each of AFTER."""
    network, evidence = ward.compiled.network, Evidence()
    left, losses = list(questions), []
    for asked in range(max(AFTER) + 1):
        if asked in AFTER:
            losses.append(_loss(ward, posterior(network, evidence).chance, patients.on[patient]))
        if asked == max(AFTER) or not left:
            break
        one = pick(evidence, left)
        left.remove(one)
        evidence = evidence.plus(_answer(ward, patients, patient, one, seed))
    return losses


def _answer(ward: Ward, patients: Patients, patient: int, one: Asked, seed: int) -> Reading:
    """The same patient answers the same question alike, whenever it is asked."""
    network = ward.compiled.network
    table = np.eye(network.levels(one.node)) if one.table is None else one.table
    place = [a.name for a in ward.asked].index(one.name)
    rng = np.random.default_rng([seed, patient, place])
    chances = table[:, patients.level[one.node][patient]]
    return Reading(one.name, one.node, table[int(rng.choice(len(chances), p=chances / chances.sum()))])


def _loss(ward: Ward, chance: np.ndarray, on: np.ndarray) -> float:
    kept = np.clip(chance, 1e-9, 1 - 1e-9)
    bits = -np.where(on, np.log2(kept), np.log2(1 - kept))
    return float(bits @ ward.limits)


def _greatest(ward: Ward, weights: np.ndarray) -> Pick:
    def pick(evidence: Evidence, left: list[Asked]) -> Asked:
        found = candidates(ward.compiled.network, evidence, left, weights=weights)
        return left[int(np.argmax(gain_bits(found, weights)))]

    return pick


def _first(_: Evidence, left: list[Asked]) -> Asked:
    return left[0]


def run(
    knowledge: Knowledge, count: int, seed: int, *, overall: bool = True, settings: Sequence[str] = SETTINGS
) -> dict[str, np.ndarray]:
    """Order -> log losses (patients, len(AFTER))."""
    found: dict[str, list[list[float]]] = {}
    for k, setting in enumerate(settings):
        ward = Ward.of(knowledge, setting)
        rng = np.random.default_rng([seed, k])
        number = (count + k) // len(settings)
        patients = simulate(ward.compiled.network, number, rng)
        worth = gain_bits(candidates(ward.compiled.network, Evidence(), ward.bearing, weights=ward.limits), ward.limits)
        by_worth = [ward.bearing[int(q)] for q in np.argsort(-worth, kind="stable")]
        for patient in range(number):
            orders: dict[str, tuple[Sequence[Asked], Pick]] = {
                "best first": (ward.bearing, _greatest(ward, ward.limits)),
                "fixed, by worth": (by_worth, _first),
                "fixed, as examined": (ward.bearing, _first),
                "random, what bears": ([ward.bearing[int(q)] for q in rng.permutation(len(ward.bearing))], _first),
                "random": ([ward.asked[int(q)] for q in rng.permutation(len(ward.asked))], _first),
            }
            if overall:
                orders["best first, all"] = (ward.asked, _greatest(ward, ward.compiled.entropy_weights))
            for name, (questions, pick) in orders.items():
                found.setdefault(name, []).append(examine(ward, patients, patient, questions, pick, seed + k))
    return {name: np.array(rows) for name, rows in found.items()}


def show(found: dict[str, np.ndarray]) -> None:
    """The table."""
    best = found["best first"]
    print(f"{len(best)} simulated examinations; log loss on what limits, bits a patient")
    print(f"{'':<20}" + "".join(f"{f'after {n}':>12}" for n in AFTER) + "    more than best first (standard error)")
    for name, losses in found.items():
        mean = losses.mean(axis=0)
        off = losses - best
        error = off.std(axis=0, ddof=1) / np.sqrt(len(off))
        beside = "" if losses is best else "   ".join(
            f"{o:+.2f} ({e:.2f})" for o, e in zip(off.mean(axis=0)[1:], error[1:], strict=True)
        )
        print(f"{name:<20}" + "".join(f"{m:>12.2f}" for m in mean) + f"    {beside}")
    print("an order is compared inside one model: no claim about patients")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run it; exit code 0."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.examinations", description=__doc__)
    parser.add_argument("--patients", type=int, default=500, metavar="N", help="default 500")
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="default 1")
    parser.add_argument("--quick", action="store_true", help="without `best first, all`, which takes longest")
    args = parser.parse_args(arguments)
    knowledge, problems = load(default_folder())
    if knowledge is None:
        raise SystemExit("\n".join(str(p) for p in problems[:10]))
    show(run(knowledge, args.patients, args.seed, overall=not args.quick))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
