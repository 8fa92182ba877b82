"""The installed package carries what it needs: run from a built wheel, in an empty folder, without the working tree."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from reasoner.graph.load import default_folder, load

ROOT = Path(__file__).parents[1]


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder holding what the wheel installs."""
    folder = tmp_path_factory.mktemp("wheel")
    build = (
        "import sys; from hatchling.builders.wheel import WheelBuilder\n"
        "print(*WheelBuilder(sys.argv[1]).build(directory=sys.argv[2], versions=['standard']))"
    )
    command = [sys.executable, "-c", build, str(ROOT), str(folder)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    with zipfile.ZipFile(done.stdout.split()[-1]) as wheel:
        wheel.extractall(folder / "site")
    return folder / "site"


def run(installed: Path, empty: Path, *argv: str) -> subprocess.CompletedProcess[str]:
    empty.mkdir(exist_ok=True)
    env = {**os.environ, "PYTHONPATH": str(installed), "REASONER_HOME": str(empty / "home")}
    return subprocess.run([sys.executable, *argv], cwd=empty, env=env, capture_output=True, text=True, check=False)


def test_knowledge_is_inside(installed: Path, tmp_path: Path) -> None:
    where = "from reasoner.graph.load import default_folder; print(default_folder())"
    done = run(installed, tmp_path / "empty", "-c", where)
    assert done.stdout.strip() == str(installed / "reasoner" / "_knowledge")


def test_it_is_the_same_knowledge(installed: Path, tmp_path: Path) -> None:
    shipped, _ = load(default_folder())
    assert shipped is not None
    done = run(installed, tmp_path / "empty", "-m", "reasoner", "knowledge", "check")
    assert done.returncode == 0, done.stdout + done.stderr
    assert f"ankle {shipped.digest[:12]}:" in done.stdout


def test_the_hazard_log_is_inside(installed: Path) -> None:
    carried = (installed / "reasoner" / "_knowledge" / "HAZARDS.md").read_bytes()
    assert carried == (ROOT / "knowledge" / "HAZARDS.md").read_bytes()


def test_demo_plays_in_an_empty_folder(installed: Path, tmp_path: Path) -> None:
    done = run(installed, tmp_path / "empty", "-m", "reasoner", "demo")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "INVENTED PATIENT" in done.stdout


def test_nothing_but_the_package_is_installed(installed: Path) -> None:
    names = {path.name.split("-")[0] for path in installed.iterdir()}
    assert names == {"reasoner", "ankle_reasoner"}
