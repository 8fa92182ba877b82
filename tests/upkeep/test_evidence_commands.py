"""Filing a source: from a template and step by step, each common slip caught by name; and letting it count."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from reasoner.cli import main
from reasoner.graph.records import Citation, Evidence
from reasoner.graph.source import parse
from reasoner.upkeep.filing import TEMPLATE, conversions, entry_problems
from tests.tiny_pack import write_pack
from tests.upkeep.test_clinic_commands import run

FILLED = TEMPLATE.replace("PREFIX", "nc")


@pytest.fixture
def base(tmp_path: Path) -> Path:
    return write_pack(tmp_path / "base")


@pytest.fixture
def folder(tmp_path: Path, base: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    made = tmp_path / "clinic"
    assert main(["knowledge", "start", str(made), "--name", "North Clinic", "--prefix", "nc"]) == 0
    capsys.readouterr()
    return made


def file_in(base: Path, tmp_path: Path, text: str) -> int:
    path = tmp_path / "filled.yaml"
    path.write_text(text, encoding="utf-8")
    return run(base, "knowledge", "add", "evidence", "--from", str(path))


def typed(monkeypatch: pytest.MonkeyPatch, *lines: str) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("\n".join(lines) + "\n"))


ANSWERS = (
    "Smith J et al.", "2020", "Some Journal 1:1-9", "10.1234/abcd", "effect", "randomised trial", "between_groups",
    "adults after a sprain", "40", "The glide helped a little.", "gain 1.5 0.5 2.5", "", "low; small; not blinded",
    "abstract read 2026-03-01", "2028-03",
)  # fmt: skip


def test_the_blank_template_is_printed(base: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(base, "knowledge", "add", "evidence", "--template") == 0
    assert capsys.readouterr().out == TEMPLATE


def test_a_filled_template_is_filed_as_it_is(
    base: Path, folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert file_in(base, tmp_path, FILLED) == 0
    out = capsys.readouterr().out
    assert "filed; no number uses it yet" in out
    assert "knowledge use nc-author-2020" in out
    assert (folder / "ankle" / "evidence" / "nc-author-2020.yaml").read_text(encoding="utf-8") == FILLED
    assert run(base, "knowledge", "check", str(folder)) == 0
    assert file_in(base, tmp_path, FILLED) == 2
    assert "filed already" in capsys.readouterr().err


def test_step_by_step(
    base: Path, folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    typed(monkeypatch, *ANSWERS)
    assert run(base, "knowledge", "add", "evidence") == 0, capsys.readouterr()
    document, _ = parse((folder / "ankle" / "evidence" / "nc-smith-2020.yaml").read_bytes(), "x")
    assert document is not None
    assert document.value["citation"]["year"] == 2020
    assert document.value["figures"] == {"gain": 1.5, "gain_ci": [0.5, 2.5]}
    assert document.value["certainty"]["reasons"] == ["small", "not blinded"]


def test_a_wrong_answer_is_asked_again_and_back_goes_back(
    base: Path, folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    slips = [*ANSWERS]
    slips[1:2] = ["twenty", "2019", "back", "2020"]
    slips.insert(slips.index("10.1234/abcd"), "https://doi.org/10.1234/abcd")
    slips.insert(slips.index("effect"), "efect")
    slips.insert(slips.index("low; small; not blinded"), "poor; small")
    typed(monkeypatch, *slips)
    assert run(base, "knowledge", "add", "evidence") == 0, capsys.readouterr()
    out = capsys.readouterr().out
    for words in ("write a whole number", "write 10.1234/abcd", "write effect", "write one of high"):
        assert words in out


def test_stopped_half_way_it_goes_on_later(
    base: Path, folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    typed(monkeypatch, *ANSWERS[:4], "quit")
    assert run(base, "knowledge", "add", "evidence") == 2
    assert not (folder / "ankle").exists()
    typed(monkeypatch, *ANSWERS[4:])
    assert run(base, "knowledge", "add", "evidence") == 0, capsys.readouterr()
    text = (folder / "ankle" / "evidence" / "nc-smith-2020.yaml").read_text(encoding="utf-8")
    assert "Smith J et al." in text


def test_a_slip_in_a_template_is_told_on_its_line(
    base: Path, folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for old, new in (("doi: 10.1234/example", "doi: 1234/x"), ("gain_ci: [0.5, 2.5]", "gain_ci: [2.5, 0.5]")):
        text = FILLED.replace(old, new)
        line = text.splitlines().index("  " + new) + 1
        assert file_in(base, tmp_path, text) == 2
        assert f".yaml:{line}: N-" in capsys.readouterr().err


def entry(**changes: object) -> dict[str, object]:
    return {"id": "nc-a", "kind": "effect", "citation": {"doi": "10.1234/x"}, **changes}


@pytest.mark.parametrize(
    ("value", "code", "words"),
    [
        (entry(citation={"doi": "doi: 10.1234/x"}), "N-DOI", "write 10.1234/x"),
        (entry(citation={"doi": "1234/x"}), "N-DOI", "begins with 10."),
        (entry(citation={"doi": "10.9/KNOWN".replace("9", "9999")}), "N-TWICE", "known"),
        (entry(figures={"lr_pos": 0.3, "lr_neg": 4.0}), "N-RATIO", "exchanged"),
        (entry(figures={"sens": 85}), "N-PERCENT", "0.85"),
        (entry(figures={"prevalence_knee": 12.5}), "N-PERCENT", "0.125"),
        (entry(figures={"gain_ci": [0.5, 2.5]}), "N-POINT", "without its point"),
        (entry(figures={"gain": 3.0, "gain_ci": [0.5, 2.5]}), "N-INTERVAL", "does not hold"),
        (entry(figures={"gain": 3.0, "gain_ci": [2.5, 0.5]}), "N-INTERVAL", "low first"),
        # SE = 2 / 3.92 = .51: an SD of .5 with 40 people is the SE; the SD is .51 x sqrt(40) = 3.23
        (entry(n=40, figures={"gain": 1.5, "gain_ci": [0.5, 2.5], "gain_sd": 0.5}), "N-SD", "3.23"),
        (entry(certainty={"scheme": "GRADE", "value": "weak"}), "N-CERTAINTY", "very_low"),
        (entry(certainty={"scheme": "GRADE", "value": "low"}), "N-CERTAINTY", "reasons"),
    ],
)
def test_each_slip_is_caught_by_name(value: dict[str, object], code: str, words: str) -> None:
    known = [Evidence(id="known", kind="effect", citation=Citation(doi="10.9999/known"), says="x", checked="x")]
    problems = entry_problems(value, known)
    assert code in [p.code for p in problems]
    assert words in " ".join(str(p) for p in problems)


def test_good_numbers_pass_and_their_conversions_are_shown() -> None:
    figures = {"gain": 1.5, "gain_ci": [0.5, 2.5], "gain_sd": 3.2, "lr_pos": 2.0}
    good = entry(n=40, compares="before_after", figures=figures)
    assert entry_problems(good, []) == []
    told = [n.text for n in conversions(good)]
    assert any("= 0.51" in t for t in told)
    assert any("= 3.23" in t for t in told)
    # 3.8 / t(45) of p .008 = 3.8 / 2.78 = 1.37 (Cochrane Handbook 5.1, 7.7.3.3); SD 3.2 / sqrt(64) = 0.4
    told = [n.text for n in conversions(entry(n=47, figures={"gain": 3.8, "gain_p": 0.008}))]
    assert any("3.8 / 2.78 = 1.369" in t for t in told), told
    assert any("= 0.4," in n.text for n in conversions(entry(n=64, figures={"gain": 1.0, "gain_sd": 3.2})))


def test_use_writes_the_patch_and_it_loads(
    base: Path, folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = FILLED.replace("gain: 1.5", "gain: 1.8").replace("gain_sd: 2.8", "gain_sd: 1.5")
    assert file_in(base, tmp_path, text) == 0
    words = ("knowledge", "use", "nc-author-2020", "--for")
    assert run(base, *words, "back_glide.effects.knee_to_wall.gain", "--figure", "gain") == 0, capsys.readouterr()
    document, _ = parse((folder / "ankle" / "options" / "back_glide.yaml").read_bytes(), "x")
    assert document is not None
    effect = document.value["effects"]["knee_to_wall"]
    assert effect == {"gain": 1.8, "basis": "published", "evidence": ["nc-author-2020"]}
    assert run(base, "knowledge", "check", str(folder)) == 0
    assert "changes: back_glide" in (folder / "ankle" / "options" / "back_glide.yaml").read_text()
    capsys.readouterr()
    assert run(base, *words, "back_glide.effects.knee_to_wall.gain", "--figure", "gain") == 1
    assert "changes back_glide already" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("target", "figure", "words"),
    [
        ("back_glide.effects.knee_to_wall.gian", "gain", "write gain"),
        ("back_glide.effects.ktw.gain", "gain", "there are: knee_to_wall"),
        ("back_glide", "gain", "found no entry and field"),
        ("back_glide.effects.knee_to_wall.gain", "gian", "has no figure gian"),
        ("back_glide.name", "gain", "is not a number"),
    ],
)
def test_use_says_what_does_not_fit(
    target: str, figure: str, words: str, base: Path, folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert file_in(base, tmp_path, FILLED) == 0
    assert run(base, "knowledge", "use", "nc-author-2020", "--for", target, "--figure", figure) == 2
    assert words in capsys.readouterr().err


def test_before_after_never_feeds_a_usual_gain(
    base: Path, folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert file_in(base, tmp_path, FILLED.replace("compares: between_groups", "compares: before_after")) == 0
    assert "does not feed a usual gain" in capsys.readouterr().out
    words = ("knowledge", "use", "nc-author-2020", "--for", "back_glide.effects.knee_to_wall.gain", "--figure", "gain")
    assert run(base, *words) == 2
    assert "not a usual gain" in capsys.readouterr().err
