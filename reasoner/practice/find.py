"""Which simulated patient is meant: a written scenario by name or file, or one drawn at random; found again later."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from pathlib import Path

from reasoner.case.events import PatientSimulated
from reasoner.case.state import CaseState
from reasoner.graph.files import MOST_BYTES
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.scenario import (
    Scenario,
    read_casemix,
    read_coherence,
    read_scenario,
    scenario_digest,
    scenario_files,
)
from reasoner.practice.begin import played
from reasoner.practice.invent import LEVELS, invent
from reasoner.problems import InputRefused, Problem, nearest
from reasoner.reading import read_regular

__all__ = ["Found", "found_again", "named", "random_patient", "scenario_of"]

_PATIENTS, _MIX, _RANDOM = "patients", "random_patients.yaml", "random-"
_COHERENCE = "coherence.yaml"


@dataclass(frozen=True)
class Found:
    """A scenario and the digest of what it was read or drawn from."""

    scenario: Scenario
    digest: str


def named(name: str, folder: Path, knowledge: Knowledge) -> Found:
    """A written scenario: an id from the shipped folder, or a file. InputRefused with the nearest names."""
    files = scenario_files(folder / _PATIENTS)
    path = files.get(name) or files.get(name.replace("-", "_"))
    if path is None and Path(name).suffix == ".yaml":
        path = Path(name)
    if path is None:
        near = nearest(name, files)
        hint = f"nearest: {', '.join(near)}" if near else "scenarios: " + ", ".join(files)
        raise InputRefused([Problem("", f"no scenario is called {name}", hint)])
    data = read_regular(path, MOST_BYTES)
    return Found(_coherent(read_scenario(data, str(path), knowledge), folder, knowledge), scenario_digest(data))


def random_patient(level: str, seed: int, folder: Path, knowledge: Knowledge) -> Found:
    """A patient drawn at random. The digest covers the case mix and the knowledge they were drawn from."""
    chosen = next((known for known in LEVELS if known == level), None)
    if chosen is None:
        raise InputRefused([Problem("", f"no level is called {level}", "levels: " + ", ".join(LEVELS))])
    path = folder / _MIX
    data = read_regular(path, MOST_BYTES)
    mix = read_casemix(data, str(path), knowledge)
    digest = hashlib.sha256(data + knowledge.digest.encode()).hexdigest()
    return Found(_coherent(invent(knowledge, mix, chosen, seed), folder, knowledge), digest)


def _coherent(scenario: Scenario, folder: Path, knowledge: Knowledge) -> Scenario:
    """With what the folder says about how things hang together in people of its region."""
    path = folder / _COHERENCE
    if not path.is_file():
        return scenario
    made = read_coherence(read_regular(path, MOST_BYTES), str(path), knowledge)
    return replace(scenario, coherence=made) if made.region == scenario.region else scenario


def found_again(simulated: PatientSimulated, folder: Path, knowledge: Knowledge) -> Found | None:
    """The scenario a trail was played on; None if it is no longer there or is no longer the same."""
    try:
        if simulated.scenario.startswith(_RANDOM):
            found = random_patient(simulated.scenario.split("-")[1], simulated.seed, folder, knowledge)
        else:
            found = named(simulated.scenario, folder, knowledge)
    except (InputRefused, OSError):
        return None
    return found if found.digest == simulated.digest else None


def scenario_of(state: CaseState, folder: Path, knowledge: Knowledge) -> Scenario | None:
    """Of a practice case: the scenario it was played on, where that is still the same; None for any other case."""
    simulated = played(state)
    found = found_again(simulated, folder, knowledge) if simulated is not None else None
    return found.scenario if found is not None else None
