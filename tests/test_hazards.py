"""The hazard log is whole, and what it names as proof is there and runs: a control without its test is only a wish."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from reasoner.graph.checks.words import BANNED

ROOT = Path(__file__).parents[1]
LOG = ROOT / "knowledge" / "HAZARDS.md"
PARTS = ("Hazard", "Cause", "Harm", "Control", "Proved by", "Remains")
INTRODUCTION = ("Intended use", "Who it is for, and not for", "Known limits", "The hazards")
REQUIRED = (
    "stale danger answers", "outside its population", "unknown taken as reassurance", "wrong patient", "wrong side",
    "automation bias", "alert fatigue", "false entries", "stale knowledge", "loosened knowledge",
    "documents out of step", "demo or practice taken as real", "lost tail", "shared screen", "child",
    "foot without feeling", "home exercise outliving its stage", "clock", "units", "measurement error taken as change",
    "foreign text", "numbers from judgement",
)  # fmt: skip

SLOW = "tests/hostile/test_files.py::test_a_million_lines"  # a test that is there, and not in every run


def entries(text: str) -> dict[str, dict[str, str]]:
    """Title -> part -> its words, line ends taken out."""
    found = {}
    for section in re.split(r"^### ", text.partition("## The hazards")[2], flags=re.MULTILINE)[1:]:
        title, _, body = section.partition("\n")
        items = re.split(r"^- ", body, flags=re.MULTILINE)[1:]
        found[title.strip()] = {k: " ".join(v.split()) for k, _, v in (i.partition(":") for i in items)}
    return found


def named_tests(proved_by: str) -> list[str]:
    """The ids between backquotes."""
    return re.findall(r"`([^`]*)`", proved_by)


def why_not_run(node: str, root: Path = ROOT) -> str:
    """Why `tests/file.py::test_name` is not part of every run; empty if it is collected there and never left out."""
    name, _, function = node.partition("::")
    file = root / name
    if not file.is_file() or not file.name.startswith("test_") or not function.startswith("test_"):
        return "no such test"
    body = ast.parse(file.read_text(encoding="utf-8")).body
    found = [n for n in body if isinstance(n, ast.FunctionDef) and n.name == function]
    if not found:
        return "no such test"
    marks = [ast.unparse(d) for d in found[-1].decorator_list]
    marks += [ast.unparse(n.value) for n in body if isinstance(n, ast.Assign) and "pytestmark" in ast.unparse(n)]
    return "left out of the ordinary run" if any(re.search(r"\b(skip|xfail|slow|benchmark)", m) for m in marks) else ""


def faults(text: str) -> list[str]:
    """What is wrong with a hazard log, in words."""
    wrong = [f"no chapter {c}" for c in INTRODUCTION if f"## {c}\n" not in text]
    for title, parts in entries(text).items():
        wrong += [f"{title}: no {part}" for part in PARTS if not parts.get(part)]
        tests = named_tests(parts.get("Proved by", ""))
        wrong += [f"{title}: {why} {t}" for t in tests if (why := why_not_run(t))]
        wrong += [] if tests else [f"{title}: no test"]
    titles = " / ".join(entries(text)).lower()
    return wrong + [f"missing: {r}" for r in REQUIRED if r not in titles]


def test_every_hazard_is_whole_and_every_test_exists() -> None:
    text = LOG.read_text(encoding="utf-8")
    assert faults(text) == []
    assert len(entries(text)) >= len(REQUIRED)


def test_it_says_what_it_is_not_and_promises_nothing() -> None:
    text = LOG.read_text(encoding="utf-8")
    assert "Not a medical device" in text
    assert "Local rules first" in text
    assert not BANNED.search(text)


def test_the_readme_leads_to_it() -> None:
    assert "knowledge/HAZARDS.md" in (ROOT / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("test_not_asked_is_open_not_reassuring", "test_never_written", "no such test"),
        ("tests/safety/test_screens.py", "tests/safety/test_gone.py", "no such test"),
        ("- Harm: a clot", "- Pity: a clot", "no Harm"),
        ("tests/safety/test_rules.py::test_never_definite_and_wrong", SLOW, "left out"),
        ("### H17 A child", "### H17 A teenager", "missing: child"),
        ("## Known limits", "## Praise", "no chapter"),
    ],
)
def test_a_log_with_a_hole_is_found(old: str, new: str, said: str) -> None:
    text = LOG.read_text(encoding="utf-8")
    assert old in text
    assert any(said in fault for fault in faults(text.replace(old, new)))
