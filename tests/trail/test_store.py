"""Appending: what is acknowledged is there, and what fails leaves nothing behind."""

from __future__ import annotations

import errno
import json
import os
import stat
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from reasoner.problems import InputRefused
from reasoner.trail.paths import anchor_file, cases, home, lock_file, text_folder
from reasoner.trail.store import Trail, read
from reasoner.trail.text import CHANGED, MISSING, REMOVED
from reasoner.trail.verify import verify
from tests.trail.build import STAMP, note, short_trail

LATER = replace(STAMP, at=STAMP.at + timedelta(hours=1))


def problems_of(trail: Trail) -> list[str]:
    """Codes of everything `verify` finds."""
    return [p.code for p in verify(trail.path, anchor_file(trail.home, trail.case))]


def test_the_first_line_says_case_kind_and_header(tmp_path: Path) -> None:
    trail = short_trail(tmp_path, 1)
    assert trail.kind == "demo"
    assert trail.header == {"case": "oak-17", "kind": "demo", "region": "ankle"}
    assert Trail.open(tmp_path, "oak-17").entries == trail.entries


def test_lines_and_texts_are_read_back_in_order(tmp_path: Path) -> None:
    trail = short_trail(tmp_path, 7)
    entries, problems = read(trail.path)
    assert problems == []
    assert [e.seq for e in entries] == [1, 2, 3, 4, 5, 6, 7]
    assert [dict(e.texts) for e in entries if e.texts] == [{"words": "stairs hurt 3"}, {"words": "stairs hurt 6"}]
    assert entries == trail.entries
    assert b"stairs" not in trail.path.read_bytes()


def test_files_and_folders_are_private(tmp_path: Path) -> None:
    trail = short_trail(tmp_path / "state" / "deep", 3)
    old = os.umask(0)
    try:
        short_trail(tmp_path / "open-umask", 3)
    finally:
        os.umask(old)
    for top in (trail.home, tmp_path / "open-umask"):
        for path in [top, *top.rglob("*")]:
            mode = stat.S_IMODE(path.stat().st_mode)
            assert mode == (0o700 if path.is_dir() else 0o600), path


def test_a_shared_folder_keeps_its_permissions(tmp_path: Path) -> None:
    tmp_path.chmod(0o750)
    short_trail(tmp_path, 2)
    assert stat.S_IMODE(tmp_path.stat().st_mode) == 0o750


def test_kind_is_one_of_three_and_is_never_given_again(tmp_path: Path) -> None:
    with pytest.raises(InputRefused, match="not a kind"):
        Trail.create(tmp_path, "oak-17", kind="test", header={}, stamp=STAMP)
    assert cases(tmp_path) == []
    trail = short_trail(tmp_path, 2)
    with pytest.raises(InputRefused, match="never changes its kind"):
        trail.append("case_opened", {"kind": "real"}, at=STAMP.at, by="KM", role="x", knowledge="")
    with pytest.raises(ValueError, match="another case or kind"):
        Trail.create(tmp_path, "elm-2", kind="demo", header={"kind": "real"}, stamp=STAMP)


def test_a_case_is_begun_once(tmp_path: Path) -> None:
    trail = short_trail(tmp_path, 3)
    before = trail.path.read_bytes()
    with pytest.raises(InputRefused, match="already"):
        short_trail(tmp_path, 1)
    assert trail.path.read_bytes() == before
    trail.path.unlink()
    with pytest.raises(InputRefused, match="its trail is gone"):
        short_trail(tmp_path, 1)


@pytest.mark.parametrize("case", ["../x-1", "oak", "Oak-1", "oak-17/..", "oak_17", "oak-17\n", "", "1-oak", "o-1",
                                  "smith-1985", "oak-12345", "oak-1.jsonl", "oak-١"])  # fmt: skip
def test_a_case_name_is_words_and_a_number_and_leads_nowhere_else(tmp_path: Path, case: str) -> None:
    with pytest.raises(InputRefused, match="T-CASE"):
        Trail.create(tmp_path, case, kind="real", header={}, stamp=STAMP)
    with pytest.raises(InputRefused, match="T-CASE"):
        Trail.open(tmp_path, case)
    assert list(tmp_path.iterdir()) == []


def test_an_unknown_case_names_the_nearest(tmp_path: Path) -> None:
    short_trail(tmp_path, 1)
    with pytest.raises(InputRefused, match="nearest: oak-17"):
        Trail.open(tmp_path, "oak-71")


def test_the_state_folder() -> None:
    assert home({"REASONER_HOME": "/a", "XDG_STATE_HOME": "/b", "HOME": "/c"}) == Path("/a")
    assert home({"REASONER_HOME": "", "XDG_STATE_HOME": "/b", "HOME": "/c"}) == Path("/b/reasoner")
    assert home({"XDG_STATE_HOME": "relative", "HOME": "/c"}) == Path("/c/.local/state/reasoner")
    assert home({"REASONER_HOME": "here"}).is_absolute()


# ------------------------------------------------------------------------------------------------ two windows


def test_a_second_window_s_lines_are_taken_in(tmp_path: Path) -> None:
    first = short_trail(tmp_path, 2)
    second = Trail.open(tmp_path, "oak-17")
    note(second, 20, texts={"words": "from the other window"})
    mine = note(first, 30)
    assert mine.seq == 4
    assert [e.payload.get("n") for e in first.entries] == [None, 2, 20, 30]
    assert first.entries[2].texts == {"words": "from the other window"}
    assert problems_of(first) == []


def test_a_window_that_fell_behind_can_ask_to_be_refused(tmp_path: Path) -> None:
    first = short_trail(tmp_path, 2)
    second = Trail.open(tmp_path, "oak-17")
    note(second, 20, after=2)
    with pytest.raises(InputRefused, match="went on elsewhere"):
        note(first, 30, after=2)
    assert [e.payload.get("n") for e in read(first.path)[0]] == [None, 2, 20]


def test_a_trail_cut_short_or_changed_while_open_is_not_written_on(tmp_path: Path) -> None:
    trail = short_trail(tmp_path, 4)
    whole = trail.path.read_bytes()
    for damaged in (
        whole[: whole.rindex(b"\n", 0, -1) + 1],  # last line gone
        whole.replace(b'"n":4', b'"n":5'),
        b"",
    ):
        trail.path.write_bytes(damaged)
        with pytest.raises(InputRefused):
            note(trail, 9)
        assert trail.path.read_bytes() == damaged
    trail.path.write_bytes(whole)
    assert note(trail, 9).seq == 5


# ------------------------------------------------------------------------------------------------ torn tails


def test_a_torn_tail_is_moved_aside_and_the_next_line_is_readable(tmp_path: Path) -> None:
    trail = short_trail(tmp_path, 3)
    for number, tail in enumerate([b'{"seq":4,"at":"20', b"\x00" * 300], 1):
        with trail.path.open("ab") as file:
            file.write(tail)
        again = Trail.open(tmp_path, "oak-17")
        assert [(p.code, p.level) for p in again.problems] == [("T-TORN", "info")]
        note(again, 9)
        assert problems_of(again) == []
        side = trail.path.with_suffix(f".torn-{number}")
        assert side.read_bytes() == tail
        assert stat.S_IMODE(side.stat().st_mode) == 0o600


def test_a_whole_line_that_lacks_only_its_newline_is_kept(tmp_path: Path) -> None:
    trail = short_trail(tmp_path, 3)
    anchor = anchor_file(tmp_path, "oak-17")
    before = anchor.read_bytes()
    note(trail, 4)
    anchor.write_bytes(before)  # killed between the last byte and the anchor
    trail.path.write_bytes(trail.path.read_bytes()[:-1])
    again = Trail.open(tmp_path, "oak-17")
    assert [e.payload.get("n") for e in again.entries] == [None, 2, 3, 4]
    note(again, 5)
    assert problems_of(again) == []
    assert not list(trail.path.parent.glob("*.torn-*"))


def test_text_of_a_line_that_was_never_written_cannot_pass_for_the_next_line_s(tmp_path: Path) -> None:
    trail = short_trail(tmp_path, 2)
    folder = text_folder(trail.path)
    note(trail, 3, texts={"words": "kept"})
    orphan = folder / "000004.json"
    orphan.write_bytes((folder / "000003.json").read_bytes())
    assert [(p.code, p.level) for p in verify(trail.path, anchor_file(tmp_path, "oak-17"))] == [("T-TEXT", "info")]
    note(trail, 4)
    assert not orphan.exists()
    assert problems_of(trail) == []


# ------------------------------------------------------------------------------------------------ text


def test_removed_text_leaves_no_byte_and_the_chain_verifies(tmp_path: Path) -> None:
    trail = short_trail(tmp_path, 2)
    note(trail, 3, texts={"words": "her neighbour's dog", "plan": "stairs in small doses"})
    hashes = [e.hash for e in trail.entries]
    trail.redact(3, ["words"], LATER)
    assert problems_of(trail) == []
    entries, _ = read(trail.path)
    assert entries[2].texts == {"words": REMOVED, "plan": "stairs in small doses"}
    assert [e.hash for e in entries[:3]] == hashes
    everything = b"".join(p.read_bytes() for p in tmp_path.rglob("*") if p.is_file())
    assert b"neighbour" not in everything
    assert b"small doses" in everything
    trail.redact(3, ["words"], LATER)  # again, as after being cut short
    assert problems_of(trail) == []


def test_only_a_text_that_is_there_can_be_removed(tmp_path: Path) -> None:
    trail = short_trail(tmp_path, 3)
    for seq, names in [(2, ["words"]), (3, ["other"]), (3, []), (99, ["words"]), (0, ["words"])]:
        with pytest.raises(InputRefused, match="T-TEXT"):
            trail.redact(seq, names, STAMP)
    assert len(read(trail.path)[0]) == 3


def test_text_that_is_missing_or_changed_is_named_and_never_shown_as_written(tmp_path: Path) -> None:
    trail = short_trail(tmp_path, 4)
    file = text_folder(trail.path) / "000003.json"
    original = file.read_bytes()

    def found() -> tuple[str, list[int]]:
        entries, problems = read(trail.path)
        assert {p.code for p in problems} == {"T-TEXT"}
        return entries[2].texts["words"], [p.line for p in problems]

    file.write_bytes(original.replace(b"hurt", b"help"))
    assert found() == (CHANGED, [3])
    file.write_bytes(b"not json")
    assert found() == (CHANGED, [3])
    file.write_bytes(json.dumps({"words": {"removed": True}}, separators=(",", ":")).encode() + b"\n")
    assert found() == (REMOVED, [3])  # removed, but no line records it
    file.unlink()
    assert found() == (MISSING, [3])
    opened = Trail.open(tmp_path, "oak-17")  # a damaged note does not stop work on a patient, but is told
    assert [p.code for p in opened.problems] == ["T-TEXT"]
    assert note(opened, 5).seq == 5


def test_a_removal_that_was_recorded_but_not_done_is_found(tmp_path: Path) -> None:
    trail = short_trail(tmp_path, 3)
    trail.append(
        "text_removed", {"of": 3, "texts": ["words"]}, at=STAMP.at, by="KM", role="x", knowledge=""
    )  # fmt: skip
    assert [(p.code, p.line) for p in verify(trail.path, anchor_file(tmp_path, "oak-17")) if p.level == "error"] == [
        ("T-TEXT", 3)
    ]


@pytest.mark.parametrize("words", ["\ud800", "a\x00b", "x" * 1_000_001])
def test_text_that_could_not_be_read_back_is_refused(tmp_path: Path, words: str) -> None:
    trail = short_trail(tmp_path, 2)
    before = trail.path.read_bytes()
    with pytest.raises(InputRefused, match="cannot be recorded"):
        note(trail, 3, texts={"words": words})
    assert trail.path.read_bytes() == before
    assert problems_of(trail) == []


# ------------------------------------------------------------------------------------------------ when the system fails


def failing(monkeypatch: pytest.MonkeyPatch, name: str, error: int, at: int) -> None:
    """Let the `at`-th call of os.`name` fail; later ones work again."""
    real: Callable[..., Any] = getattr(os, name)
    calls = iter(range(1, 1000))

    def call(*args: Any, **more: Any) -> Any:
        if next(calls) == at:
            raise OSError(error, os.strerror(error))
        return real(*args, **more)

    monkeypatch.setattr(os, name, call)


def refusal(trail: Trail, number: int) -> InputRefused | None:
    """What an append with text refuses with; None if it went through."""
    try:
        note(trail, number, texts={"words": "some words"})
    except InputRefused as told:
        return told
    return None


@pytest.mark.parametrize("error", [errno.ENOSPC, errno.EACCES, errno.EROFS, errno.EIO])
@pytest.mark.parametrize("name", ["open", "write", "fsync", "replace"])
def test_a_step_that_fails_records_nothing_and_says_so_in_one_line(tmp_path: Path, name: str, error: int) -> None:
    trail = short_trail(tmp_path, 3)
    failed = 0
    for at in range(1, 20):
        before = trail.path.read_bytes()
        with pytest.MonkeyPatch.context() as patch:
            failing(patch, name, error, at)
            told = refusal(trail, 10 + at)
        if told is None:
            break  # this call is beyond the last of an append
        failed += 1
        assert len(told.problems) == 1
        assert "\n" not in str(told)
        assert trail.path.read_bytes() == before
        assert all(p.level == "info" for p in verify(trail.path, anchor_file(tmp_path, "oak-17")))
    assert failed >= 1
    assert note(trail, 99).payload == {"n": 99}
    assert problems_of(trail) == []


def test_an_interrupt_while_writing_takes_the_line_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    trail = short_trail(tmp_path, 3)
    before = trail.path.read_bytes()

    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("reasoner.trail.store.write_anchor", interrupted)
    with pytest.raises(KeyboardInterrupt):
        note(trail, 4)
    monkeypatch.undo()
    assert trail.path.read_bytes() == before
    note(trail, 5)
    assert problems_of(trail) == []


def test_a_disk_that_takes_part_of_a_line_keeps_the_trail_whole(tmp_path: Path) -> None:
    """A real limit of the system: files may not grow beyond some bytes, as on a full disk."""
    trail = short_trail(tmp_path, 3)
    limit = trail.path.stat().st_size + 200  # less than a line
    script = f"""
import resource, sys
from pathlib import Path
from reasoner.problems import InputRefused
from reasoner.trail.store import Trail
from tests.trail.build import note
trail = Trail.open(Path({str(tmp_path)!r}), "oak-17")
resource.setrlimit(resource.RLIMIT_FSIZE, ({limit}, {limit}))
try:
    note(trail, 4)
except InputRefused as refusal:
    print(refusal)
    sys.exit(2)
"""
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 2, done.stderr
    assert done.stdout.count("\n") == 1
    assert "grow" in done.stdout
    assert problems_of(trail) == []
    note(trail, 5)
    assert problems_of(trail) == []


def test_missing_unreadable_or_odd_places_are_one_clear_line(tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    with pytest.raises(InputRefused, match="a file stands where a folder"):
        short_trail(blocked / "state", 1)
    trail = short_trail(tmp_path / "state", 2)
    target = tmp_path / "elsewhere.jsonl"
    trail.path.rename(target)
    trail.path.symlink_to(target)
    with pytest.raises(InputRefused, match="symbolic link"):
        note(trail, 3)
    trail.path.unlink()
    trail.path.mkdir()
    with pytest.raises(InputRefused, match="a folder, not a file"):
        Trail.open(trail.home, "oak-17")
    trail.path.rmdir()
    os.mkfifo(trail.path)
    with pytest.raises(InputRefused, match="not an ordinary file"):  # and does not wait for a writer
        Trail.open(trail.home, "oak-17")
    with pytest.raises(InputRefused, match="it is not there"):
        read(tmp_path / "nowhere.jsonl")


def test_no_permission_is_one_clear_line(tmp_path: Path) -> None:
    """In a process of its own that gives up the right to write everywhere, where it has it."""
    trail = short_trail(tmp_path, 2)
    for path in [tmp_path, *tmp_path.rglob("*")]:
        path.chmod(0o555 if path.is_dir() else 0o444)
    script = f"""
import os
from pathlib import Path
from reasoner.problems import InputRefused
from reasoner.trail.store import Trail
from tests.trail.build import note, short_trail
home = Path({str(tmp_path)!r})
os.chdir(home)
trail = Trail.open(home, "oak-17")
if os.geteuid() == 0:
    os.seteuid(65534)
for step in (lambda: note(trail, 3), lambda: short_trail(Path("."), 1, case="elm-3")):
    try:
        step()
        print("written")
    except InputRefused as refusal:
        print(refusal)
"""
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=60, check=False)
    for path in [tmp_path, *tmp_path.rglob("*")]:
        path.chmod(0o755 if path.is_dir() else 0o644)
    assert done.stderr == ""
    assert [line.rsplit(": ", 1)[1].split(";")[0] for line in done.stdout.splitlines()] == ["no permission"] * 2
    assert len(read(trail.path)[0]) == 2


def test_a_vanished_folder_is_refused_and_nothing_is_made_in_its_place(tmp_path: Path) -> None:
    trail = short_trail(tmp_path / "state", 2)
    (tmp_path / "state").rename(tmp_path / "moved")
    with pytest.raises(InputRefused, match="not there"):
        note(trail, 3)
    assert not (tmp_path / "state").exists()
    (tmp_path / "moved").rename(tmp_path / "state")
    assert note(trail, 3).seq == 3


def test_another_case_s_trail_under_this_name_is_refused(tmp_path: Path) -> None:
    short_trail(tmp_path, 2)
    short_trail(tmp_path, 2, case="elm-3")
    (tmp_path / "cases" / "elm-3.jsonl").replace(tmp_path / "cases" / "oak-17.jsonl")
    with pytest.raises(InputRefused, match="holds the case 'elm-3'"):
        Trail.open(tmp_path, "oak-17")


def test_a_clock_that_goes_back_is_recorded_in_order_and_said(tmp_path: Path) -> None:
    trail = short_trail(tmp_path, 2)
    trail.append("noted", {}, at=STAMP.at - timedelta(days=1), by="KM", role="x", knowledge="")
    found = verify(trail.path, anchor_file(tmp_path, "oak-17"))
    assert [(p.code, p.level, p.line) for p in found] == [("T-CLOCK", "info", 3)]


def test_a_lost_anchor_does_not_stop_work_and_its_new_beginning_is_said(tmp_path: Path) -> None:
    trail = short_trail(tmp_path, 3)
    anchor_file(tmp_path, "oak-17").unlink()
    assert [(p.code, p.level) for p in verify(trail.path, anchor_file(tmp_path, "oak-17"))] == [("T-ANCHOR", "error")]
    again = Trail.open(tmp_path, "oak-17")
    assert [p.code for p in again.problems] == ["T-ANCHOR"]
    note(again, 4)
    note(again, 5)
    found = verify(trail.path, anchor_file(tmp_path, "oak-17"))
    assert [(p.code, p.level, p.line) for p in found] == [("T-ANCHOR", "info", 4)]


def test_a_kill_between_the_first_line_and_its_anchor_is_normal(tmp_path: Path) -> None:
    trail = short_trail(tmp_path, 1)
    anchor_file(tmp_path, "oak-17").unlink()
    assert problems_of(trail) == []
    note(Trail.open(tmp_path, "oak-17"), 2)
    assert problems_of(trail) == []


def test_the_lock_file_says_nothing_about_the_patient(tmp_path: Path) -> None:
    short_trail(tmp_path, 3)
    told = json.loads(lock_file(tmp_path, "oak-17").read_bytes())
    assert set(told) == {"process", "machine"}
