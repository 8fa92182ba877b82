"""The formulas' own examples, worked by hand beside them."""

from __future__ import annotations

import doctest
from importlib import import_module
from pkgutil import iter_modules

import pytest

import reasoner.inference

MODULES = [m.name for m in iter_modules(reasoner.inference.__path__, "reasoner.inference.")]
WITH_EXAMPLES = {"accuracy", "evidence", "graded", "groups", "kernel", "network", "observe", "order", "questions"}


@pytest.mark.parametrize("name", MODULES)
def test_examples_hold(name: str) -> None:
    """Every example printed is what comes out; the modules meant to have examples have them."""
    failed, tried = doctest.testmod(import_module(name))
    assert failed == 0
    assert tried > 0 or name.rsplit(".", 1)[-1] not in WITH_EXAMPLES
