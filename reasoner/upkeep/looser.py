"""Is one version of the knowledge looser than another? Judged by what the tool would do, whichever field was changed.

Looser means: a danger screen that fired no longer does, or sends later, or lets more be done meanwhile; an act opens
that was shut; a stop-now question is no longer asked; a serious illness is thought less likely, or falls below the
limit from which one acts; a technique is thought better than its evidence carries; the words of a danger question
say something else, or a typed word no longer means the danger sign it meant.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property

from reasoner.advice.asking import URGENCY, unanswered
from reasoner.advice.beliefs import Beliefs, beliefs
from reasoner.advice.records import OptionAdvice
from reasoner.advice.treatments import judge_option, options_advice
from reasoner.case.state import CaseState
from reasoner.facts.facts import Facts
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import OptionRecord
from reasoner.options.gate import HANDS, ORDER, Gatekeeper
from reasoner.safety.rules import evaluate
from reasoner.safety.screens import Screening
from reasoner.upkeep.states import NOW, Made

__all__ = ["Looser", "Seen", "looser", "reasons_in_numbers", "touched"]

_SCREEN = {"met": 2, "open": 1, "not_met": 0, "does_not_apply": 0}
_NOTICEABLE = 0.1  # share of a serious chance that may go before it counts
_LEAST_CHANCE = 0.002
_LEAST_VALUE = 0.03
# kinds of record whose change can only move gates, or nothing at all; every other kind may move anything
_GATES_ONLY = ("protocol", "load_class", "option")
_NOTHING = ("evidence",)


@dataclass(frozen=True, slots=True)
class Looser:
    """One thing that is looser, with the state in which it shows. `route` names what loosened, in a word."""

    route: str
    id: str
    text: str
    where: str = ""

    def __str__(self) -> str:
        return f"{self.text}{f' ({self.where})' if self.where else ''}"


@dataclass(frozen=True)
class Seen:
    """What one version of the knowledge says about one state. Each part is worked out when it is asked for."""

    knowledge: Knowledge
    state: CaseState
    now: datetime = NOW

    @cached_property
    def screening(self) -> Screening:
        """The screens, over all sides."""
        return Screening(Facts(self.knowledge, self.state, self.now))

    @cached_property
    def screens(self) -> Mapping[str, tuple[int, str, str]]:
        """Screen id -> how strongly it stands (2 met, 1 open, 0 neither or resolved), send, hands."""
        found = {}
        for result in self.screening.results():
            stands = _SCREEN[result.state] if result.resolution is None else 0
            found[result.screen.id] = (stands, result.screen.send, result.screen.hands)
        return found

    @cached_property
    def side_facts(self) -> Facts:
        """Facts of the (first) side in question."""
        whole = self.screening.facts
        return replace(whole, side=whole.case_sides[0])

    @cached_property
    def gates(self) -> Gatekeeper:
        """Gates on that side."""
        covered = evaluate(self.knowledge.region.covers, self.screening.rules_for(self.side_facts)).verdict
        return Gatekeeper(self.screening, self.side_facts, covered, unanswered(self.screening.facts))

    @cached_property
    def options(self) -> Mapping[str, int]:
        """Option id -> 0 offered, 1 caution, 2 not yet, 3 barred."""
        return {o.id: ORDER[judge_option(o, self.gates).state] for o in self.knowledge.options.values()}

    def option(self, ident: str) -> int:
        """The same for one option."""
        return ORDER[judge_option(self.knowledge.options[ident], self.gates).state]

    def act(self, load_class: str) -> int:
        """The same for anything of one load class."""
        return ORDER[self.gates.judge([load_class]).state]

    @cached_property
    def asked(self) -> tuple[str, ...]:
        """Always-ask facts still to be asked before hands are laid on."""
        return unanswered(self.screening.facts)

    @cached_property
    def beliefs(self) -> Beliefs:
        """Chances on that side, without their reasons: the expensive part."""
        return beliefs(self.side_facts, self.screening, self.side_facts.sides[0], reasons=False)

    @cached_property
    def serious(self) -> Mapping[str, float]:
        """Serious hypothesis -> chance."""
        serious = [h.id for h in self.knowledge.hypotheses.values() if h.list == "serious"]
        return {ident: self.beliefs.chance(ident) for ident in serious}

    @cached_property
    def chances(self) -> Mapping[str, float]:
        """Hypothesis -> chance, of all."""
        return {ident: self.beliefs.chance(ident) for ident in self.knowledge.hypotheses}

    @cached_property
    def advised(self) -> tuple[OptionAdvice, ...]:
        """The options of that side, each lane sorted as it is shown."""
        return options_advice(self.side_facts, self.gates, self.beliefs, side=None)

    @cached_property
    def values(self) -> Mapping[str, float]:
        """Option -> value, of those to try now that have one."""
        return {o.id: o.value for o in self.advised if o.value is not None}


def looser(base: Knowledge, ours: Knowledge, states: Iterable[Made]) -> list[Looser]:
    """Everything in which `ours` is looser than `base`, each once, with the first state in which it shows."""
    found: dict[tuple[str, str], Looser] = {}
    for one in (*_words(base, ours), *_names(base, ours)):
        found.setdefault((one.route, one.id), one)
    kinds = touched(ours)
    if kinds is not None and kinds <= set(_NOTHING):
        return list(found.values())
    everything = kinds is None or not kinds <= {*_NOTHING, *_GATES_ONLY}
    changed = [i for i, o in base.options.items() if i in ours.options and not _same_acts(o, ours.options[i])]
    classes = list(base.load_classes) if everything else _changed_classes(base, ours)
    for made in states:
        if everything or not made.signs:
            before, after = Seen(base, made.state), Seen(ours, made.state)
            for one in _in_state(before, after, made, everything, classes, changed):
                found.setdefault((one.route, one.id), one)
    return list(found.values())


def touched(ours: Knowledge) -> set[str] | None:
    """Kinds of record a clinic's folder touches; None where the two versions differ in another way."""
    return None if ours.clinic is None else {e.kind for e in ours.clinic.entries if not e.expired}


def _changed_classes(base: Knowledge, ours: Knowledge) -> list[str]:
    """Load classes whose own gates or healing windows differ."""
    found = {i for i, c in base.load_classes.items() if c != ours.load_classes.get(i)}
    for ident in (*base.protocols, *ours.protocols):
        before, after = base.protocols.get(ident), ours.protocols.get(ident)
        one, two = (set(p.windows) if p else set() for p in (before, after))
        if before is None or after is None or before.applies_when != after.applies_when:
            found |= {w.load_class for w in one | two}
        found |= {w.load_class for w in one ^ two}
    return [i for i in base.load_classes if i in found]


def _same_acts(before: OptionRecord, after: OptionRecord) -> bool:
    names = ("load_classes", "cautions", "lane", "retired", "consider_when", "for_screens")
    return all(getattr(before, n) == getattr(after, n) for n in names)


# ------------------------------------------------------------------------------------------------ in one state


def _in_state(
    before: Seen, after: Seen, made: Made, everything: bool, classes: list[str], options: list[str]
) -> Iterator[Looser]:
    if everything:
        yield from _screens(before, after, made)
        yield from _asking(before, after, made)
    yield from _gates(before, after, made, classes, options)
    if everything and made.whole:
        yield from reasons_in_numbers(before, after, made.words)


def _screens(before: Seen, after: Seen, made: Made) -> Iterator[Looser]:
    for ident, (stood, send, hands) in before.screens.items():
        now, now_send, now_hands = after.screens.get(ident, (0, "routine", "unrestricted"))
        words = ("no longer", "open", "met")
        if now < stood:
            text = f"screen {ident}: was {words[stood]}, is {'neither met nor open' if not now else words[now]}"
            yield Looser("screen", ident, text, made.words)
        elif stood and URGENCY.index(now_send) > URGENCY.index(send):
            yield Looser("send", ident, f"screen {ident}: sent {_said(send)}, now {_said(now_send)}", made.words)
        elif stood and HANDS[now_hands] > HANDS[hands]:
            text = f"screen {ident}: meanwhile allowed {_said(hands)}, now {_said(now_hands)}"
            yield Looser("hands", ident, text, made.words)


def _asking(before: Seen, after: Seen, made: Made) -> Iterator[Looser]:
    for ident in before.asked:
        if ident not in after.asked:
            yield Looser("asking", ident, f"{ident} is no longer asked before hands are laid on", made.words)


def _gates(before: Seen, after: Seen, made: Made, classes: list[str], options: list[str]) -> Iterator[Looser]:
    """Load classes, whom the pack covers, and the options whose own entry has changed."""
    order = ("no", "not known", "yes")
    was_covered, now_covered = (_covered(s) for s in (before, after))
    if now_covered > was_covered:
        text = f"whom the pack covers: was {order[was_covered]}, is {order[now_covered]}"
        yield Looser("covers", before.knowledge.region.id, text, made.words)
    words = ("offered", "caution", "not yet", "barred")
    for ident in classes:
        was, now = before.act(ident), after.act(ident)
        if now < was:
            yield Looser("gate", ident, f"load class {ident}: was {words[was]}, is {words[now]}", made.words)
    for ident in options:
        was, now = before.option(ident), after.option(ident)
        if now < was:
            yield Looser("option", ident, f"option {ident}: was {words[was]}, is {words[now]}", made.words)
        record, ours = before.knowledge.options[ident], after.knowledge.options[ident]
        if ours.retired and not record.retired and record.lane in ("protect", "ask_or_send"):
            yield Looser("retired", ident, f"option {ident} ({record.lane.replace('_', ' ')}) is no longer suggested")


def _covered(seen: Seen) -> int:
    verdict = seen.gates.covered
    return 2 if verdict.certainly else 1 if verdict.unknown else 0


def reasons_in_numbers(before: Seen, after: Seen, where: str) -> Iterator[Looser]:
    """What is looser in the chances of one state."""
    for ident, was in before.serious.items():
        now = after.serious.get(ident, 0.0)
        limits = (before.knowledge, after.knowledge)
        acted, acts = (_acts(k, ident, p) for k, p in zip(limits, (was, now), strict=True))
        if acted and not acts:
            yield Looser("act_above", ident, f"{ident}: no longer above the limit from which one acts", where)
        elif was - now > max(_LEAST_CHANCE, _NOTICEABLE * was):
            yield Looser("chance", ident, f"{ident}: thought less likely, {was:.3f} -> {now:.3f}", where)
        limit, our_limit = (k.suspected_above.get(ident, 2.0) for k in limits)
        if was >= limit and now < our_limit:
            yield Looser("suspected", ident, f"{ident}: no longer suspected by its chance", where)
    for ident, value in before.values.items():
        same = before.knowledge.options[ident] == after.knowledge.options.get(ident)
        if same and after.values.get(ident, 0.0) - value > _LEAST_VALUE:
            text = f"option {ident}: thought better than its evidence carries, {value:.2f} -> {after.values[ident]:.2f}"
            yield Looser("value", ident, text, where)


def _acts(knowledge: Knowledge, ident: str, chance: float) -> bool:
    record = knowledge.hypotheses.get(ident)
    return record is not None and record.act_above is not None and chance >= record.act_above


# ------------------------------------------------------------------------------------------------ words and names

_DANGER_WORDS = ("name", "ask", "present_when", "says", "danger", "sided")
_SCREEN_WORDS = ("name", "say_met", "next_step", "not_excluded", "resolve_by")


def _words(base: Knowledge, ours: Knowledge) -> Iterator[Looser]:
    """Words of danger questions and screens: what they do cannot be worked out, so any change needs a signature."""
    for ident, finding in base.findings.items():
        changed = _changed(finding, ours.findings.get(ident), _DANGER_WORDS) if finding.danger else ()
        if changed:
            yield Looser("wording", ident, f"danger sign {ident}: its {' and '.join(changed)} says something else")
    for ident, screen in base.screens.items():
        changed = _changed(screen, ours.screens.get(ident), _SCREEN_WORDS)
        if changed:
            yield Looser("wording", ident, f"screen {ident}: its {' and '.join(changed)} says something else")
    asked = {q.id: q for q in ours.region.always_ask}
    for question in base.region.always_ask:
        other = asked.get(question.id)
        if other is None or other.ask != question.ask:
            what = "is no longer asked" if other is None else "asks something else"
            yield Looser("wording", question.id, f"always-ask question {question.id}: {what}")


def _changed(before: object, after: object, names: tuple[str, ...]) -> tuple[str, ...]:
    if after is None:
        return ("whole entry",)
    assert dataclasses.is_dataclass(before)
    return tuple(n.replace("_", " ") for n in names if getattr(before, n) != getattr(after, n))


def _names(base: Knowledge, ours: Knowledge) -> Iterator[Looser]:
    """A typed word that meant a danger sign must go on meaning it."""
    for word, ident in base.finding_names.items():
        if base.findings[ident].danger and ours.finding_names.get(word) != ident:
            now = ours.finding_names.get(word)
            means = f"now means {now}" if now else "is no longer understood"
            yield Looser("alias", ident, f"danger sign {ident}: the word {word!r} {means}")


def _said(word: str) -> str:
    return word.replace("_", " ")
