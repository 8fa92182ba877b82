"""Every change to a trail is found, with its line."""

from __future__ import annotations

import hashlib
import json
import os
import time
from pathlib import Path

import pytest

from reasoner.trail.anchor import Anchor
from reasoner.trail.line import FIRST_PREVIOUS, encode
from reasoner.trail.paths import anchor_file, text_folder
from reasoner.trail.read import MAX_PROBLEMS, read
from reasoner.trail.store import Trail
from reasoner.trail.verify import verify, verify_all
from tests.trail.build import START, short_trail


@pytest.fixture
def trail(tmp_path: Path) -> Trail:
    """Four lines, one text."""
    return short_trail(tmp_path, 4)


def errors(trail: Trail) -> list[tuple[str, int]]:
    """(code, line) of everything that is not merely said."""
    found = verify(trail.path, anchor_file(trail.home, trail.case))
    return [(p.code, p.line) for p in found if p.level == "error"]


def test_an_untouched_trail_has_no_problem(trail: Trail) -> None:
    assert verify(trail.path, anchor_file(trail.home, trail.case)) == []


def test_every_single_byte_changed_removed_or_added_is_found(tmp_path: Path) -> None:
    trail = short_trail(tmp_path, 3)
    raw = trail.path.read_bytes()
    missed = []
    for at in range(len(raw)):
        flip = raw[at] ^ (1 << (at % 8))
        for changed in (
            raw[:at] + bytes([flip]) + raw[at + 1 :],
            raw[:at] + raw[at + 1 :],
            raw[:at] + b"0" + raw[at:],
        ):
            trail.path.write_bytes(changed)
            if not errors(trail):
                missed.append((at, changed[at : at + 5]))
    assert len(raw) > 1000
    assert missed == []


def test_every_single_byte_of_text_and_anchor_is_covered(trail: Trail) -> None:
    for file in (text_folder(trail.path) / "000003.json", anchor_file(trail.home, trail.case)):
        raw = file.read_bytes()
        for at in range(len(raw)):
            for changed in (
                raw[:at] + bytes([raw[at] ^ 1]) + raw[at + 1 :],
                raw[:at] + raw[at + 1 :],
                raw[:at] + b" " + raw[at:],
            ):
                file.write_bytes(changed)
                assert verify(trail.path, anchor_file(trail.home, trail.case)), (file.name, at)
        file.write_bytes(raw)
    assert verify(trail.path, anchor_file(trail.home, trail.case)) == []


def test_lines_removed_doubled_or_swapped_are_found_where_they_are(trail: Trail) -> None:
    lines = trail.path.read_bytes().splitlines(keepends=True)

    def found(*order: int) -> list[tuple[str, int]]:
        trail.path.write_bytes(b"".join(lines[i - 1] for i in order))
        return errors(trail)

    assert ("T-CHAIN", 2) in found(1, 3, 4)
    assert ("T-CHAIN", 1) in found(2, 3, 4)
    assert ("T-CHAIN", 3) in found(1, 2, 2, 3, 4)
    assert ("T-CHAIN", 2) in found(1, 3, 2, 4)
    assert found(1, 2, 3) == [("T-END", 4)]
    assert found(1, 2) == [("T-END", 3)]
    assert ("T-END", 1) in found()
    assert found(1, 2, 3, 4) == []


def test_a_trail_written_anew_from_some_line_on_is_found_by_the_anchor(trail: Trail, tmp_path: Path) -> None:
    entries = trail.entries
    raw = trail.path.read_bytes().splitlines(keepends=True)
    forged = encode(
        4, entries[2].hash, "noted", {"n": 40}, at=START, by="KM", role="physiotherapist", knowledge="k", text_hashes={}
    )
    trail.path.write_bytes(b"".join(raw[:3]) + forged + b"\n")
    found = verify(trail.path, anchor_file(tmp_path, "oak-17"))
    assert [(p.code, p.line) for p in found if p.level == "error"] == [("T-END", 4)]
    assert all(p.level == "info" for p in verify(trail.path, None))  # without the anchor nobody can know


def test_an_anchor_behind_is_normal_and_one_ahead_is_not(trail: Trail) -> None:
    anchor = anchor_file(trail.home, trail.case)
    anchor.write_bytes(Anchor(3, trail.entries[2].hash).bytes())
    assert errors(trail) == []
    anchor.write_bytes(Anchor(3, trail.entries[1].hash).bytes())
    assert errors(trail) == [("T-END", 3)]
    anchor.write_bytes(Anchor(5, trail.entries[3].hash).bytes())
    assert errors(trail) == [("T-END", 5)]


def test_a_torn_line_is_normal_unless_the_anchor_says_it_was_acknowledged(trail: Trail) -> None:
    raw = trail.path.read_bytes()
    trail.path.write_bytes(raw + b'{"seq":5')
    assert [(p.code, p.level) for p in verify(trail.path, anchor_file(trail.home, trail.case))] == [("T-TORN", "info")]
    trail.path.write_bytes(raw[:-30])
    assert {code for code, _ in errors(trail)} == {"T-TORN", "T-END"}
    trail.path.write_bytes(raw[:-1])
    assert errors(trail) == [("T-TORN", 4)]


def test_every_line_after_a_bad_one_is_still_read(trail: Trail) -> None:
    lines = trail.path.read_bytes().splitlines(keepends=True)
    trail.path.write_bytes(lines[0] + b"garbage\n" + lines[2] + lines[3])
    entries, problems = read(trail.path)
    assert [e.seq for e in entries] == [1, 3, 4]
    assert [(p.code, p.line) for p in problems] == [("T-LINE", 2)]


def test_endless_lines_and_endless_garbage_end(tmp_path: Path) -> None:
    file = tmp_path / "oak-17.jsonl"
    file.write_bytes(b"x" * 3_000_000)
    _, problems = read(file)
    assert any(p.code == "T-LINE" and "more than" in p.message for p in problems)
    file.write_bytes(b"{}\n" * 200_000)
    entries, problems = read(file)
    assert entries == []
    assert len(problems) == MAX_PROBLEMS + 2  # a hundred, how many more, and that nothing is recorded in it
    assert "199900 more" in problems[-2].message


def test_a_copy_without_its_anchor_says_what_cannot_be_seen(trail: Trail, tmp_path: Path) -> None:
    found = verify(trail.path, None)
    assert [(p.code, p.level) for p in found] == [("T-ANCHOR", "info")]


def test_all_trails_and_anchors_without_one(tmp_path: Path) -> None:
    assert verify_all(tmp_path) == {}
    first, second = short_trail(tmp_path, 3), short_trail(tmp_path, 2, case="elm-3")
    third = short_trail(tmp_path, 2, case="ash-9")
    second.path.unlink()
    third.path.write_bytes(b"")
    found = verify_all(tmp_path)
    assert found[first.path] == []
    assert [p.code for p in found[second.path]] == ["T-END"]
    assert {p.code for p in found[third.path]} == {"T-EMPTY", "T-END"}
    assert len(found) == 3


def test_a_trail_is_read_in_time_that_grows_with_its_bytes(tmp_path: Path) -> None:
    """5,000 lines, against parsing and hashing the same bytes with the standard library in the same run."""
    previous, lines = FIRST_PREVIOUS, []
    for seq in range(1, 5001):
        event, payload = ("case_opened", {"case": "oak-17", "kind": "demo"}) if seq == 1 else ("answered", {"n": seq})
        raw = encode(
            seq, previous, event, payload, at=START, by="KM", role="x", knowledge="ab" * 32, text_hashes={}
        )  # fmt: skip
        previous = json.loads(raw)["hash"]
        lines.append(raw)
    file = tmp_path / "oak-17.jsonl"
    file.write_bytes(b"\n".join(lines) + b"\n")

    def bare() -> None:
        for raw in file.read_bytes().splitlines():
            json.loads(raw)
            hashlib.sha256(raw).hexdigest()

    def timed(call: object) -> float:
        start = time.perf_counter()
        call()  # type: ignore[operator]
        return time.perf_counter() - start

    entries, problems = read(file)
    assert (len(entries), problems) == (5000, [])
    ratio = min(timed(lambda: read(file)) for _ in range(3)) / min(timed(bare) for _ in range(3))
    assert ratio < 15


def test_names_that_are_not_cases_do_not_confuse_the_list(tmp_path: Path) -> None:
    short_trail(tmp_path, 2)
    (tmp_path / "cases" / "oak-17 (copy).jsonl").write_bytes((tmp_path / "cases" / "oak-17.jsonl").read_bytes())
    found = verify_all(tmp_path)
    copy = found[tmp_path / "cases" / "oak-17 (copy).jsonl"]
    assert {p.code for p in copy if p.level == "error"} >= {"T-CASE"}
    assert os.listdir(tmp_path / "anchors") == ["oak-17.json"]
