"""A case taken up under other knowledge: what comes out differently is told at the opening; nothing where it is the
same.

Expected moves follow from the small pack's own rules: its hot joint is met by fever and a hot red joint together.
"""

from __future__ import annotations

import os
import re
import shutil
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

import reasoner
from reasoner.cli import main
from reasoner.trail.paths import home
from reasoner.trail.store import Trail
from tests.tiny_pack import write_pack

HOT = "left, 30, sprain\nfever +, joint hot and red +, cannot take four steps -\n"
COLD = "left, 30, sprain\nfever -, joint hot and red -, cannot take four steps -\n"
Session = Callable[..., str]


@pytest.fixture
def base(tmp_path: Path) -> Path:
    return write_pack(tmp_path / "base")


@pytest.fixture
def session(base: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Session:
    """Take up oak-17, or begin it with a story; what was printed, on one line."""

    def run(story: str | None = None) -> str:
        script = tmp_path / "script.txt"
        script.write_text(story or "", encoding="utf-8")
        capsys.readouterr()
        new = ["--new"] if story else []
        assert main(["--knowledge", str(base), "session", "oak-17", *new, "--script", str(script)]) == 0
        return " ".join(capsys.readouterr().out.split())

    return run


def change(base: Path, name: str, old: str, new: str) -> None:
    text = (base / name).read_text(encoding="utf-8")
    assert old in text
    (base / name).write_text(text.replace(old, new), encoding="utf-8")


def publish(base: Path, folder: Path, kind: str, patch: str) -> None:
    """A clinic's folder with one change, published."""
    assert main(["knowledge", "start", str(folder), "--name", "North Clinic", "--prefix", "nc"]) == 0
    (folder / "ankle" / kind).mkdir(parents=True)
    (folder / "ankle" / kind / "x.yaml").write_text(patch, encoding="utf-8")
    assert main(["--knowledge", str(base), "knowledge", "publish"]) == 0


def test_the_same_knowledge_is_not_looked_at(session: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    session(HOT)
    monkeypatch.setitem(sys.modules, "reasoner.upkeep.resumed", None)  # importing it would fail
    assert "other knowledge" not in session()


def test_a_screen_that_is_no_longer_met_comes_first_and_is_told_once(session: Session, base: Path) -> None:
    session(HOT)
    change(base, "ankle/screens/hot_joint.yaml", "2, of: [", "3, of: [cannot_take_four_steps, ")
    told = session()
    assert "In this case: NO LONGER MET: screen hot_joint: was met (emergency), is now not met" in told
    digests = [e.knowledge for e in Trail.open(home(os.environ), "oak-17").entries]
    assert digests[-1] != digests[0]  # the record says under which knowledge each line was made
    assert "other knowledge" not in session()


def test_a_copy_published_since_is_told(session: Session, base: Path, tmp_path: Path) -> None:
    session(COLD)
    seldom = "changes: talus_back_glide\nbase_rate:\n  after_sprain: {word: seldom}\n"
    publish(base, tmp_path / "clinic", "hypotheses", seldom)
    told = session()
    moved = re.search(r"talus_back_glide: (\d+) -> (\d+) of 100", told)
    assert moved is not None, told
    assert int(moved[2]) <= int(moved[1]) - 5


@pytest.mark.parametrize("what", ["a remark", "another version of the program"])
def test_what_moves_nothing_is_one_line(
    what: str, session: Session, base: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    session(HOT)
    if what == "a remark":
        change(base, "policy.yaml", "certainty", "# a remark\ncertainty")
    else:
        monkeypatch.setattr(reasoner, "__version__", "99.0")
    assert "nothing in this case comes out differently" in session()


@pytest.mark.parametrize("damage", ["gone", "changed"])
def test_without_the_old_knowledge_it_says_so_and_goes_on(damage: str, session: Session, base: Path) -> None:
    session(HOT)
    archive = home(os.environ) / "archive"
    if damage == "gone":
        shutil.rmtree(archive)
    else:
        (kept,) = archive.rglob("files.tar")
        whole = kept.read_bytes()
        kept.write_bytes(whole.replace(b"certainty", b"fertility"))
        assert kept.read_bytes() != whole
    change(base, "policy.yaml", "certainty", "# a remark\ncertainty")
    told = session()
    assert "is not kept here" in told
    assert "visit 1 goes on" in told


def test_shipped_entries_changed_under_the_clinics_own_are_named(session: Session, base: Path, tmp_path: Path) -> None:
    later = "changes: fixation\nwindows:\n  end_range_dorsiflexion: {later_weeks: 10}\n"
    publish(base, tmp_path / "clinic", "protocols", later)
    session(HOT)
    change(base, "ankle/protocols/fixation.yaml", "later_weeks: 8", "later_weeks: 14")
    assert "changed under the clinic's own (fixation): the stricter of both holds; knowledge review" in session()
