"""What is told to be recorded is on the disk first: text, its name, the line, the anchor, each synced before the next.

A killed process leaves what it had handed to the system; a power cut leaves only what was synced. So the order of the
calls is what is looked at here.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.trail.build import note, short_trail

STEPS = [
    "write texts/000004.json", "sync texts/000004.json", "sync texts",  # the words and their name
    "write oak-17.jsonl", "sync oak-17.jsonl",
    "write .oak-17.json.tmp", "sync .oak-17.json.tmp", "replace oak-17.json",
]  # fmt: skip


def watched(patch: pytest.MonkeyPatch) -> list[str]:
    """Names of the calls that change the disk from now on, in order, with the file or folder they are about."""
    done: list[str] = []
    opened: dict[int, Path] = {}

    def wrap(name: str, about: Callable[[tuple[Any, ...], Any], str | None]) -> None:
        real = getattr(os, name)

        def call(*args: Any, **more: Any) -> Any:
            result = real(*args, **more)
            if told := about(args, result):
                done.append(told)
            return result

        patch.setattr(os, name, call)

    def short(path: Path) -> str:
        if path.suffix == ".texts":
            return "texts"
        return f"texts/{path.name}" if path.parent.suffix == ".texts" else path.name

    def remember(args: tuple[Any, ...], handle: int) -> None:
        opened[handle] = Path(args[0])

    wrap("open", remember)
    wrap("write", lambda args, _: f"write {short(opened[args[0]])}")
    wrap("fsync", lambda args, _: f"sync {short(opened[args[0]])}")
    wrap("replace", lambda args, _: f"replace {short(Path(args[1]))}")
    return done


def test_each_step_is_on_the_disk_before_the_next(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    trail = short_trail(tmp_path, 3)
    done = watched(monkeypatch)
    note(trail, 4, texts={"words": "stairs hurt"})
    assert [d for d in done if "lock" not in d] == STEPS


def test_a_new_case_is_there_after_a_power_cut(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its folders' names, its first line and the name of its file are synced before the anchor tells of them."""
    done = watched(monkeypatch)
    short_trail(tmp_path, 1)
    assert [d for d in done if "lock" not in d] == [
        f"sync {tmp_path.name}", f"sync {tmp_path.name}",  # cases and anchors
        "write .oak-17.jsonl.tmp", "sync .oak-17.jsonl.tmp", "replace oak-17.jsonl", "sync cases",
        "write .oak-17.json.tmp", "sync .oak-17.json.tmp", "replace oak-17.json",
    ]  # fmt: skip
