"""Nothing leaves the machine: no module imports what could, and whole commands run with every socket shut."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "reasoner"
CLIENTS = {
    "socket", "ssl", "http", "urllib", "ftplib", "smtplib", "poplib", "imaplib", "nntplib", "telnetlib", "xmlrpc",
    "socketserver", "webbrowser", "requests", "httpx", "aiohttp", "urllib3", "websockets",
}  # fmt: skip
# a process of its own: sockets shut before anything of ours is imported, then the command
SHUT = """
import asyncio, socket, sys
def shut(*args, **kwargs):
    raise SystemExit("a socket was opened: " + repr(args))
for name in ("connect", "connect_ex", "bind", "listen", "sendto", "send", "sendall"):
    setattr(socket.socket, name, shut)  # of a subclass: the C type cannot be changed
for name in ("create_connection", "create_server", "getaddrinfo", "gethostbyname", "gethostbyname_ex"):
    setattr(socket, name, shut)
def audit(event, args):
    if event.startswith("socket.") and event not in ("socket.__new__", "socket.gethostname"):
        raise SystemExit("a socket was used: " + event)
    if event == "subprocess.Popen" or event == "os.system":
        raise SystemExit("another program was started: " + repr(args))
sys.addaudithook(audit)
from reasoner.cli import main
sys.exit(main(sys.argv[1:]))
"""


def imported(path: Path) -> set[str]:
    """Every module a file imports, anywhere in it, by full name."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
        elif isinstance(node, ast.Call) and getattr(node.func, "attr", getattr(node.func, "id", "")) in (
            "__import__", "import_module",
        ):  # fmt: skip
            found |= {str(a.value) for a in node.args if isinstance(a, ast.Constant)}
    return found


def test_no_module_imports_a_network_client() -> None:
    for path in sorted(PACKAGE.rglob("*.py")):
        assert {name for name in imported(path) if name.split(".")[0] in CLIENTS} == set(), path


def run(home: Path, *argv: str) -> subprocess.CompletedProcess[str]:
    env = {**os.environ, "REASONER_HOME": str(home), "NO_COLOR": "1", "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-c", SHUT, *argv]
    return subprocess.run(
        command, cwd=ROOT, env=env, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False
    )


def test_whole_commands_with_every_socket_shut(tmp_path: Path) -> None:
    """One after the other in one home, as in a day's work."""
    commands = [
        ["demo", "--brief"],
        ["session", "oak-heron-17", "--new", "--script", "case_scenarios/first_visit.txt"],
        ["consider", "case_scenarios/snapshots/hot_joint.yaml", "--json"],
        ["report", "oak-heron-17"],
        ["review", "oak-heron-17"],
        ["knowledge", "check"],
    ]
    for argv in commands:
        done = run(tmp_path / "home", *argv)
        assert done.returncode == 0, (argv, done.stderr[-500:])
        assert done.stdout.strip(), argv


@pytest.mark.parametrize("attempt", [
    "import urllib.request; urllib.request.urlopen('http://127.0.0.1:9/')",
    "import socket; socket.create_connection(('127.0.0.1', 9))",
    "import socket; socket.socket().connect(('127.0.0.1', 9))",
    "import subprocess; subprocess.run(['true'])",
    "import asyncio; asyncio.run(asyncio.open_connection('127.0.0.1', 9))",
])  # fmt: skip
def test_the_lock_on_sockets_holds(attempt: str) -> None:
    before, _ = SHUT.split("from reasoner.cli")
    done = subprocess.run([sys.executable, "-c", before + attempt], capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert "socket was" in done.stderr or "another program" in done.stderr


def test_a_page_asks_for_nothing_from_elsewhere() -> None:
    """Templates and styles name no address to fetch: a page opened from a disk stays alone."""
    for path in (*PACKAGE.rglob("*.j2"), *PACKAGE.rglob("html.py"), *PACKAGE.rglob("*svg*.py")):
        text = path.read_text(encoding="utf-8")
        for fetched in ("src=\"http", "href=\"http", "@import", "url(http", "<link"):
            assert fetched not in text, (path, fetched)


def test_the_reader_of_imports_sees_them(tmp_path: Path) -> None:
    one = tmp_path / "one.py"
    source = "def f():\n    import urllib.request\n    __import__('ssl')\nfrom http import client\n"
    one.write_text(source, encoding="utf-8")
    assert imported(one) == {"urllib.request", "ssl", "http.client"}
    assert {name.split(".")[0] for name in imported(one)} <= CLIENTS
