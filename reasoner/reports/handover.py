"""The hand-over for emergencies: what to say on the phone first, then what to write down, then the details."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from reasoner.case.state import Answer
from reasoner.consult.standing import Standing, standing
from reasoner.consult.words import listed, number
from reasoner.reports.document import Block, Bullets, Document, Fields, Para, Section, Steps
from reasoner.reports.dossier import CAUTION, Dossier
from reasoner.reports.letter import IDENTITY, urgency_line
from reasoner.reports.phrases import finding_name, handed_over, history, latest, loop_lines, orders, present_names

__all__ = ["handover"]

_HELP = {
    "emergency": "This is an emergency.",
    "same_day": "I need someone to be seen today.",
    "urgent": "I need someone to be seen within days.",
    "routine": "I have a routine request.",
}


def handover(d: Dossier) -> Document:
    """The hand-over sheet. Without a standing danger screen it says so and points to the letter."""
    d = replace(d, visits_by_day=True)
    stands = standing(d.knowledge, d.state, d.as_of)
    parts: tuple[tuple[str, tuple[Block, ...]], ...] = (
        ("Say this on the phone", _script(d, stands)),
        ("Write down", (Fields(_CALL, row=True), Fields(_agreed(d)), Fields(IDENTITY, row=True))),
        ("Danger signs, with the time each was told or seen", _bullets(_signs(d))),
        ("Also known", _bullets(_known(d))),
        ("Done here", _bullets(_done(d))),
        ("Not excluded", _bullets(_not_excluded(stands))),
        ("", (Para(CAUTION),)),
    )
    return Document(
        kind="handover",
        first=urgency_line(stands),
        title=f"Hand-over  {d.state.case}",
        subtitle=(f"{d.moment(d.as_of)}, {d.clinician}",),
        sections=tuple(Section(title, blocks) for title, blocks in parts if blocks),
        footer=d.ending,
        invented=d.invented,
        paper=d.clinic.paper,
    )


def _script(d: Dossier, stands: Sequence[Standing]) -> tuple[Block, ...]:
    if not stands:
        return (Para("No danger screen stands as met on these answers. For a written request use the letter."),)
    return (Steps(tuple(_sentences(d, stands))),)


def _sentences(d: Dossier, stands: Sequence[Standing]) -> Iterator[str]:
    first = stands[0]
    where = f", at {d.clinic.name}" if d.clinic.name else ""
    back = f" Call me back on {d.clinic.phone}." if d.clinic.phone else ""
    yield f"I am a physiotherapist, code {d.clinician}{where}. {_HELP[first.screen.send]}{back}"
    context = d.state.context
    age = f"{number(context.age)} years old" if context.age is not None else "age not known"
    sex = {"female": "a woman", "male": "a man"}.get(context.sex or "", "a person")
    yield f"It is about {sex}, {age}; {context.side or 'side not known'} {d.knowledge.region.body_site or 'limb'}."
    for one in stands:
        signs = [finding_name(d, *_parts(m)) for m in one.met_by if _parts(m)[0] in d.knowledge.findings]
        yield f"I think of: {one.screen.name}." + (f" Because of: {listed(signs, 8)}." if signs else "")
    said = {_parts(m)[0] for one in stands for m in one.met_by}
    others = [finding_name(d, a.finding, a.side) for a in _present_danger(d) if a.finding not in said]
    if others:
        yield f"Also: {listed(others, 8)}."
    health = [n.text for n in d.state.notes if n.heading == "health"]
    if health:
        yield f"Health and medicines: {health[-1]}."
    told = [*history(d), *orders(d)]
    if told:
        yield "Before this: " + "; ".join(told) + "."
    done = list(_given(d))
    yield "Done here: " + ("; ".join(done) if done else "nothing by hand") + "."
    for one in stands:
        yield f"I ask for: {one.screen.next_step}"
    yield "Please say back what you will do, and when."


def _parts(met_by: str) -> tuple[str, str]:
    finding, _, side = met_by.partition("@")
    return finding, side


_CALL = (("Called at", ""), ("Spoke to", ""), ("Leaves at", ""), ("Kin told", ""))


def _agreed(d: Dossier) -> tuple[tuple[str, str], ...]:
    told = list(handed_over(d))
    patient = d.state.handovers[-1].told if d.state.handovers else ""
    return (("Agreed", told[-1] if told else ""), ("Told to the patient", patient))


def _bullets(lines: Iterator[str]) -> tuple[Block, ...]:
    items = tuple(lines)
    return (Bullets(items),) if items else ()


def _present_danger(d: Dossier) -> Iterator[Answer]:
    for answer in latest(d):
        record = d.knowledge.findings.get(answer.finding)
        if answer.value == "present" and record is not None and record.danger:
            yield answer


def _signs(d: Dossier) -> Iterator[str]:
    for answer in _present_danger(d):
        yield f"{d.moment(answer.at)}  {finding_name(d, answer.finding, answer.side)}"
    for w in d.state.withdrawn:
        yield f"taken back: {finding_name(d, w.finding, w.side)}: {w.reason}"


def _known(d: Dossier) -> Iterator[str]:
    yield from (f"{n.heading}: {n.text}" for n in d.state.notes if n.heading in ("problem", "past"))
    other = present_names(d, danger=False)
    if other:
        yield "Present: " + listed(other, 12)
    unknown = [finding_name(d, a.finding, a.side) for a in latest(d) if a.value == "unknown"]
    if unknown:
        yield "Asked, not known: " + listed(unknown, 12)
    waiting = [s for s in d.advice.screens if s.state == "open" and not s.resolved]
    pressing = [s.name for s in waiting if s.send in ("emergency", "same_day")]
    if pressing:
        yield "Not asked to the end: " + listed(pressing, 8)


def _not_excluded(stands: Sequence[Standing]) -> Iterator[str]:
    return (f"{s.screen.name}: {s.screen.not_excluded}" for s in stands if s.screen.not_excluded)


def _given(d: Dossier) -> Iterator[str]:
    for loop in d.state.loops:
        yield next(loop_lines(d, loop))


def _done(d: Dossier) -> Iterator[str]:
    given = [line for loop in d.state.loops for line in loop_lines(d, loop)]
    yield from given or ["nothing by hand"]
    for made in d.state.resolutions:
        screen = d.knowledge.screens.get(made.screen)
        yield f"{screen.name if screen else made.screen}: {made.done}; {made.result} ({made.read_by})"
