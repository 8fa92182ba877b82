"""Looser by any route is found by what it does: one planted loosening a route, each named; the stricter ones pass.

The pack underneath is the small invented one, so every expected effect follows from a rule that stands in it.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.load import load
from reasoner.graph.overlay.entries import ClinicCopy
from reasoner.upkeep.guard import Judged, guard
from reasoner.upkeep.states import made_states
from tests.graph.test_overlay import SIGNED, clinic
from tests.tiny_pack import write_pack


def loaded(folder: Path, copy: ClinicCopy | None = None) -> Knowledge:
    knowledge, problems = load(folder, "ankle", clinic=copy)
    assert knowledge is not None, "\n".join(map(str, problems))
    return knowledge


def judge(tmp_path: Path, files: dict[str, str], base: dict[str, str | None] | None = None) -> Judged:
    folder = write_pack(tmp_path / "base", base)
    copy = clinic(files)
    return guard(
        loaded(folder), loaded(folder, copy),
        lambda out: load(folder, "ankle", clinic=ClinicCopy(copy.files, copy.today, out))[0],
    )  # fmt: skip


# route -> (kind folder or file, patch, words of the message)
ROUTES: dict[str, tuple[str, str, str]] = {
    "rule": (
        "screens",
        "changes: hot_joint\nrule: {all: [fever, joint_hot_red, {age: {at_least: 60}}]}\n",
        "screen hot_joint",
    ),
    "use_when": ("screens", "changes: hot_joint\nuse_when: cannot_take_four_steps\n", "screen hot_joint"),
    "valid_when": ("screens", "changes: fracture_rule\nvalid_when: {days_since: injury, below: 2}\n", "fracture_rule"),
    "urgency": ("screens", "changes: hot_joint\nsend: urgent\n", "sent emergency, now urgent"),
    "hands": ("screens", "changes: hot_joint\nhands: active_pain_free\n", "meanwhile allowed nothing"),
    "wording of a screen": ("screens", "changes: hot_joint\nsay_met: Hot joint; ice it.\n", "says something else"),
    "window": (
        "protocols", "changes: fixation\nwindows: {end_range_dorsiflexion: {later_weeks: 6}}\n",
        "end_range_dorsiflexion: was not yet, is",
    ),
    "applies_when": (
        "protocols",
        "changes: fixation\napplies_when: {all: [{procedure: ankle_fracture_fixation}, {age: {at_least: 60}}]}\n",
        "end_range_dorsiflexion",
    ),
    "bar": ("load_classes", "changes: end_range_dorsiflexion\nbars: []\n", "load class end_range_dorsiflexion"),
    "needs_hands": ("load_classes", "changes: end_range_dorsiflexion\nneeds_hands: nothing\n", "end_range"),
    "needs_screening": ("load_classes", "changes: light_touch\nneeds_screening: false\n", "load class light_touch"),
    "class list": ("options", "changes: back_glide\nload_classes: [education]\n", "option back_glide"),
    "caution": ("options", "changes: back_glide\ncautions: []\n", "option back_glide"),
    "caution that an age hides": (  # most states that are looked at are of people of 40
        "options",
        "changes: back_glide\n"
        "cautions:\n  - {when: {any: [{age: {at_least: 40}}, fever]}, say: held, basis: practice}\n",
        "option back_glide",
    ),
    "alias": ("findings", "changes: fever\naliases: [temperature]\nname: hot flush\n", "danger sign fever"),
    "wording": ("findings", "changes: fever\nask: Have you had a fever above 39?\n", "says something else"),
    "danger": ("findings", "changes: fever\ndanger: false\n", "danger sign fever"),
    "holds_for": ("findings", "changes: fever\nholds_for: 30 days\n", "K-SCREEN-HOLDS"),
    "base rate": (
        "hypotheses", "changes: fracture\nbase_rate:\n  not_stated: {value: 0.002}\n", "fracture: thought less likely",
    ),
    "modifier": (
        "hypotheses",
        "changes: fracture\nmodifiers:\n  - {fact: {age: {at_least: 16}}, odds_ratio: 0.2, basis: practice}\n",
        "fracture: thought less likely",
    ),
    "link": (
        "hypotheses",
        "changes: talus_back_glide\nproduces:\n  bone_tender: {chance: almost_always, basis: practice}\n",
        "fracture: thought less likely",
    ),
    "accuracy": (
        "hypotheses",
        "changes: fracture\nproduces: {bone_tender: {sens: 0.7, basis: practice}}\n",
        "fracture: thought less",
    ),
    "act_above": ("hypotheses", "changes: fracture\nact_above: 0.9\n", "limit from which one acts"),
    "suspected_above": ("policy", "changes: policy\nsuspected_above: {fracture: 0.99}\n", "no longer suspected"),
    "certainty weight": (
        "policy", "changes: policy\ncertainty_weight: {very_low: 1.0, low: 1.0, moderate: 1.0}\n", "evidence carries",
    ),
    "scale": ("scales", "changes: scales\nwords: {often: {value: 0.95, range: [0.9, 0.99]}}\n", "thought"),
    "visit_hours": ("policy", "changes: policy\nvisit_hours: 72.0\n", ""),
    "covers": ("region", "changes: ankle\ncovers: {age: {at_least: 10}}\n", "whom the pack covers"),
    "always asked": ("region", "changes: ankle\nalways_ask: {hot: {findings: [joint_hot_red]}}\n", "K-ALWAYS"),
    "cuts of a measure": (
        "load_classes",
        "changes: light_touch\nbars: [{when: {measure: knee_to_wall, below: -9}, say: stiff, basis: practice}]\n",
        "load class light_touch",
    ),
    "retired referral": ("options", "retires: send_for_film\nreason: nobody uses it\n", "no longer suggested"),
    "resolution": ("screens", "changes: hot_joint\nresolve_days: 30\n", "screen hot_joint"),
}  # fmt: skip


def _file(kind: str) -> str:
    single = {"policy": "policy.yaml", "scales": "scales.yaml", "region": "ankle/region.yaml"}
    return single.get(kind, f"ankle/{kind}/planted.yaml")


def _base(route: str) -> dict[str, str | None] | None:
    """Some routes need something in the shipped pack that can be loosened."""
    from tests.tiny_pack import TINY

    if route == "cuts of a measure":
        name = "ankle/load_classes/all.yaml"
        touch = "- {id: light_touch, name: light touch, needs_hands: active_pain_free, hands_on: true}\n"
        bar = "bars: [{when: {measure: knee_to_wall, below: 2}, say: stiff, basis: practice}]"
        return {name: TINY[name].replace(touch, touch.replace("true}", f"true, {bar}}}"))}
    return None


REFUSED = ("holds_for", "always asked")  # checks on all knowledge refuse them before any effect is looked at


@pytest.mark.parametrize("route", [r for r in ROUTES if r not in REFUSED])
def test_each_planted_loosening_is_caught_by_name(route: str, tmp_path: Path) -> None:
    kind, patch, words = ROUTES[route]
    told = judge(tmp_path, {_file(kind): patch}, _base(route))
    assert [(p.code, p.file, p.line) for p in told.problems] == [("O-LOOSER", f"clinic/{_file(kind)}", 1)], told
    assert words in told.problems[0].message
    assert "signed_off" in told.problems[0].hint


@pytest.mark.parametrize("route", REFUSED)
def test_some_routes_do_not_even_load(route: str, tmp_path: Path) -> None:
    kind, patch, code = ROUTES[route]
    knowledge, problems = load(write_pack(tmp_path / "base"), "ankle", clinic=clinic({_file(kind): patch}))
    assert knowledge is None
    assert {p.code for p in problems} == {code}


@pytest.mark.parametrize(
    ("kind", "patch"),
    [
        ("screens", "changes: fracture_rule\nsend: emergency\n"),
        ("screens", "changes: fracture_rule\nhands: nothing\n"),
        ("screens", "changes: hot_joint\nrule: {any: [fever, joint_hot_red]}\n"),
        ("protocols", "changes: fixation\nwindows: {end_range_dorsiflexion: {later_weeks: 12}}\n"),
        ("options", "changes: back_glide\nminutes: 2.0\n"),
        ("options", "changes: back_glide\nload_classes: {add: [end_range_dorsiflexion]}\n"),
        ("hypotheses", "changes: fracture\nbase_rate:\n  not_stated: {value: 0.05}\n"),
        ("findings", "retires: front_pinch\nreason: not used here\n"),
    ],
)
def test_what_is_stricter_or_neither_passes(kind: str, patch: str, tmp_path: Path) -> None:
    assert judge(tmp_path, {_file(kind): patch}).problems == ()


def test_a_signature_lets_it_pass_and_says_what_it_signs_for(tmp_path: Path) -> None:
    told = judge(tmp_path, {"ankle/screens/x.yaml": "changes: hot_joint\nsend: urgent\n" + SIGNED})
    assert told.problems == ()
    ((entry, looser),) = told.signed
    assert entry.id == "hot_joint"
    assert "send" in [one.route for one in looser]


def test_an_expired_signature_leaves_nothing_looser(tmp_path: Path) -> None:
    folder = write_pack(tmp_path / "base")
    files = clinic({"ankle/screens/x.yaml": "changes: hot_joint\nsend: urgent\n" + SIGNED}).files
    copy = ClinicCopy(files, "2028-01-01")
    ours = loaded(folder, copy)
    assert ours.screens["hot_joint"].send == "emergency"
    assert guard(loaded(folder), ours, lambda out: None) == Judged((), ())


def test_only_the_entry_that_loosens_is_blamed(tmp_path: Path) -> None:
    files = {
        "ankle/options/a.yaml": "changes: back_glide\nminutes: 2.0\n",
        "ankle/screens/b.yaml": "changes: hot_joint\nsend: urgent\n",
        "ankle/protocols/c.yaml": "changes: fixation\nwindows: {end_range_dorsiflexion: {later_weeks: 12}}\n",
    }
    assert [p.file for p in judge(tmp_path, files).problems] == ["clinic/ankle/screens/b.yaml"]


def test_states_are_the_same_each_time(tmp_path: Path) -> None:
    knowledge = loaded(write_pack(tmp_path / "base"))
    assert made_states(knowledge) == made_states(knowledge)
