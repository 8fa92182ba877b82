"""`reasoner review` as it is typed: each way of looking, what it refuses, and what it writes beside the trail."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest

from reasoner.cli import main
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.load import default_folder
from reasoner.review.remarks import remarks_file
from reasoner.trail import archive
from reasoner.trail.paths import text_folder
from reasoner.trail.read import read
from tests.practice.players import careless, game, scenario

CARELESS, CAREFUL = "oak-heron-17", "elm-wren-18"


def review(capsys: pytest.CaptureFixture[str], *words: str, code: int = 0) -> str:
    """What the command prints; its exit code is checked."""
    capsys.readouterr()
    assert main(["review", *words]) == code
    told = capsys.readouterr()
    return told.out if code == 0 else told.err or told.out


def trail(home: Path, case: str) -> Path:
    return home / "cases" / f"{case}.jsonl"


def line_of(home: Path, case: str, event: str, **payload: object) -> int:
    """Number of the first line with this event and these values."""
    entries, _ = read(trail(home, case))
    return next(e.seq for e in entries if e.event == event and payload.items() <= e.payload.items())


def flat(text: str) -> str:
    return " ".join(text.split())


# ------------------------------------------------------------------------------------------------ looking


def test_page_one_names_what_went_wrong_with_its_line(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = review(capsys, CARELESS)
    assert len(told.splitlines()) <= 24
    given = line_of(own, CARELESS, "treated")
    assert f"line {given}, soft-tissue work" in flat(told)
    assert "kept AGAINST the answers; better fits: talus glides back less" in flat(told)
    assert '"better" in the conclusion; every change was within error' in flat(told)
    assert "2 given, 1 retested" in flat(told)
    careful = review(capsys, CAREFUL)
    assert careful.count("none counted") == 6


def test_at_a_line_shows_what_was_known_then(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked = line_of(own, CAREFUL, "answered", finding="gives_way")
    before, after = (review(capsys, CAREFUL, "--at", str(n)) for n in (asked - 1, asked))
    assert f"After line {asked}" in after
    assert "gives way" in after
    assert "gives way left: absent" not in before
    assert "lines 1 to" in review(capsys, CAREFUL, "--at", "999", code=2)


def test_why_at_a_line_is_from_the_knowledge_of_that_day(
    own: Path, knowledge: Knowledge, capsys: pytest.CaptureFixture[str]
) -> None:
    measured = line_of(own, CAREFUL, "measured", measure="knee_to_wall", side="right")
    told = review(capsys, CAREFUL, "--why", str(measured))
    assert f"knowledge of that day {knowledge.digest[:12]}" in told
    assert re.search(r"moved most: talus glides back less \.?0?\.\d\d -> ", told)


def test_why_is_refused_where_that_knowledge_is_not_kept(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _as_recorded_with(own, CAREFUL, "ab" * 32)
    told = review(capsys, CAREFUL, "--why", "4", code=2)
    assert "the knowledge of that day (abababababab) is not kept here" in told
    assert "NOT of that day" in review(capsys, CAREFUL)


def test_what_if_an_answer_had_been_otherwise(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    heat = line_of(own, CAREFUL, "bundle_answered", bundle="heat")
    told = review(capsys, CAREFUL, "--what-if", f"{heat} not-asked")
    assert re.search(r"screen: .* does not apply -> open|screen: .* not met -> open", flat(told))
    assert "no screen, lead, chance or technique" in review(capsys, CAREFUL, "--what-if", f"{heat} absent")
    assert "is not a change" in review(capsys, CAREFUL, "--what-if", "seven", code=2)
    assert "is no answer" in review(capsys, CAREFUL, "--what-if", "1 absent", code=2)


def test_an_old_trail_under_changed_knowledge(own: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The same folder changes nothing; with a base rate of one in a thousand another lead or chance is shown."""
    folder = tmp_path / "knowledge"
    shutil.copytree(default_folder(), folder)
    same = review(capsys, CAREFUL, "--knowledge", str(folder))
    assert "no screen, lead, chance or technique would be different" in same
    file = folder / "ankle" / "hypotheses" / "talus_back_glide.yaml"
    text = file.read_text(encoding="utf-8")
    rare = re.sub(r"(after_sprain: \{value: )[\d.]+", r"\g<1>0.001", text)
    assert rare != text
    file.write_text(rare, encoding="utf-8")
    told = review(capsys, CAREFUL, "--knowledge", str(folder))
    assert "Knowledge " in told
    assert re.search(r"chance: talus glides back less +\d\.\d\d -> 0\.0", told)


def test_two_trails_side_by_side(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = flat(review(capsys, CARELESS, CAREFUL))
    for row in ("KM (graduate) ME (graduate)", "loops, retested 2, 1 1, 1", "given against a gate 2 none"):
        assert row in told


def test_a_folder_is_a_list_of_work(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Broken first, then what presses, then unread before read."""
    assert main(["review", CARELESS, "--read", "--by", "ME"]) == 0
    (own / "cases" / "yew-lark-9.jsonl").write_bytes(trail(own, CAREFUL).read_bytes()[:300] + b"\n")
    told = review(capsys, str(own), code=1)
    assert told.index("yew-lark-9") < told.index(CAREFUL) < told.index(CARELESS)
    assert "NOT as recorded" in told
    assert "read by ME" in told
    assert "given against a gate" in told


# ------------------------------------------------------------------------------------------------ phone now


def test_a_serious_truth_missed_in_practice_heads_the_page(
    own: Path, knowledge: Knowledge, capsys: pytest.CaptureFixture[str]
) -> None:
    """No danger fact was recorded: only the truth, told once the visit is closed, shows what was missed."""
    g = game(knowledge, own, scenario("bus_traveller", knowledge), case="ash-finch-4")
    g.type("ask who")
    assert "PHONE NOW" not in review(capsys, "ash-finch-4")
    assert "told once a visit is closed" in review(capsys, "ash-finch-4", "--debrief", code=2)
    g.type("close")
    told = review(capsys, "ash-finch-4")
    assert "PRACTICE; with a real patient: PHONE NOW." in flat(told).replace("PRACTICE; ", "PRACTICE; ", 1)
    assert "clot in a deep vein of the leg was there" in flat(told)
    listed = review(capsys, str(own))
    assert listed.index("ash-finch-4") < listed.index(CARELESS)
    assert "PHONE NOW" in listed


def test_a_loop_a_danger_screen_stopped_is_not_open(
    own: Path, knowledge: Knowledge, capsys: pytest.CaptureFixture[str]
) -> None:
    g = game(knowledge, own, scenario("bus_traveller", knowledge), case="ash-finch-4")
    g.type("ask who", "ask history", "ask function_score", "consent calf_rolling yes")
    g.type("treat calf_rolling because it is gentle", "ask calf_swollen", "ask clot_suspected")
    if not g.stopped:
        g.type("clot_suspected +")
    assert g.stopped
    g.type("handover to the doctor on duty; at 10:00; travel by taxi; told why", "close")
    told = flat(review(capsys, "ash-finch-4"))
    assert "none counted (1 given, 0 retested, 1 excused: a danger screen stopped it)" in told


def test_a_loop_excused_for_lack_of_time_is_open(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = flat(review(capsys, CARELESS))
    assert "no retest because no time left" in told
    assert "danger screen stopped it" not in told


# ------------------------------------------------------------------------------------------------ not as recorded


def test_a_changed_line_and_a_missing_end_are_refused(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = trail(own, CARELESS)
    whole = path.read_bytes()
    lines = whole.splitlines(keepends=True)
    path.write_bytes(b"".join([*lines[:6], lines[6].replace(b'"KM"', b'"KN"', 1), *lines[7:]]))
    changed = review(capsys, CARELESS, code=2)
    assert f"{path}:7:" in changed.replace("\n", "")
    assert "not as recorded, so it is not reviewed" in flat(changed)
    path.write_bytes(b"".join(lines[:-2]))
    short = review(capsys, CARELESS, code=2)
    assert "T-END" in short
    path.write_bytes(whole)
    review(capsys, CARELESS)


# ------------------------------------------------------------------------------------------------ beside the trail


def test_a_remark_quotes_the_hash_and_needs_a_code(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = trail(own, CARELESS).read_bytes()
    given = line_of(own, CARELESS, "treated")
    assert "--by" in review(capsys, CARELESS, "--remark", str(given), "look again", code=2)
    told = review(capsys, CARELESS, "--remark", str(given), "what would speak against it?", "--by", "ME")
    quoted = read(trail(own, CARELESS))[0][given - 1].hash
    assert quoted.removeprefix("sha256:")[:12] in told
    kept = json.loads(remarks_file(trail(own, CARELESS)).read_bytes())
    assert (kept["on"], kept["hash"], kept["by"]) == (given, quoted, "ME")
    assert trail(own, CARELESS).read_bytes() == before
    assert "remark by ME: what would speak against it?" in review(capsys, CARELESS, "--timeline", str(given))
    review(capsys, CARELESS, "--remark", "999", "nowhere", "--by", "ME", code=2)


def test_a_read_mark_holds_until_the_trail_goes_on(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "unread at this end" in review(capsys, CARELESS)
    assert "marked as read by ME" in review(capsys, CARELESS, "--read", "--by", "ME")
    assert "0; read" in flat(review(capsys, CARELESS))


# ------------------------------------------------------------------------------------------------ documents


def test_feedback_and_html_are_written(own: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet, page = tmp_path / "sheet.md", tmp_path / "page.html"
    review(capsys, CARELESS, "--feedback", str(sheet), "--agreed", "ask danger first", "--by", "ME")
    assert "ask danger first" in sheet.read_text(encoding="utf-8")
    review(capsys, CARELESS, "--html", str(page))
    assert page.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert "write the page" in review(capsys, CARELESS, "--html", str(tmp_path / "no" / "page.html"), code=2)


def test_own_confidence_over_many_practice_cases(
    own: Path, knowledge: Knowledge, capsys: pytest.CaptureFixture[str]
) -> None:
    """By hand: KM was very sure and wrong twice: 0 of 2, Wilson 95 % upper end z2/(2 + z2) = 3.8416/5.8416 = .658."""
    careless(game(knowledge, own, scenario("night_nurse", knowledge), case="ash-finch-4", by="KM"))
    told = flat(review(capsys, "--calibration", "--by", "KM"))
    assert "2 practice cases" in told
    assert "very sure 0 of 2 right 0 to 66 of 100 (95 % interval)" in told
    everybody = flat(review(capsys, "--calibration"))
    assert "fairly sure 1 of 1 right" in everybody
    assert "which trail" in review(capsys, code=2)


def _as_recorded_with(home: Path, case: str, digest: str) -> None:
    """The same trail as if other knowledge had been loaded, chain and anchor made anew."""
    from reasoner.trail.store import Stamp, Trail

    entries, _ = read(trail(home, case))
    for kept in (trail(home, case), home / "anchors" / f"{case}.json"):
        kept.unlink()
    first = entries[0]
    made = Trail.create(
        home, case, kind="practice", header={"region": "ankle"}, stamp=Stamp(first.at, first.by, first.role, digest)
    )
    shutil.rmtree(text_folder(trail(home, case)))
    for e in entries[1:]:
        if not e.text_hashes:
            made.append(e.event, e.payload, at=e.at, by=e.by, role=e.role, knowledge=digest, after=len(made.entries))
    assert archive.stored(home, digest) is None
