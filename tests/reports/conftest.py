"""The three cases once a run: what tests do to a dossier never reaches the trail."""

from __future__ import annotations

from pathlib import Path

import pytest

from reasoner.consult.commands import OpenVisit
from reasoner.graph.knowledge import Knowledge
from reasoner.reports.dossier import Dossier
from reasoner.reports.make import make
from tests.reports.playing import Played


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A state folder for the three cases."""
    return tmp_path_factory.mktemp("reports")


@pytest.fixture(scope="session")
def simple(knowledge: Knowledge, folder: Path) -> Dossier:
    """A sprain of five weeks, treated and retested."""
    return Played(knowledge, folder, "oak-11").play("simple").dossier()


@pytest.fixture(scope="session")
def post_surgical(knowledge: Knowledge, folder: Path) -> Dossier:
    """Seven weeks after fixation, partial weight."""
    return Played(knowledge, folder, "elm-12").play("post_surgical").dossier()


@pytest.fixture(scope="session")
def emergency(knowledge: Knowledge, folder: Path) -> Dossier:
    """A home sheet handed out at 10:42, signs of joint infection told after it."""
    played = Played(knowledge, folder, "ash-13")
    played.play("emergency")
    played.clock.now = played.clock.now.replace(hour=10, minute=42)
    played.hand_out(make(played.dossier(), "home"))
    played.clock.wait(minutes=10)
    return played.play("emergency_later").dossier()


@pytest.fixture(scope="session")
def second(knowledge: Knowledge, folder: Path) -> Dossier:
    """The sprain again, eight days later."""
    played = Played(knowledge, folder, "oak-14").play("simple")
    played.clock.wait(days=8)
    played.sitting.submit([OpenVisit()])
    return played.play("second_visit").dossier()


@pytest.fixture(scope="session")
def cases(simple: Dossier, post_surgical: Dossier, emergency: Dossier) -> dict[str, Dossier]:
    """All three by name."""
    return {"simple": simple, "post_surgical": post_surgical, "emergency": emergency}
