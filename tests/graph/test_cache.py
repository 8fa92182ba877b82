"""Knowledge kept between starts is the same knowledge, or is read afresh."""

from __future__ import annotations

import dataclasses
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from reasoner.cli import main
from reasoner.commands import load_knowledge
from reasoner.graph import load as load_module
from reasoner.graph.cache import kept
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.load import default_folder, digest_of, load
from reasoner.graph.records import Place
from reasoner.trail.paths import home
from tests.tiny_pack import TINY, write_pack


def exactly(value: Any, lines: bool = True) -> Any:
    """A value with the type of every part, so that 1 and 1.0, or a list and a tuple, are told apart."""
    if isinstance(value, Place) and not lines:
        return value.file, value.line, value.overlaid
    if dataclasses.is_dataclass(value):
        return type(value), {f.name: exactly(getattr(value, f.name), lines) for f in dataclasses.fields(value)}
    if isinstance(value, (list, tuple)):
        return type(value), [exactly(item, lines) for item in value]
    if isinstance(value, dict) or hasattr(value, "items"):
        return {key: exactly(item, lines) for key, item in value.items()}
    return type(value), value


@pytest.mark.parametrize("which", ["tiny", "shipped"])
def test_kept_knowledge_is_the_same_to_the_type_and_line(which: str, tiny_folder: Path, tmp_path: Path) -> None:
    folder = tiny_folder if which == "tiny" else default_folder()
    first, problems = load(folder, cache=tmp_path / "kept.json")
    assert problems == []
    second, _ = load(folder, cache=tmp_path / "kept.json")
    assert first is not None
    assert second is not None
    assert second is not first
    assert list(second.findings) == list(first.findings)
    lines = which == "tiny"  # of every field: thousands of files to read again for the shipped knowledge
    assert exactly(second, lines) == exactly(first, lines)


@pytest.fixture
def reads(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """One entry a time that knowledge is read afresh."""
    seen: list[int] = []
    original = load_module._read

    def counting(*args: Any) -> Any:
        seen.append(1)
        return original(*args)

    monkeypatch.setattr(load_module, "_read", counting)
    return seen


def test_read_once_and_again_when_anything_changed(tmp_path: Path, reads: list[int]) -> None:
    folder, cache = write_pack(tmp_path / "pack"), tmp_path / "kept.json"
    for _ in range(3):
        load(folder, cache=cache)
    assert len(reads) == 1
    write_pack(folder, {"policy.yaml": TINY["policy.yaml"] + "# a remark\n"})
    changed, _ = load(folder, cache=cache)
    assert len(reads) == 2
    assert changed is not None
    (folder / "ankle/options/explanation.yaml").rename(folder / "ankle/options/talk.yaml")
    load(folder, cache=cache)
    assert len(reads) == 3


@pytest.mark.parametrize("damage", ["cut", "changed", "empty", "not json", "not text", "other hash", "old code"])
def test_a_damaged_file_is_read_afresh_with_a_line(damage: str, tmp_path: Path, reads: list[int]) -> None:
    folder, cache = write_pack(tmp_path / "pack"), tmp_path / "kept.json"
    good, _ = load(folder, cache=cache)
    data = cache.read_bytes()
    head, _, body = data.partition(b"\n")
    cache.write_bytes(
        {
            "cut": data[:-100],
            "changed": data.replace(b"fever", b"fewer"),
            "empty": b"",
            "not json": head + b"\nnothing",
            "not text": bytes(range(128, 256)),
            "other hash": head.split()[0] + b" " + b"0" * 64 + b"\n" + body,
            "old code": b"0" * 64 + b" " + head.split()[1] + b"\n" + body,
        }[damage]
    )
    again, problems = load(folder, cache=cache)
    assert len(reads) == 2
    expected = [] if damage == "old code" else [("F-KEPT", "info", str(cache))]  # another version is no damage
    assert [(p.code, p.level, p.file) for p in problems] == expected
    assert exactly(again) == exactly(good)
    assert load(folder, cache=cache)[1] == []
    assert len(reads) == 2


def test_a_command_says_that_the_cache_is_damaged_and_goes_on(
    tiny_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    load_knowledge(tiny_folder)
    (cache,) = (home(os.environ) / "cache").iterdir()
    cache.write_bytes(cache.read_bytes()[:-9])
    capsys.readouterr()
    assert load_knowledge(tiny_folder).digest
    told = capsys.readouterr()
    assert told.out == ""
    assert len(told.err.splitlines()) == 1
    assert "read afresh" in told.err
    load_knowledge(tiny_folder)
    assert capsys.readouterr().err == ""


def test_evidence_is_made_when_it_is_asked_for(tmp_path: Path, tiny_folder: Path) -> None:
    cache = tmp_path / "kept.json"
    load(tiny_folder, cache=cache)
    again, _ = load(tiny_folder, cache=cache)
    assert again is not None
    ident = next(iter(again.evidence))
    assert again.evidence._made == {}  # type: ignore[attr-defined]
    assert again.evidence[ident].id == ident
    assert again.evidence[ident] is again.evidence[ident]
    assert list(again.evidence._made) == [ident]  # type: ignore[attr-defined]
    assert "nothing such" not in again.evidence


def test_nothing_with_problems_is_kept(tmp_path: Path) -> None:
    folder, cache = write_pack(tmp_path / "pack", {"scales.yaml": "words: []\n"}), tmp_path / "kept.json"
    assert load(folder, cache=cache)[0] is None
    assert not cache.exists()


def test_nowhere_to_keep_it_is_no_failure(tmp_path: Path, tiny_folder: Path) -> None:
    knowledge, problems = load(tiny_folder, cache=tmp_path / "no such folder" / "kept.json")
    assert knowledge is not None
    assert problems == []


def test_kept_file_is_private_and_alone(tmp_path: Path, tiny_folder: Path, tiny_knowledge: Knowledge) -> None:
    cache = tmp_path / "place" / "kept.json"
    cache.parent.mkdir()
    load(tiny_folder, cache=cache)
    assert cache.stat().st_mode & 0o777 == 0o600
    assert list(cache.parent.iterdir()) == [cache]
    files = {name: text.encode() for name, text in TINY.items()}
    assert kept(cache, digest_of(files), files) == (tiny_knowledge, [])
    assert kept(cache, "another digest", files) == (None, [])


def test_second_start_reads_no_yaml(tiny_folder: Path) -> None:
    probe = (
        "import sys; from reasoner.commands import load_knowledge; from pathlib import Path\n"
        "load_knowledge(Path(sys.argv[1]))\n"
        "import json; print(json.dumps(sorted({'yaml', 'pydantic', 'networkx'} & set(sys.modules))))"
    )
    command = [sys.executable, "-c", probe, str(tiny_folder)]
    loaded = [json.loads(subprocess.run(command, capture_output=True, check=True).stdout) for _ in range(2)]
    assert loaded == [["pydantic", "yaml"], []]


def test_check_is_worked_out_once_and_again_when_the_cache_is_damaged(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], reads: list[int]
) -> None:
    """Also where there are problems: they are those of the same bytes."""
    bad = {"ankle/options/explanation.yaml": TINY["ankle/options/explanation.yaml"].replace("lane: ", "laen: ")}
    folder = write_pack(tmp_path / "pack", bad)
    told = []
    for _ in range(2):
        assert main(["knowledge", "check", str(folder)]) == 1
        told.append(capsys.readouterr().out)
    assert "laen" in told[0]
    assert told[0] == told[1]
    assert len(reads) == 1
    (cache,) = (home(os.environ) / "cache").iterdir()
    cache.write_bytes(cache.read_bytes().replace(b"laen", b"lane"))
    assert main(["knowledge", "check", str(folder)]) == 1
    again = capsys.readouterr().out
    assert "laen" in again
    assert "F-KEPT: what was kept of the knowledge is damaged; it is passed over and read afresh" in again
    assert len(reads) == 2
    write_pack(folder, {"ankle/options/stray.yml": "x"})
    for _ in range(2):
        assert main(["knowledge", "check", str(folder)]) == 1
        assert "stray.yml" in capsys.readouterr().out
