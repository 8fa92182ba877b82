"""True values of every measure before treatment: as stated, from the level drawn, from what was found, or usual."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from reasoner.graph.records import Finding, Measure
from reasoner.measures.derived import derived_value, terms
from reasoner.practice.chances import Chances
from reasoner.practice.coherent import followed, seen
from reasoner.practice.person import OTHER

__all__ = ["true_values"]

_TRIES = 60
Values = dict[tuple[str, str], float]


def true_values(chances: Chances, found: Mapping[str, bool]) -> Values:
    """(measure, side or "none") -> value. A derived measure is left out: it follows from its parts."""
    return _Values(chances, found).made()


@dataclass
class _Values:
    chances: Chances
    found: Mapping[str, bool]
    values: Values = field(default_factory=dict)

    def made(self) -> Values:
        scenario, knowledge = self.chances.scenario, self.chances.knowledge
        for measure in knowledge.measures.values():
            if not measure.derived:
                for side in ("left", "right") if measure.sided else ("none",):
                    self.values[measure.id, side] = self._usual(measure, side)
        for finding in self._graded():
            if not self._measure(finding).derived:
                self._worsen(finding, 0)
        stated = {(m, side): value for m, sides in scenario.measures.items() for side, value in sides.items()}
        self._ratings(stated)
        self.values.update(stated)
        self._fit_derived()
        free = knowledge.measures.keys() - scenario.measures.keys()
        rules = seen(scenario, knowledge, self.found).rules
        followed(scenario, rules, self.values, free, self.chances.random("follows"))
        return self.values

    def _graded(self) -> Iterator[Finding]:
        """Findings that come from a measure and that something true can bear on."""
        known = self.chances.compiled.network.node_index
        return (f for f in self.chances.knowledge.findings.values() if f.measured is not None and f.id in known)

    def _measure(self, finding: Finding) -> Measure:
        assert finding.measured is not None
        return self.chances.knowledge.measures[finding.measured.measure]

    def _usual(self, record: Measure, side: str) -> float:
        low, high = record.usual or record.possible
        if record.kind == "pain":
            return 0.0
        if record.kind == "function" and record.usual is None:
            return high if record.better == "higher" else low
        shared, own = self.chances.random("usual", record.id), self.chances.random("usual", record.id, side)
        return low + (high - low) * (0.6 + 0.1 * shared.random() + 0.02 * own.random())

    def _worsen(self, finding: Finding, attempt: int) -> None:
        """The affected side falls short of the other by a difference drawn inside the level drawn."""
        assert finding.measured is not None
        record, side = self._measure(finding), self.chances.scenario.person.side
        if not record.sided:
            return
        d = self._difference(finding, attempt)
        sign = -1.0 if record.better == "higher" else 1.0
        whole = finding.measured.of != "side_difference"
        self.values[record.id, side] = d if whole else self.values[record.id, OTHER[side]] + sign * d

    def _difference(self, finding: Finding, attempt: int) -> float:
        assert finding.measured is not None
        how = finding.measured
        level = self.chances.severity(finding.id)
        turn = 1.0 if how.worse == "higher" else -1.0
        cuts = [turn * c for c in how.cuts]
        width = max(how.healthy.sd, 0.1)
        low = turn * how.healthy.mean - width if level == 0 else cuts[level - 1]
        high = cuts[level] if level < len(cuts) else cuts[-1] + 2 * width
        return turn * (low + (high - low) * self.chances.random("value", finding.id, attempt).random())

    # ------------------------------------------------------------------------------------------ what hangs together

    def _fit_derived(self) -> None:
        """Parts that were drawn are drawn again, within their levels, until what is worked out from them fits.

        It fits if it lies in the usual range on both sides and in the level drawn for it; of the two the range counts
        more: a person may be milder than drawn, never impossible.
        """
        for finding in self._graded():
            record = self._measure(finding)
            assert finding.measured is not None
            if not record.derived or finding.measured.of != "side_difference":
                continue
            parts = {name for _, name in terms(record.derived)} - self.chances.scenario.measures.keys()
            owners = [f for f in self._graded() if self._measure(f).id in parts]
            if not owners:
                continue
            wanted, before, possible = self.chances.level(finding.id, 0), dict(self.values), dict[str, Values]()
            for attempt in range(_TRIES):
                for owner in owners:
                    self._worsen(owner, attempt)
                usual, level = self._worked_out(record, finding.measured.cuts)
                if usual and level == wanted:
                    break
                if usual:
                    possible.setdefault("first", dict(self.values))
            else:
                self.values = possible.get("first", before)

    def _worked_out(self, record: Measure, cuts: tuple[float, ...]) -> tuple[bool, int]:
        """(both sides lie in the usual range, level of the difference) of a derived measure now."""
        side = self.chances.scenario.person.side
        parts = [name for _, name in terms(record.derived)]
        both = (derived_value(record.derived, {p: self.values[p, s] for p in parts}) for s in (side, OTHER[side]))
        this, other = both
        if this is None or other is None:
            return False, 0
        low, high = record.usual or record.possible
        short = (other - this) if record.better == "higher" else (this - other)
        return low <= min(this, other) and max(this, other) <= high, sum(short >= cut for cut in cuts)

    def _ratings(self, stated: Values) -> None:
        """The person's own ratings follow from how bad it gets; every questionnaire of function alike."""
        knowledge, bad = self.chances.knowledge, self.chances.scenario.intensity
        region, side = knowledge.region, self.chances.scenario.person.side
        sign = region.function_sign
        function = stated.get((sign, "none"), stated.get((sign, side), max(10.0 - bad - 1.0, 0.0)))
        for record in knowledge.measures.values():
            where, (low, high) = side if record.sided else "none", record.possible
            if record.id == region.pain_sign:
                self.values[record.id, where] = min(max(bad, low), high)
            elif record.kind == "function" and record.usual is None:
                share = function / 10.0 if record.better == "higher" else 1.0 - function / 10.0
                self.values[record.id, where] = round(low + (high - low) * share)
