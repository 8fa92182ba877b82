"""Moving house: everything arrives as it left, nothing leads elsewhere, and what is not in it is said."""

from __future__ import annotations

import errno
import gzip
import hashlib
import io
import json
import os
import stat
import tarfile
from collections.abc import Callable
from pathlib import Path

import pytest

from reasoner.cli import main
from reasoner.problems import InputRefused
from reasoner.review.remarks import add, remarks_of
from reasoner.trail import archive, clinic
from reasoner.trail.age import decrypted, encrypted, new_identity
from reasoner.trail.moving import arrive
from reasoner.trail.packs import gather, read_pack, write_pack
from reasoner.trail.store import Trail, read
from reasoner.trail.verify import verify_all
from tests.trail.build import STAMP, needs_age, note, short_trail


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two cases, a remark, an archived and a published copy of knowledge, a clinic folder, a letterhead, keys."""
    home, own = tmp_path / "old" / "home", tmp_path / "own"
    monkeypatch.setenv("REASONER_HOME", str(home))
    monkeypatch.setenv("REASONER_KEYS", str(tmp_path / "keys"))
    monkeypatch.setenv("REASONER_BY", "KM")
    trail = short_trail(home, 6)
    short_trail(home, 3, case="elm-3")
    add(trail.path, trail.entries, kind="remark", on=2, text="well seen", by="TK", role="mentor", at=STAMP.at)
    archive.keep(home, "ab" * 32, {"policy.yaml": b"a: 1\n", "ankle/findings/x.yaml": b"id: x\n"})
    own.mkdir()
    (own / "clinic.yaml").write_text("id: own\n")
    clinic.start_using(home, own)
    clinic.publish(home, {"clinic.yaml": b"id: own\n"}, at="2026-03-02", by="KM")
    (home / "letterhead").mkdir()
    (home / "letterhead" / "letterhead.toml").write_text("name = 'x'\n")
    (home / "cache").mkdir()
    (home / "cache" / "ankle.json").write_text("{}")
    (tmp_path / "keys").mkdir()
    (tmp_path / "keys" / "signing.key").write_text("cd" * 32)
    return home


def moved(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """The empty state folder of another machine."""
    new = tmp_path / "new" / "place"
    monkeypatch.setenv("REASONER_HOME", str(new))
    return new


def test_everything_arrives_and_verifies(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    pack = tmp_path / "house.pack"
    assert main(["pack", str(pack)]) == 0
    said = capsys.readouterr().out
    assert f"Not in it: keys ({tmp_path / 'keys'})" in said
    assert "Not encrypted" in said
    assert stat.S_IMODE(pack.stat().st_mode) == 0o600
    new = moved(monkeypatch, tmp_path)
    assert main(["unpack", str(pack)]) == 0
    assert "Keys were not in it" in capsys.readouterr().out
    for name in ("cases/oak-17.jsonl", "cases/oak-17.remarks", "cases/oak-17.texts/000003.json", "anchors/elm-3.json",
                 "letterhead/letterhead.toml", "archive/" + "ab" * 32 + "/files.tar"):  # fmt: skip
        assert (new / name).read_bytes() == (home / name).read_bytes(), name
    assert {p.name for p in new.iterdir()} == {"cases", "anchors", "archive", "letterhead", "clinic", "clinic.json"}
    assert {path.stem: found for path, found in verify_all(new).items()} == {"oak-17": [], "elm-3": []}
    assert len(remarks_of(new / "cases" / "oak-17.jsonl", read(new / "cases" / "oak-17.jsonl")[0])) == 1
    assert clinic.copy_files(new) == {"clinic.yaml": b"id: own\n"}
    now = clinic.in_use(new)
    assert now is not None
    assert now.folder == new / "clinic"
    assert all(stat.S_IMODE(p.stat().st_mode) == (0o700 if p.is_dir() else 0o600) for p in new.rglob("*"))
    note(Trail.open(new, "oak-17"), 7)


def test_no_absolute_path_is_inside(home: Path, tmp_path: Path) -> None:
    files = gather(home)
    assert all(not name.startswith("/") and ".." not in name for name in files)
    inside = b"".join([*files.values(), *(n.encode() for n in files)])
    assert str(tmp_path).encode() not in inside
    assert not any("key" in name or "cache" in name or name.endswith(".lock") for name in files)


def test_doing_it_again_changes_nothing_and_finishes_what_was_cut_short(home: Path, tmp_path: Path) -> None:
    pack, new = read_pack(write_pack(gather(home), STAMP.at), "p"), tmp_path / "new"
    with pytest.MonkeyPatch.context() as patch:
        real, left = os.rename, iter(range(100))

        def cut(*args: object) -> None:
            if next(left) == 6:
                raise KeyboardInterrupt
            real(*args)  # type: ignore[arg-type]

        patch.setattr("os.rename", cut)
        with pytest.raises(KeyboardInterrupt):
            arrive(new, pack, "p")
    assert arrive(new, pack, "p").same == 6
    assert verify_all(new)[new / "cases" / "oak-17.jsonl"] == []
    assert arrive(new, pack, "p").new == 0
    assert not [p for p in new.iterdir() if p.name.startswith(".arriving")]


def test_a_case_that_stands_here_and_differs_stops_all_of_it(home: Path, tmp_path: Path) -> None:
    pack, new = read_pack(write_pack(gather(home), STAMP.at), "p"), tmp_path / "new"
    note(short_trail(new, 3, case="elm-3"), 9)
    before = {p: p.read_bytes() for p in new.rglob("*") if p.is_file()}
    with pytest.raises(InputRefused, match=r"cases/elm-3\.jsonl is here already and differs"):
        arrive(new, pack, "p")
    assert {p: p.read_bytes() for p in new.rglob("*") if p.is_file()} == before


def test_a_damaged_trail_moves_too_and_is_told(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    path = home / "cases" / "elm-3.jsonl"
    path.write_bytes(path.read_bytes().replace(b'"n":2', b'"n":7'))
    assert main(["pack", str(tmp_path / "p")]) == 0
    assert "though not as recorded: elm-3" in capsys.readouterr().out
    new = moved(monkeypatch, tmp_path)
    assert main(["unpack", str(tmp_path / "p")]) == 1
    assert "cases/elm-3.jsonl:2: T-LINE" in capsys.readouterr().out
    assert (new / "cases" / "elm-3.jsonl").read_bytes() == path.read_bytes()


def test_a_disk_that_can_only_be_read_is_packed_all_the_same(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    real = os.open

    def read_only(path: str, how: int, *more: int, **named: int) -> int:
        if str(path).startswith(str(home)) and how & (os.O_WRONLY | os.O_RDWR):
            raise OSError(errno.EROFS, os.strerror(errno.EROFS), str(path))
        return real(path, how, *more, **named)

    monkeypatch.setattr(os, "open", read_only)
    assert main(["pack", str(tmp_path / "rescue")]) == 0
    assert "the disk is read-only" in capsys.readouterr().out  # that it was packed could not be noted there
    assert len(read_pack((tmp_path / "rescue").read_bytes(), "p").cases) == 2


def test_one_case_with_the_knowledge_it_used(home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    files = gather(home, ["elm-3"])
    assert {name.split("/")[1].split(".")[0] for name in files if name.startswith("cases/")} == {"elm-3"}
    assert {name.split("/")[1] for name in files if name.startswith("archive/")} == {"ab" * 32}
    assert main(["pack", str(tmp_path / "p"), "--case", "elm-4"]) == 2
    assert "nearest: elm-3" in capsys.readouterr().err
    assert main(["pack", str(tmp_path / "old" / "home" / "cases" / "elm-3.jsonl")]) == 2  # never over a file
    assert "already there" in capsys.readouterr().err


# ------------------------------------------------------------------------------------------------ hostile packs


def tar_of(*members: tuple[tarfile.TarInfo, bytes], manifest: bool = True) -> bytes:
    """A pack made by hand; its manifest fits its regular files."""
    listed = {m.name: [len(d), hashlib.sha256(d).hexdigest()] for m, d in members if m.isreg()}
    told = json.dumps({"pack": 1, "at": "2026-03-02T09:00:00+00:00", "files": listed}).encode()
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w") as tar:
        for info, data in [*([(tarfile.TarInfo("manifest.json"), told)] if manifest else []), *members]:
            info.size = len(data)
            tar.addfile(info, io.BytesIO(data))
    return gzip.compress(out.getvalue())


def member(name: str, kind: bytes = tarfile.REGTYPE, link: str = "") -> tarfile.TarInfo:
    info = tarfile.TarInfo(name)
    info.type, info.linkname = kind, link
    return info


NAMES = ("../x", "/etc/x", "cases/../../x", "cases/..", "cases//oak-17.jsonl", "cases/./oak-17.jsonl", "x", "cases",
         "cases\\..\\x", "cases/oak-17.jsonl/../../../x", "anchors/smith.json", "cases/\x1b[2J-17", "keys/signing.key",
         "config.json", "cases/" + "a" * 300 + "-17", "./cases/oak-17.jsonl")  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_names_that_lead_elsewhere_are_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(InputRefused, match="leads elsewhere"):
        read_pack(tar_of((member(name), b"x")), "p")


@pytest.mark.parametrize(
    "kind", [tarfile.SYMTYPE, tarfile.LNKTYPE, tarfile.FIFOTYPE, tarfile.CHRTYPE, tarfile.BLKTYPE, tarfile.DIRTYPE]
)
def test_links_pipes_and_devices_are_refused(kind: bytes) -> None:
    with pytest.raises(InputRefused, match="no ordinary file"):
        read_pack(tar_of((member("cases/oak-17.jsonl", kind, "/etc/passwd"), b"")), "p")


def test_a_link_in_the_state_folder_is_not_packed(home: Path) -> None:
    (home / "cases" / "oak-17.texts" / "000009.json").symlink_to("/etc/hostname")
    with pytest.raises(InputRefused, match="symbolic link is not packed"):
        gather(home)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda raw: raw[:-20], "not a whole pack"), (lambda raw: raw[: len(raw) // 2], "not a whole pack"),
        (lambda raw: b"", "not a whole pack|manifest is missing"), (lambda raw: b"PK\x03\x04", "not a whole pack"),
        (lambda raw: gzip.compress(b"x" * 600), "not a whole pack"),
        (lambda raw: gzip.compress(gzip.decompress(raw).replace(b'"n":2', b'"n":3')), "not as they were packed"),
        (lambda raw: tar_of((member("cases/oak-17.jsonl"), b"x"), manifest=False), "manifest is missing"),
        (lambda raw: tar_of((member("clinic.json"), b"x"), (member("clinic.json"), b"x")), "a name twice"),
        (lambda raw: gzip.compress(gzip.decompress(raw).replace(b'"pack": 1', b'"pack": 9')), "newer than this"),
    ],
)  # fmt: skip
def test_a_pack_that_is_not_whole_is_refused(home: Path, change: Callable[[bytes], bytes], says: str) -> None:
    with pytest.raises(InputRefused, match=says):
        read_pack(change(write_pack(gather(home), STAMP.at)), "p")


def test_a_small_file_that_unpacks_to_a_huge_one_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("reasoner.trail.packs.MOST_BYTES", 100_000)
    with pytest.raises(InputRefused, match="more than 100000 bytes"):
        read_pack(gzip.compress(b"\0" * 10_000_000), "p")


def test_a_wrong_archive_is_refused_on_arrival(home: Path, tmp_path: Path) -> None:
    files = dict(gather(home))
    name = "archive/" + "ab" * 32 + "/files.tar"
    pack = read_pack(write_pack({**files, name: b"a: 2\n"}, STAMP.at), "p")
    with pytest.raises(InputRefused, match="missing or were changed"):
        arrive(tmp_path / "new", pack, "p")
    assert not (tmp_path / "new" / "cases").exists()


@pytest.mark.parametrize("arguments", ["pack", "unpack", "unpack /nowhere.pack", "unpack /", "pack /nowhere/p"])
def test_wrong_input_is_one_line(home: Path, capsys: pytest.CaptureFixture[str], arguments: str) -> None:
    assert main(arguments.split()) == 2
    assert capsys.readouterr().err.count("\n") == 1


# ------------------------------------------------------------------------------------------------ encrypted


@needs_age
def test_an_encrypted_pack_goes_round(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["config", "key"]) == 0
    recipient = capsys.readouterr().out.split()[-1]
    assert stat.S_IMODE((tmp_path / "keys" / "age.key").stat().st_mode) == 0o600
    kept = (tmp_path / "keys" / "age.key").read_bytes()
    assert main(["config", "key"]) == 0  # never written over: its recipient is told again
    assert capsys.readouterr().out.split()[-1] == recipient
    assert (tmp_path / "keys" / "age.key").read_bytes() == kept
    pack = tmp_path / "p"
    assert main(["pack", str(pack), "--to", recipient]) == 0
    assert b"oak-17" not in pack.read_bytes()
    new = moved(monkeypatch, tmp_path)
    assert main(["unpack", str(pack)]) == 0
    assert set(verify_all(new)) == {new / "cases" / "oak-17.jsonl", new / "cases" / "elm-3.jsonl"}
    other = tmp_path / "other.key"
    other.write_text(new_identity()[0])
    capsys.readouterr()
    assert main(["unpack", str(pack), "--key", str(other)]) == 2
    said = capsys.readouterr().err
    assert "another key, or changed or cut short" in said
    assert said.count("\n") == 1
    other.write_text("# not one\n")
    assert main(["unpack", str(pack), "--key", str(other)]) == 2
    assert main(["pack", str(tmp_path / "q"), "--to", "age1nobody"]) == 2
    assert not (tmp_path / "q").exists()


@needs_age
def test_every_cut_and_every_changed_byte_of_an_encrypted_file_is_refused() -> None:
    identity, recipient = new_identity()
    raw = encrypted(b"some words " * 10, [recipient])
    assert decrypted(raw, identity, "p") == b"some words " * 10
    for at in range(len(raw)):
        for changed in (raw[:at], raw[:at] + bytes([raw[at] ^ 1]) + raw[at + 1 :], raw[:at] + b"0" + raw[at:]):
            with pytest.raises(InputRefused):
                decrypted(changed, identity, "p")


def test_without_the_package_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch, home: Path, tmp_path: Path,
                                                     capsys: pytest.CaptureFixture[str]) -> None:  # fmt: skip
    monkeypatch.setitem(__import__("sys").modules, "pyrage", None)
    assert main(["pack", str(tmp_path / "p"), "--to", "age1x"]) == 2
    assert "ankle-reasoner[encrypt]" in capsys.readouterr().err
