"""A simulated patient is one person: what cannot be true at once never is, over many seeds.

What is looked for here is written out a second time and checked by hand, not through the rules that keep it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.scenario import Coherence, Reply, Scenario, read_coherence
from reasoner.practice.coherent import coherent
from reasoner.practice.find import random_patient
from reasoner.practice.hidden import Hidden, draw
from reasoner.problems import InputRefused
from tests.practice.players import FILES, FOLDER, scenario

END_FEELS = ("end_feel_bony", "end_feel_leathery", "end_feel_muscle", "end_feel_springy", "end_feel_spasm")
OF_AN_INJURY = ("rolled_inward", "rolled_outward", "direct_blow", "landed_from_height", "heard_crack")


def odd(hidden: Hidden, s: Scenario, knowledge: Knowledge) -> Iterator[str]:
    """What nobody can be."""
    side, person = s.person.side, s.person

    def there(finding: str) -> bool:
        return hidden.is_present(finding, side)

    if there("pregnant") and (person.sex == "male" or person.age >= 50):
        yield "pregnant"
    if sum(map(there, END_FEELS)) > 1:
        yield "two ends of one movement"
    if "injury" in person.days_since and (there("no_injury") or there("came_on_gradually")):
        yield "an injury and none"
    if "injury" not in person.days_since and any(map(there, OF_AN_INJURY)):
        yield "no injury and its mark"
    if not person.procedure and there("metalwork_tender"):
        yield "metal without an operation"
    if there("morning_stiffness_long") and not there("morning_stiffness"):
        yield "long stiffness without stiffness"
    if there("swelling_outer") and not there("swelling"):
        yield "swollen in one place, not swollen"
    if there("single_heel_raise_fails") and hidden.values["heel_raise_count", side] > 4:
        yield "fails and counts"
    if there("poor_single_leg_balance") and hidden.values["single_leg_balance", side] > 12:
        yield "unsteady for a minute"
    for leg in ("left", "right"):
        bent, straight = (hidden.values[f"knee_{k}_dorsiflexion", leg] for k in ("bent", "straight"))
        if not 0 <= bent - straight <= 25:  # the pack's usual range of what bending the knee gains
            yield "bends further with the knee straight"
    for word in knowledge.findings.values():
        nearer = [n for n in word.general_for if (n, side) in hidden.present or (n, "none") in hidden.present]
        if word.id not in s.answers and nearer and there(word.id) != any(map(there, nearer)):
            yield f"{word.id} without its nearer words"


@pytest.mark.parametrize("name", sorted(FILES))
def test_written_patients_are_never_odd(name: str, knowledge: Knowledge) -> None:
    s = scenario(name, knowledge)
    for seed in (1, 2):
        hidden = draw(s, knowledge, seed)
        assert not list(odd(hidden, s, knowledge))
        assert not hidden.mismatched


@pytest.mark.parametrize("level", ["easy", "medium", "hard"])
def test_random_patients_are_never_odd(level: str, knowledge: Knowledge) -> None:
    for seed in range(100, 112):
        s = random_patient(level, seed, FOLDER, knowledge).scenario
        hidden = draw(s, knowledge, seed)
        assert not list(odd(hidden, s, knowledge)), (level, seed)
        assert not hidden.mismatched


def test_without_the_rules_the_same_seeds_are_odd(knowledge: Knowledge) -> None:
    """So the two tests above can fail."""
    free = [replace(scenario(name, knowledge), coherence=Coherence()) for name in ("ceramics_painter", "roofer_plate")]
    assert [o for s in free for seed in (1, 2) for o in odd(draw(s, knowledge, seed), s, knowledge)]


def test_the_least_likely_gives_way_and_what_is_stated_never(knowledge: Knowledge) -> None:
    rules = Coherence(region="ankle", never=({"all": ["no_injury", "rolled_inward"]},))
    s = replace(scenario("night_nurse", knowledge), answers={}, coherence=rules)
    drawn = {"no_injury": True, "rolled_inward": True}
    chances = {"no_injury": 0.4, "rolled_inward": 0.1}
    assert coherent(s, knowledge, drawn, chances.__getitem__) == ({"no_injury": True, "rolled_inward": False}, ())
    held = replace(s, answers={"rolled_inward": Reply(value="present")})
    assert coherent(held, knowledge, drawn, chances.__getitem__)[0] == {"no_injury": False, "rolled_inward": True}
    both = replace(s, answers={f: Reply(value="present") for f in drawn})
    kept, broken = coherent(both, knowledge, drawn, chances.__getitem__)
    assert kept == drawn
    assert len(broken) == 1


def test_a_scenario_that_contradicts_itself_says_so(knowledge: Knowledge) -> None:
    s = scenario("tram_driver", knowledge)
    assert s.person.sex == "male"
    broken = replace(s, answers={**s.answers, "pregnant": Reply(value="present")})
    assert any("pregnant" in rule for rule in draw(broken, knowledge, 1).mismatched)


def test_a_rule_about_something_unknown_is_refused(knowledge: Knowledge) -> None:
    for text in ("never: [{all: [pregnent, {sex: male}]}]", "never: [{al: [pregnant]}]", "at_most_one: [[warmht]]",
                 "follows: [{when: limps, measure: walking_sped, between: [1, 2]}]"):  # fmt: skip
        with pytest.raises(InputRefused):
            read_coherence(f"id: coherence\nregion: ankle\nbasis: practice\n{text}\n".encode(), "c.yaml", knowledge)
