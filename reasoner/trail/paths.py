"""Where things are kept, and what a case may be called.

    <home>/cases/<case>.jsonl         the trail            <home>/anchors/<case>.json   count and hash of its end
    <home>/cases/<case>.texts/        its free text        <home>/archive/<digest>/     knowledge as it was used
    <home>/cases/<case>.lock          held while writing   <home>/cases/<case>.torn-N   a torn tail, moved aside
    <home>/cases/<case>.open          held by a session    <home>/cases/<case>.ending-N the other of two endings
    <home>/cases/<case>.sealed        encrypted, closed    <home>/cases/<case>.erased   what is left of an erased one
    <home>/cases/<case>.signed        head and signature   <home>/packs.jsonl           packs made, and when
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from reasoner.problems import InputRefused, Problem
from reasoner.trail.naming import tells

__all__ = [
    "ENDED", "anchor_file", "archive_folder", "beside", "case_file", "case_files", "cases", "check_case",
    "check_new_case", "copies", "ended", "home", "is_case", "lock_file", "text_folder",
]  # fmt: skip

_CASE = re.compile(r"[a-z]{2,20}(?:-[a-z]{2,20}){0,3}-[0-9]{1,4}", re.ASCII)
ENDED = (".sealed", ".erased")  # a case that is not open for work
_FOR_NOW = (".lock", ".held", ".open")  # nothing to keep
_YEAR = re.compile(r"-(?:19|20)[0-9]{2}\Z", re.ASCII)


def home(env: Mapping[str, str]) -> Path:
    """The state folder: $REASONER_HOME, else $XDG_STATE_HOME/reasoner, else ~/.local/state/reasoner.

    A relative $XDG_STATE_HOME is ignored, as the XDG base directory specification asks.
    """
    if env.get("REASONER_HOME"):
        return Path(env["REASONER_HOME"]).absolute()
    if env.get("XDG_STATE_HOME", "").startswith("/"):
        return Path(env["XDG_STATE_HOME"]) / "reasoner"
    if env.get("HOME"):
        return Path(env["HOME"]).absolute() / ".local" / "state" / "reasoner"
    try:
        return Path.home() / ".local" / "state" / "reasoner"
    except RuntimeError as error:
        hint = "set REASONER_HOME to a folder of your own"
        raise InputRefused([Problem("T-HOME", "no home folder is known for this account", hint)]) from error


def is_case(name: str) -> bool:
    """Is it formed like a case name?"""
    return _CASE.fullmatch(name) is not None


def check_case(case: str) -> str:
    """The case id itself if it is one; InputRefused otherwise. Ids are generated words and a number: `oak-17`."""
    hint = "write lower-case words and a number of up to four digits, like oak-17; never a name or a date"
    if not is_case(case):
        raise InputRefused([Problem("T-CASE", f"{_short(case)} is not a case name", hint)])
    if _YEAR.search(case):
        raise InputRefused([Problem("T-CASE", f"{_short(case)} ends like a year", hint)])
    return case


def check_new_case(case: str) -> str:
    """The same for a case that is begun, which must not look like a person's name or a date either."""
    found = tells(check_case(case))
    if found:
        hint = "draw one: session --new; or write words for things, like oak-heron-17"
        raise InputRefused([Problem("T-CASE", f"{_short(case)} looks like {found}", hint)])
    return case


def _short(text: str) -> str:
    return ascii(text if len(text) <= 40 else text[:37] + "...")


def case_file(home: Path, case: str) -> Path:
    """The trail of a case."""
    return home / "cases" / f"{check_case(case)}.jsonl"


def text_folder(trail: Path) -> Path:
    """The folder of free text that belongs to the trail file `trail`, beside it."""
    return trail.with_suffix(".texts")


def lock_file(home: Path, case: str) -> Path:
    """The file whose lock is held while the trail of a case is written."""
    return home / "cases" / f"{check_case(case)}.lock"


def anchor_file(home: Path, case: str) -> Path:
    """Count and hash of a trail's end, kept apart from the trail."""
    return home / "anchors" / f"{check_case(case)}.json"


def archive_folder(home: Path) -> Path:
    """Knowledge as it was used, one folder a digest."""
    return home / "archive"


def case_files(home: Path) -> list[Path]:
    """Every trail of the state folder, by name; empty when there is none yet. OSError if it cannot be read."""
    folder = home / "cases"
    return sorted(p for p in folder.iterdir() if p.suffix == ".jsonl") if folder.is_dir() else []


def beside(home: Path, case: str) -> list[Path]:
    """Everything that belongs to a case among the cases: its trail first, what lies beside it, copies a sync made."""
    folder = home / "cases"
    own = f"{check_case(case)}."
    copy = re.compile(re.escape(case) + r"(?![0-9])[^/]*\.jsonl")
    if not folder.is_dir():
        return []
    found = (p for p in folder.iterdir() if p.name.startswith(own) or (copy.fullmatch(p.name) and p.stem != case))
    return sorted((p for p in found if p.suffix not in _FOR_NOW), key=lambda p: (p.name != f"{case}.jsonl", p.name))


def copies(home: Path, case: str) -> list[Path]:
    """Other files that call themselves this case: what a sync leaves where two machines wrote at once."""
    return [p for p in beside(home, case) if p.suffix == ".jsonl" and p.stem != case]


def ended(home: Path, case: str) -> list[Problem]:
    """Why a case cannot be worked on: it was erased or sealed. Empty if it was not."""
    for ending in ENDED:
        path = case_file(home, case).with_suffix(ending)
        if path.exists():
            cut_short = " (cut short: do it again)" if case_file(home, case).exists() else ""
            if ending == ".erased":
                hint = "its name is not used again" if not cut_short else f"reasoner trail erase {case}"
            else:
                hint = f"reasoner trail unseal {case}"
            return [Problem("T-ENDED", f"the case {case} was {ending[1:]}{cut_short}", hint, str(path))]
    return []


def cases(home: Path) -> list[str]:
    """The ids of every case that has a trail; files that are not named like a case are left out."""
    return [p.stem for p in case_files(home) if is_case(p.stem)]
