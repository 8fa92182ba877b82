"""What can be counted in a trail without knowing the truth: overrides, skipped questions, open loops, claims, haste.

Each fault names its line, what could have happened, and what to do now. Nothing is scored.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from reasoner.advice.asking import unanswered
from reasoner.case import events as ev
from reasoner.case.state import CaseState, Loop
from reasoner.consult.irritability import judge_irritability
from reasoner.consult.treating import NOTHING_TO_RETEST, agreements
from reasoner.graph.knowledge import Knowledge
from reasoner.review.moments import Moment
from reasoner.review.reading import Reading

__all__ = [
    "CODES", "Fault", "Idea", "counted", "first_idea", "hands_on", "in_order", "is_final_visit_closed",
    "provoking_acts", "stopped_loops",
]  # fmt: skip

CODES = {
    "danger": "possible missed danger",
    "withdrawn": "danger answer withdrawn",
    "override": "given against a gate",
    "no_agreement": "given without a recorded agreement",
    "skipped": "stop-now question not asked",
    "late": "stop-now question asked late",
    "within_claim": "change claimed within error",
    "open_loop": "loop without retest",
    "first_idea": "first idea kept against the answers",
    "stopped_early": "stopped early",
    "over_tested": "much provoked in an irritable joint",
}
_FEW = 5  # answers that carry weight; below it every list rests mostly on base rates
_MANY = 6  # provoking acts on an irritable joint in one visit; common practice, no published count
_CLAIM = re.compile(
    r"(?<!no )(?<!not )(?<!never )(?<!nothing )"
    r"\b(better|improved|improvement|worked|helped|gained|looser|more range)\b",
    re.IGNORECASE,
)
_CLAIMS_STAND_IN = ("conclusion", "plan", "note", "next_visit", "home")
_CLOSED_WITHOUT = {
    "within": "every change was within error, warm-up and touch",
    "range_only": "the range moved and the function did not",
    "no_comparison": "nothing was measured before",
    "worse": "the retest was worse",
}


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing counted. `code` is one of CODES; `seq` the line; `could` and `now` in plain words."""

    code: str
    seq: int
    what: str
    could: str = ""
    now: str = ""

    @property
    def title(self) -> str:
        """Its kind in words."""
        return CODES[self.code]


@dataclass(frozen=True, slots=True)
class Idea:
    """The clinician's first idea and what became of it. `lead`: first of the same list at the end."""

    first: str
    last: str
    lead: str
    first_chance: float
    lead_chance: float
    seq: int
    last_seq: int

    @property
    def kept(self) -> bool:
        """Is the last own judgement still the first?"""
        return self.first == self.last

    @property
    def against(self) -> bool:
        """Kept although the answers made another at least twice as likely."""
        return self.kept and self.lead != self.first and self.lead_chance >= 2 * self.first_chance


def counted(reading: Reading, found: Sequence[Moment]) -> tuple[Fault, ...]:
    """Everything counted, in the order of CODES and then of the trail."""
    return in_order(fault for count in _COUNTS for fault in count(reading, found))


def in_order(faults: Iterable[Fault]) -> tuple[Fault, ...]:
    """In the order of CODES and then of the trail."""
    order = list(CODES)
    return tuple(sorted(faults, key=lambda f: (order.index(f.code), f.seq)))


def hands_on(knowledge: Knowledge, option: str) -> bool:
    """Is it something tried on the joint and retested?"""
    record = knowledge.options.get(option)
    return record is None or record.lane == "try_now"


def is_final_visit_closed(state: CaseState) -> bool:
    """Has the last visit been closed?"""
    return bool(state.visits) and state.visits[-1].closed_at is not None


def first_idea(reading: Reading, found: Sequence[Moment]) -> Idea | None:
    """None where no judgement of their own was written down."""
    judged = [(r.seq, r.event.ranked) for r in reading.recorded if isinstance(r.event, ev.Judged) and r.event.ranked]
    known = reading.knowledge.hypotheses
    if not judged or not found or judged[0][1][0] not in known:
        return None
    first, last = judged[0][1][0], judged[-1][1][0]
    chance = found[-1].chance
    same = [h.id for h in known.values() if h.list == known[first].list]
    lead = max(same, key=lambda h: chance[h])
    return Idea(first, last, lead, chance[first], chance[lead], judged[0][0], judged[-1][0])


# ------------------------------------------------------------------------------------------------ danger


def _danger(reading: Reading, _: Sequence[Moment]) -> Iterator[Fault]:
    """At the end of a visit a stop-now screen is met, or open with its entry facts present, and nobody took over."""
    for end, state in _visit_ends(reading):
        handed = _handed_over(state)
        treated = [p for p in state.loops if p.visit == state.visit and hands_on(reading.knowledge, p.option)]
        for result in reading.urgent(state, end.at):
            met = result.closing and result.state == "met"
            begun = result.closing and result.state == "open" and result.in_use
            if (met and (not handed or treated)) or (begun and treated):
                how = "criteria met" if met else "begun and left open"
                after = "a technique was given" if treated else "no handover is recorded"
                yield Fault(
                    "danger", end.seq, f"{result.screen.name}: {how}; {after}",
                    f"{result.screen.name} may be there and untreated",
                    result.screen.next_step,
                )  # fmt: skip


def _withdrawn(reading: Reading, _: Sequence[Moment]) -> Iterator[Fault]:
    for one in reading.state.withdrawn:
        finding = reading.knowledge.findings.get(one.finding)
        name = finding.name if finding is not None else one.finding
        yield Fault(
            "withdrawn", one.seq, f"{name}: taken back after its screen had fired, because {one.reason}",
            "a sign that was there once no longer counts", "ask it again, plainly, and say how it was explained",
        )  # fmt: skip


def _override(reading: Reading, _: Sequence[Moment]) -> Iterator[Fault]:
    for r in reading.recorded:
        if not isinstance(r.event, ev.Treated) or r.event.stood not in ("not_yet", "barred"):
            continue
        option = reading.knowledge.options.get(r.event.option)
        name = option.name if option is not None else r.event.option
        stood = r.event.stood.replace("_", " ")
        bars = [g.say for c in (option.load_classes if option else ()) if (k := reading.knowledge.load_classes.get(c))
                for g in k.bars]  # fmt: skip
        yield Fault(
            "override", r.seq, f"{name} ({stood}) because {r.event.reason}",
            f"what the gate is for: {bars[0]}" if bars else "what the gate is for",
            "ask how it was that night and the next day; write down who agreed to it",
        )  # fmt: skip


def _no_agreement(reading: Reading, _: Sequence[Moment]) -> Iterator[Fault]:
    """Whatever is done to a person needs it; to ask or send on does not."""
    agreed = agreements(reading.state)
    for loop in reading.state.loops:
        option = reading.knowledge.options.get(loop.option)
        if loop.number in agreed or (option is not None and option.lane == "ask_or_send"):
            continue
        yield Fault(
            "no_agreement", loop.seq,
            f"{option.name if option is not None else loop.option}: no agreement recorded before it",
            "done without their leave, or agreed and not written down",
            "ask what they were told and said; write it down; next time before hands are on",
        )  # fmt: skip


def _screening(reading: Reading, _: Sequence[Moment]) -> Iterator[Fault]:
    """Stop-now questions open when hands first went on, and still open at the end of the visit."""
    first_hands: dict[int, tuple[int, set[str]]] = {}
    for r, state in reading.turns:
        treated = isinstance(r.event, ev.Treated) and hands_on(reading.knowledge, r.event.option)
        if treated and state.visit not in first_hands:
            first_hands[state.visit] = (r.seq, set(_unanswered(reading, state, r.at)))
    for end, state in _visit_ends(reading):
        left = _unanswered(reading, state, end.at)
        blocked = any(s.state == "met" for s in reading.urgent(state, end.at))
        seq, open_then = first_hands.get(state.visit, (end.seq, set()))
        late = [name for name in open_then if name not in left]
        if left and not blocked:
            yield Fault(
                "skipped", seq, f"visit {state.visit}: {len(left)} not asked: {_names(reading, left)}",
                "what they ask for is not excluded by anything else", "ask them by telephone, or first thing next time",
            )  # fmt: skip
        if late:
            yield Fault(
                "late", seq, f"visit {state.visit}: {len(late)} asked after hands were on: {_names(reading, late)}",
                "a technique before the question that forbids it", "ask them first; every visit",
            )  # fmt: skip


def _unanswered(reading: Reading, state: CaseState, now: datetime) -> tuple[str, ...]:
    return unanswered(reading.screening(state, now).facts)


def _names(reading: Reading, idents: Sequence[str]) -> str:
    findings = reading.knowledge.findings
    names = [findings[i].name if i in findings else i.replace("_", " ") for i in idents]
    return ", ".join(names[:3]) + (f" and {len(names) - 3} more" if len(names) > 3 else "")


# ------------------------------------------------------------------------------------------------ reasoning


def _claims(reading: Reading, _: Sequence[Moment]) -> Iterator[Fault]:
    """Words of improvement, written after a retest that showed none."""
    last: Loop | None = None
    for r, state in reading.turns:
        if isinstance(r.event, ev.Retested):
            last = next((p for p in state.loops if p.number == r.event.loop), None)
        elif isinstance(r.event, ev.VisitOpened):
            last = None
        elif isinstance(r.event, ev.Noted) and r.event.heading in _CLAIMS_STAND_IN and last is not None:
            best = [p.verdict for p in state.loops if p.visit == state.visit and p.retested]
            claim = _CLAIM.search(r.event.text)
            if claim is not None and "beyond" not in best and last.verdict in _CLOSED_WITHOUT:
                yield Fault(
                    "within_claim", r.seq, f"\"{claim[0]}\" in the {r.event.heading}; {_CLOSED_WITHOUT[last.verdict]}",
                    "a technique is kept that does nothing, the next idea comes late",
                    "say what was measured, and measure the same signs first next time",
                )  # fmt: skip


def stopped_loops(reading: Reading) -> frozenset[int]:
    """Numbers of the loops whose retest was left out because an emergency or same-day screen was met by then."""
    return frozenset(
        r.event.loop
        for r, state in reading.turns
        if isinstance(r.event, ev.RetestExcused)
        and any(s.state == "met" and s.closing for s in reading.urgent(state, r.at))
    )


def _open_loops(reading: Reading, _: Sequence[Moment]) -> Iterator[Fault]:
    stopped = stopped_loops(reading)
    for loop in reading.state.loops:
        if loop.retested or not hands_on(reading.knowledge, loop.option):
            continue
        if loop.number in stopped or loop.excused == NOTHING_TO_RETEST:
            continue
        option = reading.knowledge.options.get(loop.option)
        name = option.name if option is not None else loop.option
        why = f"no retest because {loop.excused}" if loop.excused else "retest still open"
        yield Fault(
            "open_loop", loop.seq, f"{name}: {why}",
            "nobody knows whether it did anything", "take the same signs at the start of the next visit",
        )  # fmt: skip


def _first_idea(reading: Reading, found: Sequence[Moment]) -> Iterator[Fault]:
    idea = first_idea(reading, found)
    if idea is not None and idea.against:
        names = reading.knowledge.hypotheses
        yield Fault(
            "first_idea", idea.last_seq,
            f"{names[idea.first].name}: still first at the end; better fits the answers: {names[idea.lead].name}",
            "the visits go to the wrong structure", f"look for what would speak against {names[idea.first].name}",
        )  # fmt: skip


def _stopped_early(reading: Reading, _: Sequence[Moment]) -> Iterator[Fault]:
    """Hands on, or the end, with few answers that carry weight or no measure before."""
    seen: set[int] = set()
    for r, state in reading.turns:
        treated = isinstance(r.event, ev.Treated) and hands_on(reading.knowledge, r.event.option)
        closed = isinstance(r.event, ev.VisitClosed)
        if not (treated or closed) or state.visit in seen or state.visit > 1:
            continue
        seen.add(state.visit)
        if closed and _handed_over(state):
            continue
        told = {a.finding for a in state.answers if a.value != "unknown" and a.visit == state.visit}
        weighty = {f for f in told if not _always_asked(reading.knowledge, f)}
        measured = {m.measure for m in state.measurements if m.visit == state.visit and m.phase == "baseline"}
        if len(weighty) + len(measured) < _FEW:
            when = "hands on" if treated else "visit closed"
            told_by = f"{_count(len(weighty), 'telling answer')} and {_count(len(measured), 'measure')}"
            yield Fault(
                "stopped_early", r.seq, f"{when} after {told_by}",
                "the list rests on base rates, not on this person",
                "ask what would tell most before the next technique",
            )  # fmt: skip


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _handed_over(state: CaseState) -> bool:
    """By its own line, or in words as older trails have it."""
    return any(h.visit == state.visit for h in state.handovers) or any(
        n.heading == "handover" and n.visit == state.visit for n in state.notes
    )


def _always_asked(knowledge: Knowledge, finding: str) -> bool:
    return any(finding in b.findings for b in knowledge.region.always_ask)


def _over_tested(reading: Reading, _: Sequence[Moment]) -> Iterator[Fault]:
    said = reading.state.irritability
    if said is None:
        return
    level = judge_irritability(reading.knowledge, said.effort, said.intensity, said.minutes).level
    if level != "high":
        return
    for end, state in _visit_ends(reading):
        acts = provoking_acts(reading.knowledge, state)
        if acts >= _MANY:
            yield Fault(
                "over_tested", end.seq, f"visit {state.visit}: {acts} provoking tests and measures, irritability high",
                "a retest that says worse for no other reason, a bad night",
                "few tests, the gentlest first; ask next day",
            )  # fmt: skip


def provoking_acts(knowledge: Knowledge, state: CaseState) -> int:
    """Tests and measures of the latest visit that provoke."""
    findings, measures = knowledge.findings, knowledge.measures
    tests = sum(a.visit == state.visit and a.finding in findings and findings[a.finding].provokes
                and a.value != "unknown" for a in state.answers)  # fmt: skip
    taken = sum(m.visit == state.visit and m.measure in measures and measures[m.measure].provokes
                for m in state.measurements)  # fmt: skip
    return tests + taken


def _visit_ends(reading: Reading) -> Iterator[tuple[ev.Recorded, CaseState]]:
    """The close of each visit; for one that was not closed, the last line."""
    last: tuple[ev.Recorded, CaseState] | None = None
    for r, state in reading.turns:
        if isinstance(r.event, ev.VisitClosed):
            yield r, state
            last = None
        elif state.visits:
            last = (r, state)
    if last is not None and not is_final_visit_closed(last[1]):
        yield last


Count = Callable[[Reading, Sequence[Moment]], Iterator[Fault]]
_COUNTS: tuple[Count, ...] = (
    _danger,
    _withdrawn,
    _override,
    _no_agreement,
    _screening,
    _claims,
    _open_loops,
    _first_idea,
    _stopped_early,
    _over_tested,
)
