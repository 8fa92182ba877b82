"""Figures over the cases: places of the confirmed answers, rarities that lead, screens beside their specificity."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from scipy.stats import binomtest  # type: ignore[import-untyped]

from reasoner.advice.records import Advice, HypothesisAdvice, ScreenAdvice
from reasoner.case.state import CaseState
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Link
from reasoner.options.gate import BEFORE_HANDS, HANDS
from reasoner.safety.screens import ScreenResult
from tests.cases.reading import LEADING_LISTS, Case, advice_on, leader, rank, state_in

__all__ = [
    "Firing",
    "Scored",
    "exact_interval",
    "firing",
    "hallmarks",
    "open_against",
    "rare_leaders",
    "score",
    "share_text",
]

RARE = 0.01  # base rate below which leading without a hallmark sends people astray
HALLMARK_CAUSES = 3  # a sign that at most so many hypotheses bring usually is a hallmark of each
USUALLY = 0.8


@dataclass(frozen=True)
class Scored:
    """One case and what came of it."""

    case: Case
    state: CaseState
    advice: Advice
    ranks: dict[str, int | None]  # list -> place of what may lead it

    @property
    def rank(self) -> int | None:
        """Worst place over the lists; None where nothing is to be placed or the pack has none of it."""
        places = [r for r in self.ranks.values() if r is not None]
        return max(places) if len(places) == len(self.ranks) and places else None

    def met(self, *urgencies: str) -> tuple[str, ...]:
        """Screens met at these urgencies."""
        return tuple(s.id for s in self.advice.screens if s.state == "met" and s.send in urgencies)


def score(knowledge: Knowledge, cases: Iterable[Case]) -> tuple[Scored, ...]:
    """What the tool says about each."""
    out = []
    for case in cases:
        advice = advice_on(knowledge, case)
        ranks = {name: rank(advice.hypotheses, name, ids) for name, ids in case.first.items()}
        out.append(Scored(case, state_in(knowledge, case), advice, ranks))
    return tuple(out)


def exact_interval(hits: int, of: int) -> tuple[float, float]:
    """95 % interval of a share (Clopper and Pearson 1934, Biometrika 26:404-413)."""
    found = binomtest(hits, of).proportion_ci(method="exact")
    return float(found.low), float(found.high)


def share_text(hits: int, of: int) -> str:
    """`17 of 19 = .89 (.67 to .99)`."""
    if not of:
        return "0 of 0"
    low, high = exact_interval(hits, of)
    return f"{hits} of {of} = {hits / of:.2f} ({low:.2f} to {high:.2f})"


# ------------------------------------------------------------------------------------------------ rarities


def hallmarks(knowledge: Knowledge, state: CaseState, hypothesis: str) -> tuple[str, ...]:
    """Signs present that this hypothesis usually brings and few others do."""
    present = {a.finding for a in state.answers if a.value == "present" and a.sure is None}
    own = {link.finding for link in knowledge.hypotheses[hypothesis].produces if _usual(knowledge, link)}
    return tuple(f for f in sorted(own & present) if _causes(knowledge, f) <= HALLMARK_CAUSES)


def _causes(knowledge: Knowledge, finding: str) -> int:
    return sum(
        any(link.finding == finding and _usual(knowledge, link) for link in h.produces)
        for h in knowledge.hypotheses.values()
    )


def _usual(knowledge: Knowledge, link: Link) -> bool:
    words = {w.id: w.value for w in knowledge.scales.words}
    strength = words.get(link.chance, 0.0) if isinstance(link.chance, str) else link.chance
    if strength is None:
        strength = link.sens if link.sens is not None else (1 - link.lr_neg if link.lr_neg is not None else 0.0)
    return strength >= USUALLY


def rare_leaders(
    knowledge: Knowledge, state: CaseState, hypotheses: tuple[HypothesisAdvice, ...]
) -> Iterator[HypothesisAdvice]:
    """First of what limits and of what is injured or ill, where it is rare here and nothing typical of it was found."""
    for name in LEADING_LISTS:
        first = leader(hypotheses, name)
        if first.base < RARE and not hallmarks(knowledge, state, first.id):
            yield first


# ------------------------------------------------------------------------------------------------ screens


def open_against(
    knowledge: Knowledge, options: Mapping[str, str], screens: Iterable[ScreenResult | ScreenAdvice]
) -> tuple[str, ...]:
    """Options open although a met emergency or same-day screen forbids what they do. Worked out beside the gates.

    `options` is id -> state.
    """
    urgencies = {s.id: s.send for s in knowledge.screens.values()}
    met = [s.screen.id if isinstance(s, ScreenResult) else s.id for s in screens if s.state == "met"]
    closing = [knowledge.screens[i].hands for i in met if urgencies[i] in BEFORE_HANDS]
    allowed = min((HANDS[hands] for hands in closing), default=HANDS["unrestricted"])
    return tuple(
        i for i, state in options.items() if state in ("offered", "caution") and _needs(knowledge, i) > allowed
    )


def _needs(knowledge: Knowledge, option: str) -> int:
    classes = knowledge.options[option].load_classes
    return max((HANDS[knowledge.load_classes[c].needs_hands] for c in classes), default=0)


@dataclass(frozen=True)
class Firing:
    """How often a screen was met among people who do not have what it looks for."""

    screen: str
    met: int
    decided: int  # met or not met: it applied and its answers were there
    open: int
    published: float | None  # specificity


def firing(knowledge: Knowledge, scored: Iterable[Scored]) -> tuple[Firing, ...]:
    """Each screen over the cases whose confirmed answer is none of its hypotheses."""
    scored = tuple(scored)
    out = []
    for screen in knowledge.screens.values():
        others = [s for s in scored if not set(screen.hypotheses) & {i for ids in s.case.first.values() for i in ids}]
        states = [next(x.state for x in s.advice.screens if x.id == screen.id) for s in others]
        published = screen.specificity.value if screen.specificity else None
        met, not_met = states.count("met"), states.count("not_met")
        number = float(published) if isinstance(published, (int, float)) else None
        out.append(Firing(screen.id, met, met + not_met, states.count("open"), number))
    return tuple(out)
