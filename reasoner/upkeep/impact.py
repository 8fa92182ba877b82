"""What a change of knowledge moves, case by case: screens first, then what leads, the first option, the chances."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from reasoner.advice.asking import BEFORE_HANDS
from reasoner.case.state import CaseState
from reasoner.graph.knowledge import LIST_NAMES, Knowledge
from reasoner.upkeep.looser import Seen, opening, worth_may_differ
from reasoner.upkeep.reach import Reach, all_reached, reach
from reasoner.upkeep.states import NOW

__all__ = ["Impact", "Looked", "Move", "impact", "impact_lines", "worst_first"]

POINTS = 0.05  # a chance that moves by less is not told
Kind = Literal["missed", "screen", "lead", "option", "gate", "chance"]


@dataclass(frozen=True, slots=True)
class Looked:
    """One case to look at, read with the old knowledge and with the new one."""

    name: str
    old: CaseState
    new: CaseState
    now: datetime = NOW


@dataclass(frozen=True, slots=True)
class Move:
    """One thing that is different in one case."""

    kind: Kind
    text: str


@dataclass(frozen=True, slots=True)
class Impact:
    """Moves by case, in the order looked at; cases in which nothing moves are only counted."""

    looked_at: int
    moved: tuple[tuple[str, tuple[Move, ...]], ...]

    @property
    def missed(self) -> tuple[str, ...]:
        """Cases in which an emergency or same-day screen that was met no longer is."""
        return tuple(name for name, moves in self.moved if any(m.kind == "missed" for m in moves))


def impact(old: Knowledge, new: Knowledge, cases: Iterable[Looked]) -> Impact:
    """Old against new over some cases."""
    reached = reach(old, new)
    added = tuple(o.id for o in new.options.values() if o.id not in old.options)
    moved, count = [], 0
    for case in cases:
        count += 1
        alike = case.old == case.new  # else it is read differently: a word in it means something else
        if alike and reached.nothing and not added:
            continue
        before = Seen(old, case.old, case.now)
        to_look = reached if alike else all_reached(old, new)
        after = before.beside(new, case.old if alike else case.new, to_look)
        moves = tuple(_moves(before, after, to_look, added))
        if moves:
            moved.append((case.name, moves))
    return Impact(count, tuple(moved))


def _moves(before: Seen, after: Seen, reached: Reach, added: tuple[str, ...]) -> Iterator[Move]:
    yield from _screens(before, after, reached.screens)
    gates = [*_gates(before, after, reached), *_added(before, after, reached, added)]
    yield from gates
    if gates or reached.values or (reached.chances and worth_may_differ(before, after)):
        first, now = _first_option(before), _first_option(after)
        if first != now:
            yield Move("option", f"first option: {first or 'none'} -> {now or 'none'}")
    if not reached.chances:
        return
    yield from _leads(before, after)
    both = [(i, was, after.chances[i]) for i, was in before.chances.items() if i in after.chances]
    for ident, was, is_now in sorted(both, key=lambda b: -abs(b[2] - b[1])):
        if abs(is_now - was) >= POINTS:
            yield Move("chance", f"{ident}: {was * 100:.0f} -> {is_now * 100:.0f} of 100")


def _screens(before: Seen, after: Seen, reached: Iterable[str]) -> Iterator[Move]:
    words = ("not met", "open", "met")
    for ident in reached:
        (was, send, _), (now, now_send, _) = before.screen(ident), after.screen(ident)
        if was == 2 and now < 2 and send in BEFORE_HANDS:
            yield Move("missed", f"screen {ident}: was met ({_said(send)}), is now {words[now]}")
        elif was != now:
            yield Move("screen", f"screen {ident}: {words[was]} -> {words[now]}")
        elif now and send != now_send:
            kind: Kind = "missed" if send in BEFORE_HANDS and now_send not in BEFORE_HANDS and was == 2 else "screen"
            yield Move(kind, f"screen {ident}: sent {_said(send)} -> {_said(now_send)}")


def _leads(before: Seen, after: Seen) -> Iterator[Move]:
    for kind, name in LIST_NAMES.items():
        was, now = _lead(before, kind), _lead(after, kind)
        if was != now:
            yield Move("lead", f"{name.replace('_', ' ')}: {was or 'nothing'} leads -> {now or 'nothing'}")


def _lead(seen: Seen, kind: str) -> str:
    listed = [h.id for h in seen.knowledge.hypotheses.values() if h.list == kind]
    return max(listed, key=lambda i: seen.chances[i], default="")


def _first_option(seen: Seen) -> str:
    return next(
        (o.id for o in seen.advised if o.lane == "try_now" and o.relevant and o.state in ("offered", "caution")), ""
    )


def _gates(before: Seen, after: Seen, reached: Reach) -> Iterator[Move]:
    """Options that are open otherwise."""
    words = ("offered", "caution", "not yet", "barred")
    classes = set(opening(before, after, reached, or_closing=True))
    idents = [
        ident
        for ident, option in before.knowledge.options.items()
        if ident in after.knowledge.options
        and (reached.covers or ("option", ident) in reached.acts or not classes.isdisjoint(option.load_classes))
    ]
    if idents:
        after.take(before, reached)
    changed: dict[tuple[int, int], list[str]] = {}
    for ident in idents:
        was, now = before.act("option", ident), after.act("option", ident)
        if now != was:
            changed.setdefault((was, now), []).append(ident)
    for (was, now), moved in sorted(changed.items()):
        yield Move("gate", f"{words[was]} -> {words[now]}: {_few(moved)}")


def _added(before: Seen, after: Seen, reached: Reach, added: tuple[str, ...]) -> Iterator[Move]:
    if not added:
        return
    after.take(before, reached)
    open_ = [ident for ident in added if after.act("option", ident) < 2]
    if open_:
        yield Move("gate", f"new and open: {_few(open_)}")


def _few(idents: list[str], most: int = 4) -> str:
    return ", ".join(idents[:most]) + (f" and {len(idents) - most} more" if len(idents) > most else "")


def _said(word: str) -> str:
    return word.replace("_", " ")


_ORDER: Mapping[Kind, int] = {"missed": 0, "screen": 1, "lead": 2, "option": 3, "gate": 4, "chance": 5}


def worst_first(moves: Iterable[Move]) -> list[Move]:
    """Screens, what leads, the first option, what is open otherwise, chances."""
    return sorted(moves, key=lambda m: _ORDER[m.kind])


def impact_lines(found: Impact, most: int = 12, all_of_it: str = "--all") -> list[str]:
    """For a screen, the worst first; `all_of_it`: how to see the rest."""
    ranked = sorted(found.moved, key=lambda m: min(_ORDER[x.kind] for x in m[1]))
    lines = []
    for name, moves in ranked[:most]:
        lines.append(f"  {name}")
        lines += [
            f"    {'MISSED: ' if m.kind == 'missed' else ''}{m.text}"
            for m in worst_first(moves)
        ]
    if len(ranked) > most:
        lines.append(f"  and {len(ranked) - most} more cases: {all_of_it}")
    still = found.looked_at - len(found.moved)
    lines.append(f"{found.looked_at} cases looked at: nothing moves in {still}, something in {len(found.moved)}.")
    if found.missed:
        lines.append(f"An emergency would now be missed in: {', '.join(found.missed)}")
    return lines
