"""Every clinical number with what it rests on, and the health of the whole."""

from __future__ import annotations

import json
import re

import pytest

from reasoner.cli import main
from reasoner.graph.health import HEALTH_CHECKS, expected_restrictions, strengths_of
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.network import network_problems
from reasoner.graph.pack import Pack
from reasoner.graph.sources import BASES, KINDS, not_used, shares, sources, totals


def test_each_number_of_the_small_pack_with_its_line(tiny_knowledge: Knowledge) -> None:
    """Read off tests/tiny_pack.py by hand."""
    by_field = {(s.record, s.field): s for s in sources(tiny_knowledge)}
    film = by_field["fracture", "produces.0.sens"]
    assert (film.kind, film.value, film.basis, film.evidence) == ("accuracy", 0.95, "published", ("a-study",))
    assert film.file == "ankle/hypotheses/fracture.yaml"
    assert film.line == 8
    assert by_field["talus_back_glide", "base_rate.after_sprain.word"].value == "often"
    assert by_field["talus_back_glide", "modifiers.0.odds_ratio"].kind == "ratio"
    assert by_field["back_glide", "effects.0.gain"].kind == "effect"
    assert by_field["knee_to_wall", "errors.0.mdc95"].kind == "error"


def test_totals_count_every_number_once(knowledge: Knowledge) -> None:
    """No number without one of the three bases; the table adds up to the list."""
    listed = sources(knowledge)
    table = totals(listed)
    assert {s.kind for s in listed} <= set(KINDS)
    assert {s.basis for s in listed} <= set(BASES)
    assert sum(n for row in table.values() for n in row.values()) == len(listed)


def test_a_published_number_names_its_evidence(knowledge: Knowledge) -> None:
    """What one would look up is there."""
    for source in sources(knowledge):
        if source.basis == "published":
            assert source.evidence, source
            assert set(source.evidence) <= set(knowledge.evidence), source


def test_shares(knowledge: Knowledge) -> None:
    """A word is judgement: the share of figures alone is the larger one. Nothing listed gives no share."""
    listed = sources(knowledge)
    found, figures = shares(listed), shares(tuple(s for s in listed if not isinstance(s.value, str)))
    assert set(found) == {"accuracy", "effect", "all"}
    assert all(0 < (found[name] or 0) <= (figures[name] or 0) <= 1 for name in found)
    assert shares(()) == {"accuracy": None, "effect": None, "all": None}


@pytest.mark.parametrize("check", HEALTH_CHECKS, ids=lambda c: c.code)
def test_the_shipped_pack_is_healthy(knowledge: Knowledge, check: object) -> None:
    """No hypothesis that nothing tells apart, no restriction without a response or a next step."""
    assert [str(p) for p in check.run(Pack.of(knowledge))] == []  # type: ignore[attr-defined]


def test_expected_restrictions_by_hand(tiny_knowledge: Knowledge) -> None:
    """not_stated: .2 + .25; after_sprain: often (.6) + .25, which the short calf has from not_stated."""
    found = expected_restrictions(tiny_knowledge)
    assert found["not_stated"] == pytest.approx(0.45)
    assert found["after_sprain"] == pytest.approx(0.85)


def test_strengths_by_hand(tiny_knowledge: Knowledge) -> None:
    """Bone tenderness for a fracture: 1 - (1 - .95) / .4 = .875."""
    assert strengths_of(tiny_knowledge, tiny_knowledge.hypotheses["fracture"])["bone_tender"] == pytest.approx(0.875)


def test_the_command_prints_totals_and_lines(capsys: pytest.CaptureFixture[str]) -> None:
    """Text and JSON tell the same numbers."""
    assert main(["knowledge", "sources", "--json", "--only", "fracture"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert main(["knowledge", "sources", "--only", "fracture"]) == 0
    text = capsys.readouterr().out
    assert len(found["numbers"]) == sum(n for row in found["totals"].values() for n in row.values())
    first = found["numbers"][0]
    assert f"{first['file']}:{first['line']}: {first['field']}" in text
    assert "after a cast" not in text
    assert "after_immobilisation" in text


def test_every_source_bears_on_something_or_says_why_not(knowledge: Knowledge) -> None:
    """Contraindications, healing windows and danger signs first of all; and nothing is said twice."""
    idle = not_used(knowledge)
    assert [str(p) for p in network_problems(knowledge) if p.code in ("K-UNCITED", "K-NOT-USED")] == []
    assert all(len(why) > 20 for why in idle.values())
    numbered = [i for i in knowledge.evidence if re.fullmatch(r"(ci|th|hl|st|rf|im|rt|ir)-\d+", i)]
    bearing = {e.id for e in knowledge.evidence.values() if e.kind in ("safety", "healing")} | set(numbered)
    assert len(bearing) >= 140
    assert len(bearing & set(idle)) <= len(bearing) // 10


def test_what_is_not_used_is_printed_with_its_reason(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["knowledge", "sources", "--not-used"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines
    assert all(": " in line for line in lines)
    assert main(["knowledge", "sources", "--json", "--totals"]) == 0
    found = json.loads(capsys.readouterr().out)["evidence"]
    assert len(found["not_used"]) == len(lines) < found["entries"]
