"""`reasoner review TRAIL|FOLDER`: a mentor's reading. Reads trails; writes only remarks beside them and documents."""

from __future__ import annotations

import argparse
import os
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from reasoner.commands import load_knowledge
from reasoner.commands.clinician import clinician_code
from reasoner.problems import InputRefused, Problem

if TYPE_CHECKING:
    from reasoner.graph.knowledge import Knowledge
    from reasoner.review.counted import Fault
    from reasoner.review.page_one import PageOne
    from reasoner.review.reading import Reading
    from reasoner.views.page import Page

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `reasoner review`."""
    parser.add_argument("trail", metavar="TRAIL", nargs="*", help="a case, a trail file, a folder; two: side by side")
    parser.add_argument("--timeline", metavar="FROM", type=int, nargs="?", const=1, help="line by line, from a line on")
    parser.add_argument("--at", metavar="N", type=int, help="the case and the advice as they stood after line N")
    parser.add_argument("--why", metavar="N", type=int, help="why it advised so after line N, by that day's knowledge")
    parser.add_argument("--what-if", metavar="CHANGE", help="'N absent': the advice, had line N been so")
    parser.add_argument("--remark", metavar=("N", "WORDS"), nargs=2, help="a remark on line N, signed with --by")
    parser.add_argument("--read", action="store_true", help="mark it as read, signed with --by")
    parser.add_argument("--feedback", metavar="FILE", type=Path, help="write a feedback sheet (Markdown)")
    parser.add_argument("--agreed", metavar="WORDS", default="", help="the agreed action, for --feedback")
    parser.add_argument("--html", metavar="FILE", type=Path, help="write one self-contained page")
    parser.add_argument("--debrief", action="store_true", help="practice only: with the truth of the scenario")
    parser.add_argument("--calibration", action="store_true", help="own confidence over the practice cases given")
    parser.add_argument("--by", metavar="CODE", default=None, help="your code, never a name (or $REASONER_BY)")


def run(args: argparse.Namespace) -> int:
    """Review one trail, two, or a folder."""
    from reasoner.graph.load import collector_paused

    with collector_paused():  # every state of a long trail is kept while it is read, and none dropped
        return _run(args)


def _run(args: argparse.Namespace) -> int:
    from reasoner.trail.paths import case_files, home

    state = home(os.environ)
    if not args.trail and not args.calibration:
        raise InputRefused([Problem("", "reasoner review: which trail?", "a case, a file, or a folder of trails")])
    paths = [_path(state, name) for name in args.trail] or case_files(state)
    if args.calibration:
        return _calibration(args, state, [p for path in paths for p in _trails(path)])
    if len(paths) == 1 and paths[0].is_dir():
        return _folder(args, state, paths[0])
    if len(paths) == 2:
        return _pair(args, state, paths)
    if len(paths) > 2:
        raise InputRefused([Problem("", "reasoner review: one trail, two, or a folder")])
    return _one(args, state, paths[0])


# ------------------------------------------------------------------------------------------------ what is meant


def _path(state: Path, named: str) -> Path:
    from reasoner.trail.paths import cases

    path = Path(named)
    if path.exists():
        return path
    if (state / "cases").is_dir() and named in cases(state):
        return state / "cases" / f"{named}.jsonl"
    raise InputRefused(
        [Problem("", f"there is no case, trail or folder {named}", "reasoner where tells where they are")]
    )


def _trails(path: Path) -> list[Path]:
    """The trails of a folder, of a state folder too; a file is itself."""
    if not path.is_dir():
        return [path]
    inner = path / "cases"
    return sorted(p for p in (inner if inner.is_dir() else path).iterdir() if p.suffix == ".jsonl")


def _open(args: argparse.Namespace, state: Path, path: Path, now: dict[str, Knowledge]) -> Reading:
    """Verified, with the knowledge of that day where it is kept; else with today's, and that is said."""
    from reasoner.review.reading import Reading, verified
    from reasoner.review.then import knowledge_then

    entries = verified(path, state)
    region = str(entries[0].payload.get("region", ""))
    if region not in now:
        now[region] = load_knowledge(None, region, without_clinic=args.without_clinic)
    then = knowledge_then(state, entries[-1].knowledge, region, f"{entries[-1].at:%Y-%m-%d}", now[region])
    return Reading.of(path, state, entries, then if then is not None else now[region])


def _missed(reading: Reading) -> tuple[Fault, ...]:
    """Serious truths of a practice case that were never brought out, once its visit is over."""
    from reasoner.commands.demo import scenario_folder
    from reasoner.practice.find import scenario_of
    from reasoner.review.debrief import missed

    if reading.state.kind != "practice":
        return ()
    scenario = scenario_of(reading.state, scenario_folder(), reading.knowledge)
    return missed(reading, scenario) if scenario is not None else ()


def _show(page: Page) -> None:
    from reasoner.views.render import make_console, show

    if page:
        show(page, make_console())


# ------------------------------------------------------------------------------------------------ one trail


def _one(args: argparse.Namespace, state: Path, path: Path) -> int:
    from reasoner.review.remarks import remarks_of

    reading = _open(args, state, path, {})
    if args.remark or args.read:
        return _write_beside(args, reading)
    if args.at is not None:
        return _at(reading, args.at)
    if args.why is not None:
        return _why(args, state, reading)
    if args.what_if:
        return _what_if(args, reading)
    if args.knowledge is not None:
        return _other_knowledge(args, reading)
    from reasoner.review.page_one import page_one
    from reasoner.views.reviewing import one_page, timeline_page

    page, remarks = page_one(reading, _missed(reading)), remarks_of(path, reading.entries)
    if args.feedback or args.html:
        return _documents(args, page)
    if args.debrief:
        return _debrief(reading, page)
    if args.timeline is not None:
        from reasoner.review.timeline import timeline

        _show(timeline_page(timeline(reading, page.moments, remarks, args.timeline), page))
        return 0
    _show(one_page(page, remarks))
    return 0


def _write_beside(args: argparse.Namespace, reading: Reading) -> int:
    from reasoner.review.remarks import add

    by = clinician_code(args.by, needed=True)
    now = datetime.now().astimezone()
    if args.remark:
        number, words = args.remark
        on = int(number) if number.isdecimal() else 0
        made = add(reading.path, reading.entries, kind="remark", on=on, text=words, by=by, role="mentor", at=now)
        print(f"remark {made.number} on line {on}, quoting {made.hash.removeprefix('sha256:')[:12]}, by {by}")
    if args.read:
        last = reading.entries[-1].seq
        add(reading.path, reading.entries, kind="read", on=last, text="", by=by, role="mentor", at=now)
        print(f"marked as read by {by}, to line {last}")
    return 0


def _at(reading: Reading, seq: int) -> int:
    from reasoner.consult.describe import describe
    from reasoner.views.beliefs import lists
    from reasoner.views.page import Heading, Para
    from reasoner.views.screens import screens_line

    one, advice = reading.at(seq), reading.advice_at(seq)
    _show((
        Heading(f"After line {seq}", f"{one.at:%d %b %Y %H:%M} by {one.by}"),
        Para(describe(reading.knowledge, one.event)),
        *screens_line(advice, reading.knowledge),
        *lists(advice, reading.knowledge),
    ))  # fmt: skip
    return 0


def _why(args: argparse.Namespace, state: Path, reading: Reading) -> int:
    """What moved most at that line, explained by the knowledge of that day, or an honest refusal."""
    from dataclasses import replace

    from reasoner.advice.why import why
    from reasoner.consult.describe import describe
    from reasoner.review.moments import chances
    from reasoner.review.then import needed_then
    from reasoner.views.explaining import page as explanation_page
    from reasoner.views.page import Heading, Para

    at = reading.state_at(args.why)
    entry = next(e for e in reading.entries if e.seq == args.why)
    region = str(reading.entries[0].payload.get("region", ""))
    then = needed_then(state, entry.knowledge, region, f"{entry.at:%Y-%m-%d}", reading.knowledge)
    reading = replace(reading, knowledge=then)
    one = reading.at(args.why)
    before = reading.state_at(max(args.why - 1, 1))
    was, now = (chances(then, s, one.at) for s in (before, at))
    moved = max(was, key=lambda h: abs(now[h] - was[h]))
    _show((
        Heading(f"Why, at line {args.why}", f"knowledge of that day {entry.knowledge[:12]}"),
        Para(describe(then, one.event)),
        Para(f"moved most: {then.hypotheses[moved].name} {was[moved]:.2f} -> {now[moved]:.2f}", tone="strong"),
    ))  # fmt: skip
    _show(explanation_page(why(then, at, one.at, moved)))
    return 0


def _what_if(args: argparse.Namespace, reading: Reading) -> int:
    from reasoner.review.differ import what_if
    from reasoner.views.reviewing import differences_page

    _show(differences_page(f"What if line {args.what_if}", what_if(reading, args.what_if)))
    return 0


def _other_knowledge(args: argparse.Namespace, reading: Reading) -> int:
    from reasoner.review.differ import with_knowledge
    from reasoner.views.page import Para
    from reasoner.views.reviewing import differences_page

    other = load_knowledge(args.knowledge, reading.knowledge.region.id, without_clinic=args.without_clinic)
    if not reading.then:
        text = "The knowledge of that day is not kept here: compared with today's instead."
        _show((Para(text, tone="caution"),))
    title = f"Knowledge {reading.knowledge.digest[:12]} -> {other.digest[:12]}"
    _show(differences_page(title, with_knowledge(reading, other)))
    return 0


# ------------------------------------------------------------------------------------------------ documents


def _documents(args: argparse.Namespace, page: PageOne) -> int:
    from reasoner.trail.files import refusing, write_whole

    if args.feedback:
        from reasoner.review.feedback import feedback_markdown

        text = feedback_markdown(page, clinician_code(args.by, needed=True), args.agreed)
        with refusing(args.feedback, "write the feedback sheet"):
            write_whole(args.feedback, text.encode())
        print(f"written: {args.feedback}")
    if args.html:
        from reasoner.review.html import html_page
        from reasoner.review.remarks import remarks_of

        remarks = remarks_of(page.reading.path, page.reading.entries)
        with refusing(args.html, "write the page"):
            write_whole(args.html, html_page(page, remarks).encode())
        print(f"written: {args.html}")
    return 0


def _debrief(reading: Reading, page: PageOne) -> int:
    from reasoner.commands.demo import scenario_folder
    from reasoner.practice.begin import played
    from reasoner.practice.find import found_again
    from reasoner.review.debrief import debrief
    from reasoner.views.debriefing import debrief_page

    simulated = played(reading.state)
    if simulated is None:
        raise InputRefused([Problem("", f"{reading.case} is not a practice case on a simulated patient")])
    if not reading.over:
        hint = f"first: reasoner practise --case {reading.case}, then close"
        raise InputRefused([Problem("", "the truth is told once a visit is closed", hint)])
    found = found_again(simulated, scenario_folder(), reading.knowledge)
    if found is None:
        message = f"the scenario {simulated.scenario} is no longer the one this case was played on"
        raise InputRefused([Problem("", message, "page one needs no truth: leave --debrief out")])
    _show(debrief_page(debrief(reading, found.scenario, page), reading.knowledge))
    return 0


# ------------------------------------------------------------------------------------------------ several


def _folder(args: argparse.Namespace, state: Path, folder: Path) -> int:
    from reasoner.review.worklist import worklist
    from reasoner.views.reviewing import worklist_page

    now: dict[str, Knowledge] = {}
    work = worklist(_trails(folder), lambda path: _open(args, state, path, now), _missed)
    _show(worklist_page(work))
    return 1 if any(w.refused for w in work) else 0


def _pair(args: argparse.Namespace, state: Path, paths: list[Path]) -> int:
    from reasoner.review.differ import side_by_side
    from reasoner.review.page_one import page_one
    from reasoner.views.reviewing import pairs_page

    now: dict[str, Knowledge] = {}
    one, other = (page_one(reading, _missed(reading)) for reading in (_open(args, state, p, now) for p in paths))
    _show(pairs_page(side_by_side(one, other)))
    return 0


def _calibration(args: argparse.Namespace, state: Path, paths: list[Path]) -> int:
    """Own confidence over practice cases that are over and whose scenario is still the one they were played on."""
    from reasoner.commands.demo import scenario_folder
    from reasoner.practice.find import scenario_of
    from reasoner.review.calibration import calibration
    from reasoner.review.debrief import said_of
    from reasoner.views.debriefing import calibration_page

    now: dict[str, Knowledge] = {}
    cases = []
    for path in paths:
        reading = _open(args, state, path, now)
        if args.by and args.by not in {r.by for r in reading.recorded}:
            continue
        scenario = scenario_of(reading.state, scenario_folder(), reading.knowledge)
        if scenario is not None and reading.over:
            cases.append(said_of(reading, scenario))
    _show(calibration_page(calibration(cases), len(cases)))
    return 0
