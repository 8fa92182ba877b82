"""Help: what can be typed, a screen at a time; and the names there are."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from reasoner.graph.knowledge import Knowledge, plain
from reasoner.views.page import Block, Heading, Page, Para, Rows

__all__ = ["NAME_KINDS", "TOPICS", "help_page", "names_page", "topic_page"]

_ANSWERS = (
    ("y   n   ?", "the question above; ? = asked, not known: never absent"),
    ("NAME +   NAME -   NAME ?", "any answer, any time; several: swelling -, fever -"),
    ("NAME ~.7   NAME left +", "not sure, .7 that it is there; with its side"),
    ("NAME L 3 3.5 R 9 9.5", "a measure: sides, trials, tool, set-up"),
    ("left, age 34, sex f", "who; injury 6 weeks ago, boot 3 weeks, no surgery"),
)
# topic -> what can be typed and what it does; every word of command stands in one of them
TOPICS: Mapping[str, tuple[tuple[str, str], ...]] = {
    "story": (
        ("problem: ...   where: ...", "the main problem, in their words; where exactly"),
        ("eases: ...   day: ...", "what eases it; over 24 hours"),
        ("episode: ...   past: ...", "how it went so far; earlier problems"),
        ("health: ...   work: ...", "general health, medicines; what it must do"),
        ("goal: ...   worries: ...", "what they want; what they think it is"),
        ("aim NAME L 9: words", "a number they want of one measure"),
        ("irritability", "ten stairs, some, 5/10, 5 min: what, how much, how bad, how long"),
        ("signs NAME, NAME: words", "one to three measures that every retest repeats"),
    ),
    "danger": (
        ("stop-now NAME no", "a stop-now question by its name, in one line with others"),
        ("screens", "which danger screens are met, open, not met"),
        ("resolve NAME: done ...", "result; read by; when; not excluded: leaves a met screen"),
        ("phone", "what to say on the phone, from what is recorded"),
        ("handover phoned, to WHO", "at WHEN; travel HOW; told WHAT"),
        ("withdraw NAME because ...", "takes one answer back, so that it counts as not asked"),
        ("surgeon   order WHAT", "draft to the surgeon; an order heard: by WHO; when WHEN"),
    ),
    "exam": (
        ("exam", "the plan as suggested, or: must NAME; should NAME; leave NAME"),
        ("", "and how far: active only, to first pain, to the limit"),
        ("exam plan: ...", "the same in your words"),
        ("next   skip   open", "another question; leave this one; what was left"),
        ("judge FIRST > SECOND", "fairly sure; would change if ...   (judge same, judge not sure)"),
        ("list   list all", "the tool's causes, each list by itself"),
        ("why   why NAME", "what speaks for and against; numbers only here"),
        ("answers", "what counts now, and what has run out"),
    ),
    "treat": (
        ("options   options all", "what may be done now, in four lanes"),
        ("consent NAME yes", "or no, withdrawn; waq yes: only some of it was said"),
        ("treat NAME dose   give", "what was given; because ... where it is not offered"),
        ("later NAME dose", "the same, written down afterwards"),
        ("hold 60   hold 3x30", "a quiet timer; Ctrl-C stops it"),
        ("retest NAME 6, NAME L 4", "the same signs; new symptom, swelling, worse gait"),
        ("excuse because ...", "no retest, and why"),
        ("competence NAME", "yours, recorded, for a load class (thrust)"),
        ("activity", "return to activity: what to look at; there are no cut-offs"),
    ),
    "visits": (
        ("new visit", "the next one: what was asked and seen is asked afresh"),
        ("flare no   flare 36 h", "worse after last time, how long; swelling new"),
        ("straight after: ...", "also that night, next day, unwanted, home done, health change"),
        ("stalled second opinion: ...", "or changed hypothesis, imaging question: after no progress"),
        ("new assessment", "within a visit: a new picture before treatment"),
        ("conclusion: ...   plan ...", "your words; also home, next visit, return if"),
        ("note ...", "anything else"),
        ("pause   close", "leave to come back; end the visit"),
        ("finish REASON", "care here ends: outcome ...; self-management ...; return if ..."),
    ),
    "screen": (
        ("summary   timeline", "the case in short; what happened, line by line"),
        ("undo", "takes the last thing back"),
        ("cover", "hides everything until Enter; it happens by itself after 5 minutes"),
        ("help names", "every name; help names findings; help names PART"),
        ("quit   exit", "leave; all that was said back is recorded"),
    ),
}  # fmt: skip
NAME_KINDS = ("findings", "measures", "options", "hypotheses", "screens")


def help_page() -> Page:
    """How to answer, and the words of each topic; fits a screen of 24 lines."""
    rows = tuple((f"help {topic}", _WORDS[topic]) for topic in TOPICS)
    return (
        Heading("Answers"), Rows(_ANSWERS, first=29), Heading("Words, by topic", "help names: every name"),
        Rows(rows, first=13),
    )  # fmt: skip


_WORDS = {
    "story": "problem: where: eases: day: episode: past: health: work: goal: worries: aim irritability signs",
    "danger": "stop-now screens resolve phone handover withdraw surgeon order",
    "exam": "exam, exam plan, next skip open judge list why answers",
    "treat": "options consent treat give later hold retest excuse competence activity",
    "visits": "new visit, flare, straight after: that night: next day: unwanted: home done: health change: stalled, "
              "new assessment, conclusion: plan home: next visit: return if: note pause close finish",
    "screen": "summary timeline undo cover help quit exit",
}  # fmt: skip


def topic_page(topic: str) -> Page:
    """The words of one topic, with what each does."""
    return (Heading(f"Help: {topic}"), Rows(TOPICS[topic], first=29))


def names_page(knowledge: Knowledge, about: str) -> Page:
    """Names with their aliases. `about`: `findings`, `options PART`, or a part of a name over all kinds."""
    words = plain(about).split()
    kinds = [k for k in NAME_KINDS if k in words] or list(NAME_KINDS)
    part = " ".join(w for w in words if w not in NAME_KINDS and w != "names")
    blocks: list[Block] = []
    for kind in kinds:
        rows = tuple(_rows(getattr(knowledge, kind).values(), part))
        if rows:
            blocks += [Heading(kind.capitalize()), Rows(rows, first=40)]
    return tuple(blocks) or (Para(f"no name has '{part}' in it"),)


def _rows(records: Iterable[object], part: str) -> Iterable[tuple[str, str]]:
    for record in records:
        name, aliases = str(record.name), tuple(getattr(record, "aliases", ()))  # type: ignore[attr-defined]
        if any(part in plain(n) for n in (name, str(record.id), *aliases)):  # type: ignore[attr-defined]
            yield name, ", ".join(aliases)
