"""Every code a problem with a record can carry is explained, and no other."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import reasoner
from reasoner.cli import main
from reasoner.trail.codes import TRAIL_CODES


def test_every_code_is_explained(capsys: pytest.CaptureFixture[str]) -> None:
    sources = [p for p in Path(reasoner.__file__).parent.rglob("*.py") if p.name != "codes.py"]
    used = {code for p in sources for code in re.findall(r'"(T-[A-Z]+)"', p.read_text(encoding="utf-8"))}
    assert used == set(TRAIL_CODES)
    assert main(["explain", "T-HELD"]) == 0
    assert capsys.readouterr().out.startswith("T-HELD\nSomebody has this case open.")
