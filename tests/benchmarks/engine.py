"""The engine's speed beside a general library, and its growth: `python -m tests.benchmarks.engine`.

Medians of this machine in one run, through the public calls; both engines are given the same network and evidence,
and their answers are compared to 1e-9 before anything is timed.
"""

from __future__ import annotations

from collections.abc import Callable
from statistics import median
from time import perf_counter

import numpy as np

from reasoner.inference.draws import Intervals, draws
from reasoner.inference.evidence import Evidence
from reasoner.inference.kernel import peak_bits, posterior
from reasoner.inference.network import Network
from reasoner.inference.questions import candidates
from tests.oracles import by_library
from tests.strategies import random_evidence, random_network


def milliseconds(work: Callable[[], object], runs: int) -> float:
    """Median of some runs after one to warm up."""
    work()
    taken = []
    for _ in range(runs):
        start = perf_counter()
        work()
        taken.append(perf_counter() - start)
    return 1000 * median(taken)


def case(causes: int, nodes: int, links: int, present: int, seed: int) -> tuple[Network, Evidence]:
    """Yes/no findings, so many present, 20 absent."""
    rng = np.random.default_rng(seed)
    network = random_network(rng, causes=causes, nodes=nodes, links=links, graded=0.0)
    return network, random_evidence(rng, network, present=present, absent=20)


def wide(network: Network) -> Intervals:
    """Every number between three quarters of itself and a quarter more."""

    def ends(values: np.ndarray) -> np.ndarray:
        return np.stack([0.75 * values, np.minimum(1.25 * values, 0.99)], axis=-1)

    return Intervals(ends(network.prior), tuple(map(ends, network.reach)), tuple(map(ends, network.leak)))


def beside_the_library() -> None:
    """25 causes, 80 findings, 12 present, 20 absent: all marginals."""
    print("25 x 80, 12 present, 20 absent, all marginals, ms (library: its own network building included)")
    for links in (6, 10):
        network, evidence = case(25, 80, links, 12, 1)
        ours = posterior(network, evidence).chance
        start = perf_counter()
        theirs = by_library(network, evidence.weights)
        library = 1000 * (perf_counter() - start)
        worst = float(np.abs(ours - theirs).max())
        assert worst < 1e-9, worst
        mine = milliseconds(lambda n=network, e=evidence: posterior(n, e), 15)  # type: ignore[misc]
        print(f"  {links:2} causes a finding: ours {mine:7.2f}   pyagrum {library:9.1f} (one run)   "
              f"ratio {library / mine:7.0f}   worst difference {worst:.1e}")


def growth() -> None:
    """45 causes, 200 findings: one posterior, all questions, 200 draws."""
    print("45 x 200, 20 absent, ms; ~ marks an approximate answer")
    print("  links present  bits  posterior  questions  200 draws")
    for links in (6, 10):
        for present in range(4, 21, 2 if links == 6 else 4):
            network, evidence = case(45, 200, links, present, 1)
            unasked = [n for n in network.nodes if n not in evidence.weights]
            intervals = wide(network)
            one = milliseconds(lambda n=network, e=evidence: posterior(n, e), 5)  # type: ignore[misc]
            asked = milliseconds(lambda n=network, e=evidence, u=unasked: candidates(n, e, u), 2)  # type: ignore[misc]
            drawn = milliseconds(lambda n=network, e=evidence, i=intervals: draws(n, i, e, 1, 200), 2)  # type: ignore[misc]
            about = "~" if candidates(network, evidence, unasked).approximate else " "
            bits = peak_bits(network, evidence)
            print(f"  {links:5} {present:7} {bits:5.1f} {one:10.1f} {asked:10.1f}{about}{drawn:10.1f}")


def main() -> int:
    """Run both; exit code 0."""
    beside_the_library()
    growth()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
