"""A chance above its limit adds a caution where no screen speaks, and nothing else."""

from __future__ import annotations

from dataclasses import replace

import pytest

from reasoner.advice.advise import advise
from reasoner.advice.records import OptionAdvice
from reasoner.graph.knowledge import Knowledge
from tests.advice.ready import ready
from tests.build import NOW

LIMITED = "tumour"


def _options(knowledge: Knowledge, limit: float, answers: dict[str, str]) -> dict[str, OptionAdvice]:
    region = replace(knowledge.region, suspected_above={LIMITED: limit})
    known = replace(knowledge, region=region, policy=replace(knowledge.policy, suspected_above={}))
    return {o.id: o for o in advise(known, ready(known, answers), NOW).options}


def test_above_the_limit_a_caution_and_nothing_closed(knowledge: Knowledge) -> None:
    """Every option that does more than protect is said with a caution; no state is stricter or looser than that."""
    quiet, doubted = (_options(knowledge, limit, {"swelling": "present"}) for limit in (0.99, 1e-6))
    name = knowledge.hypotheses[LIMITED].name
    said = {i for i, o in doubted.items() if any(name in r and "above" in r for r in o.reasons)}
    assert said
    for ident, option in doubted.items():
        before = quiet[ident].state
        assert option.state == ("caution" if before == "offered" and ident in said else before)
        assert option.value == quiet[ident].value
    assert not [i for i in said if knowledge.options[i].lane == "ask_or_send"]


def test_where_a_screen_speaks_the_chance_is_silent(knowledge: Knowledge) -> None:
    """A lump that grows meets the screen: said once, by the screen."""
    options = _options(knowledge, 1e-6, {"growing_lump": "present"})
    assert not [o.id for o in options.values() if any("no criteria met" in r for r in o.reasons)]


@pytest.mark.parametrize("ident", ["fracture", "joint_infection", "tumour"])
def test_the_shipped_limits_are_above_what_an_ordinary_ankle_has(knowledge: Knowledge, ident: str) -> None:
    """Nothing found and every danger question answered no: no doubt is raised about anybody."""
    options = advise(knowledge, ready(knowledge, {}), NOW).options
    assert not [o.id for o in options if any("no criteria met" in r for r in o.reasons)]
    assert knowledge.suspected_above[ident] > 0
