"""Lines about the course of a visit: plan of examination, flare, no progress, orders heard, hand-over, end of care."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Literal

from reasoner.case.state import Value
from reasoner.consult import commands as c
from reasoner.consult.following import STALL_CHOICES
from reasoner.consult.handing import END_REASONS
from reasoner.graph.knowledge import plain
from reasoner.prompt.names import Lexicon
from reasoner.prompt.parsed import Line, Refused

__all__ = ["end_case", "exam", "flare", "hand_over", "hold_seconds", "order", "stalled"]

Extent = Literal["active", "first_pain", "limit", "overpressure"]
_EXTENT: Mapping[str, Extent] = {
    "active": "active", "active only": "active", "active movement only": "active", "first pain": "first_pain",
    "to first pain": "first_pain", "limit": "limit", "to limit": "limit", "to the limit": "limit",
    "overpressure": "overpressure", "with overpressure": "overpressure", "overpressure too": "overpressure",
}  # fmt: skip
_PARTS = re.compile(r"(must|should|leave)(?: today)?[:\s]+(.+)", re.IGNORECASE)
_HOURS = re.compile(r"(\d+(?:\.\d+)?)\s*(h|hrs?|hours?|d|days?|w|weeks?)\b")
_UNIT_HOURS = {"h": 1.0, "d": 24.0, "w": 168.0}


def exam(text: str, lexicon: Lexicon) -> Line:
    """`exam` takes the plan as suggested; `exam must a, b; should c; leave d; to first pain` is one's own."""
    if not text:
        return Line((c.PlanExam(()),))
    found: dict[str, tuple[str, ...]] = {}
    extent: Extent = "active"
    for part in (p.strip() for p in text.split(";") if p.strip()):
        said = _EXTENT.get(plain(part))
        match = _PARTS.fullmatch(part)
        if said is not None:
            extent = said
        elif match is not None:
            found[match[1].lower()] = tuple(_named(n.strip(), lexicon) for n in match[2].split(",") if n.strip())
        else:
            raise Refused(
                f"exam: '{part}' is not understood",
                "exam must NAME, NAME; should NAME; leave NAME; active only | to first pain | to the limit",
            )
    if "must" not in found:
        raise Refused("exam: what must be looked at?", "exam must NAME, NAME; should NAME; leave NAME; to first pain")
    return Line((c.PlanExam(found["must"], found.get("should", ()), found.get("leave", ()), extent),))


def _named(name: str, lexicon: Lexicon) -> str:
    return lexicon.exact("measure", name) or lexicon.find("finding", name)


def flare(text: str) -> c.StateFlare:
    """`no`; `36 h`; `4 days, swelling`; `?`."""
    said = " ".join(text.lower().replace("+", "").split())
    if said in ("no", "n", "none", "-", "not worse"):
        return c.StateFlare(0.0, "absent")
    if said in ("?", "unknown", "not known"):
        return c.StateFlare(None, "unknown")
    swelling: Value = "unknown"
    if "swelling" in said or "swollen" in said:
        swelling = "absent" if re.search(r"\b(no|not|without)\b[^,;]*swell|swelling -", said) else "present"
    timed = _HOURS.search(said)
    hours = float(timed[1]) * _UNIT_HOURS[timed[2][0]] if timed is not None else None
    if timed is None and re.search(r"\bno\b(?!.*swell)|\bnot worse\b", said.split(",")[0]):
        hours = 0.0
    if hours is None and swelling == "unknown":
        raise Refused(f"flare: '{text}' is not understood", "write: no; or 36 h; or 4 days, swelling")
    return c.StateFlare(hours, swelling)


def stalled(text: str) -> c.AnswerStall:
    """`changed hypothesis: ...`, `imaging question: ...` or `second opinion: ...`."""
    for choice in STALL_CHOICES:
        match = re.match(rf"{choice.replace('_', ' ')}\b[:,]?\s*", text, re.IGNORECASE)
        if match is not None:
            return c.AnswerStall(choice, text[match.end() :].strip())  # type: ignore[arg-type]
    names = " | ".join(f"{k.replace('_', ' ')}: ..." for k in STALL_CHOICES)
    raise Refused(f"'{text}' is none of the three answers to no progress", names)


def order(text: str, lexicon: Lexicon) -> Line:
    """`order WHAT; by WHO; when WHEN`."""
    found = _labelled(text, {"by": "by", "when": "when", "at": "when", "order": "text"}, "text")
    return Line((c.HearOrder(**found),))


def hand_over(text: str) -> c.HandOver:
    """`phoned, to WHO; at WHEN; travel HOW; told WHAT`. What has no label is who took it."""
    match = re.match(r"phoned\b[\s,;:]*(?:first\b[\s,;:]*)?", text, re.IGNORECASE)
    rest = text[match.end() :] if match is not None else text
    keys = {
        "to": "to", "taken by": "to", "at": "at", "when": "at", "travels by": "travel", "travels": "travel",
        "travel": "travel", "told": "told",
    }  # fmt: skip
    return c.HandOver(phoned=match is not None, **_labelled(rest, keys, "to"))


def end_case(text: str) -> c.EndCase:
    """`finish REASON; outcome ...; self-management ...; return if ...`."""
    first, _, rest = text.partition(";")
    reason = next((k for k, said in END_REASONS.items() if plain(first) in (said, k.replace("_", " "))), None)
    if reason is None:
        raise Refused(f"finish: '{first.strip()}' is no reason here", "one of: " + "; ".join(END_REASONS.values()))
    keys = {
        "outcome": "outcome", "self-management": "self_management", "self management": "self_management",
        "themselves": "self_management", "return if": "return_signs", "return signs": "return_signs",
    }  # fmt: skip
    found = _labelled(rest, keys, "outcome")
    return c.EndCase(reason, **found)  # type: ignore[arg-type]


def _labelled(text: str, keys: Mapping[str, str], bare: str) -> dict[str, str]:
    """Parts between semicolons by the word each begins with; one without such a word is `bare`."""
    found: dict[str, str] = {}
    for part in (p.strip() for p in text.split(";") if p.strip()):
        label = next((k for k in sorted(keys, key=len, reverse=True) if re.match(rf"{k}\b", part, re.IGNORECASE)), None)
        name = keys[label] if label is not None else bare
        said = part[len(label) :].strip(" :") if label is not None else part
        if name in found:
            raise Refused(f"'{part}': {name.replace('_', ' ')} was given before", "say each part once, between ;")
        found[name] = said
    return found


def hold_seconds(text: str) -> tuple[float, int]:
    """`60`, `3x60`, `3 x 60 s`: (seconds, times). Refused outside 1 s to 10 min and 1 to 10 times."""
    match = re.fullmatch(r"(?:(\d+)\s*x\s*)?(\d+)\s*(s|sec|seconds|min)?", text.strip().lower())
    if match is None:
        raise Refused(f"hold: '{text}' is not understood", "write for example: hold 60, or hold 3x60")
    seconds, times = float(match[2]) * (60 if match[3] == "min" else 1), int(match[1] or 1)
    if not (1 <= seconds <= 600 and 1 <= times <= 10):
        raise Refused(f"hold: {times} x {seconds:g} s", "1 to 600 seconds, 1 to 10 times")
    return seconds, times
