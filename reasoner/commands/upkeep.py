"""`reasoner knowledge due | graph | coverage | pool | add | use`: keeping the knowledge up."""

from __future__ import annotations

import argparse
from collections.abc import Callable

__all__ = ["HANDLERS", "add_actions"]


def add_actions(actions: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """The actions of `reasoner knowledge` that this module has."""


HANDLERS: dict[str, Callable[[argparse.Namespace], int]] = {}
