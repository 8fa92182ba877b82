"""Is this trail what was recorded? Every line, the chain, the anchor, the texts beside it, and the clock."""

from __future__ import annotations

import itertools
import re
import stat
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from reasoner.problems import InputRefused, Problem
from reasoner.trail.anchor import Anchor, compare, read_anchor
from reasoner.trail.files import FILE_MODE, SHARED_FILE_MODE, is_shared, refusing
from reasoner.trail.line import BadLine, Entry
from reasoner.trail.paths import case_files, is_case, text_folder
from reasoner.trail.read import Scan, across, scan
from reasoner.trail.store import other_case

__all__ = ["anchor_of", "examine", "verify", "verify_all"]

_TEXT = re.compile(r"([0-9]{6,})\.json", re.ASCII)


def verify(path: Path, anchor: Path | None) -> list[Problem]:
    """Everything wrong with the trail `path`, by line. `anchor` is its anchor's file; None: kept nowhere (a copy).

    Level `info` is what a killed program, a clock set back or a copy without its anchor leaves. InputRefused if the
    file cannot be read at all.
    """
    return examine(path, anchor)[1]


def examine(path: Path, anchor: Path | None) -> tuple[list[Entry], list[Problem]]:
    """The lines that can be read, and everything `verify` finds wrong, in one reading."""
    problems: list[Problem] = []
    known: Anchor | None = None
    usable = anchor is not None
    if anchor is not None:
        try:
            with refusing(anchor, "read the anchor"):
                known = read_anchor(anchor)  # before the lines: a writer may add some in between
        except BadLine as error:
            usable = False
            message = f"the anchor cannot be used: {error}"
            problems.append(Problem("T-ANCHOR", message, "compare the trail with a copy", file=str(anchor)))
    result = scan(path)
    ends = [_torn_level(p, result, known) for p in across(path, result)]
    problems += [*_readable_by_others(path), *result.problems, *ends, *_clock(path, result.entries)]
    problems += _strays(path, result.entries)
    if anchor is None:
        message = "no anchor is kept for this file: a missing end would not be seen"
        problems.append(Problem("T-ANCHOR", message, file=str(path), level="info"))
    else:
        problems += compare(path, known, result.entries) if usable else []
        problems += other_case(path, path.stem, result.entries)
    return result.entries, sorted(problems, key=lambda p: (p.file != str(path), p.line))


def verify_all(home: Path) -> dict[Path, list[Problem]]:
    """`verify` for every trail of the state folder, and for anchors whose trail is gone."""
    with refusing(home / "cases", "list the cases"):
        files = case_files(home)
    found: dict[Path, list[Problem]] = {}
    for path in files:
        try:
            found[path] = verify(path, anchor_of(home, path) or home / "anchors" / f"{path.stem}.json")
        except InputRefused as refusal:
            found[path] = list(refusal.problems)
    anchors = home / "anchors"
    with refusing(anchors, "list the anchors"):
        kept = sorted(p for p in anchors.iterdir() if p.suffix == ".json") if anchors.is_dir() else []
    for anchor in kept:
        path = home / "cases" / f"{anchor.stem}.jsonl"
        if path not in found and is_case(anchor.stem):
            if path.with_suffix(".sealed").exists():
                message = "sealed: only with its key can it be looked at"
                found[path] = [Problem("T-ENDED", message, f"reasoner trail unseal {path.stem}", str(path), 0, "info")]
                continue
            message = "the trail is gone; its anchor still stands"
            found[path] = [Problem("T-END", message, "bring it back from a copy", file=str(path))]
    return found


def anchor_of(home: Path, path: Path) -> Path | None:
    """Where the anchor of the trail `path` is kept; None if the file does not lie among the cases of `home`."""
    return home / "anchors" / f"{path.stem}.json" if path.parent.resolve() == (home / "cases").resolve() else None


def _torn_level(problem: Problem, result: Scan, anchor: Anchor | None) -> Problem:
    """A torn tail is normal after a kill: an anchor behind proves it. Without that proof it is an error."""
    if problem.code != "T-TORN":
        return problem
    last = result.position.seq + (0 if result.unfinished else 1)
    never_acknowledged = anchor is not None and anchor.count < last
    return problem if never_acknowledged else replace(problem, level="error")


def _clock(path: Path, entries: Sequence[Entry]) -> Iterator[Problem]:
    for before, after in itertools.pairwise(entries):
        if after.at < before.at:
            message = f"the clock went back here, from {before.at.isoformat()} to {after.at.isoformat()}"
            yield Problem("T-CLOCK", message, "order is by number", str(path), after.seq, "info")


def _readable_by_others(path: Path) -> Iterator[Problem]:
    """A copy brought back, or somebody's chmod: the tool itself writes 0600, or 0660 where it was told to share."""
    mode = stat.S_IMODE(path.stat().st_mode)
    most = SHARED_FILE_MODE if is_shared(path.parent) else FILE_MODE
    if mode & ~most & 0o077:
        hint = "reasoner config private (or share GROUP)"
        yield Problem("T-MODE", f"others on this machine can read it ({mode:04o})", hint, str(path), level="info")


def _strays(path: Path, entries: Sequence[Entry]) -> list[Problem]:
    """Text files no line speaks of: at most one is left by a kill, and the next line replaces it."""
    folder = text_folder(path)
    if not folder.is_dir():
        return []
    spoken = {entry.seq for entry in entries if entry.text_hashes}
    with refusing(folder, "list the texts"):
        numbers = sorted(int(m[1]) for p in folder.iterdir() if (m := _TEXT.fullmatch(p.name)))
    problems = []
    for number in numbers:
        if number not in spoken:
            next_one = number == len(entries) + 1
            message = "a text whose line was never written" if next_one else "a text lies here that no line speaks of"
            file, level = str(folder / f"{number:06d}.json"), "info" if next_one else "error"
            problems.append(Problem("T-TEXT", message, file=file, level=level))
    return problems
