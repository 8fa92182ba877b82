"""What a difference between two versions of the knowledge can reach, so that nothing else is worked out twice.

Followed through the rules: a screen is reached if its own entry differs or a rule of it reads something reached. Where
a difference is of a kind not known to be narrow, everything is reached.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.pack import FIELDS
from reasoner.graph.records import Protocol
from reasoner.graph.rules import rules_of, steps
from reasoner.options.gate import Part, parts_of

__all__ = ["Parts", "Reach", "all_reached", "reach"]

Parts = tuple[tuple[Part, ...], tuple[Part, ...]]
Atom = tuple[str, str]  # (finding | measure | screen | suspected, id)

# fields that only say something: what they do cannot be worked out, and is looked at as words
_SAID = {
    "finding": (
        "name", "ask", "present_when", "says", "position", "minutes", "provokes", "load_classes", "aliases",
        "answerable", "reassuring_about", "about", "basis", "evidence", "place",
    ),
    "hypothesis": ("name", "aliases", "establish", "next_step", "not_excluded_by", "about", "basis", "evidence",
                   "formerly", "place"),
    "measure": ("name", "aliases", "how", "setup", "position", "minutes", "benefit_note", "home_text", "needs",
                "courses", "possible_source", "basis", "evidence", "load_classes", "provokes", "place"),
    "option": ("name", "aliases", "how", "setup", "dose", "minutes", "position", "equipment", "who", "what_and_why",
               "after_effects", "progression", "regression", "home", "home_text", "about", "basis", "evidence",
               "formerly", "place"),
    "region": ("name", "positions", "procedures", "return_to_activity", "body_site", "sheet", "icf", "covers_say",
               "place"),
    "policy": ("note", "basis", "place"),
}  # fmt: skip
# fields of a finding that only its weight depends on, not what a rule reads
_WEIGHT = ("leak", "hand_felt", "agreement", "measured")
_FIGURES = (  # of the policy: they move chances and values, and nothing else
    "certainty_weight", "leak_floor", "contact_base_rate", "contact_leak", "default_p0", "least_p0", "zero_or_one",
    "tell_apart", "judgement_odds", "suspected_above", "live_bits", "words_fit_best",
)  # fmt: skip


@dataclass(frozen=True)
class Reach:
    """What may come out differently.

    `classes`: load class -> its bars, windows and cautions before and after that are not the same on both sides or read
    something reached; None where the class itself asks for other permission. `acts`: (kind, id) of options, findings
    and measures whose own entry matters.
    """

    atoms: frozenset[Atom]
    near: frozenset[str]  # the screens reached, and those whose state they read
    classes: Mapping[str, Parts | None]
    acts: tuple[tuple[str, str], ...]
    covers: bool
    asked: bool
    chances: bool
    answers: bool  # whether an answer holds, and under which id, may differ
    values: bool  # figures of what may be tried

    @cached_property
    def screens(self) -> tuple[str, ...]:
        """Screens reached."""
        return tuple(ident for kind, ident in sorted(self.atoms) if kind == "screen")

    @property
    def gates(self) -> bool:
        """Acts may open without a screen that lets them."""
        return bool(self.classes or self.acts or self.covers)

    @property
    def nothing(self) -> bool:
        """No case can come out differently."""
        return not (self.screens or self.gates or self.asked or self.chances or self.answers or self.values)


def reach(base: Knowledge, ours: Knowledge) -> Reach:
    """What the differences between two versions of one region's knowledge can reach."""
    both = (base, ours)
    differing = {kind: _differing(kind, base, ours) for kind in ("finding", "measure", "hypothesis", "option")}
    region, policy = (_fields(k, getattr(base, k), getattr(ours, k)) for k in ("region", "policy"))
    everything = bool(region - {"covers", "always_ask", "suspected_above"} or policy - set(_FIGURES))
    for ident, fields in differing["finding"].items():
        if not any(k.findings[ident].instead for k in both if ident in k.findings):
            fields.discard("retired")  # no longer asked; an answer still counts, and nothing is read in its place
    read = {i for i, fields in differing["finding"].items() if fields - set(_WEIGHT)}

    atoms: set[Atom] = {("finding", i) for i in read}
    atoms |= {("measure", i) for i in differing["measure"]}
    atoms |= {("suspected", i) for i, fields in differing["hypothesis"].items() if fields & {"screens", "*"}}
    atoms |= {("screen", i) for i in _differing("screen", base, ours)}
    if everything:
        atoms |= {("screen", i) for k in both for i in k.screens} | {("finding", i) for k in both for i in k.findings}
    atoms = _closed(atoms, both)

    composed = {f.id for k in both for f in k.findings.values() if f.composite is not None}
    weighed = any(getattr(base, name) != getattr(ours, name) for name in ("groups", "maskings", "scales"))
    asked = {f for k in both for bundle in k.region.always_ask for f in bundle.findings}
    return Reach(
        atoms=frozenset(atoms),
        near=frozenset(_near({i for kind, i in atoms if kind == "screen"}, both)),
        classes=dict.fromkeys(base.load_classes) if everything else dict(_classes(base, ours, atoms)),
        acts=tuple(_acts(base, ours)),
        covers=everything or "covers" in region or bool(_reads(base.region.covers) & atoms),
        asked=everything or "always_ask" in region or any(("finding", f) in atoms for f in asked),
        chances=everything or weighed or bool(policy) or "suspected_above" in region
        or any(fields for kind in ("finding", "measure", "hypothesis") for fields in differing[kind].values())
        or any(("finding", f) in atoms for f in composed),
        answers=everything or bool(read),
        values=any(fields & {"effects", "acts_on"} for fields in differing["option"].values())
        or any(ours.options[i].lane == "try_now" for i in ours.options.keys() - base.options.keys()),
    )  # fmt: skip


def all_reached(base: Knowledge, ours: Knowledge) -> Reach:
    """For two readings of a case that differ: anything may come out differently."""
    screens = frozenset((*base.screens, *ours.screens))
    atoms = frozenset(("screen", ident) for ident in screens)
    classes: dict[str, Parts | None] = dict.fromkeys(base.load_classes)
    return Reach(atoms, screens, classes, tuple(_acts(base, ours)), True, True, True, True, True)


def _differing(kind: str, base: Knowledge, ours: Knowledge) -> dict[str, set[str]]:
    """Id -> fields that differ, of entries where any does; `*` for one that only one version has."""
    before: Mapping[str, Any] = getattr(base, FIELDS[kind])
    after: Mapping[str, Any] = getattr(ours, FIELDS[kind])
    found = {}
    for ident in dict.fromkeys((*before, *after)):
        one, two = before.get(ident), after.get(ident)
        fields = {"*"} if one is None or two is None else set() if one == two else _fields(kind, one, two)
        if fields:
            found[ident] = fields
    return found


def _fields(kind: str, one: Any, two: Any) -> set[str]:
    said = _SAID.get(kind, ("place",))
    names = (f.name for f in dataclasses.fields(one) if f.name not in said)
    return {name for name in names if getattr(one, name) != getattr(two, name)}


def _closed(atoms: set[Atom], both: tuple[Knowledge, Knowledge]) -> set[Atom]:
    """With everything that reads them, however far."""
    known = set(atoms)
    while True:
        found = set(known)
        for k in both:
            for finding in k.findings.values():
                by_another = finding.instead and ("finding", finding.instead) in known
                if by_another or _reads(finding.composite) & known:
                    found.add(("finding", finding.id))
            for screen in k.screens.values():
                if any(_reads(rule) & known for _, rule in rules_of("screen", screen)):
                    found.add(("screen", screen.id))
                if ("screen", screen.id) in known:
                    found |= {("suspected", h) for h in screen.hypotheses}
            for hypothesis in k.hypotheses.values():
                if any(("screen", ident) in known for ident in hypothesis.screens):
                    found.add(("suspected", hypothesis.id))
        if found == known:
            return known
        known = found


def _reads(rule: Any) -> set[Atom]:
    found: set[Atom] = set()
    for step in steps(rule) if rule is not None else ():
        if isinstance(step.rule, str):
            found.add(("finding", step.rule))
        elif isinstance(step.rule, dict):
            found |= {(word, step.rule[word]) for word in ("measure", "screen", "suspected") if word in step.rule}
    return found


def _near(screens: set[str], both: tuple[Knowledge, Knowledge]) -> set[str]:
    """These screens, and those whose state their rules read."""
    known, left = set(screens), list(screens)
    while left:
        ident = left.pop()
        read = {
            atom for k in both if ident in k.screens for _, rule in rules_of("screen", k.screens[ident])
            for atom in _reads(rule)
        }  # fmt: skip
        standing = {i for kind, i in read if kind == "screen"}
        for k in both:
            named = {i for kind, i in read if kind == "suspected"}
            standing |= {s.id for s in k.screens.values() if named & set(s.hypotheses)}
            standing |= {i for h in named & set(k.hypotheses) for i in k.hypotheses[h].screens}
        left += standing - known
        known |= standing
    return known


def _classes(base: Knowledge, ours: Knowledge, atoms: set[Atom]) -> Iterator[tuple[str, Parts | None]]:
    """Load classes that may open differently without a screen, and by which of their parts."""
    for ident, record in base.load_classes.items():
        other = ours.load_classes.get(ident)
        if other is None or any(getattr(record, n) != getattr(other, n) for n in ("needs_hands", "needs_screening")):
            yield ident, None
            continue
        before, after = list(parts_of(base, record)), list(parts_of(ours, other))
        keys = [[_key(p) for p in parts] for parts in (before, after)]
        parts = (
            tuple(p for p in before if _key(p) not in keys[1] or _reads_of(p) & atoms),
            tuple(p for p in after if _key(p) not in keys[0] or _reads_of(p) & atoms),
        )
        if any(parts):
            yield ident, parts


def _key(part: Part) -> tuple[Any, ...]:
    """What a part does: of a protocol only whom it applies to."""
    first, second = part
    return (first.id, first.applies_when, second) if isinstance(first, Protocol) else part


def _reads_of(part: Part) -> set[Atom]:
    first, second = part
    return _reads(first.applies_when if isinstance(first, Protocol) else getattr(second, "when", None))


def _acts(base: Knowledge, ours: Knowledge) -> Iterator[tuple[str, str]]:
    """Options that are judged by another entry, and tests and measures that load the joint in another way."""
    names = ("load_classes", "cautions", "lane", "retired", "consider_when", "for_screens")
    for ident, option in base.options.items():
        other = ours.options.get(ident)
        if other is not None and any(getattr(option, n) != getattr(other, n) for n in names):
            yield "option", ident
    for kind in ("finding", "measure"):
        after: Mapping[str, Any] = getattr(ours, FIELDS[kind])
        for ident, record in getattr(base, FIELDS[kind]).items():
            if ident in after and record.load_classes != after[ident].load_classes:
                yield kind, ident
