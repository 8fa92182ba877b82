"""The letter: urgency in line one, one page, the clinician's words first, blanks for whatever names a person."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from reasoner.consult.standing import LEVEL_WORDS, Standing, highest, standing
from reasoner.consult.words import listed
from reasoner.reports.document import Block, Bullets, Document, Fields, Para, Section
from reasoner.reports.dossier import CAUTION, Dossier
from reasoner.reports.phrases import (
    changes,
    closing,
    finding_name,
    handed_over,
    history,
    latest,
    loop_lines,
    measured_table,
    orders,
    present_names,
    side_lines,
    who,
)

__all__ = ["IDENTITY", "letter", "urgency_line"]

IDENTITY = (("Name", ""), ("Born", ""), ("Number", ""), ("Phone", ""))


def letter(d: Dossier, most: int = 12) -> Document:
    """The letter. `most`: names in a list, made smaller by the caller until it fits its page."""
    d = replace(d, visits_by_day=True)
    stands = standing(d.knowledge, d.state, d.as_of)
    parts: tuple[tuple[str, tuple[Block, ...]], ...] = (
        ("Why I write", _bullets(_why(d, stands))),
        ("What I ask" if stands else "Plan", _bullets(_asked(d, stands))),
        ("Found", _bullets(_found(d, most))),
        ("Done so far", _bullets(_done(d, most))),
        ("Not excluded", _bullets(_not_excluded(d, stands, most))),
    )
    return Document(
        kind="letter",
        first=urgency_line(stands),
        title=f"{'Referral' if stands else 'Report'}: {d.state.context.side or ''} {_site(d)}".replace(":  ", ": "),
        subtitle=(),
        sections=(
            Section("", (Fields(_head(d)), Fields(IDENTITY, row=True))),
            *(Section(title, blocks) for title, blocks in parts if blocks),
            Section("", (Fields(_signed(d), row=True), Para(CAUTION))),
        ),
        footer=d.ending,
        invented=d.invented,
        paper=d.clinic.paper,
    )


def _site(d: Dossier) -> str:
    return d.knowledge.region.body_site or d.knowledge.region.name


def _signed(d: Dossier) -> tuple[tuple[str, str], ...]:
    return (("Clinician", f"{d.clinician}, {_role(d)}"), ("Signed", ""))


def _role(d: Dossier) -> str:
    return d.state.visits[-1].role if d.state.visits else d.role


def urgency_line(stands: Sequence[Standing]) -> str:
    """Line one at every level above routine: how soon, and for what."""
    words = LEVEL_WORDS[highest(stands)]
    if not words:
        return ""
    first = [s.screen.name for s in stands if s.screen.send == highest(stands)]
    return f"{words} - {', '.join(first)}"


def _head(d: Dossier) -> tuple[tuple[str, str], ...]:
    sender = ", ".join(p for p in (d.clinic.name, d.clinic.address, d.clinic.phone) if p)
    head = [("Date", d.day(d.now)), ("To", ""), ("Our case", f"{d.state.case}: {who(d)}")]
    return (*(((("From", sender)),) if sender else ()), *head)


def _bullets(lines: Iterator[str]) -> tuple[Block, ...]:
    items = tuple(lines)
    return (Bullets(items),) if items else ()


def _last_note(d: Dossier, heading: str) -> str:
    told = [n.text for n in d.state.notes if n.heading == heading]
    return told[-1] if told else ""


def _why(d: Dossier, stands: Sequence[Standing]) -> Iterator[str]:
    for one in stands:
        day = "" if one.visit == d.state.visit else f" (visit {one.visit}, {d.day(one.at)}; not resolved since)"
        yield f"{one.screen.name}{day}: {one.screen.say_met}"
    for w in d.state.withdrawn:
        yield f"An answer was taken back after its screen had fired: {finding_name(d, w.finding, w.side)}: {w.reason}"
    conclusion = _last_note(d, "conclusion")
    if conclusion:
        yield f"My conclusion: {conclusion}"
    elif not stands:
        yield "My conclusion: not written yet"
    problem = _last_note(d, "problem")
    if problem:
        yield f'In their words: "{problem}"'


def _asked(d: Dossier, stands: Sequence[Standing]) -> Iterator[str]:
    for one in stands:
        yield one.screen.next_step
    yield from list(handed_over(d))[-1:]
    plan = _last_note(d, "plan")
    if plan:
        yield f"Our plan meanwhile: {plan}" if stands else plan
    ended = d.state.ending is not None and d.state.ending.visit == d.state.visit
    yield from closing(d) if ended else ()
    if not stands and not plan and not ended:
        yield "For your information; no request."


def _found(d: Dossier, most: int) -> Iterator[str]:
    told = [*history(d), *orders(d)]
    if told:
        yield "; ".join(told)
    for heading, said in (("health", "Health and medicines"), ("past", "Before")):
        words = _last_note(d, heading)
        if words:
            yield f"{said}: {words}"
    danger, other = present_names(d, danger=True), present_names(d, danger=False)
    if danger:
        yield "Danger signs present: " + ", ".join(danger)  # never shortened
    if other:
        yield "Present: " + listed(other, most)
    unknown = [finding_name(d, a.finding, a.side) for a in latest(d) if a.value == "unknown"]
    if unknown:
        yield "Asked, not known: " + listed(unknown, most)
    differences = list(side_lines(d, (d.state.visit,))) or list(side_lines(d))
    yield from differences[: max(1, most // 4)]
    if not differences:
        latest_values = {row[0]: row[1] for row in measured_table(d)}
        if latest_values:
            yield "Measured: " + listed((f"{k} {v}" for k, v in latest_values.items()), max(2, most // 2))


def _done(d: Dossier, most: int) -> Iterator[str]:
    for loop in d.state.loops[-max(1, most // 3):]:
        yield next(loop_lines(d, loop))
        measured = changes(d, loop)
        if measured:
            yield f"  {measured}"
    if not d.state.loops:
        yield "Nothing by hand."
    for made in d.state.resolutions:
        screen = d.knowledge.screens.get(made.screen)
        name = screen.name if screen is not None else made.screen
        yield f"{name}: {made.done}; {made.result} ({made.read_by}); not excluded by it: {made.not_excluded}"


def _not_excluded(d: Dossier, stands: Sequence[Standing], most: int) -> Iterator[str]:
    for one in stands:
        if one.screen.not_excluded:
            yield f"{one.screen.name}: {one.screen.not_excluded}"
    standing_ids = {s.screen.id for s in stands}
    waiting = [s.name for s in d.advice.screens if s.state == "open" and not s.resolved and s.id not in standing_ids]
    if waiting:
        yield "Open, not answered enough to judge: " + listed(waiting, most)
    negative = [] if stands else [s for s in d.advice.screens if s.state == "not_met"]
    for screen in negative[: max(1, most // 4)]:
        yield f"{screen.name}: criteria not met on these answers; not excluded: {screen.not_excluded or 'it itself'}"
    if not stands and not waiting and not negative:
        yield "No screen was judged on these answers; nothing is excluded by that."
