"""Where the knowledge is thin: numbers without a source, hypotheses nothing tests, options without a figure."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Mapping
from typing import Any

from reasoner.graph.knowledge import LIST_NAMES, Knowledge
from reasoner.graph.pack import FIELDS, Pack

__all__ = ["coverage", "coverage_lines"]

_FEW = 2  # links from anything a hand tests, fewer than which a hypothesis is thin
_LISTED = 12


def coverage(knowledge: Knowledge) -> dict[str, Any]:
    """Counts by kind and basis, and the ids of what is thin."""
    tested = {f.id for f in knowledge.findings.values() if f.kind in ("tested", "measured", "composite")}
    tested |= {g.id for g in knowledge.groups.values()}
    reached = {target for option in knowledge.options.values() for target in option.acts_on}
    bases = {kind: dict(count) for kind, count in _bases(knowledge).items()}
    hypotheses = knowledge.hypotheses.values()
    return {
        "counts": {name: len(getattr(knowledge, name)) for name in FIELDS.values()},
        "lists": dict(Counter(LIST_NAMES[h.list] for h in hypotheses)),
        "basis": bases,
        "few_tests": [h.id for h in hypotheses if sum(link.finding in tested for link in h.produces) < _FEW],
        "no_reference_standard": [h.id for h in hypotheses if h.establish == "no reference standard"],
        "conditions_without_option": [h.id for h in hypotheses if h.list == "condition" and h.id not in reached],
        "tried_without_figure": [o.id for o in knowledge.options.values() if o.lane == "try_now" and not o.effects],
        "screens_without_source": [s.id for s in knowledge.screens.values() if not s.evidence],
        "measures_without_error": [m.id for m in knowledge.measures.values() if not m.errors and not m.derived],
    }


def _bases(knowledge: Knowledge) -> dict[str, Counter[str]]:
    found: dict[str, Counter[str]] = {}
    pack = Pack.of(knowledge)
    kinds = {id(record): kind for kind, record in pack.every()}
    for record, _, part in pack.parts:
        found.setdefault(kinds.get(id(record), "region"), Counter())[part.basis] += 1
    return found


def coverage_lines(found: Mapping[str, Any]) -> list[str]:
    """For a screen, 80 columns."""
    lines = [f"{'basis of figures':<22} published  practice  recalled"]
    for kind, count in found["basis"].items():
        told = "".join(f"{count.get(b, 0):>10}" for b in ("published", "practice", "recalled"))
        lines.append(f"  {kind.replace('_', ' '):<19}{told}")
    lists = ", ".join(f"{n} {name.replace('_', ' ')}" for name, n in found["lists"].items())
    lines.append(f"hypotheses: {lists}")
    for key, words in (
        ("few_tests", f"fewer than {_FEW} tests bear on"),
        ("no_reference_standard", "no reference standard for"),
        ("conditions_without_option", "no option acts on the conditions"),
        ("tried_without_figure", "tried without a figure"),
        ("screens_without_source", "screens without a source"),
        ("measures_without_error", "measures without an error figure"),
    ):
        ids = found[key]
        more = f" and {len(ids) - _LISTED} more" if len(ids) > _LISTED else ""
        text = f"{len(ids):>4}  {words}: {', '.join(ids[:_LISTED]) or 'none'}{more}"
        lines += textwrap.wrap(text, 80, subsequent_indent="      ")
    return lines
