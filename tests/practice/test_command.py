"""`reasoner practise` from the command line: listed, drawn by seed, left and taken up, debriefed only at the end."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from reasoner.cli import main

SCREENED = "ask who\nask history\nask person\nask stop-now\nstop-now in_question no\nask problem, goal\n"


def practise(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], lines: str, *words: str, code: int = 0
) -> tuple[str, str]:
    """What one run printed, and what it complained of."""
    script = tmp_path / "lines.txt"
    script.write_text(lines, encoding="utf-8")
    assert main(["practise", *words, "--script", str(script)]) == code
    told = capsys.readouterr()
    assert "Traceback" not in told.err
    return told.out, told.err


def test_the_list_names_every_written_patient_and_no_truth(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["practise", "--list"]) == 0
    rows = capsys.readouterr().out.splitlines()
    written = {p.stem for p in Path("case_scenarios/patients").glob("*.yaml")}
    assert {row.split()[0] for row in rows} == written
    assert {row.split()[1] for row in rows} == {"easy", "medium", "hard"}
    assert not re.search(r"fracture|clot|infection|rupture|truth", "\n".join(rows))


def test_a_case_left_open_is_taken_up_and_debriefed_once_it_is_closed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first, _ = practise(tmp_path, capsys, SCREENED, "ceramics_painter", "--by", "KM")
    case = re.findall(r"practise --case (\S+)", first)[-1]
    assert "PRACTICE, an invented patient" in first
    assert "What was hidden" not in first
    assert "I turned it on a kerb" in first
    end = "ask knee to wall\nconclusion: stiff after a sprain\nreturn if: new swelling\nclose\n"
    second, _ = practise(tmp_path, capsys, end, "--case", case, "--by", "KM")
    assert f"reasoner review {case}" in second


def test_the_same_seed_draws_the_same_patient(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    def drawn(seed: str) -> str:
        out, _ = practise(tmp_path, capsys, "ask who\n", "--random", "--level", "easy", "--seed", seed)
        return " ".join(re.sub(r"\b[a-z]+-[a-z]+-\d+\b", "CASE", out).split())  # names differ in length, so do lines

    assert drawn("3") == drawn("3")
    assert len({drawn(str(seed)) for seed in range(3, 7)}) > 1


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((), "name a scenario, or --random, or --case"),
        (("nobody_here",), "nobody_here"),
        (("--random", "--level", "extreme"), "extreme"),
        (("--case", "oak-heron-99"), "oak-heron-99"),
    ],
)
def test_what_cannot_be_played_is_one_line(
    words: tuple[str, ...], says: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _, complaint = practise(tmp_path, capsys, "ask who\n", *words, code=2)
    assert says in complaint
    assert len(complaint.strip().splitlines()) == 1
