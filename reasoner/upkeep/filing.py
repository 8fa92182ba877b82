"""Checks of a new evidence entry that a busy reader needs: swapped ratios, percent for a share, SE for SD, and so on.

Takes plain values (an entry as written), gives problems and conversions; nothing is changed silently.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from math import sqrt
from typing import Any

from reasoner.graph.records import Evidence
from reasoner.problems import Problem
from reasoner.upkeep.studies import se_from_p

__all__ = ["TEMPLATE", "Numbers", "conversions", "entry_problems", "suggested_id"]

DOI = re.compile(r"10\.\d{4,9}/[^\s\"<>]+\Z")
GRADE = ("high", "moderate", "low", "very_low")
_SHARES = ("sens", "spec", "sensitivity", "specificity", "prevalence", "share", "kappa", "icc")
_CI = re.compile(r"(.*?)_?ci(?:95)?\Z")
_ALIKE = 0.15  # an SD within this share of the SE that the interval gives is taken for the SE
Z2 = 2 * 1.959964

TEMPLATE = """\
# One source. Lines with # are comments; take out what you do not know. Then: knowledge add evidence --from THIS
id: PREFIX-author-2020
kind: effect              # accuracy | prevalence | effect | measurement | safety | healing | other
citation:
  authors: Author A et al.
  year: 2020
  journal: Some Journal 1:1-9
  title: ""
  doi: 10.1234/example
design: randomised trial
compares: between_groups  # between_groups | before_after | not_applicable
population: who was studied, and how they differ from yours
n: 40
says: What it found, in your own words, one or two sentences.
direction: helps          # helps | no_difference | harms | mixed | not_applicable
certainty: {scheme: GRADE, value: low, rated_by: project, reasons: [small, not blinded]}
figures:                  # numbers as printed; an interval goes beside its point: gain and gain_ci
  gain: 1.5
  gain_ci: [0.5, 2.5]
  gain_sd: 2.8
quality: published
checked: abstract read 2026-03-01
review_by: 2028-03
"""


@dataclass(frozen=True, slots=True)
class Numbers:
    """A conversion shown: what follows from what is printed."""

    name: str
    text: str


def suggested_id(prefix: str, value: Mapping[str, Any]) -> str:
    """An id from first author and year: nc-smith-2020."""
    citation = value.get("citation") or {}
    first = re.sub(r"[^a-z]", "", str(citation.get("authors") or "source").lower().split(" ")[0].split(",")[0])
    return f"{prefix}-{first or 'source'}-{citation.get('year') or 'undated'}"


def entry_problems(value: Mapping[str, Any], known: Iterable[Evidence]) -> list[Problem]:
    """What is wrong with the numbers, the citation and the certainty of one entry. File and line are the caller's."""
    return [*_citation(value, known), *_certainty(value), *_figures(value.get("figures"), value)]


def _citation(value: Mapping[str, Any], known: Iterable[Evidence]) -> Iterator[Problem]:
    citation = value.get("citation")
    if not isinstance(citation, dict):
        return
    doi = citation.get("doi")
    if isinstance(doi, str) and not DOI.match(doi):
        bare = re.sub(r"^(?:https?://(?:dx\.)?doi\.org/|doi:\s*)", "", doi.strip(), flags=re.IGNORECASE)
        hint = f"write {bare}" if DOI.match(bare) else "a DOI begins with 10. and has a slash: 10.1234/abcd"
        yield Problem("N-DOI", f"doi: found {doi[:60]}", hint)
    for entry in known:
        same = next(
            (k for k in ("doi", "pmid") if citation.get(k) and _same(citation[k], getattr(entry.citation, k))), ""
        )
        if same and entry.id != value.get("id"):
            yield Problem(
                "N-TWICE",
                f"{same}: this source is filed as {entry.id}",
                f"use that: reasoner knowledge show {entry.id}",
            )


def _same(one: Any, other: Any) -> bool:
    return other is not None and str(one).strip().lower() == str(other).strip().lower()


def _certainty(value: Mapping[str, Any]) -> Iterator[Problem]:
    certainty = value.get("certainty")
    if not isinstance(certainty, dict) or str(certainty.get("scheme", "")).upper() != "GRADE":
        return
    if certainty.get("value") not in GRADE:
        yield Problem("N-CERTAINTY", f"certainty: found {certainty.get('value')}", "write one of " + ", ".join(GRADE))
    elif certainty["value"] != "high" and not certainty.get("reasons"):
        yield Problem("N-CERTAINTY", "certainty: says no reason", "add reasons: [small, indirect, ...]")


def _figures(figures: Any, entry: Mapping[str, Any]) -> Iterator[Problem]:
    if not isinstance(figures, dict):
        return
    for key, found in figures.items():
        if isinstance(found, dict):
            yield from _figures(found, entry)
        else:
            yield from _one(key, found, figures, entry)


def _one(key: str, found: Any, figures: Mapping[str, Any], entry: Mapping[str, Any]) -> Iterator[Problem]:
    number = isinstance(found, (int, float)) and not isinstance(found, bool)
    if number and key.startswith(("lr_pos", "lr_plus")) and found < 1:
        other = "; lr_neg looks exchanged with it" if _above_one(figures.get("lr_neg")) else ""
        yield Problem("N-RATIO", f"{key}: {found:g} is below 1{other}", "a positive ratio is above 1: exchange the two")
    if number and key.startswith(("lr_neg", "lr_minus")) and found > 1:
        yield Problem("N-RATIO", f"{key}: {found:g} is above 1", "a negative ratio is below 1: exchange the two")
    if number and key.split("_")[0] in _SHARES and not key.endswith(("_n", "_of")) and found > 1:
        yield Problem("N-PERCENT", f"{key}: {found:g} is a percentage", f"write a share of one: {found / 100:g}")
    match = _CI.match(key)
    if match is not None and key not in ("ci", "ci95"):
        yield from _interval(key, match[1], found, figures, entry)


def _above_one(value: Any) -> bool:
    return isinstance(value, (int, float)) and value > 1


def _interval(
    key: str, name: str, found: Any, figures: Mapping[str, Any], entry: Mapping[str, Any]
) -> Iterator[Problem]:
    if not (isinstance(found, list) and len(found) == 2 and all(isinstance(v, (int, float)) for v in found)):
        yield Problem("N-INTERVAL", f"{key}: found {found}", f"write {key}: [low, high]")
        return
    low, high = float(found[0]), float(found[1])
    point = figures.get(name)
    if low >= high:
        yield Problem("N-INTERVAL", f"{key}: [{low:g}, {high:g}] does not rise", "low first")
    elif not isinstance(point, (int, float)) or isinstance(point, bool):
        yield Problem("N-POINT", f"{key}: an interval without its point", f"add {name}: the estimate itself")
    elif not low <= point <= high:
        yield Problem("N-INTERVAL", f"{key}: [{low:g}, {high:g}] does not hold {name} {point:g}", "check all three")
    sd, count = figures.get(f"{name}_sd"), figures.get(f"{name}_n", figures.get("n", entry.get("n")))
    if isinstance(sd, (int, float)) and isinstance(count, int) and count > 1 and low < high:
        se = (high - low) / Z2
        if abs(sd - se) <= _ALIKE * se and entry.get("compares") != "between_groups":
            hint = f"the SD is SE x sqrt(n) = {se * sqrt(count):.3g}; write {name}_se: if it is the SE"
            yield Problem("N-SD", f"{name}_sd: {sd:g} is about the SE that the interval gives ({se:.3g})", hint)


def conversions(value: Mapping[str, Any]) -> list[Numbers]:
    """What follows from the printed numbers, shown and not filed: SE from an interval or p, SD from SE and n, SE from
    SD and n."""
    figures = value.get("figures")
    shown: list[Numbers] = []
    if not isinstance(figures, dict):
        return shown
    count = figures.get("n", value.get("n"))
    people = count if isinstance(count, int) and count > 1 else None
    for key, found in figures.items():
        match = _CI.match(key)
        if match is None:
            shown += _from_sd_or_p(key, found, figures, people)
        if match is None or not (isinstance(found, list) and len(found) == 2):
            continue
        se = (found[1] - found[0]) / Z2
        shown.append(Numbers(match[1], f"SE = ({found[1]:g} - {found[0]:g}) / 3.92 = {se:.3g}"))
        if people is not None and value.get("compares") != "between_groups":
            shown.append(Numbers(match[1], f"SD = SE x sqrt({people}) = {se * sqrt(people):.3g}, if one group"))
    return shown


def _from_sd_or_p(key: str, found: Any, figures: Mapping[str, Any], people: int | None) -> Iterator[Numbers]:
    if not isinstance(found, (int, float)) or isinstance(found, bool) or found <= 0:
        return
    name, _, what = key.rpartition("_")
    point = figures.get(name)
    if what == "sd" and people is not None:
        yield Numbers(name, f"SE = SD / sqrt({people}) = {found / sqrt(people):.3g}, if one group")
    if what == "p" and found < 1 and isinstance(point, (int, float)) and not isinstance(point, bool) and point:
        yield Numbers(name, se_from_p(point, found, people)[1])
