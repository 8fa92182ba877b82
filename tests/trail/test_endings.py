"""Two machines wrote at once and a sync kept both: refused on opening, both shown, none lost."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from reasoner.cli import main
from reasoner.problems import InputRefused
from reasoner.trail.endings import endings, join
from reasoner.trail.paths import anchor_file, copies
from reasoner.trail.store import Trail, read
from reasoner.trail.verify import verify, verify_all
from tests.trail.build import STAMP, note, short_trail

# as the usual sync programs name the file that lost
NAMES = ("oak-17 (conflicted copy 2026-03-02).jsonl", "oak-17.sync-conflict-20260302-090000-ABC.jsonl",
         "oak-17 2.jsonl", "oak-17-DESKTOP.jsonl", "oak-17_conflict.jsonl")  # fmt: skip


def two_endings(tmp_path: Path, name: str = NAMES[0]) -> tuple[Path, Path]:
    """Four lines in common, then 5 and 6 with words here, 5 with other words there; (home, the copy)."""
    home, elsewhere = tmp_path / "home", tmp_path / "elsewhere"
    short_trail(home, 4)
    shutil.copytree(home, elsewhere)
    mine, theirs = Trail.open(home, "oak-17"), Trail.open(elsewhere, "oak-17")
    note(mine, 51, texts={"words": "written here"})
    note(mine, 61)
    note(theirs, 52, texts={"words": "written there"})
    copy = home / "cases" / name
    copy.write_bytes(theirs.path.read_bytes())
    text = elsewhere / "cases" / "oak-17.texts" / "000005.json"
    shutil.copy(text, home / "cases" / "oak-17.texts" / f"000005{name.removeprefix('oak-17').removesuffix('l')}")
    return home, copy


@pytest.mark.parametrize("name", NAMES)
def test_it_is_refused_on_opening_and_both_are_kept(tmp_path: Path, name: str) -> None:
    home, copy = two_endings(tmp_path, name)
    path = home / "cases" / "oak-17.jsonl"
    before = path.read_bytes(), copy.read_bytes()
    with pytest.raises(InputRefused, match="another ending of this case lies beside it"):
        Trail.open(home, "oak-17")
    assert (path.read_bytes(), copy.read_bytes()) == before
    assert copies(home, "oak-17") == [copy]


def test_a_copy_of_an_anchor_is_no_lost_trail(tmp_path: Path) -> None:
    short_trail(tmp_path, 3)
    (tmp_path / "anchors" / "oak-17 (conflicted copy).json").write_bytes(anchor_file(tmp_path, "oak-17").read_bytes())
    assert verify_all(tmp_path) == {tmp_path / "cases" / "oak-17.jsonl": []}


def test_a_copy_with_nothing_new_in_it_stops_nobody(tmp_path: Path) -> None:
    trail = short_trail(tmp_path, 4)
    whole = trail.path.read_bytes()
    (tmp_path / "cases" / NAMES[0]).write_bytes(whole)
    (tmp_path / "cases" / NAMES[1]).write_bytes(b"".join(whole.splitlines(keepends=True)[:2]))
    (tmp_path / "cases" / "oak-171.jsonl").write_bytes(b"another case")
    short_trail(tmp_path, 3, case="oak-ash-17")
    assert len(Trail.open(tmp_path, "oak-17").entries) == 4
    (tmp_path / "cases" / NAMES[2]).write_bytes(b"garbage\n")
    assert len(Trail.open(tmp_path, "oak-17").entries) == 4


def test_both_endings_are_shown_with_their_words(tmp_path: Path) -> None:
    home, copy = two_endings(tmp_path)
    found = endings(home, "oak-17")
    assert (found.common, found.copy) == (4, copy)
    assert [dict(e.texts) for e in found.here] == [{"words": "written here"}, {}]
    assert [dict(e.texts) for e in found.there] == [{"words": "written there"}]


@pytest.mark.parametrize("keep", ["here", "there"])
def test_going_on_with_one_keeps_the_other(tmp_path: Path, keep: str) -> None:
    home, copy = two_endings(tmp_path)
    path = home / "cases" / "oak-17.jsonl"
    bytes_of = {"here": path.read_bytes(), "there": copy.read_bytes()}
    trail, aside = join(home, endings(home, "oak-17"), keep, STAMP)  # type: ignore[arg-type]
    other = "there" if keep == "here" else "here"
    assert path.read_bytes().startswith(bytes_of[keep])
    assert aside.read_bytes() == bytes_of[other]
    assert not copy.exists()
    assert trail.entries[4].texts == {"words": f"written {keep}"}
    assert trail.entries[-1].event == "endings_joined"
    assert trail.entries[-1].payload["kept"] == keep
    assert trail.entries[-1].payload["aside"] == "oak-17.ending-1"
    found = verify(path, anchor_file(home, "oak-17"))
    assert [p for p in found if p.level == "error"] == []
    assert {p.code for p in found} <= {"T-CLOCK"} | ({"T-ANCHOR"} if keep == "there" else set())
    words = b"".join(p.read_bytes() for p in (home / "cases").rglob("*") if p.is_file())
    assert b"written here" in words
    assert b"written there" in words
    note(Trail.open(home, "oak-17"), 99)


def test_the_other_file_may_have_taken_the_trail_s_place(tmp_path: Path) -> None:
    """The sync put their file here and renamed ours: the anchor notices; ours can be gone on with."""
    home, copy = two_endings(tmp_path)
    path = home / "cases" / "oak-17.jsonl"
    ours, theirs = path.read_bytes(), copy.read_bytes()
    path.write_bytes(theirs)
    copy.write_bytes(ours)
    with pytest.raises(InputRefused, match="T-END"):
        Trail.open(home, "oak-17")
    trail, aside = join(home, endings(home, "oak-17"), "there", STAMP)
    assert trail.path.read_bytes().startswith(ours)
    assert aside.read_bytes() == theirs
    assert [p for p in verify(path, anchor_file(home, "oak-17")) if p.level == "error"] == []


@pytest.mark.parametrize("keep", ["here", "there"])
def test_joining_cut_short_is_finished_by_doing_it_again(tmp_path: Path, keep: str) -> None:
    for at in range(1, 8):
        home, copy = two_endings(tmp_path / f"{at}")
        texts = {copy.read_bytes(), (home / "cases" / "oak-17.jsonl").read_bytes()}
        left = iter(range(1, 100))
        with pytest.MonkeyPatch.context() as patch:
            import os

            for name in ("rename", "replace", "link"):
                real = getattr(os, name)

                def cut(*args: object, real: object = real) -> None:
                    if next(left) == at:  # noqa: B023
                        raise KeyboardInterrupt
                    real(*args)  # type: ignore[operator]

                patch.setattr(os, name, cut)
            try:
                join(home, endings(home, "oak-17"), keep, STAMP)  # type: ignore[arg-type]
                cut_short = False
            except KeyboardInterrupt:
                cut_short = True
        kept = [p.read_bytes() for p in (home / "cases").iterdir() if p.is_file()]
        assert all(any(k.startswith(t) for k in kept) for t in texts), at
        if copies(home, "oak-17"):
            join(home, endings(home, "oak-17"), keep, STAMP)  # type: ignore[arg-type]
        assert read(Trail.open(home, "oak-17").path)[1] == [], at
        if not cut_short:
            return
    raise AssertionError("never came to the end")


def test_another_case_is_not_an_ending(tmp_path: Path) -> None:
    short_trail(tmp_path, 3)
    other = short_trail(tmp_path, 3, case="elm-3")
    with pytest.raises(InputRefused, match="no beginning"):
        endings(tmp_path, "oak-17", other.path)
    with pytest.raises(InputRefused, match="there is no copy of oak-17"):
        endings(tmp_path, "oak-17")


def test_the_command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    home, copy = two_endings(tmp_path)
    monkeypatch.setenv("REASONER_HOME", str(home))
    assert main(["trail", "join", "oak-17"]) == 1
    out = capsys.readouterr().out
    assert "oak-17: 4 lines in common" in out
    assert "here: oak-17.jsonl, 2 lines of its own" in out
    assert f"there: {copy.name}, 1 lines of its own" in out
    assert "words written there" in out
    assert main(["trail", "join", "oak-17", "--keep", "here"]) == 2  # it is signed
    assert main(["trail", "join", "oak-17", "--keep", "here", "--by", "KM"]) == 0
    assert "The other is kept as oak-17.ending-1" in capsys.readouterr().out
    assert main(["trail", "verify", "oak-17"]) == 0
    assert main(["trail", "join", "oak-17"]) == 2
