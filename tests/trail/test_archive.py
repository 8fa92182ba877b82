"""Knowledge kept by digest."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from reasoner.problems import InputRefused
from reasoner.trail.archive import keep, stored

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
    file = folder / "files" / "policy.yaml"
    file.write_bytes(b"a: 2\n")
    with pytest.raises(InputRefused, match=r"first: policy\.yaml"):
        stored(tmp_path, DIGEST)
    file.unlink()
    with pytest.raises(InputRefused, match="1 of its files"):
        stored(tmp_path, DIGEST)
    (folder / "files.json").write_bytes(b"{")
    with pytest.raises(InputRefused, match="damaged"):
        stored(tmp_path, DIGEST)


@pytest.mark.parametrize("name", ["../x", "/etc/x", "a/../../x", "", "a\\..\\x", "a\x00"])
def test_names_lead_nowhere_else(tmp_path: Path, name: str) -> None:
    with pytest.raises(ValueError, match="not a name inside"):
        keep(tmp_path, DIGEST, {name: b""})
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("digest", ["..", "a/b", "", "xyz", "../" * 5 + "0123456789"])
def test_a_digest_is_a_digest(tmp_path: Path, digest: str) -> None:
    with pytest.raises(InputRefused, match="not a digest"):
        stored(tmp_path, digest)
