"""What the tool advised, as a short event: written when options are looked at, before an act, and at the end."""

from __future__ import annotations

from reasoner.advice.records import Advice, OptionAdvice
from reasoner.case.events import Advised
from reasoner.case.state import Side
from reasoner.consult.judging import judgement_first
from reasoner.consult.situation import Decision, Situation

__all__ = ["advised", "option_advice", "summary_of", "take_advice"]


def summary_of(advice: Advice) -> Advised:
    """The advice in ids."""
    leads: dict[str, str] = {}
    for hypothesis in advice.hypotheses:
        leads.setdefault(hypothesis.list, hypothesis.id)

    ranked = sorted(advice.options, key=lambda o: -(o.value or 0.0))

    def options(state: str) -> tuple[str, ...]:
        """What hands would do, first first; the rest of the lanes can be worked out again from the record."""
        return tuple(dict.fromkeys(o.id for o in ranked if o.state == state and o.relevant and o.lane == "try_now"))

    def screens(state: str) -> tuple[str, ...]:
        return tuple(s.id for s in advice.screens if s.state == state and not s.resolved)

    return Advised(
        blocked=advice.blocked,
        complete=advice.screening_complete,
        screens_met=screens("met"),
        screens_open=screens("open"),
        leads=tuple(f"{kind}:{ident}" for kind, ident in leads.items()),
        offered=options("offered"),
        caution=options("caution"),
        not_yet=options("not_yet"),
        barred=options("barred"),
    )


def advised(case: Situation) -> tuple[Advised, ...]:
    """The event, unless the same was already written last."""
    now = summary_of(case.advice)
    before = [r.event for r in case.state.log if isinstance(r.event, Advised)]
    return () if before and before[-1] == now else (now,)


def take_advice(case: Situation) -> Decision:
    """Look at the options. In some roles one's own judgement comes first."""
    return judgement_first(case) or Decision(advised(case))


def option_advice(case: Situation, option: str, side: Side) -> OptionAdvice | None:
    """What is advised about one option on one side."""
    for entry in case.advice.options:
        if entry.id == option and entry.side in (None, side):
            return entry
    return None
