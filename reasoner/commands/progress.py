"""`reasoner progress CASE`: what the visits of a case show, against error, drift, goals and published courses."""

from __future__ import annotations

import argparse
from pathlib import Path

from reasoner.commands import load_knowledge

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `reasoner progress`."""
    parser.add_argument("case", metavar="CASE", help="a case such as oak-17; `reasoner where` tells where they are")
    parser.add_argument("--svg", metavar="FILE", type=Path, help="also draw the main measure here")


def run(args: argparse.Namespace) -> int:
    """Print the progress of one case; with --svg also write the drawing."""
    import os

    from reasoner.advice.advise import advise
    from reasoner.consult.sitting import state_of_trail
    from reasoner.reports.progress import progress_of
    from reasoner.trail.paths import home
    from reasoner.trail.store import Trail
    from reasoner.views.progress import progress_page
    from reasoner.views.render import make_console, show

    trail = Trail.open(home(os.environ), args.case)
    knowledge = load_knowledge(args.knowledge, str(trail.header.get("region", "")))
    state = state_of_trail(trail.entries)
    last = trail.entries[-1].at
    progress = progress_of(knowledge, state, last, advise)
    invented = trail.kind != "real"
    if args.svg is not None:
        from reasoner.commands.drawing import write_svg
        from reasoner.views.progress_svg import progress_svg

        write_svg(args.svg, progress_svg(args.case, progress, invented))
    show(progress_page(knowledge, args.case, progress, invented, f"{last:%d %b %Y}"), make_console())
    if args.svg is not None:
        print(f"drawing: {args.svg}")
    return 0
