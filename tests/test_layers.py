"""The direction of dependency, read from the imports; and the one place for each outside package."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "reasoner"

# from the bottom up; the folders of one row do not know each other. DEVELOPERS.md shows the same table.
LAYERS: tuple[tuple[str, ...], ...] = (
    ("visible", "reading"),
    ("problems",),
    ("graph",),
    ("trail",),
    ("measures", "geometry"),
    ("case",),
    ("facts",),
    ("safety",),
    ("inference",),
    ("options",),
    ("advice",),
    ("consult",),
    ("reports", "review", "practice", "upkeep"),
    ("views",),
    ("prompt",),
    ("commands",),
    ("cli",),
    ("__main__",),
)
LEVEL = {name: level for level, row in enumerate(LAYERS) for name in row}

# outside package -> where it may be imported (a folder or a file under reasoner/)
PLACES = {
    "yaml": ("graph/source.py",),
    "pydantic": ("graph/load.py", "graph/scenario.py", "case/codec.py"),
    "networkx": ("graph/",),
    "numpy": ("inference/", "options/", "advice/", "measures/"),
    "prompt_toolkit": ("prompt/",),
    "rich": ("views/",),
    "jinja2": ("reports/templates.py",),
    "markupsafe": ("reports/templates.py",),
    "pyrage": ("trail/age.py",),
}
# test-only packages never imported by what is installed
NEVER = ("pytest", "hypothesis", "scipy", "pyagrum", "pgmpy", "fhir", "jsonschema", "textstat")


def modules() -> dict[str, Path]:
    """Dotted name -> file of every module of the package."""
    found = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        parts = path.relative_to(ROOT).with_suffix("").parts
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


@cache
def imports(path: Path, at_run_time: bool = False) -> tuple[str, ...]:
    """Dotted names a file imports anywhere; with `at_run_time` only those that run when it is imported."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    nodes = _top(tree) if at_run_time else ast.walk(tree)
    names: list[str] = []
    for node in nodes:
        if isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: write imports in full"
            names += [f"{node.module}.{alias.name}" for alias in node.names]
    return tuple(names)


def _top(tree: ast.Module) -> Iterator[ast.AST]:
    """Statements outside functions and outside `if TYPE_CHECKING`."""
    waiting: list[ast.AST] = list(tree.body)
    while waiting:
        node = waiting.pop()
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef, ast.Lambda)):
            continue
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test):
            continue
        yield node
        waiting += ast.iter_child_nodes(node)


def target(name: str, known: dict[str, Path]) -> str | None:
    """The module of ours that an imported name belongs to: itself, or the module that holds it."""
    while name and name not in known:
        name = name.rpartition(".")[0]
    return name or None


def layer(module: str) -> str:
    parts = module.split(".")
    return parts[1] if len(parts) > 1 else ""


def test_every_folder_has_a_layer() -> None:
    assert {layer(m) for m in modules()} - {""} <= set(LEVEL)


def test_arrows_point_downwards_only() -> None:
    known = modules()
    upward = []
    for module, path in known.items():
        for name in imports(path):
            other = target(name, known)
            if other is None or layer(other) in ("", layer(module)):
                continue
            if layer(module) == "" or LEVEL[layer(other)] >= LEVEL[layer(module)]:
                upward.append(f"{module} imports {other}")
    assert upward == []


def test_no_module_imports_itself_in_a_circle() -> None:
    known = modules()
    leads_to = {
        module: {t for name in imports(path, at_run_time=True) if (t := target(name, known)) and t != module}
        for module, path in known.items()
    }
    done: set[str] = set()

    def follow(module: str, way: tuple[str, ...]) -> None:
        assert module not in way, " -> ".join((*way, module))
        if module not in done:
            for following in sorted(leads_to[module]):
                follow(following, (*way, module))
            done.add(module)

    for module in known:
        follow(module, ())


@pytest.mark.parametrize("package", sorted(PLACES))
def test_one_place_for_each_package(package: str) -> None:
    users = {
        path.relative_to(PACKAGE).as_posix()
        for path in modules().values()
        for name in imports(path)
        if name.split(".")[0] == package
    }
    assert {u for u in users if not u.startswith(PLACES[package])} == set()


def test_packages_for_tests_stay_in_tests() -> None:
    for path in modules().values():
        assert not {name.split(".")[0] for name in imports(path)} & set(NEVER), path


def test_developers_page_shows_these_layers() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    shown = re.findall(r"^\| (\d+) \| ((?:`\w+`(?:, )?)+) \|", text, re.MULTILINE)
    assert shown, "no table of layers"
    rows = [tuple(re.findall(r"`(\w+)`", names)) for _, names in shown]
    existing = {layer(m) for m in modules()}
    expected = [tuple(n for n in row if n in existing) for row in reversed(LAYERS) if row != ("__main__",)]
    assert [tuple(n for n in row if n in existing) for row in rows] == [row for row in expected if row]
    numbers = [int(number) for number, _ in shown]
    assert numbers == sorted(numbers, reverse=True)


def test_these_checks_would_notice() -> None:
    """The reader of imports sees imports inside functions, and tells run time from type checking."""
    source = "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    import rich\ndef f():\n    import yaml\n"
    tree = ast.parse(source)
    inside = {a.name for n in ast.walk(tree) if isinstance(n, ast.Import) for a in n.names}
    assert inside == {"rich", "yaml"}
    top = {a.name for n in _top(tree) if isinstance(n, ast.Import) for a in n.names}
    assert top == set()
