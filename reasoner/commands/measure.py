"""`reasoner measure reliability FILE`, `measure alignment FILE`: numbers from a file of one's own; no case is read."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from reasoner.commands import load_knowledge
from reasoner.problems import InputRefused, Problem, nearest

if TYPE_CHECKING:
    from collections.abc import Iterable

    from reasoner.geometry.arcs import Arcs, Seat
    from reasoner.graph.knowledge import Knowledge
    from reasoner.graph.records import Alignment

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `reasoner measure`."""
    actions = parser.add_subparsers(dest="action", metavar="reliability|alignment", required=True)
    own = actions.add_parser("reliability", help="your own error, from repeated measures in a CSV file")
    own.add_argument("file", metavar="FILE", help="person,first,second and a line each; or occasion.trial columns")
    own.add_argument("--measure", metavar="NAME", help="compare with what is used now, and hold its possible range")
    own.add_argument("--tool", metavar="NAME", help="the tool of these readings (default: the measure's first)")
    own.add_argument("--rater", choices=("within", "between"), default="within", help="one person reading, or several")
    own.add_argument("--interval", choices=("within_visit", "between_visits"), default="between_visits")
    drawn = actions.add_parser("alignment", help="for teaching: axis, circle and offset from points on a side view")
    drawn.add_argument("file", metavar="FILE", help="lines: shaft,x,y (two), dome,x,y (three or more), scale,mm")
    drawn.add_argument("--svg", metavar="FILE", type=Path, help="also write the drawing here")
    drawn.add_argument("--seed", type=int, default=1, help="of the repeated clicks (default 1)")


def run(args: argparse.Namespace) -> int:
    """Run one of the two."""
    return _reliability(args) if args.action == "reliability" else _alignment(args)


def _reliability(args: argparse.Namespace) -> int:
    from reasoner.measures.error import default_tool, standard_error
    from reasoner.measures.readings import CODE, read_readings
    from reasoner.measures.reliability import nested_error, reliability
    from reasoner.views.reliability import reliability_page
    from reasoner.views.render import make_console, show

    measure, published, tool = None, None, ""
    if args.measure is not None:
        from reasoner.graph.knowledge import plain

        knowledge = load_knowledge(args.knowledge)
        ident = knowledge.measure_names.get(plain(args.measure))
        if ident is None:
            raise _unknown("measure", args.measure, knowledge.measure_names)
        measure = knowledge.measures[ident]
        tool = args.tool or default_tool(measure)
        if tool not in {t.id for t in measure.tools}:
            raise _unknown("tool", tool, [t.id for t in measure.tools])
        published = standard_error(measure, tool, args.rater, args.interval)
    elif args.tool is not None:
        raise InputRefused([Problem("", "--tool belongs to --measure", "add --measure NAME")])
    path = Path(args.file)
    readings = read_readings(path, measure)
    try:
        found = reliability(readings.table)
        nested = nested_error(readings.nested()) if readings.occasions else None
    except ValueError as error:
        raise InputRefused([Problem(CODE, str(error), "more people, or finer readings", args.file, 1)]) from None
    page = reliability_page(readings, found, nested, measure, published, tool, args.rater, args.interval)
    show(page, make_console())
    return 0


def _unknown(what: str, named: str, known: Iterable[str]) -> InputRefused:
    near = nearest(named, known, 1)
    return InputRefused([Problem("", f"there is no {what} {named}", f"did you mean {near[0]}?" if near else "")])


def _alignment(args: argparse.Namespace) -> int:
    from random import Random

    from reasoner.geometry.alignment import align, bootstrap
    from reasoner.geometry.landmarks import CODE, read_landmarks
    from reasoner.measures.readings import text_of
    from reasoner.views.alignment import alignment_page
    from reasoner.views.render import make_console, show

    marks, own_click = read_landmarks(text_of(Path(args.file), CODE), args.file)
    with _pointed_at(CODE, args.file):
        found = align(marks)
    knowledge = load_knowledge(args.knowledge)
    if not knowledge.alignment:
        raise InputRefused([Problem("", "this knowledge has no alignment drawing", "add alignment/ to the region")])
    record = next(iter(knowledge.alignment.values()))
    click = own_click if own_click is not None else knowledge.number(record.click_sd)
    with _pointed_at(CODE, args.file):
        interval = bootstrap(marks, click, Random(args.seed))
    arcs, level, here = _two_arcs(knowledge, record, found.circle.r, found.offset)
    if args.svg is not None:
        from reasoner.commands.drawing import write_svg
        from reasoner.views.alignment_svg import alignment_svg

        write_svg(args.svg, alignment_svg(record, marks, found, arcs, level, here))
    show(alignment_page(record, found, interval, click, len(marks.dome), arcs, here), make_console())
    if args.svg is not None:
        print(f"drawing: {args.svg}")
    return 0


@contextmanager
def _pointed_at(code: str, file: str) -> Iterator[None]:
    """What the numbers cannot say, said of the file they came from."""
    try:
        yield
    except ValueError as error:
        raise InputRefused([Problem(code, str(error), "look at the points again", file, 1)]) from None


def _two_arcs(
    knowledge: Knowledge, record: Alignment, radius: float, shift: float
) -> tuple[Arcs, Seat, Seat | None]:
    """The pack's hollow on a round end of the measured radius: centred, and shifted (None: too far)."""
    from reasoner.geometry.arcs import Arcs, seat

    hollow = max(knowledge.number(record.socket_radius), radius)
    parts = (record.socket_front, record.socket_back, record.dome_front, record.clearance)
    arcs = Arcs(hollow, radius, *(knowledge.number(p) for p in parts))
    return arcs, seat(arcs, 0.0), seat(arcs, shift) if abs(shift) <= radius / 2 else None
