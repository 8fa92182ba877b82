"""A feedback sheet in Markdown: their own view first, one strength tied to an event, one priority, one question, one
agreed action. Never a grade; the mentor changes any of it before it is given.
"""

from __future__ import annotations

from reasoner.case import events as ev
from reasoner.consult.describe import describe
from reasoner.review.counted import hands_on
from reasoner.review.page_one import PageOne
from reasoner.visible import markdown

__all__ = ["feedback_markdown", "strength"]



def feedback_markdown(page: PageOne, by: str, agreed: str = "") -> str:
    """The sheet. `agreed`: the action both agreed on; a line to write on where it is empty."""
    reading = page.reading
    head = f"{len(reading.entries)} lines, last {reading.entries[-1].hash.removeprefix('sha256:')[:12]}"
    kind = {"real": "", "demo": " Invented patient.", "practice": " Practice, an invented patient."}[reading.state.kind]
    seq, words = strength(page)
    parts = [
        f"# Feedback: {reading.case}",
        f"For {markdown(page.clinician)}, from {markdown(by)}.{kind} "
        f"About the trail as it stands at {head}. No marks are given.",
        "## Your own view first",
        *_own_words(page),
        "",
        "How do you see it now, before you read on?",
        "",
        "## One thing that was done well",
        f"Line {seq}: {markdown(words)}",
        "## One priority",
        markdown(_priority(page)),
        "## One question",
        markdown(_question(page)),
        "## What we agreed",
        _plain(agreed) if agreed else "Action, by when, and how we will see that it was done: ______________________",
        "",
        "Supports a talk between two people; it replaces none. Local protocol and supervision rules come first.",
    ]
    return "\n\n".join(p for p in parts if p) + "\n"


def strength(page: PageOne) -> tuple[int, str]:
    """One event worth keeping: stopping in time, else an idea given up, else a loop done whole, else danger first."""
    reading, k = page.reading, page.reading.knowledge
    for one in reading.recorded:
        handed = isinstance(one.event, ev.HandedOver) or (
            isinstance(one.event, ev.Noted) and one.event.heading == "handover"
        )
        if handed and not _treated(page):
            return one.seq, "you stopped and handed over before any hands were on."
    if page.idea is not None and not page.idea.kept:
        first, last = k.hypotheses[page.idea.first].name, k.hypotheses[page.idea.last].name
        return page.idea.last_seq, f"you gave up your first idea ({first}) for {last} when the answers asked for it."
    for one, _ in reading.turns:
        if isinstance(one.event, ev.Retested):
            return one.seq, f"you measured the same signs again straight away ({describe(k, one.event)})."
    for one in reading.recorded:
        if isinstance(one.event, ev.BundleAnswered):
            return one.seq, "you asked for danger before anything else."
    first_line = next(
        (r for r in reading.recorded if isinstance(r.event, (ev.Answered, ev.Noted))), reading.recorded[0]
    )
    return first_line.seq, f"you wrote it down as it was said: {describe(k, first_line.event)}."


def _treated(page: PageOne) -> bool:
    return any(hands_on(page.reading.knowledge, p.option) for p in page.reading.state.loops)


def _own_words(page: PageOne) -> list[str]:
    said = [j for j in page.reading.state.judgements if j.words or j.ranked]
    lines = [f"> Line {j.seq}: {_plain(j.words or ' > '.join(j.ranked))}" for j in said]
    notes = [n for n in page.reading.state.notes if n.heading in ("conclusion", "plan")]
    lines += [f"> Line {n.seq}, {n.heading}: {_plain(n.text)}" for n in notes]
    return lines or ["> Nothing of your own judgement was written down."]


def _priority(page: PageOne) -> str:
    if page.faults:
        worst = page.faults[0]
        return (
            f"Line {worst.seq}, {worst.title}: {worst.what}. What could have happened: {worst.could}. Now: {worst.now}."
        )
    if page.not_asked:
        return f"Ask what tells most before deciding: {page.not_asked[0].ask}"
    return "Nothing counted stands out; choose together what to practise next."


def _question(page: PageOne) -> str:
    if page.idea is not None:
        name = page.reading.knowledge.hypotheses[page.idea.first].name
        return f"What finding would have made you drop {name}, and did you look for it?"
    return "What did you think it was before you touched it, and what would have changed your mind?"


def _plain(text: str) -> str:
    """Typed words on one line, so that they cannot start a heading or a list, nor carry markup."""
    return markdown(" ".join(text.split()))
