"""Everything loaded for one region, by id; and the small look-ups every layer needs. No YAML, no pydantic."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from reasoner.graph.overlay.entries import Clinic
from reasoner.graph.records import (
    Alignment,
    Evidence,
    Figure,
    Finding,
    Group,
    Hypothesis,
    LoadClass,
    Masking,
    Measure,
    OptionRecord,
    Policy,
    Protocol,
    Region,
    Scales,
    Screen,
    Setting,
)

__all__ = ["LIST_NAMES", "Knowledge"]

# YAML list name -> the name printed in JSON (fixed interface)
LIST_NAMES = {
    "restriction": "limits",
    "condition": "injured_or_ill",
    "serious": "must_not_miss",
    "pain_mechanism": "pain_mechanism",
    "contributing": "feeds_it",
}


@dataclass(frozen=True)
class Knowledge:
    """One region's loaded knowledge. Mappings keep file order; `digest` covers every byte loaded and the version."""

    region: Region
    policy: Policy
    scales: Scales
    findings: Mapping[str, Finding]
    groups: Mapping[str, Group]
    maskings: Mapping[str, Masking]
    hypotheses: Mapping[str, Hypothesis]
    measures: Mapping[str, Measure]
    options: Mapping[str, OptionRecord]
    load_classes: Mapping[str, LoadClass]
    protocols: Mapping[str, Protocol]
    screens: Mapping[str, Screen]
    evidence: Mapping[str, Evidence]
    digest: str = ""
    files: Mapping[str, bytes] = field(default_factory=dict, repr=False)  # relative name -> bytes, for the archive
    alignment: Mapping[str, Alignment] = field(default_factory=dict)  # drawings for teaching; no reasoning reads them
    clinic: Clinic | None = None  # the clinic's own folder laid over it, where there is one
    set_aside: bool = False  # a clinic's folder is in use and was left out on request

    def chance(self, stated: str | float) -> float:
        """A word of scales.yaml or a number, as a number. Raises KeyError for an unknown word."""
        return self.words[stated][0] if isinstance(stated, str) else float(stated)

    def number(self, figure: Figure) -> float:
        """Value of a Figure, its word looked up."""
        if figure.word is not None:
            return self.words[figure.word][0]
        assert figure.value is not None  # the loader refuses a figure with neither
        return figure.value

    def interval(self, figure: Figure) -> tuple[float, float] | None:
        """Range of a Figure: its own, else its word's, else None."""
        if figure.range is not None:
            return figure.range
        return self.words[figure.word][1] if figure.word is not None else None

    @cached_property
    def suspected_above(self) -> dict[str, float]:
        """Hypothesis id -> chance from which a caution is added; the region's limit before the policy's."""
        return {**self.policy.suspected_above, **self.region.suspected_above}

    @cached_property
    def words(self) -> Mapping[str, tuple[float, tuple[float, float]]]:
        """word -> (value, range)"""
        return {w.id: (w.value, w.range) for w in self.scales.words}

    @cached_property
    def settings(self) -> Mapping[str, Setting]:
        """Settings by id."""
        return {s.id: s for s in self.region.settings}

    @cached_property
    def finding_names(self) -> Mapping[str, str]:
        """Lower-case id, name and aliases (spaces and underscores alike) -> finding id."""
        return _names((f.id, (f.name, *f.aliases, *f.formerly)) for f in self.findings.values())

    @cached_property
    def measure_names(self) -> Mapping[str, str]:
        """Lower-case id, name and aliases -> measure id."""
        return _names((m.id, (m.name, *m.aliases, *m.formerly)) for m in self.measures.values())

    @cached_property
    def option_names(self) -> Mapping[str, str]:
        """Lower-case id, name and aliases -> option id."""
        return _names((o.id, (o.name, *o.aliases, *o.formerly)) for o in self.options.values())

    @cached_property
    def hypothesis_names(self) -> Mapping[str, str]:
        """Lower-case id, name and aliases -> hypothesis id."""
        return _names((h.id, (h.name, *h.aliases, *h.formerly)) for h in self.hypotheses.values())

    @cached_property
    def now_called(self) -> Mapping[str, str]:
        """Former id -> id, of findings and measures: what an old trail names by its former id."""
        signs = {old: f.id for f in self.findings.values() for old in f.formerly}
        return signs | {old: m.id for m in self.measures.values() for old in m.formerly}

    @cached_property
    def group_of(self) -> Mapping[str, str]:
        """Finding id -> id of the group that holds it."""
        return {m.finding: g.id for g in self.groups.values() for m in g.members}


def plain(name: str) -> str:
    """How names are compared: lower case, underscores and hyphens as spaces, single spaces."""
    return " ".join(name.lower().replace("_", " ").replace("-", " ").split())


def _names(entries: Iterator[tuple[str, tuple[str, ...]]]) -> dict[str, str]:
    table: dict[str, str] = {}
    for ident, names in entries:
        for name in (ident, *names):
            table.setdefault(plain(name), ident)
    return table
