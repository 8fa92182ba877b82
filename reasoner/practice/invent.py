"""A patient drawn at random: how they come from the case mix, what is wrong from the pack's base rates there.

The causes are drawn as the base rates say (modifiers by age and sex are left out, and the exercise says so), and drawn
again until the patient fits the level: easy, one or two causes and nothing serious; medium, up to four; hard, at least
three or a serious one, with danger signs also by chance.
"""

from __future__ import annotations

from random import Random
from typing import Literal

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.scenario import Casemix, Frequency, Home, Person, Scenario, SecondVisit, Strain
from reasoner.inference.compile import compile_network

__all__ = ["LEVELS", "invent"]

Level = Literal["easy", "medium", "hard"]
LEVELS: tuple[Level, ...] = ("easy", "medium", "hard")
_TRIES = 4000
_MAIN = ("restriction", "condition", "serious")


def invent(knowledge: Knowledge, mix: Casemix, level: Level, seed: int) -> Scenario:
    """The same knowledge, case mix, level and seed always give the same patient."""
    random = Random(f"{level}:{seed}")
    frequency = random.choices(mix.settings, weights=[s.weight for s in mix.settings])[0]
    truth = _truth(knowledge, frequency.setting, level, random)
    intensity = float(random.randint(2, 7))
    problem = random.choice(frequency.problems)
    return Scenario(
        id=f"random-{level}-{seed}",
        name=f"drawn at random, {level}",
        level=level,
        region=knowledge.region.id,
        person=_person(frequency, random),
        truth=truth,
        story=f"{problem[0].upper()}{problem[1:]}. That is why I came.",
        texts={"problem": problem, "goal": f"be rid of it: {problem}"},
        activity=problem,
        effort=random.choice(("little", "some", "much")),
        intensity=intensity,
        minutes=float(random.choice((2, 5, 10, 30, 60, 120))),
        strain=Strain(bears=random.randint(4, 12), each=0.1 * intensity, per_point=mix.per_point),
        examiner_error=1.0,
        warm_up=mix.warm_up,
        sham=mix.sham,
        home=Home(keeps_to=round(random.random(), 1)),
        second_visit=SecondVisit(days=random.randint(5, 16)),
        noise=level == "hard",
    )


def _truth(knowledge: Knowledge, setting: str, level: Level, random: Random) -> tuple[str, ...]:
    network = compile_network(knowledge, setting).network
    rates = [(h.id, h.list, float(network.prior[network.cause_index[h.id]])) for h in knowledge.hypotheses.values()]
    kinds = {ident: kind for ident, kind, _ in rates}
    for _ in range(_TRIES):
        truth = tuple(ident for ident, _, rate in rates if random.random() < rate)
        if _fits([kinds[t] for t in truth], level):
            return truth
    ranked = sorted((r for r in rates if r[1] in _MAIN[:2]), key=lambda r: -r[2])
    return (ranked[0][0],)  # base rates that never fit the level: the likeliest alone


def _fits(kinds: list[str], level: Level) -> bool:
    main, serious = sum(k in _MAIN for k in kinds), "serious" in kinds
    if level == "easy":
        return 1 <= main <= 2 and not serious
    if level == "medium":
        return 1 <= main <= 4 and not serious
    return main >= 3 or serious


def _person(frequency: Frequency, random: Random) -> Person:
    weeks = frequency.immobilised_weeks
    return Person(
        side=random.choice(("left", "right")),
        age=random.randint(*frequency.age),
        sex=random.choice(("female", "male")),
        setting=frequency.setting,
        days_since={anchor: random.randint(*days) for anchor, days in frequency.days.items()},
        immobilised_weeks=float(random.randint(*weeks)) if weeks is not None else None,
        procedure=frequency.procedure,
    )
