"""Every code that measures, drawings and documents print has its reference text."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from reasoner.cli import main
from reasoner.geometry.landmarks import LANDMARK_CODES
from reasoner.measures.codes import MEASURE_CODES
from reasoner.reports.codes import REPORT_CODES

ROOT = Path(__file__).parents[2] / "reasoner"
WHERE = ("measures/*.py", "geometry/*.py", "reports/**/*.py", "commands/measure.py", "commands/report.py")


def test_every_code_used_is_explained_and_every_text_is_of_a_code_in_use() -> None:
    files = [path for pattern in WHERE for path in ROOT.glob(pattern) if path.name != "codes.py"]
    files.append(ROOT / "reports" / "fhir" / "codes.py")
    used = {code for path in files for code in re.findall(r'"([A-Z]-[A-Z]+)"', path.read_text(encoding="utf-8"))}
    assert used == {*MEASURE_CODES, *LANDMARK_CODES, *REPORT_CODES}


@pytest.mark.parametrize("code", ["M-TABLE", "G-POINTS", "R-PRIVACY", "H-CODE"])
def test_explain_knows_it(code: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", code]) == 0
    out = capsys.readouterr().out
    assert out.startswith(code + "\n")
    assert max(map(len, out.splitlines())) <= 80
