"""`reasoner knowledge due | graph | coverage | pool | add | use`: keeping the knowledge up."""

from __future__ import annotations

import argparse
import json
import textwrap
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from reasoner.commands import load_knowledge
from reasoner.problems import InputRefused, Problem, nearest

if TYPE_CHECKING:
    from reasoner.graph.source import Document

__all__ = ["HANDLERS", "add_actions"]

WIDTH = 80


def add_actions(actions: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """The actions of `reasoner knowledge` that this module has."""
    due = actions.add_parser("due", help="evidence to read again, signatures that run out, figures from memory")
    due.add_argument("--within", type=int, default=90, metavar="DAYS", help="how far to look ahead; default 90")
    due.add_argument("--json", action="store_true", help="as JSON")
    graph = actions.add_parser("graph", help="what leads to an id and where it leads, drawn")
    graph.add_argument("id", metavar="ID")
    graph.add_argument("--as", dest="form", choices=("tree", "dot", "mermaid"), default="tree")
    graph.add_argument("--depth", type=int, default=2, metavar="N", help="steps either way; default 2")
    coverage = actions.add_parser(
        "coverage", help="where the knowledge is thin: no source, no figure, no test, no option"
    )
    coverage.add_argument("--json", action="store_true", help="as JSON")
    for one in (due, graph, coverage):
        one.add_argument("--region", default="", help="default: the first")
    pooled = actions.add_parser("pool", help="pool the studies of a file; a forest plot")
    pooled.add_argument("file", type=Path, metavar="FILE", help="scale: and studies: in YAML")
    pooled.add_argument("--method", choices=("fixed", "dl", "pm", "reml"), default="reml", help="default: reml")
    pooled.add_argument("--svg", type=Path, metavar="FILE", default=None, help="draw the forest plot into this file")
    pooled.add_argument("--json", action="store_true", help="as JSON")
    add = actions.add_parser("add", help="add an evidence entry to the clinic's folder")
    add.add_argument("kind", choices=("evidence",))
    add.add_argument(
        "--from", dest="template", type=Path, metavar="FILE", help="a filled template instead of questions"
    )
    add.add_argument("--template", dest="blank", action="store_true", help="print an empty template")
    add.add_argument("--region", default="", help="default: the first")
    use = actions.add_parser("use", help="let a filed entry count for one number")
    use.add_argument("evidence", metavar="EVIDENCE", help="id of the entry")
    use.add_argument(
        "--for", dest="target", metavar="ID.FIELD", required=True, help="such as calf_stretch.effects.1.gain"
    )
    use.add_argument("--figure", metavar="NAME", required=True, help="figure of the entry that holds the number")
    use.add_argument("--region", default="", help="default: the first")


# ------------------------------------------------------------------------------------------------ due, coverage, graph


def _due(args: argparse.Namespace) -> int:
    from reasoner.upkeep.due import due

    knowledge = load_knowledge(args.knowledge, args.region, without_clinic=args.without_clinic)
    found = due(knowledge, datetime.now().astimezone().date(), args.within)
    if args.json:
        print(json.dumps([{"when": d.when, "what": d.what, "id": d.id, "say": d.say} for d in found], indent=2))
        return 0
    for one in found:
        print(
            "\n".join(
                textwrap.wrap(
                    f"{one.when or 'now':<11} {one.what} {one.id}: {one.say}", WIDTH, subsequent_indent=" " * 12
                )
            )
        )
    print(f"{len(found)} due within {args.within} days" if found else f"Nothing is due within {args.within} days.")
    return 0


def _graph(args: argparse.Namespace) -> int:
    from reasoner.graph.drawing import drawn

    knowledge = load_knowledge(args.knowledge, args.region, without_clinic=args.without_clinic)
    text = drawn(knowledge, args.id, args.form, args.depth)
    if text is None:
        from reasoner.graph.pack import FIELDS

        near = nearest(args.id, [ident for name in FIELDS.values() for ident in getattr(knowledge, name)])
        hint = f"did you mean {' or '.join(near)}?" if near else "reasoner knowledge list KIND lists them"
        raise InputRefused([Problem("", f"nothing has the id {args.id}", hint)])
    print(text)
    return 0


def _coverage(args: argparse.Namespace) -> int:
    from reasoner.upkeep.coverage import coverage, coverage_lines

    knowledge = load_knowledge(args.knowledge, args.region, without_clinic=args.without_clinic)
    found = coverage(knowledge)
    if args.json:
        print(json.dumps(found, indent=2))
    else:
        print("\n".join(coverage_lines(found)))
    return 0


# ------------------------------------------------------------------------------------------------ pool


def _document(path: Path) -> Document:
    from reasoner.graph.files import MOST_BYTES
    from reasoner.graph.source import parse
    from reasoner.trail.files import read_regular, refusing

    with refusing(path, "read the file"):
        document, problems = parse(read_regular(path, MOST_BYTES), str(path))
    if document is None or problems:
        raise InputRefused(problems)
    return document


def _pool(args: argparse.Namespace) -> int:
    from reasoner.trail.files import refusing
    from reasoner.upkeep.forest import forest_lines, forest_svg
    from reasoner.upkeep.pooling import leave_one_out, pool
    from reasoner.upkeep.studies import read_studies
    from reasoner.upkeep.told import pooled_lines, pooled_plain

    studies, problems = read_studies(_document(args.file))
    if studies is None:
        raise InputRefused(problems)
    found = pool(studies.studies, args.method)
    without = leave_one_out(studies.studies, args.method)
    if args.svg is not None:
        with refusing(args.svg, "write the picture"):
            args.svg.write_text(forest_svg(studies.studies, found, ratio=studies.is_ratio, title=args.file.stem))
    if args.json:
        print(json.dumps(pooled_plain(studies, found, without), indent=2))
        return 0
    print("\n".join(forest_lines(studies.studies, found, ratio=studies.is_ratio)))
    print("\n".join(pooled_lines(studies, found, without)))
    return 0


# ------------------------------------------------------------------------------------------------ add, use


def _add(args: argparse.Namespace) -> int:
    from reasoner.commands.evidence import add_evidence

    return add_evidence(args)


def _use(args: argparse.Namespace) -> int:
    from reasoner.commands.evidence import use_evidence

    return use_evidence(args)


HANDLERS: dict[str, Callable[[argparse.Namespace], int]] = {
    "due": _due,
    "graph": _graph,
    "coverage": _coverage,
    "pool": _pool,
    "add": _add,
    "use": _use,
}
