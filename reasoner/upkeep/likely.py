"""Stories at which a change of chances would show: each setting, the usual signs of what must not be missed, and every
sign and fact whose weight differs between the versions compared."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Hypothesis, Link
from reasoner.graph.rules import steps

__all__ = ["Story", "stories"]

_USUAL = 3  # strongest signs that make the usual story of a cause
_WEIGHT = ("leak", "hand_felt", "agreement", "general_for", "absent_from_age", "reassuring_about")


@dataclass(frozen=True, slots=True)
class Story:
    """What is told and nothing else; the rest is not known."""

    words: str
    present: tuple[str, ...] = ()
    setting: str = "not_stated"
    age: float = 40.0
    sex: str = "female"


def stories(several: tuple[Knowledge, ...], known: Mapping[str, Any]) -> Iterator[Story]:
    """`known`: ids of findings that can be answered. Deterministic."""
    for setting in dict.fromkeys(s for k in several for s in k.settings):
        yield Story(f"nothing asked yet, {setting.replace('_', ' ')}", setting=setting)
    differing = dict.fromkeys(i for i in _differing(several) if i in known)
    for ident, versions in _serious(several).items():
        setting = _likeliest(*versions[0])
        usual = _usual(*versions[0], known)
        yield Story(f"the usual signs of {ident}", usual, setting)
        linked = {link.finding for _, record in versions for link in record.produces}
        for finding in (f for f in differing if f in linked):
            yield Story(f"{finding} alone", (finding,), setting)
            yield Story(f"{finding} with the usual signs of {ident}", tuple(dict.fromkeys((*usual, finding))), setting)
        yield from _about(ident, versions, setting, known)


def _serious(several: tuple[Knowledge, ...]) -> dict[str, list[tuple[Knowledge, Hypothesis]]]:
    found: dict[str, list[tuple[Knowledge, Hypothesis]]] = {}
    for k in several:
        for record in k.hypotheses.values():
            if record.list == "serious":
                found.setdefault(record.id, []).append((k, record))
    return found


def _likeliest(knowledge: Knowledge, record: Hypothesis) -> str:
    """The setting in which it is most often there."""
    return max(record.base_rate, key=lambda s: knowledge.number(record.base_rate[s]))


def _usual(knowledge: Knowledge, record: Hypothesis, known: Mapping[str, Any]) -> tuple[str, ...]:
    def strength(link: Link) -> float:
        return link.sens if link.sens is not None else knowledge.chance(link.chance) if link.chance is not None else 0.0

    found = [link for link in record.produces if link.finding in known]
    return tuple(link.finding for link in sorted(found, key=strength, reverse=True)[:_USUAL])


def _differing(several: tuple[Knowledge, ...]) -> Iterator[str]:
    """Findings whose own entry, or a link of any cause to them, is not the same in every version."""
    first, *others = several
    for other in others:
        for ident in dict.fromkeys((*first.findings, *other.findings)):
            if _weight(first, ident) != _weight(other, ident):
                yield ident
        for ident in dict.fromkeys((*first.hypotheses, *other.hypotheses)):
            one, two = (_links(k.hypotheses.get(ident)) for k in (first, other))
            yield from (f for f in dict.fromkeys((*one, *two)) if one.get(f) != two.get(f))


def _weight(knowledge: Knowledge, ident: str) -> tuple[Any, ...]:
    record = knowledge.findings.get(ident)
    return tuple(getattr(record, name) for name in _WEIGHT) if record is not None else ()


def _links(record: Hypothesis | None) -> dict[str, Link]:
    return {link.finding: link for link in record.produces} if record is not None else {}


def _about(
    ident: str, versions: list[tuple[Knowledge, Hypothesis]], setting: str, known: Mapping[str, Any]
) -> Iterator[Story]:
    """Each fact that raises or lowers its base rate, where these are not the same in every version."""
    first, *others = (record.modifiers for _, record in versions)
    if all(other == first for other in others):
        return
    for fact in [m.fact for modifiers in (first, *others) for m in modifiers]:
        read = [step.rule for step in steps(fact)]
        signs = tuple(r for r in read if isinstance(r, str) and r in known)
        told = [r for r in read if isinstance(r, dict)]
        ages = [float(b) for r in told if isinstance(r.get("age"), dict) for b in r["age"].values()]
        sexes = [r["sex"] for r in told if "sex" in r]
        for age in [a for bound in ages for a in (bound - 1, bound)] or [40.0]:
            words = f"{' and '.join(signs) or 'nothing asked yet'}, aged {age:g}, for {ident}"
            yield Story(words, signs, setting, age, sexes[0] if sexes else "female")
