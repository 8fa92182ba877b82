"""Two versions of the knowledge in clinical words: which entry, which field, and what a changed window does."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.overlay.show import flat_record
from reasoner.graph.pack import FIELDS
from reasoner.graph.records import Protocol, Window

__all__ = ["Changed", "difference", "difference_lines", "window_words"]

WIDTH = 80
_MOST_OPTIONS = 6


@dataclass(frozen=True, slots=True)
class Changed:
    """One entry; its fields as (name, before, after)."""

    kind: str
    id: str
    what: str  # changed | new | gone | retired
    fields: tuple[tuple[str, str, str], ...] = ()
    says: tuple[str, ...] = ()  # what it does, in clinical words


def difference(old: Knowledge, new: Knowledge) -> tuple[Changed, ...]:
    """Every entry that differs, by kind and id; policy, scales and region last."""
    found: list[Changed] = []
    for kind, name in FIELDS.items():
        before: dict[str, Any] = dict(getattr(old, name))
        after: dict[str, Any] = dict(getattr(new, name))
        for ident in dict.fromkeys((*before, *after)):
            found += _entry(kind, ident, before.get(ident), after.get(ident), old, new)
    for kind in ("region", "policy", "scales"):
        found += _entry(kind, kind, getattr(old, kind), getattr(new, kind), old, new)
    return tuple(found)


def _entry(kind: str, ident: str, before: Any, after: Any, old: Knowledge, new: Knowledge) -> Iterator[Changed]:
    if before is not None and after is not None:
        if before == after and _same(before, after):
            return
        one, two = flat_record(before), flat_record(after)
        names = [n for n in dict.fromkeys((*one, *two)) if one.get(n) != two.get(n)]
        if not names:
            return
        retired = kind in ("finding", "option") and after.retired and not before.retired
        says = tuple(_windows(before, after, old, new)) if kind == "protocol" else ()
        fields = tuple((n, one.get(n, ""), two.get(n, "")) for n in names)
        yield Changed(kind, ident, "retired" if retired else "changed", fields, says)
    elif after is not None:
        says = tuple(_windows(None, after, old, new)) if kind == "protocol" else ()
        yield Changed(kind, ident, "new", says=says)
    else:
        yield Changed(kind, ident, "gone")


def _same(before: Any, after: Any) -> bool:
    return flat_record(before) == flat_record(after)


# ------------------------------------------------------------------------------------------------ windows


def _windows(before: Protocol | None, after: Protocol, old: Knowledge, new: Knowledge) -> Iterator[str]:
    known = {(w.load_class, w.counted_from): w for w in (before.windows if before else ())}
    ours = {(w.load_class, w.counted_from): w for w in after.windows}
    for key in dict.fromkeys((*known, *ours)):
        if known.get(key) != ours.get(key):
            text = window_words(known.get(key), ours.get(key), new)
            if text:
                yield text


def window_words(before: Window | None, after: Window | None, knowledge: Knowledge) -> str:
    """One changed window: earlier or later, looser or stricter, which options it moves, and the days around it."""
    window = after or before
    assert window is not None
    anchor = window.counted_from.replace("_", " ")
    was = before.later_weeks if before else None
    now = after.later_weeks if after else None
    if was == now:
        return ""
    options = [o.name for o in knowledge.options.values() if window.load_class in o.load_classes]
    moved = ", ".join(options[:_MOST_OPTIONS]) or "no option"
    more = f" and {len(options) - _MOST_OPTIONS} more" if len(options) > _MOST_OPTIONS else ""
    name = window.load_class.replace("_", " ")
    if was is None:
        return (
            f"{name}: now not before week {now} after {anchor}: stricter. Options: {moved}{more}. {_day(now, anchor)}"
        )
    if now is None:
        return f"{name}: no longer waits until week {was} after {anchor}: looser. Options: {moved}{more}."
    how = "later, stricter" if now > was else "earlier, looser"
    text = f"{name}: week {was} -> week {now} after {anchor}: {how}. Options: {moved}{more}. {_day(was, anchor)}"
    return f"{text} Now: {_day(now, anchor)}"


def _day(weeks: int | None, anchor: str) -> str:
    if not weeks:
        return f"Open from the day of {anchor}."
    day = weeks * 7
    return f"Day {day - 1} after {anchor} shut, day {day} open."


def difference_lines(found: tuple[Changed, ...], most: int = 6) -> list[str]:
    """For a screen, 80 columns."""
    if not found:
        return ["Nothing differs."]
    lines = []
    for one in found:
        lines.append(f"{one.kind.replace('_', ' ')} {one.id}: {one.what}")
        for says in one.says:
            lines += textwrap.wrap(says, WIDTH, initial_indent="  ", subsequent_indent="    ")
        shown = [f for f in one.fields if not (one.says and f[0].startswith("windows"))]
        for name, before, after in shown[:most]:
            text = f"{name}: {before or 'nothing'} -> {after or 'nothing'}"
            lines += textwrap.wrap(text, WIDTH, initial_indent="  ", subsequent_indent="    ")
        if len(shown) > most:
            lines.append(f"  and {len(shown) - most} more fields")
    return lines
