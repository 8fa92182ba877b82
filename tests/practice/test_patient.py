"""The simulated patient: deterministic, coherent, telling what was asked; sore when provoked; a second visit."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.scenario import read_scenario
from reasoner.inference.network import chance_below
from reasoner.practice.find import random_patient
from reasoner.practice.hidden import draw
from reasoner.practice.patient import Asked, Patient
from reasoner.problems import InputRefused
from tests.practice.players import FILES, FOLDER, START, game, irritated, refused, scenario


@pytest.mark.parametrize("name", sorted(FILES))
def test_the_same_seed_gives_the_same_patient(name: str, knowledge: Knowledge) -> None:
    played = scenario(name, knowledge)
    assert draw(played, knowledge, 3) == draw(played, knowledge, 3)
    assert draw(played, knowledge, 3).present != draw(played, knowledge, 4).present


@pytest.mark.parametrize("name", sorted(FILES))
def test_what_is_stated_is_so_and_rules_agree_with_their_items(name: str, knowledge: Knowledge) -> None:
    played = scenario(name, knowledge)
    hidden = draw(played, knowledge, 1)
    for finding, reply in played.answers.items():
        if reply.value != "unknown" and knowledge.findings[finding].composite is None:
            assert hidden.is_present(finding, played.person.side) == (reply.value == "present")
    for measure, sides in played.measures.items():
        for side, value in sides.items():
            assert hidden.values[measure, side] == value
    for (measure, _), value in hidden.values.items():
        low, high = knowledge.measures[measure].possible
        assert low <= value <= high
    assert not hidden.mismatched


def test_frequencies_follow_the_network(knowledge: Knowledge) -> None:
    """The share of a finding over many seeds is what the noisy-OR says given the truth."""
    from reasoner.inference.compile import compile_network

    played = replace(scenario("tram_driver", knowledge), answers={}, measures={}, noise=True)
    network = compile_network(knowledge, played.person.setting).network
    drawn = [draw(played, knowledge, seed) for seed in range(120)]
    for finding in ("squat_heels_lift", "early_heel_lift"):
        expected = 1 - chance_below(network, finding, 1, played.truth)
        share = sum(hidden.is_present(finding, "left") for hidden in drawn) / 120
        # four standard errors of a share over 120 draws
        assert abs(share - expected) <= 4 * (expected * (1 - expected) / 120) ** 0.5


def test_danger_signs_without_a_cause_come_only_with_noise(knowledge: Knowledge) -> None:
    played = replace(scenario("orchard_picker", knowledge), answers={}, measures={})
    quiet = [draw(played, knowledge, seed) for seed in range(6)]
    for hidden in quiet:
        assert not [f for (f, _), there in hidden.present.items() if there and knowledge.findings[f].danger]
    noisy = [draw(replace(played, noise=True), knowledge, seed) for seed in range(6)]
    assert any(there and knowledge.findings[f].danger for h in noisy for (f, _), there in h.present.items())


def test_denied_among_others_told_when_asked_alone(knowledge: Knowledge, tmp_path: Path) -> None:
    g = game(knowledge, tmp_path, scenario("baker_hot_ankle", knowledge))
    g.type("ask who", "ask feels_ill, fever")
    told = {a.finding: a.value for a in g.sitting.state.answers}
    assert told["fever"] == "absent"
    g.type("ask fever")
    assert g.sitting.state.answers[-1].value == "present"
    assert "shivers" in g.said


def test_vague_first_plain_the_second_time(knowledge: Knowledge, tmp_path: Path) -> None:
    g = game(knowledge, tmp_path, scenario("baker_hot_ankle", knowledge))
    g.type("ask who", "ask feels_ill")
    assert g.sitting.state.answers[-1].value == "unknown"
    g.type("ask feels_ill")
    assert g.sitting.state.answers[-1].value == "present"


def test_a_hidden_goal_is_told_the_second_time(knowledge: Knowledge, tmp_path: Path) -> None:
    g = game(knowledge, tmp_path, scenario("tram_driver", knowledge))
    g.type("ask who", "ask goal")
    assert "wedding" not in g.sitting.state.notes[-1].text
    g.type("ask goal")
    assert "wedding" in g.sitting.state.notes[-1].text


def test_the_learner_does_not_answer_for_the_patient(knowledge: Knowledge, tmp_path: Path) -> None:
    g = game(knowledge, tmp_path, scenario("ceramics_painter", knowledge))
    g.type("ask who")
    lines = ("swelling +", "knee_to_wall L 4 R 9", "age 30", "stop-now heat no", "goal: run", "irritability 5/10")
    for line in lines:
        count = len(g.sitting.trail.entries)
        assert "the patient answers" in refused(g, line)
        assert len(g.sitting.trail.entries) == count


def test_own_judgement_is_the_clinicians(knowledge: Knowledge, tmp_path: Path) -> None:
    g = game(knowledge, tmp_path, scenario("ceramics_painter", knowledge))
    g.type("ask who", "ask in_question", "stop-now in_question no")
    assert "yours to judge" in g.said
    assert any(b.bundle == "in_question" for b in g.sitting.state.bundles)


def test_unknown_names_are_refused_with_the_nearest(knowledge: Knowledge, tmp_path: Path) -> None:
    g = game(knowledge, tmp_path, scenario("ceramics_painter", knowledge))
    assert "nearest" in refused(g, "ask swolen")


def test_eight_provoking_tests_make_retest_and_next_visit_worse(knowledge: Knowledge, tmp_path: Path) -> None:
    played = replace(scenario("beekeeper", knowledge), examiner_error=0.0)
    gentle = game(knowledge, tmp_path / "one", played)
    irritated(gentle, 1)
    rough = game(knowledge, tmp_path / "two", played)
    irritated(rough, 8)

    def last(g, measure: str) -> float:  # type: ignore[no-untyped-def]
        return [m.values[0] for m in g.sitting.state.measurements if m.measure == measure][-1]

    assert last(rough, "pain_at_sign") > last(gentle, "pain_at_sign")
    assert last(rough, "function_score") < last(gentle, "function_score")
    assert rough.sitting.state.loops[-1].verdict == "worse"
    assert gentle.sitting.state.loops[-1].verdict != "worse"
    for g in (gentle, rough):
        g.type("new visit", "ask who", "ask that_night", "ask function_score, pain_at_sign")
    assert last(rough, "pain_at_sign") > last(gentle, "pain_at_sign")
    assert last(rough, "function_score") < last(gentle, "function_score")
    assert "Very sore" in rough.sitting.state.notes[-1].text
    assert "Very sore" not in gentle.sitting.state.notes[-1].text


def test_they_stop_the_examination(knowledge: Knowledge, tmp_path: Path) -> None:
    played = scenario("beekeeper", knowledge)
    g = game(knowledge, tmp_path, played)
    g.type("ask who")
    for _ in range(played.strain.stops_at):
        g.type("ask forced_point_hurts")
    count = len(g.sitting.trail.entries)
    g.type("ask forced_point_hurts", "ask knee_to_wall")
    assert len(g.sitting.trail.entries) == count
    assert played.strain.says.split(".")[0] in g.said


def test_warm_up_touch_and_treatment_move_the_true_value(knowledge: Knowledge, tmp_path: Path) -> None:
    """By hand, ceramics painter: 4.0 cm; warm-up .3 (1 - .5^n) after n moves; touch .2; the right technique 2.6."""
    played = scenario("ceramics_painter", knowledge)
    g = game(knowledge, tmp_path, played)
    course = g.patient.course
    g.type("ask who")
    assert course.value(g.sitting.state, "knee_to_wall", "left", START) == pytest.approx(4.0)
    g.type("ask knee_to_wall")  # both sides: two moves
    assert course.value(g.sitting.state, "knee_to_wall", "left", START) == pytest.approx(4.0 + 0.3 * (1 - 0.25))
    g.type("ask pain_at_sign", "consent posterior_talar_glide_3 yes", "treat posterior_talar_glide_3 because I want to")
    assert course.value(g.sitting.state, "knee_to_wall", "left", START) == pytest.approx(4.225 + 0.2 + 2.6)
    g.type("retest", "home: stairs twice a day", "close", "new visit")
    # day 8: recovery .2 a week, home .6 x .6 a week, half of 2.6 kept
    weeks = 8 / 7
    expected = 4.0 + (0.2 + 0.36) * weeks + 1.3
    now = g.sitting.clock()
    assert course.value(g.sitting.state, "knee_to_wall", "left", now) == pytest.approx(expected)


def test_a_case_taken_up_again_goes_on_alike(knowledge: Knowledge, tmp_path: Path) -> None:
    played = scenario("night_nurse", knowledge)
    one, two = game(knowledge, tmp_path / "a", played), game(knowledge, tmp_path / "b", played)
    for g in (one, two):
        g.type("ask who", "ask knee_to_wall")
    other = Patient(played, knowledge, 1)
    asked = Asked("measure", "knee_straight_dorsiflexion")
    first = one.patient.answer(asked, one.sitting.state, START)
    assert first == other.answer(asked, two.sitting.state, START)


def test_the_trail_is_practice_and_names_its_patient(knowledge: Knowledge, tmp_path: Path) -> None:
    g = game(knowledge, tmp_path, scenario("night_nurse", knowledge), seed=5)
    assert g.sitting.state.kind == "practice"
    entry = g.sitting.trail.entries[2]
    assert (entry.event, entry.payload["scenario"], entry.payload["seed"]) == ("patient_simulated", "night_nurse", 5)
    assert "truth" not in entry.payload


@pytest.mark.parametrize("level", ["easy", "medium", "hard"])
def test_random_patients_follow_level_and_seed(level: str, knowledge: Knowledge) -> None:
    kinds = {h.id: h.list for h in knowledge.hypotheses.values()}
    for seed in range(8):
        s = random_patient(level, seed, FOLDER, knowledge).scenario
        assert s == random_patient(level, seed, FOLDER, knowledge).scenario
        main = [t for t in s.truth if kinds[t] in ("restriction", "condition", "serious")]
        serious = [t for t in s.truth if kinds[t] == "serious"]
        if level == "hard":
            assert serious or len(main) >= 3
        else:
            assert not serious
            assert 1 <= len(main) <= (2 if level == "easy" else 4)
        assert not Patient(s, knowledge, seed).hidden.mismatched


def test_bad_scenarios_are_refused_with_their_line(knowledge: Knowledge) -> None:
    good = FILES["night_nurse"].read_text(encoding="utf-8")
    for find, write, code in (
        ("plantar_fasciopathy,", "plantar_fasciopaty,", "X-NAME"),
        ("level: easy", "level: simple", "S-CHOICE"),
        ("teaches:", "teaching:", "S-KEY"),
    ):
        with pytest.raises(InputRefused) as no:
            read_scenario(good.replace(find, write, 1).encode(), "night_nurse.yaml", knowledge)
        problem = no.value.problems[0]
        line = next(n for n, text in enumerate(good.splitlines(), 1) if find in text)
        assert (problem.code, problem.line, problem.file) == (code, line, "night_nurse.yaml")
