"""The clinic's folder through the commands: started, published, used, broken, left out, rolled back."""

from __future__ import annotations

import json
import os
from datetime import UTC, datetime
from pathlib import Path

import pytest

from reasoner.cli import main
from reasoner.trail.clinic import in_use, start_using
from reasoner.trail.paths import home
from reasoner.trail.store import Trail
from tests.tiny_pack import write_pack

SNAPSHOT = "region: ankle\ncontext: {side: left, age: 30, setting: after_sprain}\n"
STRICTER = "# from our surgeon\nchanges: fixation\nwindows:\n  end_range_dorsiflexion: {later_weeks: 10}\n"


@pytest.fixture
def base(tmp_path: Path) -> Path:
    return write_pack(tmp_path / "base")


@pytest.fixture
def folder(tmp_path: Path, base: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    made = tmp_path / "clinic"
    assert main(["knowledge", "start", str(made), "--name", "North Clinic", "--prefix", "nc"]) == 0
    capsys.readouterr()
    return made


def put(folder: Path, name: str, text: str) -> Path:
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def nothing(base: Path) -> str:
    """A script with no line in it."""
    path = base.parent / "nothing.txt"
    path.write_text("", encoding="utf-8")
    return str(path)


def run(base: Path, *words: str) -> int:
    return main(["--knowledge", str(base), *words])


def consider(base: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, object]:
    snapshot = tmp_path / "s.yaml"
    snapshot.write_text(SNAPSHOT, encoding="utf-8")
    capsys.readouterr()
    assert run(base, *words, "consider", str(snapshot), "--json") == 0
    told: dict[str, object] = json.loads(capsys.readouterr().out)
    return told


def test_start_makes_a_folder_and_where_shows_it(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert (folder / "clinic.yaml").is_file()
    main(["where"])
    assert str(folder) in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "needs a name and a prefix"),
        (["--name", "North", "--prefix", "N1"], "two to six small letters"),
    ],
)
def test_start_says_what_is_missing(
    words: list[str], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["knowledge", "start", str(tmp_path / "new"), *words]) == 2
    assert said in capsys.readouterr().err
    assert not (tmp_path / "new").exists()


def test_start_does_not_take_a_folder_of_other_things(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    put(tmp_path / "full", "letter.txt", "x")
    assert main(["knowledge", "start", str(tmp_path / "full"), "--name", "N", "--prefix", "nc"]) == 2
    assert "holds other things" in capsys.readouterr().err


def test_the_draft_is_not_used_until_it_is_published(
    base: Path, folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = consider(base, tmp_path, capsys)
    put(folder, "ankle/protocols/x.yaml", STRICTER)
    assert consider(base, tmp_path, capsys)["knowledge"] == before["knowledge"]
    assert run(base, "knowledge", "publish", "--by", "KM") == 0
    after = consider(base, tmp_path, capsys)
    assert after["knowledge"] != before["knowledge"]
    assert after["clinic"]["name"] == "North Clinic"  # type: ignore[index]
    put(folder, "ankle/protocols/x.yaml", "this: is [not ready")
    assert consider(base, tmp_path, capsys)["knowledge"] == after["knowledge"]


def test_publishing_fills_in_the_base_digest_and_keeps_comments(base: Path, folder: Path) -> None:
    path = put(folder, "ankle/protocols/x.yaml", STRICTER)
    assert run(base, "knowledge", "publish") == 0
    lines = path.read_text(encoding="utf-8").splitlines()
    assert lines[0] == "# from our surgeon"
    assert lines[2].startswith('base: "')


def test_what_does_not_check_or_is_looser_is_not_published(
    base: Path, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    put(folder, "ankle/protocols/x.yaml", STRICTER.replace("10", "'10 weeks'"))
    assert run(base, "knowledge", "publish") == 1
    assert "leave the unit out" in capsys.readouterr().out
    put(folder, "ankle/protocols/x.yaml", STRICTER.replace("10", "6"))
    assert run(base, "knowledge", "publish") == 1
    out = capsys.readouterr().out
    assert "O-LOOSER" in out
    assert "day 42" in out
    state = in_use(home(os.environ))
    assert state is not None
    assert state.copy is None


def test_rollback_uses_the_copy_before(
    base: Path, folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plain = consider(base, tmp_path, capsys)["knowledge"]
    put(folder, "ankle/protocols/x.yaml", STRICTER)
    assert run(base, "knowledge", "publish") == 0
    first = consider(base, tmp_path, capsys)["knowledge"]
    put(folder, "ankle/protocols/x.yaml", STRICTER.replace("10", "12"))
    assert run(base, "knowledge", "publish") == 0
    assert consider(base, tmp_path, capsys)["knowledge"] not in (plain, first)
    assert run(base, "knowledge", "rollback") == 0
    assert consider(base, tmp_path, capsys)["knowledge"] == first
    assert run(base, "knowledge", "rollback", "--to", "ffff") == 2


def test_rollback_of_the_first_copy_leaves_the_shipped_knowledge(
    base: Path, folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plain = consider(base, tmp_path, capsys)["knowledge"]
    put(folder, "ankle/protocols/x.yaml", STRICTER)
    assert run(base, "knowledge", "publish") == 0
    assert run(base, "knowledge", "rollback") == 0
    assert consider(base, tmp_path, capsys)["knowledge"] == plain


@pytest.mark.parametrize("broken", ["folder gone", "clinic.yaml gone", "copy gone", "copy changed", "record damaged"])
def test_a_missing_or_broken_folder_stops_with_the_reason(
    broken: str, base: Path, folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    put(folder, "ankle/protocols/x.yaml", STRICTER)
    assert run(base, "knowledge", "publish") == 0
    state = home(os.environ)
    now = in_use(state)
    assert now is not None
    assert now.copy is not None
    copy = state / "archive" / now.copy.digest / "files.tar"
    if broken == "folder gone":
        folder.rename(tmp_path / "moved")
    elif broken == "clinic.yaml gone":
        (folder / "clinic.yaml").unlink()
    elif broken == "copy gone":
        copy.parent.rename(tmp_path / "elsewhere")
    elif broken == "copy changed":
        raw = copy.read_bytes()
        changed = raw.replace(b"later_weeks: 10", b"later_weeks: 12")
        assert changed != raw
        copy.write_bytes(changed)
    else:
        (state / "clinic.json").write_text("{", encoding="utf-8")
    capsys.readouterr()
    assert run(base, "session", "--new", "--script", nothing(base)) == 2
    err = capsys.readouterr().err
    assert "--without-clinic" in err
    assert "Traceback" not in err
    assert run(base, "session", "--new", "--without-clinic", "--script", nothing(base)) == 0
    told = consider(base, tmp_path, capsys, "--without-clinic")
    assert told["clinic"] == {"set_aside": True}


def test_a_session_records_whose_knowledge_it_uses(
    base: Path, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    put(folder, "ankle/protocols/x.yaml", STRICTER)
    assert run(base, "knowledge", "publish") == 0
    script = ("session", "oak-17", "--script", nothing(base))
    assert run(base, "session", "oak-17", "--new", "--script", nothing(base)) == 0
    assert run(base, *script, "--without-clinic") == 0
    assert "left out" in capsys.readouterr().out
    assert run(base, *script) == 0
    stated = [e.payload for e in Trail.open(home(os.environ), "oak-17").entries if e.event == "clinic_stated"]
    assert [p.get("set_aside", False) for p in stated] == [False, True, False]
    assert [bool(p.get("clinic")) for p in stated] == [True, False, True]
    assert run(base, "report", "oak-17") == 0
    assert "Clinic's knowledge north_clinic" in capsys.readouterr().out


def test_no_clinic_leaves_trails_as_they_were(base: Path) -> None:
    assert run(base, "session", "oak-17", "--new", "--script", nothing(base)) == 0
    events = [e.event for e in Trail.open(home(os.environ), "oak-17").entries]
    assert "clinic_stated" not in events


def test_show_names_the_folder_of_each_field(base: Path, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    put(folder, "ankle/protocols/x.yaml", STRICTER)
    assert run(base, "knowledge", "publish") == 0
    capsys.readouterr()
    assert run(base, "knowledge", "show", "fixation") == 0
    lines = capsys.readouterr().out.splitlines()
    assert any(line.split()[:2] == ["clinic", "windows.1.later_weeks:"] for line in lines)
    assert any(line.split()[:2] == ["shipped", "windows.1.earlier_weeks:"] for line in lines)


def test_review_shows_then_now_and_ours_and_keeps(base: Path, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    put(folder, "ankle/protocols/x.yaml", STRICTER)
    assert run(base, "knowledge", "publish") == 0
    shipped = base / "ankle" / "protocols" / "fixation.yaml"
    shipped.write_text(shipped.read_text().replace("later_weeks: 8", "later_weeks: 14"), encoding="utf-8")
    capsys.readouterr()
    assert run(base, "knowledge", "review", "--region", "ankle") == 0
    out = capsys.readouterr().out
    for words in ("shipped then  8", "shipped now   14", "ours          14 (stricter of both)"):
        assert words in out
    assert run(base, "knowledge", "review", "fixation", "--keep") == 0
    capsys.readouterr()
    assert run(base, "knowledge", "review") == 0
    assert "as they are" in capsys.readouterr().out
    assert run(base, "knowledge", "review", "nothing_such") == 2


def test_review_knows_what_it_said_under_its_former_id(
    base: Path, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    put(folder, "ankle/protocols/x.yaml", STRICTER)
    assert run(base, "knowledge", "publish") == 0
    shipped = base / "ankle" / "protocols" / "fixation.yaml"
    text = shipped.read_text().replace("id: fixation", "id: plates\nformerly: [fixation]")
    shipped.write_text(text.replace("later_weeks: 8", "later_weeks: 9"), encoding="utf-8")
    capsys.readouterr()
    assert run(base, "knowledge", "review") == 0
    out = capsys.readouterr().out
    for words in ("protocol plates", "shipped then  8", "shipped now   9", "ours          10"):
        assert words in out


def test_what_publishing_says_to_type_can_be_typed(
    base: Path, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for n in range(12):
        put(folder, f"ankle/options/o{n}.yaml", f"id: nc_o{n}\nname: one\nlane: duo\n")
    assert run(base, "knowledge", "publish") == 1
    (line,) = (x for x in capsys.readouterr().out.splitlines() if " more: reasoner " in x)
    assert run(base, *line.partition("more: reasoner ")[2].split()) == 1
    told = capsys.readouterr().out
    assert all(f"options/o{n}.yaml:3: " in told for n in range(12))


def test_diff_says_later_or_earlier_and_which_options(
    base: Path, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    name = "ankle/options/push.yaml"
    put(base, name, (
        "id: push\nname: push to the end\nlane: due\nload_classes: [end_range_dorsiflexion]\n"
    ))  # fmt: skip
    put(folder, "ankle/protocols/x.yaml", STRICTER.replace("10", "6"))
    assert run(base, "knowledge", "diff") == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "week 8 -> week 6 after surgery: earlier, looser" in out
    assert "push to the end" in out
    assert "Now: Day 41 after surgery shut, day 42 open." in out
    put(folder, "ankle/protocols/x.yaml", STRICTER)
    assert run(base, "knowledge", "diff") == 0
    assert "week 8 -> week 10 after surgery: later, stricter" in " ".join(capsys.readouterr().out.split())


def test_impact_tells_a_missed_emergency_by_its_exit_code(
    base: Path, folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    cases = tmp_path / "cases"
    put(cases, "hot.yaml", SNAPSHOT + "findings: {fever: present, joint_hot_red: present}\n")
    put(cases, "plain.yaml", SNAPSHOT + "findings: {fever: absent, joint_hot_red: absent}\n")
    rule = "rule: {all: [fever, joint_hot_red, {age: {at_least: 60}}]}\n"
    put(folder, "ankle/screens/x.yaml", f"changes: hot_joint\n{rule}")
    capsys.readouterr()
    assert run(base, "knowledge", "impact", str(folder), "--cases", str(cases)) == 1
    out = capsys.readouterr().out
    assert "MISSED: screen hot_joint" in out
    assert "missed in: hot" in out
    put(folder, "ankle/screens/x.yaml", "changes: hot_joint\nrule: {any: [fever, joint_hot_red]}\n")
    assert run(base, "knowledge", "impact", str(folder), "--cases", str(cases)) == 0


def test_check_reads_a_clinics_folder_over_the_shipped_one(
    base: Path, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    put(folder, "ankle/protocols/x.yaml", STRICTER.replace("fixation", "fixatoin"))
    assert run(base, "knowledge", "check", str(folder)) == 1
    out = capsys.readouterr().out
    assert "clinic/ankle/protocols/x.yaml:2: O-TARGET" in out
    assert "did you mean fixation" in out


def test_strange_things_in_the_folder_are_told(base: Path, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    put(folder, "ankel/protocols/x.yaml", STRICTER)
    assert run(base, "knowledge", "check", str(folder)) == 1
    assert "write ankle/" in capsys.readouterr().out
    (folder / "ankel").rename(folder / "ankle")
    put(folder, "ankle/protocols/y - Copy.yaml", STRICTER)
    assert run(base, "knowledge", "check", str(folder)) == 1
    assert "looks like a copy" in capsys.readouterr().out


def test_copy_begins_an_entry_of_ones_own(base: Path, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(base, "knowledge", "copy", "back_glide", "--as", "nc_back_glide") == 0
    assert "posterior_talar_glide" in capsys.readouterr().out
    assert run(base, "knowledge", "check", str(folder)) == 0, capsys.readouterr().out
    assert run(base, "knowledge", "copy", "back_glide", "--as", "other") == 2


def test_a_folder_keeps_its_copies_when_it_is_started_again(base: Path, folder: Path) -> None:
    put(folder, "ankle/protocols/x.yaml", STRICTER)
    assert run(base, "knowledge", "publish") == 0
    again = start_using(home(os.environ), folder)
    assert again.copy is not None
    assert datetime.fromisoformat(again.copy.at) <= datetime.now(UTC)
