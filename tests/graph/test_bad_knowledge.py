"""Every rule on knowledge has a bad file in tests/bad_knowledge/ and finds exactly that, on that line.

A file is laid over the small valid pack. `# in: NAME` starts a part written under that name (it is the part's first
line); `# remove: NAME` leaves a file out. The line marked `# <- here` is where the problem must be reported; in a
file without a mark the file itself is the problem, or the line that `# expect: line N` states.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from reasoner.graph.load import load
from reasoner.graph.network import network_problems
from reasoner.graph.reference import reference
from reasoner.problems import Problem
from tests.tiny_pack import TINY, write_pack

FOLDER = Path(__file__).parent.parent / "bad_knowledge"
FILES = sorted(FOLDER.glob("*.yaml"))
MARK = b"# <- here"
# what cannot be kept in a repository: a folder that may not be opened (test_files.py), a damaged cache (test_cache.py)
ELSEWHERE = {"F-READ", "F-KEPT"}


def lay_over(bad: Path, folder: Path) -> tuple[str, int]:
    """Write the pack with the bad file's parts; the file and line where a problem is expected."""
    data = bad.read_bytes()
    removed = re.findall(rb"^# remove: (.+)$", data, re.MULTILINE)
    write_pack(folder, {name.decode(): None for name in removed})
    expected = (removed[0].decode(), 0) if removed else ("", 0)
    for part in re.split(rb"^(?=# in: )", data, flags=re.MULTILINE):
        named = re.match(rb"# in: (.+)\n", part)
        if named is None:
            continue
        name = named.group(1).decode()
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(part)
        stated = re.search(rb"# expect: line (\d+)", part)
        if MARK in part:
            expected = (name, part[: part.index(MARK)].count(b"\n") + 1)
        elif stated:
            expected = (name, int(stated.group(1)))
        elif not expected[0]:
            expected = (name, 0)
    return expected


def all_problems(folder: Path) -> list[Problem]:
    """What loading finds; where it finds nothing, what following the paths finds."""
    knowledge, problems = load(folder)
    assert (knowledge is None) == any(p.level == "error" for p in problems)
    return problems + network_problems(knowledge) if knowledge is not None else problems


@pytest.mark.parametrize("bad", FILES, ids=lambda p: p.stem)
def test_bad_file_gives_its_code_on_its_line(bad: Path, tmp_path: Path) -> None:
    file, line = lay_over(bad, tmp_path)
    problems = all_problems(tmp_path)
    assert [(p.code, p.file, p.line) for p in problems] == [(bad.stem.split("_")[0], file, line)], problems


@pytest.mark.parametrize("bad", FILES, ids=lambda p: p.stem)
def test_message_says_what_to_write(bad: Path, tmp_path: Path) -> None:
    lay_over(bad, tmp_path)
    for problem in all_problems(tmp_path):
        assert problem.message
        assert problem.hint
        assert "\n" not in str(problem)
        assert "Input should" not in str(problem)  # pydantic's own words


def test_every_code_has_a_bad_file() -> None:
    assert {p.stem.split("_")[0] for p in FILES} == set(reference()) - ELSEWHERE


def test_the_pack_underneath_has_no_problem(tmp_path: Path) -> None:
    knowledge, problems = load(write_pack(tmp_path))
    assert problems == []
    assert all_problems(tmp_path) == []
    assert knowledge is not None
    assert set(knowledge.files) == set(TINY)


def test_reference_texts_say_what_and_what_to_do() -> None:
    for code, text in reference().items():
        assert len(text) > 40, code
        assert text.endswith("."), code
