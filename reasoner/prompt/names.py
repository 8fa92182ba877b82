"""Names of the pack as they are typed: exact, or a proposal; never a guess."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from reasoner.case.state import CaseState
from reasoner.graph.knowledge import Knowledge, plain
from reasoner.problems import nearest
from reasoner.prompt.parsed import Candidate, Refused, Unclear

__all__ = ["Lexicon"]

_MOST = 5
_LONGEST_NAME = 14  # words


@dataclass(frozen=True)
class Lexicon:
    """Every name that may be typed, by kind. `chosen`: (kind, word) -> id, where one of several was picked."""

    knowledge: Knowledge
    state: CaseState
    chosen: Mapping[tuple[str, str], str] = field(default_factory=dict)

    @cached_property
    def tables(self) -> Mapping[str, Mapping[str, str]]:
        """Kind -> plain name -> id."""
        k, region = self.knowledge, self.knowledge.region
        return {
            "finding": k.finding_names,
            "measure": k.measure_names,
            "option": k.option_names,
            "hypothesis": k.hypothesis_names,
            "screen": _table(k.screens.values()),
            "load class": _table(k.load_classes.values()),
            "setting": _table(region.settings),
            "procedure": _table(region.procedures),
            "position": _table(region.immobilised_positions),
        }

    def exact(self, kind: str, words: str) -> str | None:
        """The id of a name, or None."""
        name = plain(words)
        found = self.tables[kind].get(name) or self._without_commas[kind].get(plain(name.replace(",", " ")))
        return found or self.chosen.get((kind, name))

    @cached_property
    def _without_commas(self) -> Mapping[str, Mapping[str, str]]:
        """The same names as they come out of a line that was cut at its commas: a name on the screen can be typed."""
        return {k: {plain(n.replace(",", " ")): i for n, i in t.items() if "," in n} for k, t in self.tables.items()}

    def find(self, kind: str, words: str) -> str:
        """The id of a name. Raises Unclear with near names, Refused where none is near."""
        found = self.exact(kind, words)
        if found is not None:
            return found
        near = self.near(kind, words)
        if near:
            raise Unclear(kind, plain(words), near)
        raise Refused(f"no {kind} is called '{words}'", "help names lists what there is")

    def near(self, kind: str, words: str) -> tuple[Candidate, ...]:
        """Names that may have been meant, best first: beginnings of words in any order, then similar spelling."""
        table = self._answerable if kind == "finding" else self.tables[kind]
        typed = plain(words).split()
        if not typed:
            return ()
        begun = [name for name in table if _begins(typed, name.split())]
        ids = dict.fromkeys(table[n] for n in (*sorted(begun, key=len), *nearest(plain(words), table, _MOST)))
        return tuple(Candidate(i, self.name(kind, i)) for i in list(ids)[:_MOST])

    @cached_property
    def _answerable(self) -> Mapping[str, str]:
        """Findings that are answered by hand; those worked out from measures and parts are not proposed."""
        found = self.knowledge.findings
        return {n: i for n, i in self.tables["finding"].items() if found[i].kind not in ("measured", "composite")}

    def name(self, kind: str, ident: str) -> str:
        """How a record is called on the screen."""
        k, region = self.knowledge, self.knowledge.region
        records: Mapping[str, Mapping[str, Any]] = {
            "finding": k.findings, "measure": k.measures, "option": k.options, "hypothesis": k.hypotheses,
            "screen": k.screens, "load class": k.load_classes, "setting": k.settings,
            "procedure": {p.id: p for p in region.procedures},
            "position": {p.id: p for p in region.immobilised_positions},
        }  # fmt: skip
        return str(records[kind][ident].name)

    def longest(self, kind: str, tokens: list[str]) -> tuple[str, int] | None:
        """The longest name that the tokens begin with: (id, number of tokens)."""
        for count in range(min(len(tokens), _LONGEST_NAME), 0, -1):
            found = self.exact(kind, " ".join(tokens[:count]))
            if found is not None:
                return found, count
        return None


def _table(records: Any) -> dict[str, str]:
    table: dict[str, str] = {}
    for record in records:
        for name in (record.id, record.name, *getattr(record, "aliases", ())):
            table.setdefault(plain(name), record.id)
    return table


def _begins(typed: list[str], name: list[str]) -> bool:
    return all(any(word.startswith(t) for word in name) for t in typed)
