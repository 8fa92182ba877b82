"""Every reader fed with hostile bytes for as long as you say: each input is read, or refused in clear harmless lines.

    .venv/bin/python -m tests.benchmarks.fuzz --minutes 5
    .venv/bin/python -m tests.benchmarks.fuzz --minutes 5 --only scenario
    .venv/bin/python -m tests.benchmarks.fuzz --only snapshot --atheris      guided by coverage; pip install atheris

Prints for each reader how many inputs it was given, how many it refused, how many were faults. The first input of each
fault is kept in a file. Exit 1 if there was one.
"""

from __future__ import annotations

import argparse
import gc
import random
import sys
import tempfile
import time
import traceback
from collections.abc import Callable
from pathlib import Path
from types import FunctionType

from reasoner.graph.load import load
from reasoner.problems import InputRefused
from tests.hostile.targets import TOKENS, WORDS, Bench, check_refusal, edited, reworded, within
from tests.tiny_pack import write_pack

SECONDS = 20  # for one input
FINE = ("read", "refused")


def bench() -> Bench:
    """The readers, with the small pack, in a folder of their own."""
    folder = Path(tempfile.mkdtemp(prefix="fuzz-"))
    knowledge, problems = load(write_pack(folder / "tiny"))
    assert knowledge is not None, problems
    return Bench(knowledge, folder)


def once(read: Callable[[bytes], object], data: bytes) -> str:
    """`read`, `refused`, or what went wrong."""
    try:
        with within(SECONDS):
            try:
                read(data)
            except InputRefused as refused:
                check_refusal(refused)
                return "refused"
    except Exception:  # a fault, whatever it is
        return traceback.format_exc()
    return "read"


def at_random(chance: random.Random, seeds: tuple[bytes, ...]) -> bytes:
    """A good input with some bytes replaced by hostile ones, or some words by others."""
    data, many = chance.choice(seeds), chance.choice((1, 1, 2, 3, 6))
    if chance.random() < 0.5:
        return reworded(data, [(chance.randrange(10**6), chance.choice(WORDS)) for _ in range(many)])
    edits = [
        (chance.randrange(10**6), chance.choice(TOKENS) if chance.random() < 0.8 else chance.randbytes(3),
         chance.choice((0, 0, 1, 2, 5, 20)))
        for _ in range(many)
    ]  # fmt: skip
    return edited(data, edits)


def run(minutes: float, only: str, seed: int) -> int:
    """All readers in turn until the time is up; the number of faults."""
    chance, targets = random.Random(seed), bench().targets()
    counts = {name: [0, 0, 0] for name in targets if only in name}
    end, known = time.monotonic() + 60 * minutes, set[str]()
    while time.monotonic() < end:
        for name, count in counts.items():
            read, seeds = targets[name]
            stop = time.monotonic() + 0.5
            while time.monotonic() < stop:
                data = at_random(chance, seeds)
                told = once(read, data)
                count[0] += 1
                count[1] += told == "refused"
                if told not in FINE:
                    count[2] += 1
                    _keep(name, data, told, known)
    rows = [*counts.items(), ("all", [sum(c[n] for c in counts.values()) for n in range(3)])]
    for name, (given, refused, faults) in rows:
        print(f"{name:<16}{given:>9} inputs {refused:>9} refused {faults:>6} faults")
    return rows[-1][1][2]


def _keep(name: str, data: bytes, told: str, known: set[str]) -> None:
    """Print a fault and keep its input; another input for the same line of code is only counted."""
    where = name + next((line for line in reversed(told.splitlines()) if line.startswith("  File")), told)
    if where in known:
        return
    known.add(where)
    with tempfile.NamedTemporaryFile(prefix=f"fault-{name.replace(' ', '-')}-", delete=False) as file:
        file.write(data)
    print(f"FAULT in {name}, kept in {file.name}", *(line[:200] for line in told.splitlines()), sep="\n", flush=True)


def guided(only: str, minutes: float) -> None:
    """One reader under atheris, which leaves the process at the end."""
    import atheris  # type: ignore[import-not-found]  # a developer's own tool

    read, seeds = bench().targets()[only]
    corpus = Path(tempfile.mkdtemp(prefix="corpus-"))
    for number, one in enumerate(seeds):
        (corpus / str(number)).write_bytes(one)

    def take(data: bytes) -> None:
        told = once(read, data)
        if told not in FINE:
            raise RuntimeError(told)

    for one in gc.get_objects():  # ours alone: everything there is takes minutes
        if isinstance(one, FunctionType) and (one.__module__ or "").startswith("reasoner."):
            atheris.instrument_func(one)
    atheris.Setup([sys.argv[0], str(corpus), f"-max_total_time={int(60 * minutes)}", "-max_len=4000"], take)
    atheris.Fuzz()


def main() -> int:
    """From the command line."""
    own = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    own.add_argument("--minutes", type=float, default=5.0)
    own.add_argument("--only", default="", help="part of a reader's name; with --atheris the whole name")
    own.add_argument("--seed", type=int, default=1)
    own.add_argument("--atheris", action="store_true")
    args = own.parse_args()
    if args.atheris:
        guided(args.only, args.minutes)
    return 1 if run(args.minutes, args.only, args.seed) else 0


if __name__ == "__main__":
    sys.exit(main())
