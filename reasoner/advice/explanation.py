"""Explanations as data, and how names, chances and strengths are said in them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Link

__all__ = [
    "Explanation", "Section", "chance_words", "name_of", "rule_words", "strength_words", "words_in",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and rows of cells."""

    title: str
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Explanation:
    """Why something is said: what it is about, and sections to read in order."""

    kind: str
    id: str
    name: str
    sections: tuple[Section, ...]


def name_of(knowledge: Knowledge, ident: str) -> str:
    for table in (knowledge.findings, knowledge.groups, knowledge.measures, knowledge.hypotheses, knowledge.screens):
        if ident in table:
            return str(table[ident].name)
    return ident.replace("_", " ").replace(".", " ")


def chance_words(value: float) -> str:
    """Two figures, never 0 or 1.

    >>> chance_words(.384), chance_words(.0004), chance_words(.9999)
    ('.38', 'under .01', 'over .99')
    """
    if value < 0.01:
        return "under .01"
    if value > 0.99:
        return "over .99"
    return f"{value:.2f}".removeprefix("0")


def strength_words(link: Link) -> str:
    if link.chance is not None:
        return str(link.chance).replace("_", " ")
    if link.sens is not None:
        return f"found in {link.sens:g} of those with it" + (f", absent in {link.spec:g} without" if link.spec else "")
    if link.lr_neg is not None:
        absent = f"likelihood ratio if absent {link.lr_neg:g}"
        return f"if present {link.lr_pos:g}, {absent}" if link.lr_pos else absent
    if link.mean is not None:
        return f"mean {link.mean:g}, SD {link.sd:g}"
    return "levels " + ", ".join(str(x).replace("_", " ") for x in link.levels)


def rule_words(rule: object) -> str:
    """A rule in running words.

    >>> rule_words({"all": ["fever", {"not": {"age": {"below": 16}}}]})
    'fever and not age below 16'
    >>> rule_words({"weeks_since": "surgery", "below": 12})
    'weeks since surgery below 12'
    """
    if isinstance(rule, list):
        return ", ".join(rule_words(part) for part in rule)
    if not isinstance(rule, dict):
        return str(rule).replace("_", " ")
    for joined, word in (("all", " and "), ("any", " or ")):
        if joined in rule:
            return word.join(rule_words(part) for part in rule[joined])
    if "of" in rule and "at_least" in rule and "measure" not in rule:
        return f"at least {rule['at_least']} of: {rule_words(rule['of'])}"
    return " ".join(f"{key.replace('_', ' ')} {rule_words(value)}".strip() for key, value in rule.items())


def words_in(rule: object) -> Iterable[str]:
    if isinstance(rule, str):
        yield rule
    elif isinstance(rule, dict):
        for value in rule.values():
            yield from words_in(value)
    elif isinstance(rule, list):
        for value in rule:
            yield from words_in(value)
