"""One careless and one careful trail on the same patient, played once a process."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from reasoner.graph.knowledge import Knowledge
from tests.practice.players import careless, expert, game, scenario


@pytest.fixture(scope="session")
def played(tmp_path_factory: pytest.TempPathFactory, knowledge: Knowledge) -> tuple[Path, Path, Path]:
    """(state folder, a careless trail, a careful trail); not to be written to."""
    home = tmp_path_factory.mktemp("home")
    paths = []
    for case, by, player in (("oak-heron-17", "KM", careless), ("elm-wren-18", "ME", expert)):
        g = game(knowledge, home, scenario("ceramics_painter", knowledge), case=case, by=by)
        player(g)
        paths.append(g.sitting.trail.path)
    return home, paths[0], paths[1]


@pytest.fixture
def own(played: tuple[Path, Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of that state folder, and the one the commands use."""
    home = tmp_path / "own"
    shutil.copytree(played[0], home)
    monkeypatch.setenv("REASONER_HOME", str(home))
    monkeypatch.delenv("REASONER_BY", raising=False)
    return home
