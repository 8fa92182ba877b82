"""Options in four lanes that are never merged, each with its state; values in words; the same care for yes and no."""

from __future__ import annotations

from collections.abc import Sequence

from reasoner.advice.records import Advice, OptionAdvice
from reasoner.consult.words import listed, sureness
from reasoner.graph.knowledge import Knowledge
from reasoner.views.page import Block, Gap, Heading, Page, Para
from reasoner.views.screens import alert, fact_name, is_begun

__all__ = ["LANES", "no_difference", "page", "value_words"]

LANES = {
    "due": "Due at this stage anyway",
    "try_now": "Try now and retest",
    "protect": "Protect or wait",
    "ask_or_send": "Ask or send",
}
_NEAR = 0.10  # values closer than this are not told apart
_MOST = 6


def page(advice: Advice, knowledge: Knowledge, *, everything: bool = False) -> Page:
    """The options that matter here; `everything`: no lane cut short."""
    blocks: list[Block] = [*alert(advice, knowledge)]
    if advice.not_covered_say:
        blocks.append(Para(advice.not_covered_say, tone="caution"))
    for side in dict.fromkeys(o.side for o in advice.options):
        here = [o for o in advice.options if o.side == side and o.relevant]
        if side:
            blocks += [Gap(), Heading(side.upper())]
        for lane, title in LANES.items():
            of_lane = [o for o in here if o.lane == lane]
            blocks += _lane(title, lane, of_lane, advice, knowledge, 99 if everything else _MOST)
        blocks += _closed(here, knowledge)
    return tuple(blocks)


def value_words(option: OptionAdvice) -> str:
    """".38 if the studies hold, .07 if it does no more than touch"; says so where there is no figure."""
    if option.value is None or option.chance_real_change is None:
        return "no figure for this sign"
    text = f"{sureness(option.chance_real_change)} if the studies hold"
    if option.if_touch is not None:
        text += f", {sureness(option.if_touch)} if it does no more than touch"
    return f"{text}; certainty {option.certainty.replace('_', ' ')}" if option.certainty else text


def no_difference(options: Sequence[OptionAdvice]) -> list[OptionAdvice]:
    """The first ones, as far as their values cannot be told apart; empty if the first stands alone."""
    valued = [o for o in options if o.value is not None]
    near = [o for o in valued if (valued[0].value or 0) - (o.value or 0) < _NEAR]
    return near if len(near) > 1 else []


def _lane(
    title: str, lane: str, options: list[OptionAdvice], advice: Advice, knowledge: Knowledge, most: int
) -> list[Block]:
    open_ = [o for o in options if o.state in ("offered", "caution")]
    if lane == "ask_or_send":
        open_ = _called_for(open_, advice, knowledge)
    if not open_:
        return []
    blocks: list[Block] = [Gap(), Heading(title)]
    if lane == "try_now":
        ranked = sorted(open_, key=lambda o: (o.value is None, -(o.value or 0.0)))
        for option in ranked[:most]:
            blocks += _valued(option, knowledge)
        left = len(ranked) - most
        blocks += [Para(f"and {left} more (options all)", tone="quiet")] if left > 0 else []
        return [*blocks, *_comparison(ranked, advice)]
    for option in open_[:most]:
        note = _note(option, knowledge)
        blocks.append(Para(f"{option.name}; {note}" if note else option.name))
    if len(open_) > most:
        blocks.append(Para(f"and {len(open_) - most} more (options all)", tone="quiet"))
    return blocks


def _called_for(options: list[OptionAdvice], advice: Advice, knowledge: Knowledge) -> list[OptionAdvice]:
    """Whom to ask or send: first for screens that are met; for open ones only once something of them is present."""
    met = {s.id for s in advice.screens if s.state == "met" and not s.resolved}
    begun = {s.id for s in advice.screens if is_begun(s, knowledge)}

    def rank(option: OptionAdvice) -> int:
        record = knowledge.options.get(option.id)
        wanted = set(record.for_screens) if record is not None else set()
        return 0 if wanted & met else 1 if wanted & begun else 2 if not wanted else 3

    return sorted((o for o in options if rank(o) < 3), key=rank)


def _valued(option: OptionAdvice, knowledge: Knowledge) -> list[Block]:
    blocks: list[Block] = [Para(option.name)]
    blocks.append(Para(_measured_in(option, knowledge) + value_words(option), indent=5, tone="quiet"))
    note = _note(option, knowledge)
    return [*blocks, Para(note, indent=5, tone="caution")] if note else blocks


def _measured_in(option: OptionAdvice, knowledge: Knowledge) -> str:
    sign = knowledge.measures.get(option.sign)
    record = knowledge.options.get(option.id)
    effect = next((e for e in record.effects if e.sign == option.sign), None) if record is not None else None
    short = ", short-term range only" if effect is not None and effect.short_term_only else ""
    against = f", {len(effect.contrary)} found nothing or harm" if effect is not None and effect.contrary else ""
    return f"on {sign.name}{short}{against}: " if sign is not None else ""


def _comparison(ranked: list[OptionAdvice], advice: Advice) -> list[Block]:
    blocks: list[Block] = []
    alike = no_difference(ranked)
    if alike:
        names = listed(o.name for o in alike)
        blocks.append(Para(f"no clear difference between {names}: choose by consent, skill, preference"))
    if advice.waiting is not None:
        blocks.append(Para(f"waiting: {sureness(advice.waiting)}"))
        valued = [o.value for o in ranked if o.value is not None]
        if valued and max(valued) <= advice.waiting:
            blocks.append(Para("nothing here beats waiting: hands-on may not be indicated", tone="strong"))
    return blocks


def _note(option: OptionAdvice, knowledge: Knowledge) -> str:
    """Why it is offered with a caution, and which answers would tell."""
    if option.state != "caution":
        return ""
    told = "; ".join(dict.fromkeys(r.rstrip(".") for r in option.reasons))
    missing = listed((fact_name(knowledge, n) for n in option.missing), 3)
    return f"mind: {told}{f' (ask: {missing})' if missing else ''}"


def _closed(options: list[OptionAdvice], knowledge: Knowledge) -> list[Block]:
    """What is not open: by the answer that is missing, then the barred ones, never ranked."""
    waiting = [o for o in options if o.state == "not_yet"]
    blocks: list[Block] = [Gap(), Heading("Not yet")] if waiting else []
    first = [o for o in waiting if set(o.missing) & _asked_first(knowledge)]
    if first:
        blocks.append(Para(f"the stop-now questions come first: {len(first)} options wait for them"))
    groups: dict[str, list[OptionAdvice]] = {}
    for option in (o for o in waiting if o not in first):
        key = listed((fact_name(knowledge, n) for n in option.missing), 2) + "?" if option.missing else _why(option)
        groups.setdefault(key, []).append(option)
    for key, members in sorted(groups.items(), key=lambda g: -len(g[1])):
        count = f" opens {len(members)} options" if len(members) > 1 else ""
        names = listed((o.name for o in members), 3)
        blocks.append(Para(f"{key}{count}: {names}" if members[0].missing else f"{names}: {key}"))
    barred = [o for o in options if o.state == "barred"]
    if barred:
        blocks += [Gap(), Heading("Barred")]
        reasons: dict[str, list[str]] = {}
        for option in barred:
            reasons.setdefault(_why(option), []).append(option.name)
        blocks += [Para(f"{listed(names, 4)}: {why}") for why, names in reasons.items()]
    return blocks


def _asked_first(knowledge: Knowledge) -> set[str]:
    return {name for b in knowledge.region.always_ask for name in (*b.findings, *b.context)}


def _why(option: OptionAdvice) -> str:
    return "; ".join(dict.fromkeys(r.rstrip(".") for r in option.reasons)) or "not now"
