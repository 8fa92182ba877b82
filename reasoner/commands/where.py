"""`reasoner where`: where cases and knowledge are kept, and how many cases there are."""

from __future__ import annotations

import argparse
import os

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `reasoner where`: none of its own."""


def run(args: argparse.Namespace) -> int:
    """Print the folders and the number of cases."""
    from reasoner.trail.files import refusing
    from reasoner.trail.paths import cases, home

    state = home(os.environ)
    with refusing(state / "cases", "list the cases"):
        known = cases(state)
    print(f"state      {state}{'' if state.is_dir() else '  (made with the first case)'}")
    print(f"knowledge  {_knowledge(args)}")
    print(f"cases      {len(known)}")
    return 0


def _knowledge(args: argparse.Namespace) -> str:
    if getattr(args, "knowledge", None) is not None:
        return str(args.knowledge.absolute())
    from reasoner.graph.load import default_folder  # the heaviest import: only where it is needed

    return str(default_folder())
