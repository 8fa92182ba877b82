"""Is one version of the knowledge looser than another? Judged by what the tool would do, whichever field was changed.

Looser means: a danger screen that fired no longer does, or sends later, or lets more be done meanwhile; an act opens
that was shut; a stop-now question is no longer asked; a serious illness is thought less likely, or falls below the
limit from which one acts; a technique is thought better than its evidence carries; the words of a danger question
say something else, or a typed word no longer means the danger sign it meant.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from reasoner.advice.asking import URGENCY, unanswered
from reasoner.advice.beliefs import Beliefs, beliefs
from reasoner.advice.records import OptionAdvice
from reasoner.advice.treatments import judge_option, options_advice
from reasoner.case.state import CaseState
from reasoner.facts.facts import Facts
from reasoner.facts.verdict import UNKNOWN
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.pack import FIELDS
from reasoner.graph.records import OptionRecord
from reasoner.options.gate import HANDS, ORDER, Gatekeeper, Part, worst
from reasoner.safety.rules import evaluate
from reasoner.safety.screens import Screening
from reasoner.upkeep.reach import Reach, reach
from reasoner.upkeep.states import GATES, NOW, Made

__all__ = ["Looser", "Seen", "looser", "opening", "reasons_in_numbers", "worth_may_differ"]

_SCREEN = {"met": 2, "open": 1, "not_met": 0, "does_not_apply": 0}
_NOTICEABLE = 0.1  # share of a serious chance that may go before it counts
_LEAST_CHANCE = 0.002
_LEAST_VALUE = 0.03


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

    def beside(self, knowledge: Knowledge, state: CaseState, reached: Reach) -> Seen:
        """What another version says; answers that hold there as here are not read again."""
        other = Seen(knowledge, state, self.now)
        if not reached.answers and state is self.state:
            vars(other)["screening"] = Screening(self.screening.facts.read_with(knowledge))
        return other

    def take(self, before: Seen, reached: Reach) -> None:
        """Take over the screens that read the same here as there."""
        if self.state is before.state:
            same = (s for s in before.knowledge.screens if s in self.knowledge.screens and s not in reached.screens)
            self.screening.take(before.screening.result(s) for s in same)

    def screen(self, ident: str) -> tuple[int, str, str]:
        """How strongly a screen stands (2 met, 1 open, 0 neither, resolved or not there), send, hands."""
        if ident not in self.knowledge.screens:
            return 0, "routine", "unrestricted"
        result = self.screening.result(ident)
        stands = _SCREEN[result.state] if result.resolution is None else 0
        return stands, result.screen.send, result.screen.hands

    @cached_property
    def side_facts(self) -> Facts:
        """Facts of the (first) side in question."""
        whole = self.screening.facts
        return whole.on(whole.case_sides[0])

    @cached_property
    def gates(self) -> Gatekeeper:
        """Gates on that side."""
        covered = evaluate(self.knowledge.region.covers, self.screening.rules_for(self.side_facts)).verdict
        return Gatekeeper(self.screening, self.side_facts, covered, unanswered(self.screening.facts))

    def act(self, kind: str, ident: str) -> int:
        """0 offered, 1 caution, 2 not yet, 3 barred: an option, a test, a measure, or anything of one load class."""
        if kind == "option":
            return ORDER[judge_option(self.knowledge.options[ident], self.gates).state]
        classes = [ident] if kind == "load class" else getattr(self.knowledge, FIELDS[kind])[ident].load_classes
        return ORDER[self.gates.judge(classes).state]

    def own(self, load_class: str, parts: Iterable[Part], screens: Iterable[str]) -> int:
        """The same by these bars, windows and cautions and these screens alone."""
        keeper = Gatekeeper(self.screening, self.side_facts, UNKNOWN, ())
        results = (self.screening.result(s) for s in screens if s in self.knowledge.screens)
        held = keeper.hands(self.knowledge.load_classes[load_class], [r for r in results if r.closing])
        return ORDER[worst([*held, *(b for part in parts for b in keeper.part(part))]).state]

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
    reached = reach(base, ours)
    for made in states if not reached.nothing else ():
        if not made.about or made.about in reached.near or (made.about == GATES and reached.gates):
            before = Seen(base, made.state)
            after = before.beside(ours, made.state, reached)
            for one in _in_state(before, after, made, reached, found.keys()):
                found.setdefault((one.route, one.id), one)
    return list(found.values())


# ------------------------------------------------------------------------------------------------ in one state


def _in_state(
    before: Seen, after: Seen, made: Made, reached: Reach, known: Collection[tuple[str, str]]
) -> Iterator[Looser]:
    yield from _screens(before, after, made, reached.screens)
    if reached.asked:
        yield from _asking(before, after, made)
    yield from _gates(before, after, made, reached, known)
    if reached.chances and made.whole:
        yield from reasons_in_numbers(before, after, made.words)


def _screens(before: Seen, after: Seen, made: Made, reached: Iterable[str]) -> Iterator[Looser]:
    words = ("no longer", "open", "met")
    for ident in reached:
        (stood, send, hands), (now, now_send, now_hands) = before.screen(ident), after.screen(ident)
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


def _gates(
    before: Seen, after: Seen, made: Made, reached: Reach, known: Collection[tuple[str, str]]
) -> Iterator[Looser]:
    """Whom the pack covers, load classes, and what is done by another entry; what is `known` is not looked at again."""
    if reached.covers:
        order = ("no", "not known", "yes")
        was_covered, now_covered = (_covered(s) for s in (before, after))
        if now_covered > was_covered:
            text = f"whom the pack covers: was {order[was_covered]}, is {order[now_covered]}"
            yield Looser("covers", before.knowledge.region.id, text, made.words)
    acts = [("load class", c) for c in opening(before, after, reached) if ("gate", c) not in known]
    acts += [act for act in reached.acts if act not in known]
    if acts:
        after.take(before, reached)
    words = ("offered", "caution", "not yet", "barred")
    for kind, ident in acts:
        was, now = before.act(kind, ident), after.act(kind, ident)
        if now < was:
            route = "gate" if kind == "load class" else kind
            yield Looser(route, ident, f"{kind} {ident}: was {words[was]}, is {words[now]}", made.words)
        if kind == "option":
            yield from _retired(before.knowledge.options[ident], after.knowledge.options[ident])


def opening(before: Seen, after: Seen, reached: Reach, *, or_closing: bool = False) -> Iterator[str]:
    """Load classes that may be more open in this state (or less): by what differs in them, or a screen that differs."""
    moved = [s for s in reached.screens if before.screen(s) != after.screen(s)]
    asked = reached.asked and before.asked != after.asked
    for ident in before.knowledge.load_classes if moved or asked else reached.classes:
        parts = reached.classes.get(ident, ((), ()))
        if parts is None or asked or ident not in after.knowledge.load_classes:
            yield ident
            continue
        was, now = before.own(ident, parts[0], moved), after.own(ident, parts[1], moved)
        if now < was or (or_closing and now != was):
            yield ident


def _retired(record: OptionRecord, ours: OptionRecord) -> Iterator[Looser]:
    if ours.retired and not record.retired and record.lane in ("protect", "ask_or_send"):
        text = f"option {record.id} ({record.lane.replace('_', ' ')}) is no longer suggested"
        yield Looser("retired", record.id, text)


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
    for ident, value in before.values.items() if worth_may_differ(before, after) else ():
        same = before.knowledge.options[ident] == after.knowledge.options.get(ident)
        if same and after.values.get(ident, 0.0) - value > _LEAST_VALUE:
            text = f"option {ident}: thought better than its evidence carries, {value:.2f} -> {after.values[ident]:.2f}"
            yield Looser("value", ident, text, where)


def worth_may_differ(before: Seen, after: Seen) -> bool:
    """May value or order of the options differ noticeably? Only with figures, or chances of what they act on."""
    if before.knowledge.policy != after.knowledge.policy or before.knowledge.scales != after.knowledge.scales:
        return True
    targets = {h for option in before.knowledge.options.values() for h in option.acts_on}
    if any(abs(before.chances[h] - after.chances.get(h, 0.0)) >= _LEAST_CHANCE / 2 for h in targets):
        return True
    limits = before.knowledge.suspected_above, after.knowledge.suspected_above
    return any(
        (before.chances.get(h, 0.0) >= limits[0].get(h, 2.0)) != (after.chances.get(h, 0.0) >= limits[1].get(h, 2.0))
        for h in {*limits[0], *limits[1]}
    )


def _acts(knowledge: Knowledge, ident: str, chance: float) -> bool:
    record = knowledge.hypotheses.get(ident)
    return record is not None and record.act_above is not None and chance >= record.act_above


# ------------------------------------------------------------------------------------------------ words and names

_DANGER_WORDS = ("name", "ask", "present_when", "says", "danger", "sided", "retired")
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
