"""Fixtures every test may use."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import settings

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.load import default_folder, load
from tests.tiny_pack import write_pack


def pytest_addoption(parser: pytest.Parser) -> None:
    """`--examples 20`: each property test with so many times its examples; the total is printed at the end."""
    parser.addoption("--examples", type=int, default=1, metavar="TIMES")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Benchmarks and long loops run only when asked for by name: `-m benchmark`, `-m slow`."""
    _with_more_examples(config, items)
    unasked = [name for name in ("benchmark", "slow") if name not in config.option.markexpr]
    aside = [item for item in items if any(item.get_closest_marker(name) for name in unasked)]
    items[:] = [item for item in items if item not in aside]
    config.hook.pytest_deselected(items=aside)


_MARK = "_hypothesis_internal_use_settings"  # hypothesis has no public way to raise what a test states itself
_most = 0


def _with_more_examples(config: pytest.Config, items: list[pytest.Item]) -> None:
    global _most
    times, done = config.getoption("--examples"), set[object]()
    if times == 1:
        return
    for test in (getattr(item, "obj", None) for item in items):
        stated = getattr(test, _MARK, None)
        if stated is None:
            continue
        test = getattr(test, "__func__", test)
        if test not in done:
            done.add(test)
            setattr(test, _MARK, settings(stated, max_examples=stated.max_examples * times))
        _most += getattr(test, _MARK).max_examples
    items[:] = [item for item in items if hasattr(getattr(item, "obj", None), _MARK)]


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """How many examples the property tests may draw; hypothesis stops earlier only where there are no more."""
    if _most:
        terminalreporter.write_line(f"up to {_most} examples of property tests")


@pytest.fixture(autouse=True)
def _own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No test reads or writes the user's own cases."""
    monkeypatch.setenv("REASONER_HOME", str(tmp_path / "reasoner-home"))


def _loaded(folder: Path) -> Knowledge:
    knowledge, problems = load(folder)
    assert knowledge is not None, "\n".join(str(p) for p in problems[:10])
    return knowledge


@pytest.fixture(scope="session")
def knowledge() -> Knowledge:
    """The shipped knowledge."""
    return _loaded(default_folder())


@pytest.fixture(scope="session")
def tiny_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A knowledge folder holding the small valid pack of tests/tiny_pack.py."""
    return write_pack(tmp_path_factory.mktemp("tiny"))


@pytest.fixture(scope="session")
def tiny_knowledge(tiny_folder: Path) -> Knowledge:
    """The small valid pack, loaded."""
    return _loaded(tiny_folder)
