"""The pack tried on published, ordinary and typical cases: `python -m tests.benchmarks.cases [--json]`.

Prints, case by case, the place of the confirmed answer in its list and the screens met; then the shares with exact
binomial intervals, blocks that were not needed, options open against a screen (there must be none), rarities that lead
on ordinary ankles, and how often each screen fires beside its own published specificity.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterable, Sequence
from typing import Any

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.load import default_folder, load
from tests.cases.reading import ordinary_cases, published_cases, typical_cases
from tests.cases.scoring import (
    Scored,
    exact_interval,
    firing,
    open_against,
    rare_leaders,
    score,
    share_text,
)

USES = ("diagnosis", "short_vignette", "technique_or_dose")
URGENT = ("emergency", "same_day")


def figures(knowledge: Knowledge) -> dict[str, Any]:
    """All figures as plain data."""
    published, ordinary = score(knowledge, published_cases()), score(knowledge, ordinary_cases())
    typical = score(knowledge, typical_cases())
    emergencies = [s for s in published if s.case.key["urgency"] == "emergency"]
    others = [s for s in published if s.case.key["urgency"] != "emergency"]
    return {
        "knowledge": knowledge.digest,
        "places": {use: _places(s for s in published if s.case.key["test_use"] == use) for use in USES},
        "emergencies_blocked": _share(sum(s.advice.blocked for s in emergencies), len(emergencies)),
        "emergency_screens_met_on_others": _share(sum(bool(s.met("emergency")) for s in others), len(others)),
        "blocked_by_urgency": {
            urgency: _share(sum(s.advice.blocked for s in listed), len(listed))
            for urgency in ("emergency", "same_day", "urgent", "routine")
            if (listed := [s for s in published if s.case.key["urgency"] == urgency])
        },
        "ordinary_places": _places(ordinary),
        "typical_places": _places(typical),
        "typical_needless_blocks": _share(sum(bool(_needless(s)) for s in typical), len(typical)),
        "ordinary_needless_blocks": _share(sum(bool(_needless(s)) for s in ordinary), len(ordinary)),
        "ordinary_blocked_as_expected": _share(sum(bool(_expected(s)) for s in ordinary), len(ordinary)),
        "open_against_a_screen": {
            s.case.id: list(found)
            for s in (*published, *ordinary, *typical)
            if (found := open_against(knowledge, {o.id: o.state for o in s.advice.options}, s.advice.screens))
        },
        "rarities_leading": {
            s.case.id: [h.id for h in rare]
            for s in ordinary
            if (rare := tuple(rare_leaders(knowledge, s.state, s.advice.hypotheses)))
        },
        "firing": [
            {"screen": f.screen, "met": f.met, "of": f.decided, "open": f.open, "published_specificity": f.published}
            for f in firing(knowledge, (*published, *ordinary))
        ],
        "published": [_row(s) for s in published],
        "ordinary": [_row(s) for s in ordinary],
        "typical": [_row(s) for s in typical],
    }


def _needless(scored: Scored) -> tuple[str, ...]:
    return tuple(i for i in scored.met(*URGENT) if i not in scored.case.key["screens"])


def _expected(scored: Scored) -> tuple[str, ...]:
    return tuple(i for i in scored.met(*URGENT) if i in scored.case.key["screens"])


def _share(hits: int, of: int) -> dict[str, Any]:
    low, high = exact_interval(hits, of) if of else (0.0, 1.0)
    return {"hits": hits, "of": of, "interval": [round(low, 3), round(high, 3)]}


def _places(scored: Iterable[Scored]) -> dict[str, Any]:
    listed = [s for s in scored if s.ranks]
    places = [s.rank for s in listed]
    first, three = (sum(p is not None and p <= n for p in places) for n in (1, 3))
    return {"first": _share(first, len(listed)), "first_three": _share(three, len(listed))}


def _row(scored: Scored) -> dict[str, Any]:
    told = {h.id: h for h in scored.advice.hypotheses}
    return {
        "id": scored.case.id,
        "use": scored.case.key.get("test_use", "invented"),
        "urgency": scored.case.key.get("urgency", ""),
        "places": scored.ranks,
        "chances": {i: round(told[i].chance, 3) for ids in scored.case.first.values() for i in ids if i in told},
        "blocked": scored.advice.blocked,
        "met": list(scored.met(*URGENT)),
        "met_less_urgent": list(scored.met("urgent", "routine")),
    }


# ------------------------------------------------------------------------------------------------ print


def show(found: dict[str, Any]) -> None:
    """All figures as text."""
    for kind in ("published", "ordinary", "typical"):
        print(f"\n{kind} cases: place in its list, chance, screens met")
        for row in found[kind]:
            places = ", ".join("none" if p is None else str(p) for p in row["places"].values()) or "-"
            chances = " ".join(f"{i} {c:.2f}" for i, c in row["chances"].items())
            met = f"; {'BLOCKED by ' + ', '.join(row['met'])}" if row["met"] else ""
            less = f"; also met {', '.join(row['met_less_urgent'])}" if row["met_less_urgent"] else ""
            print(f"  {row['id']} [{row['use']} {row['urgency']}]\n      {places}: {chances}{met}{less}")
    print("\nshares, with exact 95 % intervals")
    invented = {kind: found[f"{kind}_places"] for kind in ("ordinary", "typical")}
    for use, places in {**found["places"], **invented}.items():
        print(f"  {use:<18} first {_text(places['first'])}; first three {_text(places['first_three'])}")
    for urgency, share in found["blocked_by_urgency"].items():
        print(f"  blocked, judged {urgency:<10} {_text(share)}")
    print(f"  emergency screens met on others {_text(found['emergency_screens_met_on_others'])}")
    print(f"  ordinary, needless blocks       {_text(found['ordinary_needless_blocks'])}")
    print(f"  typical, needless blocks        {_text(found['typical_needless_blocks'])}")
    print(f"  ordinary, blocked as expected   {_text(found['ordinary_blocked_as_expected'])}")
    print(f"  options open against a screen   {found['open_against_a_screen'] or 'none'}")
    print(f"  rarities leading on ordinary    {found['rarities_leading'] or 'none'}")
    print("\nscreens met among people without what they look for (of those where it applied and was answered)")
    for row in found["firing"]:
        published = row["published_specificity"]
        beside = f"{1 - published:.2f} by its published specificity" if published else "no specificity published"
        print(f"  {row['screen']:<28} {share_text(row['met'], row['of'])}; open {row['open']}; {beside}")


def _text(share: dict[str, Any]) -> str:
    return share_text(share["hits"], share["of"])


def main(arguments: Sequence[str] | None = None) -> int:
    """Run it; exit code 0."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.cases", description=__doc__)
    parser.add_argument("--json", action="store_true", help="as JSON")
    args = parser.parse_args(arguments)
    knowledge, problems = load(default_folder())
    if knowledge is None:
        raise SystemExit("\n".join(str(p) for p in problems[:10]))
    found = figures(knowledge)
    if args.json:
        print(json.dumps(found, indent=1))
    else:
        show(found)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
