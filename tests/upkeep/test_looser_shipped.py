"""One planted loosening a route over the shipped ankle: each is caught by name, on its own line.

The expected effects follow from the entries as they are shipped; each patch says less, later or rarer than they do.
"""

from __future__ import annotations

import pytest

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.load import default_folder, load
from reasoner.graph.overlay.entries import ClinicCopy
from reasoner.upkeep.guard import Judged, guard
from tests.graph.test_overlay import clinic

SLOW = pytest.mark.slow  # everything moves: several seconds each

# route, file, patch, words of the message
ROUTES = [
    ("rule", "ankle/screens/x.yaml", "changes: joint_infection\nrule: joint_infection_suspected\n",
     "screen joint_infection: was met, is neither met nor open"),
    ("use_when", "ankle/screens/x.yaml", "changes: joint_infection\nuse_when: joint_infection_suspected\n",
     "screen joint_infection: was met, is neither met nor open"),
    ("urgency", "ankle/screens/x.yaml", "changes: joint_infection\nsend: urgent\n", "sent emergency, now urgent"),
    ("window", "ankle/protocols/x.yaml",
     "changes: achilles_repair\nwindows: {end_range_dorsiflexion: {earlier_weeks: 2, later_weeks: 2}}\n",
     "load class end_range_dorsiflexion: was not yet, is offered"),
    ("class list", "ankle/options/x.yaml", "changes: posterior_talar_glide_4\nload_classes: [education]\n",
     "option posterior_talar_glide_4: was not yet, is offered"),
    ("bar", "ankle/load_classes/x.yaml", "changes: posterior_talar_glide\nbars: []\n",
     "load class posterior_talar_glide: was barred"),
    ("alias", "ankle/findings/x.yaml", "changes: fever\naliases: {remove: [rigors]}\n",
     "the word 'rigors' is no longer understood"),
    ("wording", "ankle/findings/x.yaml", "changes: fever\nask: Fever above 39 in the last days?\n",
     "danger sign fever: its ask says something else"),
    ("base rate", "ankle/hypotheses/x.yaml",
     "changes: achilles_rupture\nbase_rate: {acute_injury: {value: 0.004}}\n",
     "achilles_rupture: no longer above the limit from which one acts (nothing asked yet, acute injury)"),
    ("act_above", "ankle/hypotheses/x.yaml", "changes: achilles_rupture\nact_above: 0.5\n",
     "achilles_rupture: no longer above the limit from which one acts"),
    ("another cause", "ankle/hypotheses/x.yaml",
     "changes: gout\nproduces: {fever: {chance: almost_always, basis: practice}}\n",
     "joint_infection: thought less likely"),
    ("suspected_above", "ankle/region.yaml", "changes: ankle\nsuspected_above: {joint_infection: 0.99}\n",
     "joint_infection: no longer suspected by its chance"),
    ("certainty weight", "policy.yaml",
     "changes: policy\ncertainty_weight: {very_low: 1.0, low: 1.0, moderate: 1.0}\n", "evidence carries"),
    ("scale", "scales.yaml", "changes: scales\nwords: {rarely: {value: 0.12, range: [0.1, 0.14]}}\n",
     "evidence carries"),
]  # fmt: skip
EVERYTHING = ("another cause", "suspected_above", "certainty weight", "scale")


@pytest.fixture(scope="module")
def shipped() -> Knowledge:
    knowledge, problems = load(default_folder(), "ankle")
    assert knowledge is not None, problems
    return knowledge


def judge(shipped: Knowledge, name: str, text: str) -> Judged:
    copy = clinic({name: text})
    ours, problems = load(default_folder(), "ankle", clinic=copy)
    assert ours is not None, problems
    return guard(
        shipped, ours,
        lambda out: load(default_folder(), "ankle", clinic=ClinicCopy(copy.files, copy.today, out))[0],
    )  # fmt: skip


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [pytest.param(*rest, id=route, marks=[SLOW] if route in EVERYTHING else []) for route, *rest in ROUTES],
)
def test_each_planted_loosening_is_caught_by_name(name: str, text: str, words: str, shipped: Knowledge) -> None:
    told = judge(shipped, name, text)
    assert [(p.code, p.file, p.line) for p in told.problems] == [("O-LOOSER", f"clinic/{name}", 1)], told
    assert words in told.problems[0].message
    assert "signed_off" in told.problems[0].hint


def test_a_danger_sign_never_holds_longer_than_a_visit() -> None:
    copy = clinic({"ankle/findings/x.yaml": "changes: fever\nholds_for: 30 days\n"})
    ours, problems = load(default_folder(), "ankle", clinic=copy)
    assert ours is None
    assert {(p.code, p.file, p.line) for p in problems if p.level == "error"} == {
        ("K-SCREEN-HOLDS", "clinic/ankle/findings/x.yaml", 2)
    }
