"""The author guide: its worked examples load as they stand, and it names every field of every kind of entry."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

from reasoner.graph import records
from reasoner.graph.load import default_folder, load
from reasoner.graph.overlay.entries import ClinicCopy

GUIDE = Path(__file__).parents[2] / "knowledge" / "README.md"


def examples() -> dict[str, str]:
    """File name -> text of every example that names its file."""
    text = GUIDE.read_text(encoding="utf-8")
    return dict(re.findall(r"```yaml\n# file: (\S+)\n(.*?)```", text, re.DOTALL))


def test_the_worked_examples_load_over_the_shipped_knowledge() -> None:
    files = {name: text.encode() for name, text in examples().items()}
    assert len(files) >= 6
    knowledge, problems = load(default_folder(), "ankle", clinic=ClinicCopy(files, "2026-12-01"))
    assert knowledge is not None, "\n".join(map(str, problems))
    assert knowledge.clinic is not None
    assert {e.what for e in knowledge.clinic.entries} == {"changes", "retires", "adds"}
    assert [n for n in knowledge.clinic.notes if n.code != "O-EXPIRED"] == []


def test_every_field_is_named() -> None:
    text = GUIDE.read_text(encoding="utf-8")
    sections = dict(re.findall(r"^### (\w+):.*?\n(.*?)(?=^### |\Z)", text, re.DOTALL | re.MULTILINE))
    for name, cls in vars(records).items():
        if isinstance(cls, type) and dataclasses.is_dataclass(cls) and name != "Place":
            assert name in sections, f"{name} is not in the guide"
            fields = {f.name for f in dataclasses.fields(cls)} - {"place"}
            shown = set(re.findall(r"^\| `(\w+)` \|", sections[name], re.MULTILINE))
            assert fields == shown, f"{name}: {fields ^ shown}"
