"""`reasoner report CASE`: the visit note, led by the clinician's own conclusion."""

from __future__ import annotations

import argparse

from reasoner.commands import load_knowledge

__all__ = ["add_arguments", "report_text", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `reasoner report`."""
    parser.add_argument("case", metavar="CASE", help="a case such as oak-17; `reasoner where` tells where they are")


def run(args: argparse.Namespace) -> int:
    """Print the note of one case as it stands at its last entry."""
    print(report_text(args.case, args.knowledge, args.without_clinic), end="")
    return 0


def report_text(case: str, folder: object = None, without_clinic: bool = False) -> str:
    """The note as text. Raises InputRefused if the case cannot be read."""
    import os
    from pathlib import Path
    from typing import cast

    from reasoner.advice.advise import advise
    from reasoner.consult.sitting import state_of_trail
    from reasoner.reports.note import note_sections
    from reasoner.reports.render import plain_text
    from reasoner.trail.paths import home
    from reasoner.trail.store import Trail

    trail = Trail.open(home(os.environ), case)
    region = str(trail.header.get("region", "ankle"))
    knowledge = load_knowledge(cast("Path | None", folder), region, without_clinic=without_clinic)
    state = state_of_trail(trail.entries)
    last = trail.entries[-1]
    advice = advise(knowledge, state, last.at)
    ending = f"trail {case}: {trail.head.count} entries, last {trail.head.hash.removeprefix('sha256:')[:12]}"
    if last.knowledge != knowledge.digest:
        ending += f"; recorded with knowledge {last.knowledge[:12]}, read with {knowledge.digest[:12]}"
    if knowledge.set_aside:
        ending += "; the clinic's own knowledge left out, as asked for"
    elif knowledge.clinic is not None:
        ending += f"; clinic's knowledge {knowledge.clinic.id} {knowledge.clinic.digest[:12]}"
    who = state.visits[-1].clinician if state.visits else last.by
    title = f"Visit note  {case}  {knowledge.region.name}  visit {state.visit}  {last.at:%a %d %b %Y %H:%M}  by {who}"
    return plain_text(title, note_sections(knowledge, state, advice, ending), invented=trail.kind != "real")
