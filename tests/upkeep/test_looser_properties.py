"""No patch loosens silently: drawn patches of safety fields, looked at in states that the guard did not make itself."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from itertools import product
from pathlib import Path
from random import Random
from typing import Any

import pytest
import yaml

from reasoner.case.state import Anchor, CaseState, Context, Immobilised, Surgery
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.load import load
from reasoner.graph.overlay.entries import ClinicCopy
from reasoner.upkeep.guard import guard
from tests.advice.test_shipped_safety import option_states, screening_of
from tests.build import NOW, state
from tests.graph.test_overlay import clinic
from tests.tiny_pack import write_pack
from tests.upkeep.test_looser import loaded

FIRMNESS = {"does_not_apply": 0, "not_met": 0, "open": 1, "met": 2}
URGENCY = ("routine", "urgent", "same_day", "emergency")
LEAVES = ("nothing", "protect_only", "active_pain_free", "unrestricted")
SHUT = ("offered", "caution", "not_yet", "barred")
CLASSES = ("education", "light_touch", "end_range_dorsiflexion", "posterior_talar_glide", "gentle_calf_stretch")
ATOMS: tuple[Any, ...] = (
    "joint_hot_red", "fever", "bone_tender", "cannot_take_four_steps", {"age": {"at_least": 40}},
    {"days_since": "injury", "below": 5}, {"setting": ["after_sprain"]}, {"surgery": "any"},
)  # fmt: skip
EVERY = 24  # as many patches in each run; 30 times that with the marker slow


def rule(chance: Random) -> Any:
    """A small rule."""
    how = chance.choice(["one", "all", "any"])
    return chance.choice(ATOMS) if how == "one" else {how: chance.sample(ATOMS, 2)}


def gates(chance: Random) -> list[Any]:
    """None, one or two bars or cautions."""
    return [{"when": rule(chance), "say": "held back", "basis": "practice"} for _ in range(chance.choice([0, 1, 2]))]


FIELDS: dict[str, tuple[tuple[str, ...], dict[str, Callable[[Random], Any]]]] = {
    "screens": (("hot_joint", "fracture_rule"), {
        "rule": rule, "use_when": rule, "valid_when": rule, "send": lambda c: c.choice(URGENCY),
        "hands": lambda c: c.choice(LEAVES),
    }),
    "load_classes": (CLASSES, {"bars": gates, "cautions": gates, "needs_hands": lambda c: c.choice(LEAVES)}),
    "options": (("back_glide", "calf_stretch"), {
        "cautions": gates, "load_classes": lambda c: c.sample(CLASSES, c.choice([1, 2])),
    }),
    "protocols": (("fixation",), {
        "applies_when": rule, "windows": lambda c: {"end_range_dorsiflexion": {"later_weeks": c.randint(0, 20)}},
    }),
}  # fmt: skip


def drawn_patch(chance: Random) -> dict[str, str]:
    """One or two fields of one entry changed, as a clinic's file."""
    kind = chance.choice(list(FIELDS))
    idents, fields = FIELDS[kind]
    change = {name: fields[name](chance) for name in chance.sample(list(fields), chance.choice([1, 1, 2]))}
    return {f"ankle/{kind}/drawn.yaml": yaml.safe_dump({"changes": chance.choice(idents), **change})}


@cache
def looked_at() -> tuple[CaseState, ...]:
    """A third of all ways to answer the small pack's danger questions, in people who differ."""
    chance = Random(11)
    danger = ("fever", "joint_hot_red", "bone_tender", "cannot_take_four_steps")
    made = []
    for values in product(("present", "absent", "unknown"), repeat=len(danger)):
        for age, days, operated in ((30, 3, None), (50, 20, None), (30, 40, 49), (30, 20, 100)):
            since = {"injury": Anchor(days, NOW), "surgery": Anchor(operated, NOW, none=operated is None)}
            surgery = Surgery(none=True) if operated is None else Surgery(procedure="ankle_fracture_fixation")
            context = Context(
                side="left", age=age, sex="female", setting="after_sprain", days_since=since, surgery=surgery,
                immobilised=Immobilised(none=True),
            )  # fmt: skip
            answers = {**dict(zip(danger, values, strict=True)), "loss_of_protective_sensation": "absent"}
            if chance.random() < 1 / 3:
                made.append(state(answers, context))
    return tuple(made)


def seen(knowledge: Knowledge, case: CaseState) -> dict[str, tuple[int, ...]]:
    """How firmly each screen stands and what it does, and how shut each option and load class is: more is stricter."""
    told: dict[str, tuple[int, ...]] = {}
    for r in screening_of(knowledge, case).results():
        stands = FIRMNESS[r.state]
        what = (URGENCY.index(r.screen.send), -LEAVES.index(r.screen.hands)) if stands else (-9, -9)
        told[f"screen {r.screen.id}"] = (stands, *what)
    told |= {f"option {ident}": (SHUT.index(s),) for ident, s in option_states(knowledge, case).items()}
    return told


def outcomes(folder: Path, seeds: range) -> list[str]:
    """What came of each patch."""
    base = loaded(write_pack(folder))
    known = [seen(base, case) for case in looked_at()]
    return [outcome(folder, base, known, seed) for seed in seeds]


def outcome(folder: Path, base: Knowledge, known: list[dict[str, tuple[int, ...]]], seed: int) -> str:
    """`refused` on loading, `named` by the guard, or `passed`; then nothing may be looser anywhere."""
    files = drawn_patch(Random(seed))
    copy = clinic(files)
    ours, _ = load(folder, "ankle", clinic=copy)
    if ours is None:
        return "refused"
    if guard(base, ours, lambda out: load(folder, "ankle", clinic=ClinicCopy(copy.files, copy.today, out))[0]).problems:
        return "named"
    for case, before in zip(looked_at(), known, strict=True):
        after = seen(ours, case)
        looser = [name for name, was in before.items() if any(now < w for now, w in zip(after[name], was, strict=True))]
        assert not looser, (seed, files, looser, case.answers)
    return "passed"


def test_what_passes_unsigned_is_nowhere_looser(tmp_path: Path) -> None:
    found = outcomes(tmp_path, range(EVERY))
    assert found.count("named") >= 3
    assert found.count("passed") >= 3


@pytest.mark.slow
def test_many_more(tmp_path: Path) -> None:
    found = outcomes(tmp_path, range(EVERY, 31 * EVERY))
    print(f"\n{len(found)} patches:", {kind: found.count(kind) for kind in ("refused", "named", "passed")})
