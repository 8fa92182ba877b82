"""What the README shows is real: its commands run here and their output holds the lines shown, in their order."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
FENCE = "```"


def console_blocks() -> list[list[tuple[str, list[str]]]]:
    """Each console block as (command, lines shown)."""
    blocks = []
    for text in re.findall(rf"{FENCE}console\n(.*?){FENCE}", README, re.DOTALL):
        steps: list[tuple[str, list[str]]] = []
        for line in text.splitlines():
            if line.startswith("$ "):
                steps.append((line[2:], []))
            else:
                steps[-1][1].append(line)
        blocks.append(steps)
    return blocks


def run(command: str, home: Path) -> str:
    """Standard output of one `reasoner ...` command from the root of the project."""
    words = shlex.split(command)
    assert words[0] == "reasoner"
    env = {**os.environ, "REASONER_HOME": str(home), "NO_COLOR": "1", "COLUMNS": "80", "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [sys.executable, "-m", "reasoner", *words[1:]], cwd=ROOT, env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def holds(output: str, shown: list[str]) -> str:
    """Empty if the lines shown occur in order (`...` skips any number), else the first that does not."""
    lines = output.splitlines()
    place, skipping = 0, False
    for want in shown:
        if want == "...":
            skipping = True
            continue
        found = place
        while skipping and found < len(lines) and not lines[found].startswith(want):
            found += 1
        if found >= len(lines) or not lines[found].startswith(want):
            return want
        place, skipping = found + 1, False
    return ""


def test_console_output_is_real(tmp_path: Path) -> None:
    """Blocks run one after the other in one empty state folder, as a reader would."""
    blocks = console_blocks()
    assert blocks
    for steps in blocks:
        for command, shown in steps:
            output = run(command, tmp_path / "home")
            assert not holds(output, shown), (command, holds(output, shown), output[-2000:])


def test_the_checker_of_shown_lines_can_fail() -> None:
    """A line that is not there, or out of order, is named."""
    assert holds("a\nb\nc\n", ["a", "c"]) == "c"
    assert holds("a\nb\nc\n", ["...", "c", "..."]) == ""
    assert holds("a\nb\n", ["...", "x"]) == "x"


def test_the_job_comes_first_then_two_commands() -> None:
    """The first paragraph is the job; the first two code blocks are one command each, complete on an empty machine."""
    blocks = re.findall(rf"{FENCE}\n(.*?)\n{FENCE}", README, re.DOTALL)
    assert len(README.split("\n\n")[1]) > 300
    for command in blocks[:2]:
        assert "\n" not in command
        assert command.startswith("python3 -m venv .venv && ")
    assert blocks[0].endswith("reasoner demo")
    assert blocks[1].endswith("-m pytest -n auto")


@pytest.mark.parametrize("name", sorted(p.name for p in ROOT.iterdir() if not p.name.startswith(".")))
def test_top_level_holds_nothing_else(name: str) -> None:
    """Exactly the agreed names, apart from what builds and installs leave behind."""
    assert name in {
        "README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "reasoner", "knowledge", "tests", "case_scenarios",
        "build", "dist",
    }  # fmt: skip
