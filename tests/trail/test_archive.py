"""Knowledge kept by digest."""

from __future__ import annotations

import os
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reasoner.problems import InputRefused
from reasoner.trail.archive import keep, stored
from tests.strategies import CALM

FILES = {"policy.yaml": b"a: 1\n", "ankle/findings/x.yaml": b"id: x\n"}
DIGEST = "0123456789abcdef" * 4


def test_what_is_kept_is_what_was_loaded(tmp_path: Path) -> None:
    assert stored(tmp_path, DIGEST) is None
    folder = keep(tmp_path, DIGEST, FILES)
    assert stored(tmp_path, DIGEST) == FILES
    assert stored(tmp_path, "sha256:" + DIGEST) == FILES
    times = {p: p.stat().st_mtime_ns for p in folder.rglob("*")}
    keep(tmp_path, DIGEST, FILES)  # once
    assert {p: p.stat().st_mtime_ns for p in folder.rglob("*")} == times


def test_a_copy_of_an_earlier_version_a_file_each_is_still_read(tmp_path: Path) -> None:
    folder = keep(tmp_path, DIGEST, FILES)
    (folder / "files.tar").unlink()
    for name, data in FILES.items():
        (folder / "files" / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / "files" / name).write_bytes(data)
    assert stored(tmp_path, DIGEST) == FILES
    (folder / "files" / "policy.yaml").write_bytes(b"a: 2\n")
    with pytest.raises(InputRefused, match=r"first: policy\.yaml"):
        stored(tmp_path, DIGEST)


def test_a_copy_cut_short_is_not_taken_for_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def killed(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(os, "rename", killed)
        with pytest.raises(KeyboardInterrupt):
            keep(tmp_path, DIGEST, FILES)
    assert stored(tmp_path, DIGEST) is None
    keep(tmp_path, DIGEST, FILES)
    assert stored(tmp_path, DIGEST) == FILES
    assert [p.name for p in (tmp_path / "archive").iterdir()] == [DIGEST]


def test_a_changed_or_lost_file_is_refused(tmp_path: Path) -> None:
    folder = keep(tmp_path, DIGEST, FILES)
    tar = folder / "files.tar"
    whole = tar.read_bytes()
    tar.write_bytes(whole.replace(b"a: 1\n", b"a: 2\n"))
    with pytest.raises(InputRefused, match=r"first: policy\.yaml"):
        stored(tmp_path, DIGEST)
    tar.write_bytes(whole.replace(b"policy.yaml", b"police.yaml"))
    with pytest.raises(InputRefused, match="of its files"):
        stored(tmp_path, DIGEST)
    tar.unlink()
    with pytest.raises(InputRefused):
        stored(tmp_path, DIGEST)
    (folder / "files.json").write_bytes(b"{")
    with pytest.raises(InputRefused, match="damaged"):
        stored(tmp_path, DIGEST)


@given(st.data())
@CALM
def test_any_damage_is_refused_and_nothing_else_is_raised(data: st.DataObject) -> None:
    """One byte changed, an end cut off or bytes put in: the files as they were, or refused."""
    with TemporaryDirectory() as name:
        tar = keep(Path(name), DIGEST, FILES) / "files.tar"
        raw = bytearray(tar.read_bytes())
        place = data.draw(st.integers(0, 2048))
        match data.draw(st.sampled_from(["change", "cut", "insert"])):
            case "change":
                raw[place] = data.draw(st.integers(0, 255))
            case "cut":
                del raw[place:]
            case _:
                raw[place:place] = data.draw(st.binary(min_size=1, max_size=600))
        tar.write_bytes(bytes(raw))
        refused = ""
        found = None
        try:
            found = stored(Path(name), DIGEST)
        except InputRefused as told:
            refused = told.problems[0].code
        assert found == FILES or refused == "T-ARCHIVE"


def test_few_things_are_made_sure_of_on_disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """However many files the knowledge has: each wait for the disk is some milliseconds."""
    count, real = [0], os.fsync

    def counted(handle: int) -> None:
        count[0] += 1
        real(handle)

    monkeypatch.setattr(os, "fsync", counted)
    keep(tmp_path, DIGEST, {f"{k}.yaml": b"x" for k in range(1000)})
    assert len(stored(tmp_path, DIGEST) or {}) == 1000
    assert 0 < count[0] < 12


@pytest.mark.parametrize("name", ["../x", "/etc/x", "a/../../x", "", "a\\..\\x", "a\x00"])
def test_names_lead_nowhere_else(tmp_path: Path, name: str) -> None:
    with pytest.raises(ValueError, match="not a name inside"):
        keep(tmp_path, DIGEST, {name: b""})
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("digest", ["..", "a/b", "", "xyz", "../" * 5 + "0123456789"])
def test_a_digest_is_a_digest(tmp_path: Path, digest: str) -> None:
    with pytest.raises(InputRefused, match="not a digest"):
        stored(tmp_path, digest)
