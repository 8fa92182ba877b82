"""`reasoner explain CODE`: what a problem code means and how to mend it."""

from __future__ import annotations

import argparse
import textwrap

from reasoner.problems import InputRefused, Problem, nearest

__all__ = ["add_arguments", "run"]

WIDTH = 80


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `reasoner explain`."""
    parser.add_argument("code", nargs="?", metavar="CODE", help="as printed before a problem; none lists all codes")


def run(args: argparse.Namespace) -> int:
    """Print the reference text of one code, or every code with its first sentence."""
    texts = _texts()
    if args.code is None:
        for code, text in texts.items():
            print(textwrap.fill(f"{code:<14} {_first_sentence(text)}", WIDTH, subsequent_indent=" " * 15))
        return 0
    wanted = args.code.upper().rstrip(":")
    if wanted not in texts:
        near = nearest(wanted, texts)
        hint = f"did you mean {' or '.join(near)}?" if near else "reasoner explain lists them"
        raise InputRefused([Problem("", f"there is no code {args.code}", hint)])
    print(wanted)
    for paragraph in texts[wanted].split("\n\n"):
        print(textwrap.fill(" ".join(paragraph.split()), WIDTH))
    return 0


def _first_sentence(text: str) -> str:
    whole = " ".join(text.split())
    return whole.split(". ")[0].rstrip(".") + "."


def _texts() -> dict[str, str]:
    from reasoner.consult.snapshot import SNAPSHOT_CODES
    from reasoner.geometry.landmarks import LANDMARK_CODES
    from reasoner.graph.overlay.codes import OVERLAY_CODES
    from reasoner.graph.reference import reference
    from reasoner.inference.codes import CODES
    from reasoner.measures.codes import MEASURE_CODES
    from reasoner.reports.codes import REPORT_CODES
    from reasoner.trail.codes import TRAIL_CODES

    own = (OVERLAY_CODES, CODES, MEASURE_CODES, LANDMARK_CODES, REPORT_CODES, TRAIL_CODES)
    texts = {**reference(), **{code: text for table in own for code, text in table.items()}}
    for code, text in SNAPSHOT_CODES.items():
        texts[code] = f"{texts[code]}\n\nIn a snapshot: {text}" if code in texts else text
    return texts
