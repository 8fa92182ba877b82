"""Every clinical number says where it comes from, once, and is one that can be."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from reasoner.graph.checks.base import Check, Spot, rule
from reasoner.graph.checks.trace import given_by, is_traced
from reasoner.graph.pack import Pack
from reasoner.graph.records import Effect, Figure, GroupMember, Link, Need
from reasoner.problems import nearest

__all__ = ["CHECKS", "numbers_of", "words_of"]

# fields that hold a chance: 0 to 1
_CHANCES = ("chance", "sens", "spec", "p1", "p0")
_SHARE = "write 0 to 1: 35 % is 0.35"
_LINK_FORMS = "chance, or sens and spec, or lr_neg (and lr_pos), or levels, or mean and sd"


def _field(path: tuple[str | int, ...], *more: str) -> str:
    return ".".join(str(p) for p in (*path, *more) if isinstance(p, str))


@rule("K-EVIDENCE")
def published_without_evidence(pack: Pack) -> Iterator[Spot]:
    """Something says `basis: published` and names no evidence.

    Published means that one can look it up. Name the evidence entries, or write basis: practice (common practice, no
    source) or basis: recalled (from memory, to be checked).
    """
    for record, path, part in pack.parts:
        if part.basis == "published" and not part.evidence:
            where = _field(path) or record.id
            hint = "add evidence: [id], or write basis: practice"
            yield Spot(record, (*path, "basis"), f"{where}: published, but no evidence is named", hint)


@rule("K-RECALLED")
def published_on_memory(pack: Pack) -> Iterator[Spot]:
    """Something says `basis: published`, but no entry it names is a publication that was read.

    Evidence entries of quality `recalled` (from memory) or `practice` (teaching pages) cannot make a number published;
    it takes the basis of the best entry it names.
    """
    evidence = pack.knowledge.evidence
    for record, path, part in pack.parts:
        known = [evidence[ident] for ident in part.evidence if ident in evidence]
        if part.basis == "published" and known and all(e.quality != "published" for e in known):
            best = "practice" if any(e.quality == "practice" for e in known) else "recalled"
            where = _field(path) or record.id
            message = f"{where}: published, but {known[0].id} is {known[0].quality}"
            yield Spot(record, (*path, "basis"), message, f"write basis: {best}, or name a publication that was read")


@rule("K-TRACE")
def number_not_in_evidence(pack: Pack) -> Iterator[Spot]:
    """A published number is in none of the evidence entries it names.

    The number must stand in the entry's figures (or in what it says), to the digits written here, as a share or a
    percentage. If it was worked out, say how under derived: so that someone else can do it again.
    """
    given = {ident: given_by(entry) for ident, entry in pack.knowledge.evidence.items()}
    for record, path, part in pack.parts:
        known = [given[ident] for ident in part.evidence if ident in given]
        if part.basis != "published" or getattr(part, "derived", "") or len(known) < max(1, len(part.evidence)):
            continue
        for name, number in numbers_of(part):
            if not any(is_traced(number, numbers) for numbers in known):
                named = ", ".join(part.evidence)
                message = f"{_field(path, name)}: {number:g} is not in {named}"
                yield Spot(record, (*path, name), message, "correct it, or add derived: with the arithmetic")


def numbers_of(part: Any) -> Iterator[tuple[str, float]]:
    """(field, number) of every clinical number a part states itself. Not doses, lengths of time or layout."""
    names = _NUMBERS.get(type(part).__name__, ())
    if isinstance(part, Effect) and part.sham_basis in (None, "published"):
        names = (*names, "sham", "sham_sd")
    for name in names:
        value = getattr(part, name)
        for one in value if isinstance(value, tuple) else (value,):
            if isinstance(one, (int, float)) and not isinstance(one, bool):
                yield name, float(one)


_NUMBERS: dict[str, tuple[str, ...]] = {
    "Figure": ("value", "range"),
    "Spread": ("mean", "sd"),
    "Link": ("chance", "sens", "spec", "lr_pos", "lr_neg", "range", "spec_range", "levels", "mean", "sd"),
    "GroupMember": ("sens", "spec"),
    "Modifier": ("odds_ratio", "risk_ratio"),
    "Shift": ("odds_ratio",),
    "ErrorFigure": ("sem", "mdc95", "mdc95_side_difference", "sem_between_occasions"),
    "Effect": ("gain", "sd", "p1", "p0"),
    "Need": ("value", "range"),
    "Course": ("mean", "sd"),
    "NormalValue": ("mean", "sd"),
    "Window": ("earlier_weeks", "later_weeks"),
}


@rule("K-WORD")
def unknown_word(pack: Pack) -> Iterator[Spot]:
    """A word stands for a chance that scales.yaml does not have.

    Where no figure is published a chance is one of the words of scales.yaml, each with a value and a range.
    """
    words = pack.knowledge.words
    for record, path, part in pack.parts:
        for name, word in words_of(part):
            if word not in words:
                near = nearest(word, words, 1)
                hint = f"write {near[0]}" if near else "words: " + ", ".join(words)
                yield Spot(record, (*path, name), f"{_field(path, name)}: there is no word {word}", hint)


def words_of(part: Any) -> Iterator[tuple[str, str]]:
    """(field, word) of every word of scales.yaml a part states in place of a number."""
    if isinstance(part, Figure) and part.word is not None:
        yield "word", part.word
    if isinstance(part, Link):
        for value in (part.chance, *part.levels):
            if isinstance(value, str):
                yield "levels" if value in part.levels else "chance", value
    if isinstance(part, Effect):
        for name in ("p1", "p0"):
            if isinstance(getattr(part, name), str):
                yield name, getattr(part, name)


@rule("K-FIGURE")
def figure_form(pack: Pack) -> Iterator[Spot]:
    """A figure states both a value and a word, or neither.

    Exactly one: `value:` for a number with a source or a judged number, `word:` for a word of scales.yaml.
    """
    for record, path, part in pack.parts:
        if isinstance(part, Figure) and (part.value is None) == (part.word is None):
            found = "neither value nor word" if part.value is None else "both value and word"
            yield Spot(record, path, f"{_field(path)}: {found}", "write value: 0.3 or word: often")


@rule("K-LINK")
def link_form(pack: Pack) -> Iterator[Spot]:
    """What a hypothesis does to a finding is stated twice, or not at all.

    A link states one of: chance (a word or a number); sens and spec; lr_neg, with or without lr_pos; levels; mean and
    sd. The last two are for measured findings. Two forms of one number would disagree sooner or later.
    """
    for hypothesis in pack.records["hypothesis"]:
        for n, link in enumerate(hypothesis.produces):
            forms = _forms(link)
            if len(forms) != 1:
                found = " and ".join(forms) if forms else "no strength"
                message = f"produces {link.finding}: found {found}"
                yield Spot(hypothesis, ("produces", n), message, f"write one of {_LINK_FORMS}")
                continue
            missing = _missing_half(link)
            if missing:
                message = f"produces {link.finding}: {missing} is missing"
                yield Spot(hypothesis, ("produces", n), message, f"write one of {_LINK_FORMS}")


def _forms(link: Link) -> list[str]:
    forms = {
        "chance": link.chance is not None,
        "sens and spec": link.sens is not None or link.spec is not None,
        "lr_neg": link.lr_neg is not None or link.lr_pos is not None,
        "levels": bool(link.levels),
        "mean and sd": link.mean is not None or link.sd is not None,
    }
    return [name for name, given in forms.items() if given]


def _missing_half(link: Link) -> str:
    if link.sens is not None or link.spec is not None:
        return "sens" if link.sens is None else "spec" if link.spec is None else ""
    if link.lr_pos is not None and link.lr_neg is None:
        return "lr_neg"
    if link.mean is not None or link.sd is not None:
        return "mean" if link.mean is None else "sd" if link.sd is None else ""
    return ""


@rule("K-RATIO")
def ratio_form(pack: Pack) -> Iterator[Spot]:
    """A modifier states no ratio or two, or one that is not above 0.

    One of odds_ratio and risk_ratio, as published. Above 1 raises the base rate, below 1 lowers it.
    """
    for hypothesis in pack.records["hypothesis"]:
        for n, modifier in enumerate(hypothesis.modifiers):
            given = [r for r in (modifier.odds_ratio, modifier.risk_ratio) if r is not None]
            if len(given) != 1:
                found = "both odds_ratio and risk_ratio" if given else "neither odds_ratio nor risk_ratio"
                yield Spot(hypothesis, ("modifiers", n), f"modifiers: {found}", "write one: odds_ratio: 2.0")
            elif given[0] <= 0:
                name = "odds_ratio" if modifier.odds_ratio is not None else "risk_ratio"
                yield Spot(hypothesis, ("modifiers", n, name), f"{name}: found {given[0]:g}", "write a ratio above 0")


@rule("K-CHANCE")
def chance_in_range(pack: Pack) -> Iterator[Spot]:
    """A chance is not between 0 and 1, or a base rate is 0 or 1.

    35 per cent is written 0.35. Nothing has a base rate of 0 or 1: no answer could ever move it.
    """
    for record, path, part in pack.parts:
        names = _CHANCES if isinstance(part, (Link, GroupMember, Effect)) else ()
        for name in names:
            value = getattr(part, name, None)
            if isinstance(value, (int, float)) and not 0 <= value <= 1:
                yield Spot(record, (*path, name), f"{_field(path, name)}: found {value:g}", _SHARE)
        if isinstance(part, Link):
            for n, value in enumerate(part.levels):
                if isinstance(value, (int, float)) and not 0 <= value <= 1:
                    yield Spot(record, (*path, "levels", n), f"levels: found {value:g}", _SHARE)
        if isinstance(part, Figure) and part.value is not None and _is_chance(path) and not 0 <= part.value <= 1:
            yield Spot(record, (*path, "value"), f"{_field(path)}: found {part.value:g}", _SHARE)
    for hypothesis in pack.records["hypothesis"]:
        for setting, figure in hypothesis.base_rate.items():
            if figure.value in (0, 1):
                path = ("base_rate", setting, "value")
                message = f"base_rate.{setting}: found {figure.value:g}"
                yield Spot(hypothesis, path, message, "write more than 0, less than 1")


def _is_chance(path: tuple[str | int, ...]) -> bool:
    """Every figure is a chance but kappa (which may be negative) and those in a measure's own unit or of a drawing."""
    return bool(path) and not _NO_CHANCE & set(path)


_NO_CHANCE = {
    "agreement", "worthwhile", "healthy_difference", "click_sd", "socket_radius", "socket_front", "socket_back",
    "dome_front", "clearance",
}  # fmt: skip


@rule("K-INTERVAL")
def interval_order(pack: Pack) -> Iterator[Spot]:
    """An interval runs from high to low, or does not hold its own number.

    Write range: [low, high], with the number itself between them.
    """
    for record, path, part in pack.parts:
        for name, middle in _intervals(part):
            low, high = getattr(part, name)
            if low > high:
                yield Spot(record, (*path, name), f"{_field(path, name)}: found [{low:g}, {high:g}]", "low first")
            elif isinstance(middle, (int, float)) and not low <= middle <= high:
                message = f"{_field(path, name)}: {middle:g} is not within [{low:g}, {high:g}]"
                yield Spot(record, (*path, name), message, "correct one of them")
    scales = pack.knowledge.scales
    for n, word in enumerate(scales.words):
        low, high = word.range
        if not 0 <= low <= word.value <= high <= 1:
            message = f"words {word.id}: {word.value:g} is not within [{low:g}, {high:g}] within 0 to 1"
            yield Spot(scales, ("words", n), message, "correct it")


def _intervals(part: Any) -> Iterator[tuple[str, Any]]:
    """(field of an interval, the number it belongs to)."""
    if isinstance(part, (Figure, Need)) and part.range is not None:
        yield "range", part.value
    if isinstance(part, Link):
        if part.range is not None:
            yield "range", part.sens if part.sens is not None else part.chance
        if part.spec_range is not None:
            yield "spec_range", part.spec


@rule("K-SPREAD")
def spread_form(pack: Pack) -> Iterator[Spot]:
    """A standard deviation or an error of measurement is not above 0.

    Everything measured varies. Where none is known, leave the figure out rather than writing 0.
    """
    for record, path, part in pack.parts:
        for name in ("sd", "sham_sd", "sem", "mdc95", "mdc95_side_difference"):
            value = getattr(part, name, None)
            if isinstance(value, (int, float)) and value <= 0:
                yield Spot(record, (*path, name), f"{_field(path, name)}: found {value:g}", "write a number above 0")


CHECKS: tuple[Check, ...] = (
    published_without_evidence,
    published_on_memory,
    number_not_in_evidence,
    unknown_word,
    figure_form,
    link_form,
    ratio_form,
    chance_in_range,
    interval_order,
    spread_form,
)
