"""What the walks share."""

from __future__ import annotations

import os

import pytest

from reasoner.graph.knowledge import Knowledge
from tests.walks.playing import Walks


@pytest.fixture(autouse=True)
def _no_waiting_for_the_disk(monkeypatch: pytest.MonkeyPatch) -> None:
    """What a power cut leaves is tested with the trail; a walk of a hundred lines need not wait for the disk."""
    monkeypatch.setattr(os, "fsync", lambda handle: None)


@pytest.fixture(scope="session")
def walks(knowledge: Knowledge, tmp_path_factory: pytest.TempPathFactory) -> Walks:
    """The courses on the shipped knowledge."""
    return Walks(knowledge, tmp_path_factory.mktemp("walks"))
