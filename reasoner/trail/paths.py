"""Where things are kept, and what a case may be called.

    <home>/cases/<case>.jsonl         the trail            <home>/anchors/<case>.json   count and hash of its end
    <home>/cases/<case>.texts/        its free text        <home>/archive/<digest>/     knowledge as it was used
    <home>/cases/<case>.lock          held while writing   <home>/cases/<case>.torn-N   a torn tail, moved aside
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from reasoner.problems import InputRefused, Problem

__all__ = [
    "anchor_file", "archive_folder", "case_file", "case_files", "cases", "check_case", "home", "lock_file",
    "text_folder",
]

_CASE = re.compile(r"[a-z]{2,20}(?:-[a-z]{2,20}){0,3}-[0-9]{1,4}", re.ASCII)
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


def check_case(case: str) -> str:
    """The case id itself if it is one; InputRefused otherwise. Ids are generated words and a number: `oak-17`."""
    hint = "write lower-case words and a number of up to four digits, like oak-17; never a name or a date"
    if not _CASE.fullmatch(case):
        raise InputRefused([Problem("T-CASE", f"{_short(case)} is not a case name", hint)])
    if _YEAR.search(case):
        raise InputRefused([Problem("T-CASE", f"{_short(case)} ends like a year", hint)])
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


def cases(home: Path) -> list[str]:
    """The ids of every case that has a trail; files that are not named like a case are left out."""
    return [p.stem for p in case_files(home) if _CASE.fullmatch(p.stem)]
