"""A case at its end: signed, sealed and brought back, erased with a note that stays."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from reasoner.cli import main
from reasoner.consult.sitting import Sitting
from reasoner.graph.knowledge import Knowledge
from reasoner.problems import InputRefused
from reasoner.prompt.script import run_script
from reasoner.review.remarks import add
from reasoner.trail.anchor import Anchor
from reasoner.trail.ended import erase, seal, unseal
from reasoner.trail.holding import hold
from reasoner.trail.line import FIRST_PREVIOUS, encode
from reasoner.trail.moving import arrive
from reasoner.trail.packs import gather, read_pack, write_pack
from reasoner.trail.paths import anchor_file, case_file
from reasoner.trail.signing import _bytes, check_signature, sign
from reasoner.trail.store import Trail, read
from reasoner.trail.verify import verify_all
from tests.trail.build import STAMP, START, everything, needs_age, note, short_trail
from tests.visit import TREATED, Clock

CASE = "oak-heron-17"
KEY = bytes(range(32))


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The state folder, keys elsewhere, and somebody at the desk."""
    monkeypatch.setenv("REASONER_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("REASONER_KEYS", str(tmp_path / "keys"))
    monkeypatch.setenv("REASONER_BY", "KM")
    return tmp_path / "home"


@pytest.fixture
def closed(home: Path, tiny_knowledge: Knowledge) -> Path:
    """A whole visit, closed; its trail."""
    sitting, _ = Sitting.begin(tiny_knowledge, home, CASE, "demo", clock=Clock(), by="KM", role="physio")
    run_script(sitting, [*TREATED, "excuse because they had to go", "close"], "lines", lambda page: None)
    trail = sitting.trail
    add(trail.path, trail.entries, kind="remark", on=2, text="a remark", by="TK", role="mentor", at=START)
    return trail.path


def kept(home: Path) -> dict[str, bytes]:
    """Every file among the cases but locks."""
    return {p.name: p.read_bytes() for p in (home / "cases").rglob("*") if p.is_file() and p.suffix != ".lock"}


# ------------------------------------------------------------------------------------------------ signed


def test_a_signature_finds_what_hashes_and_anchor_cannot(tmp_path: Path) -> None:
    """Whoever can write both trail and anchor can make both anew; the key is elsewhere."""
    trail = short_trail(tmp_path, 1)
    sign(trail.path, trail.entries, KEY, by="KM", at=START)
    payload = {"case": "oak-17", "kind": "demo", "region": "elsewhere"}
    raw = encode(1, FIRST_PREVIOUS, "case_opened", payload, at=START, by="KM", role="x", knowledge="", text_hashes={})
    trail.path.write_bytes(raw + b"\n")
    entries, _ = read(trail.path)
    anchor_file(tmp_path, "oak-17").write_bytes(Anchor(1, entries[0].hash).bytes())
    assert [p for p in verify_all(tmp_path)[trail.path] if p.level == "error"] == []
    assert [(p.code, p.level) for p in check_signature(trail.path, entries, KEY)] == [("T-SIGN", "error")]


def test_signing_by_command(closed: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["trail", "sign", CASE]) == 0
    capsys.readouterr()
    assert main(["trail", "verify", CASE]) == 0
    assert f"signed to line {len(read(closed)[0])} by KM" in capsys.readouterr().out
    key = tmp_path / "keys" / "signing.key"
    kept = key.read_text()
    key.unlink()
    assert main(["trail", "verify", CASE]) == 0  # a mentor's machine: said, not an error
    assert "which is not here" in capsys.readouterr().out
    key.write_text("ab" * 32)
    assert main(["trail", "verify", CASE]) == 0
    key.write_text("no key")
    assert main(["trail", "verify", CASE]) == 2
    key.write_text(kept)
    signed = closed.with_suffix(".signed")
    told = json.loads(signed.read_bytes())
    for change in ({"by": "TK"}, {"count": 3}, {"mac": "0" * 64}, {"at": "2030-01-01T00:00:00+00:00"}):
        forged = {**{k: v for k, v in told.items() if k != "own"}, **change}
        signed.write_bytes(_bytes(forged))  # its plain hash made anew too
        assert main(["trail", "verify", CASE]) == 1, change
    signed.write_bytes(b"\x00{")
    assert main(["trail", "verify", CASE]) == 1


def test_lines_after_the_signature_are_counted_not_hidden(tmp_path: Path) -> None:
    trail = short_trail(tmp_path, 3)
    sign(trail.path, trail.entries, KEY, by="KM", at=START)
    note(trail, 4)
    (found,) = check_signature(trail.path, trail.entries, KEY)
    assert "signed to line 3" in found.message
    assert "1 lines came later" in found.message


def test_an_open_visit_is_neither_signed_nor_sealed(
    home: Path, tiny_knowledge: Knowledge, capsys: pytest.CaptureFixture[str]
) -> None:
    Sitting.begin(tiny_knowledge, home, CASE, "demo", clock=Clock(), by="KM", role="physio")
    assert main(["trail", "sign", CASE]) == 2
    assert main(["trail", "seal", CASE, "--to", "age1x"]) == 2
    assert capsys.readouterr().err.count("is open; close it first") == 2


# ------------------------------------------------------------------------------------------------ sealed


@needs_age
def test_a_sealed_case_cannot_be_read_and_comes_back_as_it_was(
    closed: Path, home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = kept(home)
    assert main(["config", "key"]) == 0
    recipient = capsys.readouterr().out.split()[-1]
    assert main(["trail", "seal", CASE]) == 2  # for whom?
    assert main(["trail", "seal", CASE, "--to", recipient]) == 0
    assert b"a remark" not in everything(home / "cases")
    assert [p.suffix for p in (home / "cases").iterdir() if p.suffix != ".lock"] == [".sealed"]
    capsys.readouterr()
    for command in (["session", CASE, "--script", "/dev/null"], ["report", CASE], ["trail", "sign", CASE]):
        assert main(command) == 2
        assert "was sealed; reasoner trail unseal" in capsys.readouterr().err
    assert main(["trail", "verify", "--all"]) == 0
    assert "sealed: only with its key" in capsys.readouterr().out
    sealed = case_file(home, CASE).with_suffix(".sealed")
    whole = sealed.read_bytes()
    for damaged in (whole[:-1], whole[:-400], whole[:200] + b"x" + whole[201:]):  # a lost tail is refused, never read
        sealed.write_bytes(damaged)
        assert main(["trail", "unseal", CASE]) == 2
        assert "another key, or changed or cut short" in capsys.readouterr().err
        assert not closed.exists()
    sealed.write_bytes(whole)
    assert main(["trail", "unseal", CASE]) == 0
    assert kept(home) == before
    assert main(["trail", "verify", CASE]) == 0


@needs_age
def test_sealing_cut_short_loses_nothing(closed: Path, home: Path) -> None:
    from reasoner.trail.age import new_identity

    identity, recipient = new_identity()
    with pytest.MonkeyPatch.context() as patch:
        def cut(*args: object) -> None:
            raise KeyboardInterrupt

        patch.setattr("reasoner.trail.ended._remove", cut)
        with pytest.raises(KeyboardInterrupt):
            seal(home, CASE, [recipient])
    with pytest.raises(InputRefused, match="cut short: do it again"):
        Trail.open(home, CASE)
    lines = len(read(closed)[0])
    unseal(home, CASE, identity)
    assert len(Trail.open(home, CASE).entries) == lines
    seal(home, CASE, [recipient])
    unseal(home, CASE, identity)
    assert len(Trail.open(home, CASE).entries) == lines


@needs_age
def test_a_sealed_file_of_another_case_is_refused(closed: Path, home: Path) -> None:
    from reasoner.trail.age import new_identity

    identity, recipient = new_identity()
    short_trail(home, 2, case="elm-3")
    sealed = seal(home, "elm-3", [recipient])
    sealed.rename(sealed.with_name("ash-9.sealed"))
    with pytest.raises(InputRefused, match="it holds elm-3"):
        unseal(home, "ash-9", identity)


# ------------------------------------------------------------------------------------------------ erased


def test_erasing_leaves_a_note_and_nothing_else(
    closed: Path, home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (home / "cases" / f"{CASE} (copy of a sync).jsonl").write_bytes(closed.read_bytes())
    closed.with_suffix(".torn-1").write_bytes(b'{"seq":99')
    (home / "cases" / f"{CASE}1.jsonl").write_bytes(b"another case's")  # oak-heron-171
    lines = len(read(closed)[0])
    assert main(["trail", "erase", CASE]) == 2  # a copy is offered first, and nothing is done by half
    assert f"--confirm {CASE}" in capsys.readouterr().err
    assert main(["trail", "erase", CASE, "--confirm", "oak-heron-18"]) == 2
    assert "nothing was erased" in capsys.readouterr().err
    assert len(read(closed)[0]) == lines
    copy = tmp_path / "copy.jsonl"
    assert main(["pack", str(tmp_path / "kept.pack"), "--case", CASE]) == 0
    assert main(["trail", "erase", CASE, "--export", str(copy), "--confirm", CASE]) == 0
    assert f"out of reach: the pack {tmp_path / 'kept.pack'}" in capsys.readouterr().out
    assert copy.read_text().count("\n") > 10
    assert sorted(p.name for p in (home / "cases").iterdir()) == [f"{CASE}.erased", f"{CASE}1.jsonl"]
    stone = json.loads((home / "cases" / f"{CASE}.erased").read_bytes())
    assert (stone["case"], stone["by"], stone["lines"]) == (CASE, "KM", lines + 1)  # the export was recorded
    assert not anchor_file(home, CASE).exists()
    with pytest.raises(InputRefused, match="was erased; its name is not used again"):
        Trail.open(home, CASE)
    with pytest.raises(InputRefused, match="was erased"):
        Trail.create(home, CASE, kind="demo", header={}, stamp=STAMP)
    assert main(["trail", "erase", CASE, "--confirm", CASE]) == 2
    (home / "cases" / f"{CASE}1.jsonl").unlink()
    assert main(["trail", "verify", "--all"]) == 0


def test_an_erased_case_does_not_come_back_in_a_pack(closed: Path, home: Path, tmp_path: Path) -> None:
    before = read_pack(write_pack(gather(home), START), "p")
    erase(home, CASE, by="KM", at=START)
    with pytest.raises(InputRefused, match="was erased here"):
        arrive(home, before, "p")
    after = read_pack(write_pack(gather(home), START), "p")
    arrive(tmp_path / "new", after, "p")  # the note moves house too
    with pytest.raises(InputRefused, match="was erased"):
        Trail.open(tmp_path / "new", CASE)
    arrive(tmp_path / "third", before, "p")
    with pytest.raises(InputRefused, match="stands here"):
        arrive(tmp_path / "third", after, "p")


def test_erasing_cut_short_is_finished_by_doing_it_again(closed: Path, home: Path) -> None:
    with pytest.MonkeyPatch.context() as patch:
        def cut(*args: object) -> None:
            raise KeyboardInterrupt

        patch.setattr("shutil.rmtree", cut)
        with pytest.raises(KeyboardInterrupt):
            erase(home, CASE, by="KM", at=START)
    with pytest.raises(InputRefused, match="cut short: do it again"):
        Trail.open(home, CASE)
    erase(home, CASE, by="KM", at=START)
    assert [p.name for p in (home / "cases").iterdir()] == [f"{CASE}.erased"]


def test_a_case_somebody_has_open_is_not_erased(closed: Path, home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    held = hold(home, CASE, by="TK", now=START)
    assert main(["trail", "erase", CASE, "--confirm", CASE]) == 2
    assert "is open: TK since" in capsys.readouterr().err
    assert closed.exists()
    held.release()


def test_at_a_terminal_it_asks(closed: Path, home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    answers = iter(["", "oak", "", CASE])
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("builtins.input", lambda prompt: next(answers))
    assert main(["trail", "erase", CASE]) == 2
    assert closed.exists()
    assert main(["trail", "erase", CASE]) == 0
    assert not closed.exists()
