"""`knowledge pool`: what papers print turned into standard errors, mistakes caught by name, the plot in both forms.

Conversions by hand: SE = (high - low) / (2 x 1.96); SE = SD / sqrt(n); ln of a risk ratio has variance
1/a - 1/n1 + 1/c - 1/n2; a likelihood ratio the same with its own cells (Simel, Samsa and Matchar 1991).
"""

from __future__ import annotations

import json
from math import exp, log, sqrt
from pathlib import Path
from xml.etree import ElementTree

import pytest

from reasoner.cli import main
from reasoner.graph.source import parse
from reasoner.upkeep.studies import Studies, read_studies


def read(text: str) -> Studies:
    document, _ = parse(text.encode(), "s.yaml")
    assert document is not None
    found, problems = read_studies(document)
    assert found is not None, problems
    return found


def refused(one: str, scale: str = "plain") -> str:
    text = f"scale: {scale}\nstudies:\n  - {one}\n  - {{name: B, value: 1.5, se: 0.2}}\n"
    document, _ = parse(text.encode(), "s.yaml")
    assert document is not None
    found, problems = read_studies(document)
    assert found is None
    assert problems[0].line == 3
    return str(problems[0])


def test_conversions_by_hand() -> None:
    studies = read(
        "scale: plain\nstudies:\n  - {name: A, value: 1.0, ci: [0.02, 1.98]}\n"
        "  - {name: B, value: 2.0, sd: 3.0, n: 9}\n"
    ).studies
    assert studies[0].se == pytest.approx(0.98 / 1.959964, abs=1e-6)
    assert studies[1].se == pytest.approx(1.0)


def test_a_p_value_gives_the_error() -> None:
    """Cochrane Handbook 5.1, 7.7.3.3: a difference of 3.8 with p .008 and 25 + 22 people: t(45) 2.78, SE 3.8 / 2.78 =
    1.37.
    Without the number of people the normal curve serves: p .05 is 1.96."""
    studies = read(
        "studies:\n  - {name: A, value: 3.8, p: 0.008, n: 47}\n  - {name: B, value: -1.96, p: 0.05}\n"
    ).studies
    assert studies[0].se == pytest.approx(1.37, abs=0.005)
    assert studies[1].se == pytest.approx(1.0, abs=1e-4)


def test_ratios_are_pooled_as_logs() -> None:
    studies = read(
        "scale: ratio\nstudies:\n  - {name: A, treated: [4, 123], control: [11, 139]}\n"
        "  - {name: B, value: 2.0, ci: [1.0, 4.0]}\n"
    ).studies
    assert studies[0].effect == pytest.approx(log((4 / 123) / (11 / 139)))
    assert studies[0].se == pytest.approx(sqrt(1 / 4 - 1 / 123 + 1 / 11 - 1 / 139))
    assert exp(studies[1].effect) == pytest.approx(2.0)


def test_likelihood_ratios_from_counts() -> None:
    """tp 40 of 50, fp 10 of 100: LR+ = .8 / .1 = 8; ln variance 1/40 - 1/50 + 1/10 - 1/100."""
    table = "{name: A, tp: 40, fn: 10, fp: 10, tn: 90}, {name: B, tp: 30, fn: 10, fp: 10, tn: 50}"
    one = read(f"scale: lr_pos\nstudies: [{table}]\n").studies[0]
    assert exp(one.effect) == pytest.approx(8.0)
    assert one.se == pytest.approx(sqrt(1 / 40 - 1 / 50 + 1 / 10 - 1 / 100))


@pytest.mark.parametrize(
    ("one", "scale", "words"),
    [
        ("{name: A, ci: [0.5, 1.9]}", "plain", "an interval without its point"),
        ("{name: A, value: 2.0, ci: [0.5, 1.9]}", "plain", "does not hold 2"),
        ("{name: A, value: 2.0, ci: [1.0, 4.0]}", "plain", "check scale"),
        ("{name: A, value: 1.0, se: 2.0, sd: 2.0, n: 16}", "plain", "se: is the SD"),
        ("{name: A, value: 1.0, sd: 2.0}", "plain", "add n:"),
        ("{name: A, value: -0.7, se: 0.1}", "ratio", "write the ratio, not its logarithm"),
        ("{name: A, value: 1.0}", "plain", "found no interval, SE, SD or p"),
        ("{name: A, value: 1.0, p: 1.2}", "plain", "no SE follows from a p of 1.2"),
        ("{name: A, vaule: 1.0, se: 0.2}", "plain", "write value"),
        ("{name: A, tp: 10, fn: 40, fp: 50, tn: 50}", "lr_pos", "exchanged"),
        ("{name: A, treated: [130, 123], control: [1, 10]}", "ratio", "counts do not fit"),
        ("{name: B, value: 1.0, se: 0.2}", "plain", "stands twice"),
    ],
)
def test_mistakes_are_caught_by_name(one: str, scale: str, words: str) -> None:
    if words == "stands twice":
        document, _ = parse(f"studies:\n  - {one}\n  - {one}\n".encode(), "s.yaml")
        assert document is not None
        assert words in str(read_studies(document)[1][0])
    else:
        assert words in refused(one, scale)


def test_the_command_draws_and_tells(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file, svg = tmp_path / "s.yaml", tmp_path / "s.svg"
    file.write_text(
        "unit: cm\nstudies:\n  - {name: A & co, value: 1.2, ci: [0.5, 1.9]}\n  - {name: B, value: 0.4, se: 0.3}\n"
        "  - {name: C, value: 2.0, sd: 1.5, n: 20}\n"
    )
    assert main(["knowledge", "pool", str(file), "--svg", str(svg)]) == 0
    out = capsys.readouterr().out
    assert all(len(line) <= 80 for line in out.splitlines())
    assert "differ by more than chance" in out
    assert "without B" in out
    root = ElementTree.fromstring(svg.read_text())
    assert "A & co" in "".join(root.itertext())
    assert main(["knowledge", "pool", str(file), "--json", "--method", "dl"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["method"] == "dl"
    assert set(told["without"]) == {"A & co", "B", "C"}


def test_a_very_wide_interval_leaves_room_for_the_studies(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Three ratios that differ: where a next study would lie spans four powers of ten, and is cut with arrows."""
    file, svg = tmp_path / "s.yaml", tmp_path / "s.svg"
    file.write_text(
        "scale: lr_pos\nstudies:\n  - {name: A, tp: 40, fn: 10, fp: 10, tn: 90}\n"
        "  - {name: B, tp: 30, fn: 10, fp: 10, tn: 50}\n  - {name: C, tp: 22, fn: 8, fp: 15, tn: 45}\n"
    )
    assert main(["knowledge", "pool", str(file), "--svg", str(svg)]) == 0
    lines = {line.split()[0]: line[21:53] for line in capsys.readouterr().out.splitlines()[:5]}
    assert lines["A"].count("-") >= 6  # it was three cells of 32 before
    assert lines["a"].startswith("<")
    assert lines["a"].rstrip().endswith(">")
    drawn = svg.read_text(encoding="utf-8")
    assert drawn.count("<polygon") == 3  # the pooled one, and an arrow either way
    assert "nan" not in drawn


def test_a_missing_file_is_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["knowledge", "pool", str(tmp_path / "none.yaml")]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1
