"""`reasoner where`: where cases, knowledge and keys are kept, who may read them, how many cases there are."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `reasoner where`: none of its own."""


def run(args: argparse.Namespace) -> int:
    """Print the folders and the number of cases."""
    from reasoner.trail.config import shared_with
    from reasoner.trail.files import refusing
    from reasoner.trail.keys import key_folder
    from reasoner.trail.packs import all_cases
    from reasoner.trail.paths import cases, home

    state = home(os.environ)
    with refusing(state / "cases", "list the cases"):
        known, ended = cases(state), len(all_cases(state)) - len(cases(state))
    group = shared_with(state)
    print(f"state      {state}{'' if state.is_dir() else '  (made with the first case)'}")
    print(f"shared     {f'with the group {group}' if group else 'no'}")
    print(f"keys       {key_folder(os.environ)}  (never packed)")
    print(f"knowledge  {_knowledge(args)}")
    print(f"clinic     {_clinic(state)}")
    print(f"cases      {len(known)}{f', and {ended} sealed or erased' if ended else ''}")
    return 0


def _clinic(state: Path) -> str:
    """The clinic's own folder and the copy in use."""
    from reasoner.trail.clinic import in_use

    now = in_use(state)
    if now is None:
        return "none  (reasoner knowledge start DIR)"
    if now.copy is None:
        return f"{now.folder}  (no copy in use)"
    return f"{now.folder}  (in use: copy {now.copy.digest[:12]}, {now.copy.how} {now.copy.at[:10]})"


def _knowledge(args: argparse.Namespace) -> str:
    if getattr(args, "knowledge", None) is not None:
        return str(args.knowledge.absolute())
    from reasoner.graph.load import default_folder  # the heaviest import: only where it is needed

    return str(default_folder())
