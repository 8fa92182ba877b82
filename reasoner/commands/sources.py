"""`reasoner knowledge sources`: every clinical number with where it comes from, and totals."""

from __future__ import annotations

import argparse
import dataclasses
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from reasoner.commands import load_knowledge
from reasoner.visible import json_text

if TYPE_CHECKING:
    from reasoner.graph.sources import Source

__all__ = ["HANDLERS", "add_action"]

WIDTH = 80


def add_action(actions: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Arguments of `reasoner knowledge sources`."""
    parser = actions.add_parser("sources", help="every clinical number and what it rests on, with totals")
    parser.add_argument("--only", metavar="WORD", default="", help="numbers whose file, field or basis contains WORD")
    parser.add_argument("--totals", action="store_true", help="the totals alone")
    parser.add_argument("--not-used", action="store_true", help="evidence that nothing rests on, and why")
    parser.add_argument("--json", action="store_true", help="as JSON")
    parser.add_argument("--region", default="", help="default: the first")


def _sources(args: argparse.Namespace) -> int:
    from reasoner.graph.health import expected_restrictions
    from reasoner.graph.sources import not_used, shares, sources, totals

    knowledge = load_knowledge(args.knowledge, args.region)
    idle = not_used(knowledge)
    listed = tuple(s for s in sources(knowledge) if args.only in s.file or args.only in s.field or args.only in s.basis)
    figures = tuple(s for s in listed if not isinstance(s.value, str))
    published = {"numbers and words": shares(listed), "numbers alone": shares(figures)}
    expected = expected_restrictions(knowledge)
    if args.json:
        found = {
            "schema": 1,
            "region": args.region,
            "knowledge": knowledge.digest,
            "totals": totals(listed),
            "published_share": published,
            "expected_restrictions": expected,
            "evidence": {"entries": len(knowledge.evidence), "not_used": idle},
            "numbers": [] if args.totals else [dataclasses.asdict(s) for s in listed],
        }
        print(json_text(found))
        return 0
    if args.not_used:
        for ident, why in idle.items():
            print(f"{ident}: {why}")
        return 0
    if not args.totals:
        for source in listed:
            print(_line(source))
    _print_totals(totals(listed), published, expected)
    used = len(knowledge.evidence) - len(idle)
    print(f"evidence: {used} entries named by what they bear on, {len(idle)} not used (--not-used says why)")
    return 0


def _line(source: Source) -> str:
    named = f": {', '.join(source.evidence)}" if source.evidence else ""
    worked_out = f" ({source.derived})" if source.derived else ""
    value = source.value if isinstance(source.value, str) else f"{source.value:g}"
    return f"{source.file}:{source.line}: {source.field} = {value} [{source.basis}{named}]{worked_out}"


def _print_totals(
    table: Mapping[str, Mapping[str, int]],
    published: Mapping[str, Mapping[str, float | None]],
    expected: Mapping[str, float],
) -> None:
    from reasoner.graph.sources import BASES

    print(f"{'clinical numbers':<20}" + "".join(f"{basis:>12}" for basis in (*BASES, "all")))
    for kind, row in table.items():
        print(f"{kind:<20}" + "".join(f"{row[basis]:>12}" for basis in BASES) + f"{sum(row.values()):>12}")
    columns = [sum(row[basis] for row in table.values()) for basis in BASES]
    print(f"{'all':<20}" + "".join(f"{n:>12}" for n in (*columns, sum(columns))))
    for what, found in published.items():
        said = [f"{name} {share:.0%}" for name, share in found.items() if share is not None]
        print(f"published share of {what}: {', '.join(said) or 'none listed'}")
    print("restrictions expected before anything is asked, by setting:")
    for setting, number in expected.items():
        print(f"  {setting:<22}{number:.1f}")


HANDLERS: Mapping[str, Callable[[argparse.Namespace], int]] = {"sources": _sources}
