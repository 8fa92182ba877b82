"""`reasoner consider FILE`: one answer about one snapshot."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from reasoner.commands import load_knowledge
from reasoner.problems import InputRefused, Problem
from reasoner.visible import json_text

if TYPE_CHECKING:
    from reasoner.graph.knowledge import Knowledge

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `reasoner consider`."""
    parser.add_argument("file", metavar="FILE", type=Path, help="a snapshot in YAML; only `region` is required")
    parser.add_argument("--json", action="store_true", help="as JSON, schema 1")


def run(args: argparse.Namespace) -> int:
    """Print what the tool would say about the snapshot now."""
    from datetime import UTC, datetime

    from reasoner.advice.advise import advise
    from reasoner.consult.snapshot import read_snapshot, state_of

    document = read_snapshot(args.file)
    region = document.value.get("region")
    if not isinstance(region, str):
        raise InputRefused(
            [Problem("S-KEY", "a snapshot names its region", "write region: and its name first", str(args.file), 1)]
        )
    knowledge = load_knowledge(args.knowledge, region, without_clinic=args.without_clinic)
    now = datetime.now(UTC)
    advice = advise(knowledge, state_of(document, knowledge, now), now)
    if args.json:
        from reasoner.views.advice_json import as_json

        told = as_json(advice) | _clinic(knowledge)
        print(json_text(told))
    else:
        from reasoner.views.considered import print_considered

        print_considered(advice, knowledge)
    return 0


def _clinic(knowledge: Knowledge) -> dict[str, object]:
    """Whose knowledge is laid over the shipped one; nothing where none is."""
    if knowledge.set_aside:
        return {"clinic": {"set_aside": True}}
    clinic = knowledge.clinic
    return {} if clinic is None else {"clinic": {"id": clinic.id, "name": clinic.name, "copy": clinic.digest}}
