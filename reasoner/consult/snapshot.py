"""A snapshot file -> a CaseState at the moment described. Names are ids or aliases; an unknown one is an error.

The reading is strict and collects every problem with its line: nothing is ignored, nothing is guessed, and the same
fact given twice with different values is refused. A snapshot cannot resolve a screen.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any, cast, get_args

from reasoner.case.state import (
    Anchor,
    Answer,
    CaseState,
    Context,
    Immobilised,
    Measurement,
    Side,
    Surgery,
    Value,
    Visit,
)
from reasoner.graph.files import MOST_BYTES
from reasoner.graph.knowledge import Knowledge, plain
from reasoner.graph.records import Measure
from reasoner.graph.source import Document, FieldPath, parse
from reasoner.problems import InputRefused, Problem, nearest
from reasoner.reading import read_regular

__all__ = ["ANCHORS", "SNAPSHOT_CODES", "read_snapshot", "state_of"]

ANCHORS = ("injury", "surgery", "cast_off", "union_on_film", "symptoms")
SNAPSHOT_CODES: Mapping[str, str] = {
    "S-KEY": "A key that a snapshot does not have. Keys: region, context, findings, measures.",
    "S-NAME": "A finding, measure, setting, tool or procedure that the pack does not know. Write its id or an alias; "
    "`reasoner knowledge list findings` prints them.",
    "S-VALUE": "A value that this key cannot have. The message says which it can.",
    "S-TWICE": "The same fact stands twice with different values. Keep the one that is right.",
    "S-SIDE": "With side `both` a one-sided finding needs its side: `{left: present, right: absent}`.",
    "S-RANGE": "A number outside what the measure can be. Check the unit and the sign.",
}
_CONTEXT_KEYS = ("side", "age", "sex", "setting", "days_since", "immobilised", "surgery")
_VALUES = get_args(Value)
_OLDEST = 120
_WORD_HINT = "write present, absent or unknown for a finding"
_LONGEST = 365 * 100


def read_snapshot(path: Path) -> Document:
    """The parsed file. Raises InputRefused with the reader's problems; OSError is the caller's."""
    document, problems = parse(read_regular(path, MOST_BYTES), str(path))
    if document is None or problems:
        raise InputRefused(replace(p, hint=_WORD_HINT) if p.code == "Y-WORD" else p for p in problems)
    if not isinstance(document.value, dict):
        raise InputRefused(
            [Problem("S-VALUE", "a snapshot is a mapping", "start it with region: and the name of one", str(path), 1)]
        )
    return document


def state_of(document: Document, knowledge: Knowledge, now: datetime) -> CaseState:
    """The state a snapshot describes, as one visit at `now`. Raises InputRefused with every problem found."""
    reader = _Reader(document, knowledge, now)
    state = reader.state()
    if reader.problems:
        raise InputRefused(sorted(reader.problems, key=lambda p: p.line))
    return state


class _Reader:
    def __init__(self, document: Document, knowledge: Knowledge, now: datetime) -> None:
        self.document, self.knowledge, self.now = document, knowledge, now
        self.problems: list[Problem] = []

    # ------------------------------------------------------------------------------------------- telling

    def say(self, code: str, message: str, hint: str, *path: str | int) -> None:
        """Keep a problem with the line of `path` or of what encloses it."""
        where: FieldPath = path
        while where and where not in self.document.lines:
            where = where[:-1]
        self.problems.append(
            Problem(code, message, hint, self.document.file, self.document.lines.get(where, 1))
        )

    def unknown_name(self, kind: str, word: Any, known: Iterable[str], *path: str | int) -> None:
        """An unknown name with the nearest known ones."""
        close = nearest(plain(str(word)), known) or tuple(sorted(known))[:6]
        self.say("S-NAME", f"no {kind} is called '{word}'", f"nearest: {', '.join(close)}", *path)

    def bad(self, what: str, found: Any, write: str, *path: str | int) -> None:
        """A value that cannot be read."""
        self.say("S-VALUE", f"{what}: found {_shown(found)}", f"write {write}", *path)

    # ------------------------------------------------------------------------------------------- the whole

    def state(self) -> CaseState:
        value = self.document.value
        for key in value:
            if key not in ("region", "context", "findings", "measures"):
                close = nearest(str(key), ("region", "context", "findings", "measures"))
                hint = f"write {close[0]}" if close else "keys: region, context, findings, measures"
                self.say("S-KEY", f"'{key}' is not part of a snapshot", hint, key)
        context = self.context(self.section("context", dict))
        return CaseState(
            case="snapshot",
            region=self.knowledge.region.id,
            context=context,
            answers=self.findings(self.section("findings", dict), context),
            measurements=self.measures(self.section("measures", list), context),
            visits=(Visit(1, self.now),),
        )

    def section(self, key: str, kind: type) -> Any:
        """A top-level part; missing or `unknown` is empty."""
        value = self.document.value.get(key)
        if value is None or value == "unknown":
            return kind()
        if not isinstance(value, kind):
            shape = "a mapping" if kind is dict else "a list of entries, each with a dash"
            self.bad(key, value, shape, key)
            return kind()
        return value

    # ------------------------------------------------------------------------------------------- context

    def context(self, given: dict[str, Any]) -> Context:
        context = Context()
        unknown = set()
        for key, value in given.items():
            if key not in _CONTEXT_KEYS:
                close = nearest(str(key), _CONTEXT_KEYS)
                self.say("S-KEY", f"'{key}' is not part of context", f"nearest: {', '.join(close)}", "context", key)
            elif value is None or value == "unknown":
                unknown.add(key)
            else:
                part = getattr(self, f"_{key}")(value)
                if part is not None:
                    context = replace(context, **{key: part})
        return replace(context, unknown=frozenset(unknown))

    def _side(self, value: Any) -> Side | None:
        if value in ("left", "right", "both"):
            return cast(Side, value)
        self.bad("side", value, "left, right or both", "context", "side")
        return None

    def _age(self, value: Any) -> float | None:
        if _is_number(value) and 0 <= value <= _OLDEST:
            return float(value)
        self.bad("age", value, f"whole years, 0 to {_OLDEST}", "context", "age")
        return None

    def _sex(self, value: Any) -> str | None:
        if value in ("female", "male", "other"):
            return str(value)
        self.bad("sex", value, "female, male or other", "context", "sex")
        return None

    def _setting(self, value: Any) -> str | None:
        names = {plain(n): s.id for s in self.knowledge.region.settings for n in (s.id, s.name, *s.aliases)}
        if plain(str(value)) in names:
            return names[plain(str(value))]
        self.unknown_name("setting", value, (s.id for s in self.knowledge.region.settings), "context", "setting")
        return None

    def _days_since(self, value: Any) -> dict[str, Anchor] | None:
        path = ("context", "days_since")
        if not isinstance(value, dict):
            self.bad("days_since", value, "{injury: 42} or {injury: none}", *path)
            return None
        found = {}
        for event, days in value.items():
            if event not in ANCHORS:
                self.unknown_name("event", event, ANCHORS, *path, event)
            elif days == "none":
                found[event] = Anchor(None, self.now, none=True)
            elif days is None or days == "unknown":
                found[event] = Anchor(None, self.now)
            elif isinstance(days, int) and not isinstance(days, bool) and 0 <= days <= _LONGEST:
                found[event] = Anchor(days, self.now)
            else:
                self.bad(f"days since {event}", days, "whole days such as 42, or none, or unknown", *path, event)
        return found

    def _immobilised(self, value: Any) -> Immobilised | None:
        path = ("context", "immobilised")
        if value == "none":
            return Immobilised(none=True)
        if not isinstance(value, dict) or set(value) - {"weeks", "position"}:
            self.bad("immobilised", value, "{weeks: 3, position: plantarflexed} or none", *path)
            return None
        weeks, position = (None if v == "unknown" else v for v in (value.get("weeks"), value.get("position")))
        if weeks is not None and not (_is_number(weeks) and 0 <= weeks <= _LONGEST / 7):
            self.bad("weeks immobilised", weeks, "a number of weeks", *path, "weeks")
            weeks = None
        if position is not None and not isinstance(position, str):
            self.bad("position", position, "a word such as plantarflexed or neutral", *path, "position")
            position = None
        return Immobilised(weeks=None if weeks is None else float(weeks), position=position)

    def _surgery(self, value: Any) -> Surgery | None:
        path = ("context", "surgery")
        if value == "none":
            return Surgery(none=True)
        keys = ("procedure", "fixation", "weight_bearing", "orders")
        if not isinstance(value, dict) or set(value) - set(keys):
            self.bad("surgery", value, "none, or {procedure: ..., orders: known|not_seen|conflicting}", *path)
            return None
        parts = {k: None if value.get(k) in (None, "unknown") else value[k] for k in keys}
        for key, part in parts.items():
            if part is not None and not isinstance(part, str):
                self.bad(key, part, "a word", *path, key)
                parts[key] = None
        if parts["orders"] not in (None, "known", "not_seen", "conflicting"):
            self.bad("orders", parts["orders"], "known, not_seen or conflicting", *path, "orders")
            parts["orders"] = None
        parts["procedure"] = self._procedure(parts["procedure"], *path)
        return Surgery(
            procedure=parts["procedure"],
            fixation=parts["fixation"],
            weight_bearing=parts["weight_bearing"],
            orders=cast(Any, parts["orders"] or "unknown"),
        )

    def _procedure(self, value: str | None, *path: str) -> str | None:
        if value is None:
            return None
        known = {plain(n): p.id for p in self.knowledge.region.procedures for n in (p.id, p.name, *p.aliases)}
        if plain(value) in known:
            return known[plain(value)]
        self.unknown_name("procedure", value, (p.id for p in self.knowledge.region.procedures), *path, "procedure")
        return None

    # ------------------------------------------------------------------------------------------- findings

    def findings(self, given: dict[str, Any], context: Context) -> tuple[Answer, ...]:
        seen: dict[tuple[str, Side], Answer] = {}
        for name, value in given.items():
            ident = self.knowledge.finding_names.get(plain(str(name)))
            if ident is None:
                self.unknown_name("finding", name, self.knowledge.finding_names, "findings", name)
                continue
            for side, part in self._sides(ident, name, value, context):
                self._add(seen, ident, side, part, ("findings", name))
        return tuple(seen.values())

    def _sides(self, ident: str, name: str, value: Any, context: Context) -> list[tuple[Side, Any]]:
        sided = self.knowledge.findings[ident].sided
        if isinstance(value, dict) and "sure" not in value:
            if not sided:
                self.bad(name, value, f"one value: '{ident}' is about the person, not a side", "findings", name)
                return []
            if not value or set(value) - {"left", "right"}:
                self.bad(name, value, "{left: present, right: absent} or {sure: 0.7}", "findings", name)
                return []
            return [(cast(Side, s), v) for s, v in value.items()]
        if not sided:
            return [("none", value)]
        if context.side == "both":
            self.say(
                "S-SIDE", f"'{name}' needs its side, the case is about both",
                "write {left: ..., right: ...}", "findings", name,
            )
            return []
        return [(context.side or "none", value)]

    def _add(
        self, seen: dict[tuple[str, Side], Answer], ident: str, side: Side, value: Any, path: tuple[str, str]
    ) -> None:
        answer = self._answer(ident, side, value, path)
        if answer is None:
            return
        before = seen.get((ident, side))
        if before is not None and (before.value, before.sure) != (answer.value, answer.sure):
            self.say(
                "S-TWICE", f"'{path[1]}' is {answer.value} here and {before.value} before (both are '{ident}')",
                "keep the one that is right", *path,
            )
            return
        seen[ident, side] = replace(answer, seq=len(seen) + 1)

    def _answer(self, ident: str, side: Side, value: Any, path: tuple[str, str]) -> Answer | None:
        make: Callable[[Value, float | None], Answer] = lambda v, s: Answer(ident, side, v, s, self.now)  # noqa: E731
        if value is None:
            value = "unknown"
        if isinstance(value, dict) and set(value) == {"sure"}:
            sure = value["sure"]
            if _is_number(sure) and 0 <= sure <= 1:
                certain: Value = "present" if sure >= 0.5 else "absent"
                return make(certain, None if sure in (0, 1) else float(sure))
        if isinstance(value, str) and value in _VALUES:
            return make(cast(Value, value), None)
        self.bad(path[1], value, "present, absent, unknown or {sure: 0.7}", *path)
        return None

    # ------------------------------------------------------------------------------------------- measures

    def measures(self, given: list[Any], context: Context) -> tuple[Measurement, ...]:
        seen: dict[tuple[str, Side], Measurement] = {}
        for index, entry in enumerate(given):
            measurement = self._measurement(entry, index, context)
            if measurement is None:
                continue
            key = (measurement.measure, measurement.side)
            before = seen.get(key)
            if before is not None and (before.values, before.tool) != (measurement.values, measurement.tool):
                self.say(
                    "S-TWICE", f"{measurement.measure} {measurement.side} stands twice with different values",
                    "give all trials in one entry", "measures", index,
                )
                continue
            seen[key] = replace(measurement, seq=index + 1)
        return tuple(seen.values())

    def _measurement(self, entry: Any, index: int, context: Context) -> Measurement | None:
        path = ("measures", index)
        keys = ("measure", "side", "tool", "values", "setup")
        if not isinstance(entry, dict) or "measure" not in entry or set(entry) - set(keys):
            self.bad("measure", entry, "{measure: ..., side: left, tool: ..., values: [4, 4.5]}", *path)
            return None
        ident = self.knowledge.measure_names.get(plain(str(entry["measure"])))
        if ident is None:
            self.unknown_name("measure", entry["measure"], self.knowledge.measure_names, *path, "measure")
            return None
        record = self.knowledge.measures[ident]
        side, tool = self._measure_side(entry, record, context, path), self._tool(entry, record, path)
        values = self._trials(entry.get("values"), record, path)
        if side is None or tool is None or values is None:
            return None
        factor = next(t.per_unit for t in record.tools if t.id == tool)
        return Measurement(
            ident, side, tool, tuple(v * factor for v in values), str(entry.get("setup") or ""), at=self.now
        )

    def _measure_side(
        self, entry: Mapping[str, Any], record: Measure, context: Context, path: tuple[str, int]
    ) -> Side | None:
        if not record.sided:
            return "none"
        side = entry.get("side")
        if side in ("left", "right"):
            return cast(Side, side)
        if side is None and context.side in ("left", "right"):
            return context.side
        self.bad(f"side of {record.id}", side, "left or right", *path, "side")
        return None

    def _tool(self, entry: Mapping[str, Any], record: Measure, path: tuple[str, int]) -> str | None:
        given = entry.get("tool")
        if given is None or given == "unknown":
            return record.tools[0].id
        names = {plain(n): t.id for t in record.tools for n in (t.id, t.name, *t.aliases)}
        if plain(str(given)) in names:
            return names[plain(str(given))]
        self.unknown_name(f"tool for {record.id}", given, (t.id for t in record.tools), *path, "tool")
        return None

    def _trials(self, given: Any, record: Measure, path: tuple[str, int]) -> tuple[float, ...] | None:
        values = given if isinstance(given, list) else [given]
        if not values or not all(_is_number(v) for v in values):
            self.bad(f"values of {record.id}", given, f"numbers in {record.unit}: [4.0, 4.5, 4.5]", *path, "values")
            return None
        low, high = record.possible
        for value in values:
            if not low <= value <= high:
                self.say(
                    "S-RANGE", f"{record.name} {value:g} {record.unit} is not possible",
                    f"it runs from {low:g} to {high:g} {record.unit}; check unit and sign", *path, "values",
                )
                return None
        return tuple(float(v) for v in values)


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e9


def _shown(value: Any) -> str:
    text = str(value)
    return f"'{text[:40]}...'" if len(text) > 40 else f"'{text}'"
