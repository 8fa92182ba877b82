"""The engine's speed beside general libraries, and its growth: `python -m tests.benchmarks.engine [--limit SECONDS]`.

One run, the same networks and evidence for all, medians, all marginals, through the public calls. A library is given
its network ready built in every form it takes (tables, its own noisy-OR); its fastest counts. Its answers are compared
with ours to 1e-9 before a ratio is printed. Ours starts from nothing each time (no order or table kept). What has not
finished within the limit says so. pgmpy is not among the project's packages: pip install pgmpy into the environment.

Times are of this machine and this load: wall clock, and processor time of all threads in brackets, which a busy machine
disturbs less; ratios and the limit are of processor time, with every library held to one thread.
"""

from __future__ import annotations

import argparse
import multiprocessing
import resource
import warnings
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from importlib import import_module
from multiprocessing.connection import Connection
from statistics import median
from time import perf_counter, process_time
from typing import Any

import numpy as np

from reasoner.inference.conflict import surprise
from reasoner.inference.draws import Intervals, draws
from reasoner.inference.evidence import Evidence
from reasoner.inference.explain import leave_one_out
from reasoner.inference.kernel import peak_bits, posterior
from reasoner.inference.network import Network
from reasoner.inference.order import plan
from reasoner.inference.questions import candidates
from tests.strategies import random_evidence, random_network

Timed = tuple[float, float]  # wall, processor; milliseconds
RUNS = 15
_WALL = 30  # a limit of processor time takes at most so many times as long by the clock


def timed(work: Callable[[], object], runs: int) -> Timed:
    """Medians of some runs after one to warm up."""
    work()
    return _median([_once(work) for _ in range(runs)])


def _once(work: Callable[[], object]) -> Timed:
    wall, cpu = perf_counter(), process_time()
    work()
    return 1000 * (perf_counter() - wall), 1000 * (process_time() - cpu)


def _median(taken: Sequence[Timed]) -> Timed:
    return median(w for w, _ in taken), median(c for _, c in taken)


def shown(one: Timed) -> str:
    return f"{one[0]:9.1f} ({one[1]:.1f})"


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


# ------------------------------------------------------------------------------------------------ libraries


def _table(network: Network, node: str) -> tuple[np.ndarray, np.ndarray]:
    """Parents' places, and P(absent | parents), an axis a parent."""
    place = network.place(node)
    own = np.flatnonzero(network.reach[place][:, 0])
    table = np.full((2,) * len(own), 1 - float(network.leak[place][0]))
    for axis, cause in enumerate(own):
        shape = [1] * len(own)
        shape[axis] = 2
        table = table * np.array([1.0, 1 - float(network.reach[place][cause, 0])]).reshape(shape)
    return own, table


def pyagrum_calls(network: Network, evidence: Evidence) -> dict[str, Callable[[], list[float]]]:
    """Its engines over plain tables and over its own noisy-OR, of the observed findings (others bear on nothing)."""
    gum = import_module("pyagrum")
    gum.setNumberOfThreads(1)
    calls: dict[str, Callable[[], list[float]]] = {}
    given = {node: [float(x) for x in w] for node, w in evidence.weights.items()}
    for form in ("tables", "noisy-OR"):
        net: Any = gum.BayesNet()
        for place in range(len(network.causes)):
            net.add(gum.LabelizedVariable(f"c{place}", "", 2))
            net.cpt(f"c{place}").fillWith([1 - float(network.prior[place]), float(network.prior[place])])
        for node in given:
            own, table = _table(network, node)
            leak = 1 - float(table[(0,) * len(own)])
            if form == "noisy-OR":
                net.addNoisyORCompound(gum.LabelizedVariable(node, "", 2), leak)
                for axis, cause in enumerate(own):
                    at = tuple(int(k == axis) for k in range(len(own)))
                    net.addWeightedArc(f"c{cause}", node, 1 - float(table[at]))
                continue
            net.add(gum.LabelizedVariable(node, "", 2))
            for cause in own:
                net.addArc(f"c{cause}", node)
            for at in np.ndindex(*table.shape):
                where = {f"c{cause}": int(v) for cause, v in zip(own, at, strict=True)}
                net.cpt(node)[where] = [float(table[at]), 1 - float(table[at])]
        for name in ("LazyPropagation", "ShaferShenoyInference", "VariableElimination"):
            calls[f"{name}, {form}"] = _pyagrum_call(getattr(gum, name), net, given, len(network.causes))
    return calls


def _pyagrum_call(engine: Any, net: Any, given: dict[str, list[float]], causes: int) -> Callable[[], list[float]]:
    def call() -> list[float]:
        one = engine(net)
        one.setEvidence(given)
        for place in range(causes):
            one.addTarget(f"c{place}")
        one.makeInference()
        return [float(one.posterior(f"c{place}")[1]) for place in range(causes)]

    return call


def pgmpy_calls(network: Network, evidence: Evidence) -> dict[str, Callable[[], list[float]]]:
    """Its exact engines over plain tables; it has no noisy-OR of its own for inference."""
    models, factors, inference = (import_module(f"pgmpy.{n}") for n in ("models", "factors.discrete", "inference"))
    kind = getattr(models, "DiscreteBayesianNetwork", None) or models.BayesianNetwork
    net: Any = kind()
    net.add_nodes_from([f"c{k}" for k in range(len(network.causes))])
    for k, prior in enumerate(network.prior):
        net.add_cpds(factors.TabularCPD(f"c{k}", 2, [[1 - float(prior)], [float(prior)]]))
    given = {}
    for node, weight in evidence.weights.items():
        own, table = _table(network, node)
        net.add_edges_from([(f"c{cause}", node) for cause in own])
        flat = table.reshape(-1)
        cards = [2] * len(own)
        net.add_cpds(factors.TabularCPD(node, 2, np.stack([flat, 1 - flat]), [f"c{c}" for c in own], cards))
        given[node] = int(np.argmax(weight))
    causes = [f"c{k}" for k in range(len(network.causes))]

    def eliminated() -> list[float]:
        engine = inference.VariableElimination(net)
        return [float(engine.query([c], evidence=given, show_progress=False).values[1]) for c in causes]

    def propagated() -> list[float]:
        engine = inference.BeliefPropagation(net)
        return [float(engine.query([c], evidence=given, show_progress=False).values[1]) for c in causes]

    return {"VariableElimination": eliminated, "BeliefPropagation": propagated}


LIBRARIES = {"pyagrum": pyagrum_calls, "pgmpy": pgmpy_calls}


def _in_child(end: Connection, library: str, links: int, name: str, runs: int, limit: int) -> None:
    """Send the names of a library's calls, or answers and time of one of them, run by run."""
    warnings.simplefilter("ignore")
    resource.setrlimit(resource.RLIMIT_CPU, (limit, limit + 5))
    network, evidence = case(25, 80, links, 12, 1)
    calls = LIBRARIES[library](network, evidence)
    if not name:
        end.send(list(calls))
        return
    call = calls[name]
    for _ in range(runs + 1):
        answer: list[float] = []
        taken = _once(lambda answer=answer: answer.extend(call()))  # type: ignore[misc]
        end.send((answer, taken))


def library_times(library: str, links: int, name: str, limit: float) -> tuple[list[float] | None, list[Timed]]:
    """(answers, times) of up to 3 runs in a process of its own, cut off at the limit; None: none was finished."""
    runs = list(_received(library, links, name, limit))
    taken = [one for _, one in runs]
    return (runs[0][0] if runs else None), taken[1:] or taken  # the first warms up


def _received(library: str, links: int, name: str, limit: float) -> Iterator[Any]:
    spawn = multiprocessing.get_context("spawn")
    here, there = spawn.Pipe()
    child = spawn.Process(target=_in_child, args=(there, library, links, name, 3, int(limit)))
    child.start()
    there.close()
    try:
        while here.poll(_WALL * limit):
            yield here.recv()
    except EOFError:
        pass
    child.kill()
    child.join()


def beside_the_libraries(limit: float) -> None:
    """25 causes, 80 findings, 12 present, 20 absent: all marginals."""
    print("25 x 80, 12 present, 20 absent, all marginals; ms, wall (processor), medians")
    for links in (6, 10):
        network, evidence = case(25, 80, links, 12, 1)

        def ours(network: Network = network, evidence: Evidence = evidence) -> object:
            plan.cache_clear()
            return posterior(replace(network, memo={}), Evidence(evidence.readings))

        mine, right = timed(ours, RUNS), posterior(network, evidence).chance
        kept = timed(lambda n=network, e=evidence: posterior(n, e), RUNS)  # type: ignore[misc]
        print(f"  {links} causes a finding: ours {shown(mine)}; the same again {shown(kept)}")
        for library in LIBRARIES:
            try:
                import_module(library)
            except ImportError:
                print(f"    {library}: not installed")
                continue
            best: float | None = None
            for name in next(_received(library, links, "", limit), []):
                answers, taken = library_times(library, links, name, limit)
                if answers is None:
                    print(f"    {library} {name}: not finished in {limit:.0f} s of processor time, or out of memory")
                    continue
                off = float(np.abs(np.array(answers) - right).max())
                assert off < 1e-9, (library, name, off)
                one = _median(taken)
                best = one[1] if best is None else min(best, one[1])
                print(f"    {library} {name}: {shown(one)} ({len(taken)} runs; off by {off:.0e})")
            if best is not None:
                print(f"    -> its fastest takes {best / mine[1]:,.0f} times as long as ours (processor time)")


# ------------------------------------------------------------------------------------------------ growth


def a_step(network: Network, evidence: Evidence, unasked: list[str], intervals: Intervals) -> None:
    """What one step of a session asks of the engine: chances, each answer's effect, fit, every question, 200 draws."""
    posterior(network, evidence)
    leave_one_out(network, evidence)
    surprise(network, evidence, lambda r: True)
    candidates(network, evidence, unasked)
    draws(network, intervals, evidence, 1, 200)


def growth() -> None:
    """45 causes, 200 findings: one posterior, all questions, 200 draws, and a whole step."""
    print("45 x 200, 20 absent; ms, wall (processor), medians of three networks; ~ where an answer is approximate")
    print("  links present   bits   posterior         questions         200 draws         whole step")
    for links in (6, 10):
        for present in range(4, 21, 2 if links == 6 else 4):
            rows: list[tuple[Timed, ...]] = []
            bits, about = [], False
            for seed in (1, 2, 3):
                network, evidence = case(45, 200, links, present, seed)
                unasked = [n for n in network.nodes if n not in evidence.weights]
                ends = wide(network)
                bits.append(peak_bits(network, evidence))
                about |= candidates(network, evidence, unasked).approximate
                works: tuple[Callable[[], object], ...] = (
                    lambda n=network, e=evidence: posterior(n, e),  # type: ignore[misc]
                    lambda n=network, e=evidence, u=unasked: candidates(n, e, u),  # type: ignore[misc]
                    lambda n=network, e=evidence, i=ends: draws(n, i, e, 1, 200),  # type: ignore[misc]
                    lambda n=network, e=evidence, u=unasked, i=ends: a_step(n, e, u, i),  # type: ignore[misc]
                )
                rows.append(tuple(_median([_once(work) for _ in range(3)]) for work in works))
            columns = [shown(_median(column)) for column in zip(*rows, strict=True)]
            mark = "~" if about else " "
            print(f"  {links:5} {present:7} {median(bits):6.1f}{mark}" + "".join(f"{c:>18}" for c in columns))


def main(arguments: Sequence[str] | None = None) -> int:
    """Run both; exit code 0."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.engine", description=__doc__)
    parser.add_argument("--limit", type=float, default=120.0, metavar="SECONDS", help="for each library call")
    parser.add_argument("--growth", action="store_true", help="the growth table alone")
    args = parser.parse_args(arguments)
    if not args.growth:
        beside_the_libraries(args.limit)
    growth()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
