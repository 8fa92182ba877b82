"""Files that somebody else made: whole, bounded, and never something that could not end."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from reasoner.reading import read_regular


@pytest.mark.parametrize("size", [0, 1, 99, 100])
def test_up_to_the_limit_it_is_read_whole(size: int, tmp_path: Path) -> None:
    path = tmp_path / "x"
    path.write_bytes(b"a" * size)
    assert read_regular(path, 100) == b"a" * size
    assert read_regular(str(path), 100) == b"a" * size


def test_more_than_the_limit_is_refused(tmp_path: Path) -> None:
    (tmp_path / "x").write_bytes(b"a" * 101)
    with pytest.raises(OSError, match="larger than 100 bytes"):
        read_regular(tmp_path / "x", 100)


def test_what_the_system_gives_in_parts_is_put_together(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "x").write_bytes(bytes(range(100)))
    whole = os.read
    monkeypatch.setattr(os, "read", lambda handle, count: whole(handle, min(count, 7)))
    assert read_regular(tmp_path / "x", 100) == bytes(range(100))


def test_a_file_that_has_grown_since_it_was_looked_at(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "x").write_bytes(b"a" * 90)
    found = os.fstat

    def looked(handle: int) -> os.stat_result:
        seen = found(handle)
        with (tmp_path / "x").open("ab") as file:
            file.write(b"b" * 20)
        return seen

    monkeypatch.setattr(os, "fstat", looked)
    assert read_regular(tmp_path / "x", 200) == b"a" * 90 + b"b" * 20
    with pytest.raises(OSError, match="larger"):
        read_regular(tmp_path / "x", 115)


def test_a_folder_and_a_pipe_are_no_ordinary_files(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(OSError, match="not an ordinary file"):
        read_regular(tmp_path / "pipe", 100)
    with pytest.raises(IsADirectoryError):
        read_regular(tmp_path, 100)
