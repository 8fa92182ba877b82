"""Every document printed by a browser, where one is there: paper, number of pages. Run by hand: `-m slow`."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

from reasoner.reports.dossier import Dossier
from reasoner.reports.make import make

BROWSER = next((b for b in ("chromium", "chromium-browser", "google-chrome") if shutil.which(b)), None)
POINTS = {"A4": (595, 842), "Letter": (612, 792)}
MOST = {"note": 4, "letter": 1, "handover": 1, "home": 2}


@pytest.mark.slow
@pytest.mark.skipif(BROWSER is None, reason="no browser to print with")
@pytest.mark.parametrize("kind", MOST)
@pytest.mark.parametrize("paper", POINTS)
@pytest.mark.parametrize("name", ["simple", "post_surgical", "emergency"])
def test_it_prints_on_its_paper_and_its_pages(
    cases: dict[str, Dossier], tmp_path: Path, name: str, paper: str, kind: str
) -> None:
    d = replace(cases[name], clinic=replace(cases[name].clinic, paper=paper))
    page, printed = tmp_path / "page.html", tmp_path / "page.pdf"
    page.write_text(make(d, kind, "html").text, encoding="utf-8")
    options = ["--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer", f"--print-to-pdf={printed}"]
    subprocess.run([str(BROWSER), *options, page.as_uri()], check=True, capture_output=True, timeout=120)
    raw = printed.read_bytes()
    boxes = re.findall(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)\s*\]", raw)
    assert {(round(float(w)), round(float(h))) for w, h in boxes} == {POINTS[paper]}
    assert 1 <= len(boxes) <= MOST[kind]
