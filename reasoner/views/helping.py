"""Help: what can be typed, on one screen; and the names there are."""

from __future__ import annotations

from collections.abc import Iterable

from reasoner.graph.knowledge import Knowledge, plain
from reasoner.views.page import Block, Heading, Page, Para, Rows

__all__ = ["NAME_KINDS", "help_page", "names_page"]

_ANSWERS = (
    ("y  n  ?", "answers the question above; ? is asked, not known (never counts as absent)"),
    ("NAME +   NAME -   NAME ?", "any answer at any time; several in one line: swelling -, fever -"),
    ("NAME ~.7", "not sure: .7 that it is there"),
    ("NAME left +", "with its side, where the case has two"),
    ("NAME L 3 3.5 R 9 9.5", "a measure with its trials, sides, tool and set-up"),
    ("left, age 34, sex f", "who; setting ..., injury 6 weeks ago, boot 3 weeks, no surgery"),
)
_ACTS = (
    ("options", "what may be done now, in four lanes"),
    ("consent NAME yes", "what the patient said to it; treat asks for it too"),
    ("treat NAME dose", "what was really given; because ... where it was not offered"),
    ("retest ...", "the same signs again; new symptom, swelling, worse gait if so"),
    ("excuse because ...", "no retest, and why"),
    ("resolve NAME: done ...", "; result ...; read by ...; when ...; not excluded ..."),
    ("undo   withdraw NAME", "take back the last thing, or one answer"),
)
_REST = (
    ("why NAME   why", "what speaks for and against; numbers only here"),
    ("list   screens   answers", "the hypotheses; the danger screens; what counts now"),
    ("signs   judge   irritability", "retest signs; your own view first; what sets it off"),
    ("problem: ...   plan ...", "your words under a heading; note, conclusion, home: ..."),
    ("next   skip   open", "another question; leave this one; what was left"),
    ("new visit   new assessment", "begin again: what is seen and tested is asked afresh"),
    ("pause   close   help names", "leave, end the visit, list every name"),
)
NAME_KINDS = ("findings", "measures", "options", "hypotheses", "screens")


def help_page() -> Page:
    """Everything that can be typed; fits a screen of 24 lines."""
    return (
        Heading("Answers"), Rows(_ANSWERS, first=28), Heading("Acts"), Rows(_ACTS, first=28), Heading("And"),
        Rows(_REST, first=28),
    )  # fmt: skip


def names_page(knowledge: Knowledge, about: str) -> Page:
    """Names with their aliases. `about`: `findings`, `options squeeze`, or a part of a name over all kinds."""
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
