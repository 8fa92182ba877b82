"""Who can read what: modes, sharing on purpose, names that tell, words taken out for good."""

from __future__ import annotations

import grp
import os
import stat
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from reasoner.cli import main
from reasoner.problems import InputRefused
from reasoner.review.remarks import add, remarks_file, remarks_of
from reasoner.trail import archive
from reasoner.trail.config import share, shared_with, unshare
from reasoner.trail.naming import tells
from reasoner.trail.paths import anchor_file
from reasoner.trail.store import Trail, read
from reasoner.trail.text import REMOVED
from reasoner.trail.verify import verify
from tests.trail.build import STAMP, everything, note, short_trail

WORDS = "the neighbour's dog \"Bruno\" pulled, süß"
MINE = grp.getgrgid(os.getgid()).gr_name


def modes(top: Path) -> set[tuple[bool, int]]:
    """(is a folder, mode) of everything from `top` on."""
    return {(p.is_dir(), stat.S_IMODE(p.stat().st_mode)) for p in [top, *top.rglob("*")]}


def left_of_it(home: Path) -> list[bytes]:
    """Parts of WORDS that stand anywhere in the folder, as they are or as JSON writes them."""
    parts = (b"neighbour", b"Bruno", b"pulled", "süß".encode(), b"s\\u00fc\\u00df")
    return [part for part in parts if part in everything(home)]


# ------------------------------------------------------------------------------------------------ sharing


def test_sharing_is_explicit_and_holds_for_what_comes_later(tmp_path: Path) -> None:
    home = tmp_path / "home"
    short_trail(home, 3)
    assert modes(home) == {(True, 0o700), (False, 0o600)}
    assert shared_with(home) == ""
    share(home, MINE)
    assert shared_with(home) == MINE
    old = os.umask(0o077)
    try:
        note(Trail.open(home, "oak-17"), 4, texts={"words": "later"})
        short_trail(home, 3, case="elm-3")
        archive.keep(home, "ab" * 32, {"a/b.yaml": b"x"})
        add(home / "cases" / "elm-3.jsonl", read(home / "cases" / "elm-3.jsonl")[0], kind="remark", on=1, text="well",
            by="KM", role="mentor", at=STAMP.at)  # fmt: skip
    finally:
        os.umask(old)
    assert modes(home) == {(True, 0o2770), (False, 0o660)}
    unshare(home)
    assert shared_with(home) == ""
    note(Trail.open(home, "oak-17"), 5, texts={"words": "alone again"})
    assert modes(home) == {(True, 0o700), (False, 0o600)}


def test_a_folder_that_is_open_to_a_group_by_chance_shares_nothing(tmp_path: Path) -> None:
    tmp_path.chmod(0o2770)  # as a group's project folder is; nobody said `config share`
    short_trail(tmp_path / "home", 3)
    assert all(not mode & 0o077 for _, mode in modes(tmp_path / "home"))


def test_an_unknown_group_is_refused_and_nothing_changes(tmp_path: Path) -> None:
    short_trail(tmp_path, 2)
    with pytest.raises(InputRefused, match="there is no group no-such-group-here"):
        share(tmp_path, "no-such-group-here")
    assert shared_with(tmp_path) == ""
    assert all(not mode & 0o077 for is_folder, mode in modes(tmp_path / "cases"))


def test_links_are_not_followed_when_sharing(tmp_path: Path) -> None:
    home, outside = tmp_path / "home", tmp_path / "outside.txt"
    short_trail(home, 2)
    outside.touch(0o600)
    (home / "cases" / "link.txt").symlink_to(outside)
    share(home, MINE)
    assert stat.S_IMODE(outside.stat().st_mode) == 0o600


def test_a_trail_others_can_read_is_told(tmp_path: Path) -> None:
    trail = short_trail(tmp_path, 2)
    trail.path.chmod(0o644)
    assert [(p.code, p.level) for p in verify(trail.path, anchor_file(tmp_path, "oak-17"))] == [("T-MODE", "info")]


def test_the_config_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["config", "share", MINE]) == 0
    assert main(["config"]) == 0
    assert f"with the group {MINE}" in capsys.readouterr().out
    assert main(["config", "private"]) == 0
    assert main(["config"]) == 0
    assert "readable by you alone" in capsys.readouterr().out
    assert main(["config", "share", "no-such-group-here"]) == 2


# ------------------------------------------------------------------------------------------------ case names


@pytest.mark.parametrize(
    ("case", "found"),
    [
        ("oak-heron-17", ""), ("elm-wren-18", ""), ("knee-left-3", ""), ("oak-1299", ""), ("oak-117", ""),
        ("smith-3", "a name (smith)"), ("oak-maria-3", "a name (maria)"), ("miss-oak-3", "a name (miss)"),
        ("march-12", "a date (march)"), ("oak-3112", "a date (3112)"), ("oak-1231", "a date (1231)"),
        ("oak-0101", "a date (0101)"), ("oak-2901", "a date (2901)"),
    ],
)  # fmt: skip
def test_case_names_that_tell(case: str, found: str) -> None:
    assert tells(case) == found


def test_a_case_is_not_begun_under_a_name_but_one_that_stands_opens(tmp_path: Path) -> None:
    with pytest.raises(InputRefused, match="looks like a name"):
        short_trail(tmp_path, 1, case="smith-3")
    assert list(tmp_path.iterdir()) == []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("reasoner.trail.paths.tells", lambda case: "")  # begun by an earlier version
        short_trail(tmp_path, 2, case="smith-3")
    assert len(Trail.open(tmp_path, "smith-3").entries) == 2


def test_drawn_names_never_tell() -> None:
    from reasoner.consult.naming import _ANIMALS, _TREES

    assert [w for w in (*_TREES, *_ANIMALS) if tells(f"{w}-17")] == []


# ------------------------------------------------------------------------------------------------ words taken out


@pytest.fixture
def told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Trail:
    """A case in which WORDS stand in one entry, in a remark, and in what a killed writer left."""
    home = tmp_path / "home"
    monkeypatch.setenv("REASONER_HOME", str(home))
    monkeypatch.setenv("REASONER_BY", "KM")
    trail = short_trail(home, 3)
    note(trail, 4, texts={"words": f"she says {WORDS}", "plan": "stairs in small doses"})
    note(trail, 5)
    add(trail.path, trail.entries, kind="remark", on=4, text=f"good: she says {WORDS}!", by="TK", role="mentor",
        at=STAMP.at)  # fmt: skip
    add(trail.path, trail.entries, kind="remark", on=5, text="why so late?", by="TK", role="mentor", at=STAMP.at)
    return trail


def test_redact_leaves_no_byte_and_everything_verifies(told: Trail, capsys: pytest.CaptureFixture[str]) -> None:
    orphan = told.path.with_suffix(".texts") / "000006.json"  # its line was never written
    orphan.write_bytes((told.path.with_suffix(".texts") / "000004.json").read_bytes())
    copy = told.path.with_suffix(".texts") / "000004 (conflicted copy).json"  # and a sync made one
    copy.write_bytes(orphan.read_bytes())
    assert len(left_of_it(told.home)) == 4
    assert main(["redact", "oak-17", "4", "--why", "names a person"]) == 0
    assert left_of_it(told.home) == []
    assert b"small doses" not in everything(told.home)  # all texts of the entry, as none was named
    out = capsys.readouterr().out
    assert "2 text(s) removed for good" in out
    assert "1 remark(s) quoted them" in out
    assert [p for p in verify(told.path, anchor_file(told.home, "oak-17")) if p.code != "T-CLOCK"] == []
    entries, _ = read(told.path)
    assert entries[3].texts == {"words": REMOVED, "plan": REMOVED}
    last = entries[-1]
    assert (last.event, last.by, last.payload, last.texts) == (
        "text_removed", "KM", {"of": 4, "texts": ["words", "plan"]}, {"why": "names a person"}
    )  # fmt: skip
    remarks = remarks_of(told.path, entries)
    assert [r.text for r in remarks] == [REMOVED, "why so late?"]


def test_one_text_of_an_entry(told: Trail) -> None:
    assert main(["redact", "oak-17", "4", "--text", "words", "--why", "names a person"]) == 0
    assert read(told.path)[0][3].texts == {"words": REMOVED, "plan": "stairs in small doses"}


def test_the_same_words_elsewhere_are_named_and_the_exit_says_so(
    told: Trail, capsys: pytest.CaptureFixture[str]
) -> None:
    note(told, 6, texts={"words": f"again: she says {WORDS}, and so on"})
    assert main(["redact", "oak-17", "4", "--text", "words", "--why", "names a person"]) == 1
    out = capsys.readouterr().out
    assert "the same words stand in entry 6: reasoner redact oak-17 6" in out
    assert "still stand in cases/oak-17.texts/000006.json" in out
    assert "entry 4: reasoner" not in out  # those just removed stand nowhere
    assert main(["redact", "oak-17", "6", "--why", "names a person"]) == 0
    assert "the same words" not in capsys.readouterr().out
    assert left_of_it(told.home) == []


def test_copies_out_of_reach_are_named(told: Trail, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told.append("exported", {"document": "letter", "digest": "x"}, at=STAMP.at + timedelta(hours=1), by="KM",
                role="physio", knowledge="")  # fmt: skip
    assert main(["pack", str(tmp_path / "my.pack")]) == 0
    assert main(["redact", "oak-17", "4", "--why", "names a person"]) == 0
    out = capsys.readouterr().out
    assert "letter 2026-03-02" in out
    assert str(tmp_path / "my.pack") in out


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ("oak-17 2 --why because", "has no text"), ("oak-17 99 --why because", "has no text"),
        ("oak-17 0 --why because", "has no text"), ("oak-17 4", "needs a reason"),
        ("oak-17 4 --text other --why because", "no text 'other'"), ("elm-9 4 --why because", "there is no case"),
        ("oak-17 4 --text plan --why STAIRS_IN_SMALL_DOSES", "repeats the words"),
    ],
)  # fmt: skip
def test_what_cannot_be_redacted_is_one_line(
    told: Trail, capsys: pytest.CaptureFixture[str], arguments: str, says: str
) -> None:
    before = everything(told.home)
    assert main(["redact", *(a.replace("_", " ") for a in arguments.split())]) == 2
    shown = capsys.readouterr().err
    assert says in shown
    assert shown.count("\n") == 1
    assert everything(told.home) == before


def test_the_list_shows_what_could_go_and_what_went(told: Trail, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["redact", "oak-17", "3", "--why", "not needed"]) == 0
    assert main(["redact", "oak-17"]) == 0
    out = capsys.readouterr().out.splitlines()
    assert any(line.split()[:3] == ["4", "noted", "words:"] for line in out)
    assert any("text of entry 3 removed" in line and line.endswith("by KM") for line in out)
    assert not any("stairs hurt 3" in line for line in out)


def test_a_reason_can_be_redacted_too(told: Trail) -> None:
    told.redact(3, ["words"], replace(STAMP, at=STAMP.at + timedelta(hours=1)), "Mr X asked for it")
    assert main(["redact", "oak-17", "6", "--why", "it named him"]) == 0
    assert b"Mr X" not in everything(told.home)
    assert remarks_file(told.path).exists()
