"""Options in four lanes that are never merged, each with its state; values in words; the same care for yes and no."""

from __future__ import annotations

from collections.abc import Sequence

from reasoner.advice.records import Advice, OptionAdvice
from reasoner.consult.words import listed, sureness
from reasoner.graph.knowledge import Knowledge
from reasoner.views.page import Block, Gap, Heading, Page, Para, Rows
from reasoner.views.screens import alert, fact_name

__all__ = ["LANES", "no_difference", "page", "value_words"]

LANES = {
    "due": "Due at this stage anyway",
    "try_now": "Try now and retest",
    "protect": "Protect or wait",
    "ask_or_send": "Ask or send",
}
_NEAR = 0.10  # values closer than this are not told apart
_MOST = 6


def page(advice: Advice, knowledge: Knowledge) -> Page:
    """All options that matter here. While it is blocked only what may be asked or sent is listed."""
    blocks: list[Block] = [*alert(advice, knowledge)]
    if advice.not_covered_say:
        blocks.append(Para(advice.not_covered_say, tone="caution"))
    for side in dict.fromkeys(o.side for o in advice.options):
        here = [o for o in advice.options if o.side == side and o.relevant]
        if side:
            blocks += [Gap(), Heading(side.upper())]
        for lane, title in LANES.items():
            blocks += _lane(title, lane, [o for o in here if o.lane == lane], advice, knowledge)
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
    title: str, lane: str, options: list[OptionAdvice], advice: Advice, knowledge: Knowledge
) -> list[Block]:
    open_ = [o for o in options if o.state in ("offered", "caution")]
    if not open_:
        return []
    blocks: list[Block] = [Gap(), Heading(title)]
    if lane != "try_now":
        blocks.append(Rows(tuple((o.name, _note(o, knowledge)) for o in open_)))
        return blocks
    ranked = sorted(open_, key=lambda o: (o.value is None, -(o.value or 0.0)))
    for option in ranked[:_MOST]:
        blocks.append(Para(option.name))
        blocks.append(Para(_measured_in(option, knowledge) + value_words(option), indent=5, tone="quiet"))
        note = _note(option, knowledge)
        if note:
            blocks.append(Para(note, indent=5, tone="caution"))
    if len(ranked) > _MOST:
        blocks.append(Para(f"and {len(ranked) - _MOST} more (options all)", tone="quiet"))
    blocks += _comparison(ranked, advice)
    return blocks


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
    """What is not open: grouped by the answer that is missing, then the barred ones, never ranked."""
    blocks: list[Block] = []
    waiting = [o for o in options if o.state == "not_yet"]
    if waiting:
        blocks += [Gap(), Heading("Not yet")]
        groups: dict[str, list[OptionAdvice]] = {}
        for option in waiting:
            key = listed((fact_name(knowledge, n) for n in option.missing), 3) if option.missing else _why(option)
            groups.setdefault(key, []).append(option)
        for key, members in groups.items():
            names = listed((o.name for o in members), 3)
            count = f" ({len(members)} options)" if len(members) > 1 else ""
            blocks.append(Para(f"{key}?{count}: {names}" if members[0].missing else f"{names}: {key}"))
    barred = [o for o in options if o.state == "barred"]
    if barred:
        blocks += [Gap(), Heading("Barred")]
        reasons: dict[str, list[str]] = {}
        for option in barred:
            reasons.setdefault(_why(option), []).append(option.name)
        blocks += [Para(f"{listed(names, 4)}: {why}") for why, names in reasons.items()]
    return blocks


def _why(option: OptionAdvice) -> str:
    return "; ".join(dict.fromkeys(r.rstrip(".") for r in option.reasons)) or "not now"
