"""Every small change to a record tried, one after the other: is each found, and by line?

    python -m tests.benchmarks.mutants             (ten minutes or more)
    python -m tests.benchmarks.mutants --every 50  (every fiftieth, in seconds)

The trail of a whole visit with its texts, anchor, signature: each byte changed, removed, inserted before; the end cut
off at each byte; each line removed, doubled, swapped with each other, taken from another case; found means a problem of
level error. A change that gives the same bytes (one of two equal neighbours removed or added) is none and not counted.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import combinations
from pathlib import Path

from reasoner.graph.load import load
from reasoner.problems import InputRefused
from reasoner.trail.paths import anchor_file, text_folder
from reasoner.trail.read import read
from reasoner.trail.signing import check_signature, sign, signature_file
from reasoner.trail.verify import verify
from tests.benchmarks.kills import CASE, play
from tests.tiny_pack import write_pack
from tests.visit import START

KEY = bytes(range(32))
Mutant = tuple[str, bytes]


@dataclass
class Tally:
    """Mutants tried by kind, and those nobody noticed."""

    tried: Counter[str] = field(default_factory=Counter)
    missed: list[str] = field(default_factory=list)


def of_bytes(raw: bytes) -> Iterator[Mutant]:
    """Each byte changed in one bit, removed, and one inserted before it; the end cut off there."""
    for at in range(len(raw)):
        yield "byte changed", raw[:at] + bytes([raw[at] ^ (1 << (at % 8))]) + raw[at + 1 :]
        yield "byte removed", raw[:at] + raw[at + 1 :]
        yield "byte inserted", raw[:at] + (b"0" if raw[at : at + 1] != b"0" else b"1") + raw[at:]
        yield "end cut off", raw[:at]


def of_lines(raw: bytes, other: bytes) -> Iterator[Mutant]:
    """Each line removed, doubled, swapped with each other one, replaced by or followed by that of another case."""
    lines, foreign = raw.splitlines(keepends=True), other.splitlines(keepends=True)
    for n, line in enumerate(lines):
        yield "line removed", b"".join(lines[:n] + lines[n + 1 :])
        yield "line doubled", b"".join([*lines[: n + 1], *lines[n:]])
        yield "line inserted", b"".join([*lines[:n], foreign[min(n, len(foreign) - 1)], *lines[n:]])
        yield "line replaced", b"".join([*lines[:n], foreign[min(n, len(foreign) - 1)], *lines[n + 1 :]])
        moved = lines[:n] + lines[n + 1 :]
        yield "line moved to the end", b"".join([*moved, line])
    for a, b in combinations(range(len(lines)), 2):
        order = list(lines)
        order[a], order[b] = order[b], order[a]
        yield "lines swapped", b"".join(order)


def noticed(home: Path) -> bool:
    """Does verifying this case find an error?"""
    path = home / "cases" / f"{CASE}.jsonl"
    try:
        found = verify(path, anchor_file(home, CASE))
        found += check_signature(path, read(path)[0], KEY)
    except InputRefused:
        return True
    return any(p.level == "error" for p in found) or not any(p.code == "T-SIGN" for p in found)


def run(every: int = 1) -> Tally:
    """Try every `every`-th mutant of each file of a case."""
    tally = Tally()
    with tempfile.TemporaryDirectory() as place:
        knowledge, _ = load(write_pack(Path(place) / "pack"))
        assert knowledge is not None
        home, elsewhere = Path(place) / "home", Path(place) / "elsewhere"
        for one in (home, elsewhere):
            play(knowledge, one, lambda told: None)
        trail = home / "cases" / f"{CASE}.jsonl"
        sign(trail, read(trail)[0], KEY, by="KM", at=START)
        assert not noticed(home), "the untouched case must verify"
        other = (elsewhere / "cases" / f"{CASE}.jsonl").read_bytes()
        texts = sorted(text_folder(trail).iterdir())
        for file in (trail, *texts, anchor_file(home, CASE), signature_file(trail)):
            raw, name = file.read_bytes(), file.parent.name.rpartition(".")[2] if file in texts else file.suffix[1:]
            mutants = [*of_bytes(raw), *(of_lines(raw, other) if file == trail else ())]
            for number, (kind, changed) in enumerate(mutants):
                if number % every or changed == raw:
                    continue
                file.write_bytes(changed)
                tally.tried[f"{name}: {kind}"] += 1
                if not noticed(home):
                    tally.missed.append(f"{file.name}: {kind}, number {number}")
            file.write_bytes(raw)
        assert not noticed(home)
    return tally


def main() -> int:
    """Print the figures; exit 1 if any mutant was missed."""
    parser = argparse.ArgumentParser(description="Change a record in every small way and count what is found.")
    parser.add_argument("--every", type=int, default=1)
    tally = run(parser.parse_args().every)
    for kind, number in sorted(tally.tried.items()):
        print(f"{number:>7}  {kind}")
    for missed in tally.missed[:20]:
        print(f"missed: {missed}")
    total = sum(tally.tried.values())
    print(f"{total} mutants tried, {total - len(tally.missed)} found")
    return 1 if tally.missed else 0


if __name__ == "__main__":
    sys.exit(main())
