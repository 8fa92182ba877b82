"""Help, version and wrong usage stay light: what they import, seen from a fresh interpreter."""

from __future__ import annotations

import subprocess
import sys

import pytest

from reasoner.cli import COMMANDS

HEAVY = ("numpy", "networkx", "yaml", "pydantic", "rich", "prompt_toolkit")
PROBE = """
import sys
from reasoner.cli import main
try:
    code = main(sys.argv[1:])
except SystemExit as leaving:
    code = leaving.code or 0
print("LOADED", code, *sorted(set(sys.modules)))
"""


def loaded(*argv: str) -> tuple[int, set[str]]:
    """Exit code and the modules a fresh interpreter holds after one command line."""
    done = subprocess.run([sys.executable, "-c", PROBE, *argv], capture_output=True, text=True, check=True)
    _, code, *names = done.stdout.splitlines()[-1].split()
    return int(code), set(names)


@pytest.mark.parametrize(
    ("argv", "code"),
    [
        (("--version",), 0),
        (("--help",), 0),
        ((), 0),
        (("sesion",), 2),
        (("--no-such-option",), 2),
        *(((name, "--help"), 0) for name in COMMANDS),
        (("knowledge", "chek"), 2),
    ],
)
def test_light(argv: tuple[str, ...], code: int) -> None:
    found, names = loaded(*argv)
    assert found == code
    assert names & set(HEAVY) == set()


def test_the_probe_sees_what_is_imported() -> None:
    _, names = loaded("knowledge", "check")
    assert {"yaml", "pydantic"} <= names
