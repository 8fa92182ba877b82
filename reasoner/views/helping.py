"""Help: what can be typed, on one screen; and the names there are."""

from __future__ import annotations

from collections.abc import Iterable

from reasoner.graph.knowledge import Knowledge, plain
from reasoner.views.page import Block, Heading, Page, Para, Rows

__all__ = ["NAME_KINDS", "help_page", "names_page"]

_ANSWERS = (
    ("y   n   ?", "the question above; ? = asked, not known: never absent"),
    ("NAME +   NAME -   NAME ?", "any answer, any time; several: swelling -, fever -"),
    ("NAME ~.7   NAME left +", "not sure, .7 that it is there; with its side"),
    ("NAME L 3 3.5 R 9 9.5", "a measure: sides, trials, tool, set-up"),
    ("left, age 34, sex f", "who; injury 6 weeks ago, boot 3 weeks, no surgery"),
)
_ACTS = (
    ("options", "what may be done now, in four lanes"),
    ("consent NAME yes", "what they said to it; treat asks for it too"),
    ("treat NAME dose", "what was given; because ... where not offered"),
    ("retest ...", "the same signs; new symptom, swelling, worse gait"),
    ("excuse because ...", "no retest, and why"),
    ("resolve NAME: done ...", "result; read by; when; not excluded"),
    ("undo   withdraw NAME", "take back the last thing, or one answer"),
)
_REST = (
    ("why NAME   why", "what speaks for and against; numbers only here"),
    ("list   screens   answers", "causes; danger screens; what counts now"),
    ("signs   judge   irritability", "retest signs; your view first; what sets it off"),
    ("problem: ...   plan ...", "your words; also note, conclusion, home: ..."),
    ("next   skip   open", "another question; leave this one; what was left"),
    ("new visit   new assessment", "what is seen and tested is asked afresh"),
    ("pause   close   help names", "leave; end the visit; list every name"),
)
NAME_KINDS = ("findings", "measures", "options", "hypotheses", "screens")


def help_page() -> Page:
    """Everything that can be typed; fits a screen of 24 lines."""
    return (
        Heading("Answers"), Rows(_ANSWERS, first=29), Heading("Acts"), Rows(_ACTS, first=29), Heading("And"),
        Rows(_REST, first=29),
    )  # fmt: skip


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
