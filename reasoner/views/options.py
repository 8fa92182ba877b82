"""Options in four lanes that are never merged, each with its state; values in words; the same care for yes and no."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from textwrap import shorten

from reasoner.advice.records import Advice, OptionAdvice
from reasoner.consult.words import listed, sureness
from reasoner.graph.knowledge import Knowledge
from reasoner.views.beliefs import stop_line
from reasoner.views.page import Block, Gap, Heading, Page, Para, Rows
from reasoner.views.screens import alert, fact_name, is_begun

__all__ = ["LANES", "no_difference", "page", "value_words"]

LANES = {
    "due": "Due at this stage anyway",
    "try_now": "Try now and retest",
    "protect": "Protect or wait",
    "ask_or_send": "Ask or send",
}
_NEAR = 0.10  # values closer than this are not told apart
_MOST = 4
_MOST_A_SIGN = 3
_LONGEST = 90  # letters of one caution in a row
_COLUMNS = "chance worth having, if the studies hold / if no more than touch"


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
        blocks += _by_hand(here, knowledge)
        blocks += _closed(here, knowledge)
    return (*blocks, *_telling(advice))


def _telling(advice: Advice) -> list[Block]:
    """Treating as a question, and whether any answer left would change what comes first."""
    blocks: list[Block] = []
    if advice.trials and not advice.blocked:
        best = advice.trials[0]
        blocks.append(Para(f"its response would tell most about what limits: {best.ask}", tone="quiet"))
    return [*blocks, *stop_line(advice)]


def _by_hand(options: Sequence[OptionAdvice], knowledge: Knowledge) -> list[Block]:
    """Is anything by hand open? A no is an answer, and is said."""
    for option in options:
        record = knowledge.options.get(option.id)
        classes = record.load_classes if record is not None and option.lane == "try_now" else ()
        if option.state in ("offered", "caution") and any(knowledge.load_classes[c].hands_on for c in classes):
            return []
    return [Gap(), Para("Nothing by hand is open now.", tone="strong")]


def value_words(option: OptionAdvice) -> str:
    """".38 if the studies hold, .07 if it does no more than touch"; says so where there is no figure."""
    if option.value is None or option.chance_real_change is None:
        return "no figure for this sign"
    text = f"{sureness(option.chance_real_change)} if the studies hold"
    if option.if_touch is not None:
        text += f", {sureness(option.if_touch)} if it does no more than touch"
    return f"{text}; certainty {option.certainty.replace('_', ' ')}" if option.certainty else text


def no_difference(options: Sequence[OptionAdvice]) -> list[OptionAdvice]:
    """Of options ranked for one sign the first ones, as far as they cannot be told apart; empty if one stands alone.

    Intervals of their values that overlap the first one's; where none were drawn, values that lie close.
    """
    valued = [o for o in options if o.value is not None]
    near = [o for o in valued if _overlap(valued[0], o)]
    return near if len(near) > 1 else []


def _overlap(first: OptionAdvice, other: OptionAdvice) -> bool:
    if first.range is None or other.range is None:
        return (first.value or 0) - (other.value or 0) < _NEAR
    return other.range[1] >= first.range[0]


def _lane(
    title: str, lane: str, options: list[OptionAdvice], advice: Advice, knowledge: Knowledge, most: int
) -> list[Block]:
    open_ = [o for o in options if o.state in ("offered", "caution")]
    if lane == "ask_or_send":
        open_ = _called_for(open_, advice, knowledge)
    if not open_:
        return []
    shared = _shared_cautions(open_)
    blocks: list[Block] = [Gap(), Heading(title, _COLUMNS if lane == "try_now" else "")]
    if lane == "try_now":
        blocks += _by_sign(open_, shared, advice, knowledge, most)
    else:
        blocks.append(Rows(tuple((o.name, _note(o, shared)) for o in open_[:most]), first=46))
        blocks += _left_out(len(open_) - most)
    blocks += [Para(f"for these, mind: {reason.rstrip('.')}", tone="caution") for reason in shared]
    missing = Counter(name for o in open_ if o.state == "caution" for name in o.missing)
    if missing:
        names = listed((fact_name(knowledge, n) for n, _ in missing.most_common()), 4)
        blocks.append(Para(f"what would tell: {names}", tone="quiet"))
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


def _left_out(count: int, indent: int = 2) -> list[Block]:
    return [Para(f"and {count} more (options all)", indent=indent, tone="quiet")] if count > 0 else []


def _by_sign(
    options: list[OptionAdvice], shared: tuple[str, ...], advice: Advice, knowledge: Knowledge, most: int
) -> list[Block]:
    """One table a retest sign: values of different signs are never compared."""
    blocks: list[Block] = []
    shown = most if most > _MOST else _MOST_A_SIGN
    for sign in dict.fromkeys(o.sign for o in options if o.value is not None):
        of_sign = sorted((o for o in options if o.sign == sign and o.value is not None), key=lambda o: -(o.value or 0))
        measure = knowledge.measures.get(sign)
        blocks.append(Para(f"on {measure.name if measure else sign}, straight after", tone="quiet"))
        blocks.append(Rows(tuple(_valued_row(o, shared, knowledge) for o in of_sign[:shown]), indent=4, first=40))
        blocks += _left_out(len(of_sign) - shown, indent=4)
        alike = no_difference(of_sign)
        if alike:
            names = listed((o.name for o in alike), 3)
            blocks.append(Para(f"no clear difference between {names}: choose by consent, skill, preference", indent=4))
    blocks += _against_waiting(options, advice)
    unranked = [o.name for o in options if o.value is None]
    if unranked:
        blocks.append(Para(f"no figure for this sign: {listed(unranked, most)}", tone="quiet"))
    return blocks


def _valued_row(option: OptionAdvice, shared: tuple[str, ...], knowledge: Knowledge) -> tuple[str, ...]:
    record = knowledge.options.get(option.id)
    effect = next((e for e in record.effects if e.sign == option.sign), None) if record is not None else None
    parts = [f"{sureness(option.chance_real_change or 0)} / {sureness(option.if_touch or 0)}"]
    parts.append(f"certainty {option.certainty.replace('_', ' ')}")
    if effect is not None and effect.contrary:
        parts.append(f"{len(effect.contrary)} found nothing or harm")
    note = _note(option, shared)
    return (option.name, "; ".join([", ".join(parts), note] if note else [", ".join(parts)]))


def _shared_cautions(options: Sequence[OptionAdvice]) -> tuple[str, ...]:
    """Cautions that more than half of these have: said once, for all."""
    cautioned = [o for o in options if o.state == "caution"]
    seen = [reason for o in cautioned for reason in dict.fromkeys(o.reasons)]
    return tuple(dict.fromkeys(r for r in seen if len(options) > 2 and seen.count(r) * 2 > len(options)))


def _against_waiting(options: Sequence[OptionAdvice], advice: Advice) -> list[Block]:
    """Waiting is the line everything is compared with."""
    if advice.waiting is None:
        return []
    blocks: list[Block] = [Para(f"waiting: {sureness(advice.waiting)}")]
    valued = [o.value for o in options if o.value is not None]
    if valued and max(valued) <= advice.waiting:
        blocks.append(Para("nothing here beats waiting: hands-on may not be indicated", tone="strong"))
    return blocks


def _note(option: OptionAdvice, shared: tuple[str, ...]) -> str:
    if option.state != "caution":
        return ""
    told = [_short(r.rstrip(".")) for r in dict.fromkeys(option.reasons) if r not in shared]
    return "mind: " + listed(told, 2) if told else ""


def _short(reason: str) -> str:
    """A long reason is cut at a word; `why` gives all of it."""
    return shorten(reason, _LONGEST, placeholder=" ... (why)")


def _closed(options: list[OptionAdvice], knowledge: Knowledge) -> list[Block]:
    """What is not open: the answers that most wait for, then the barred ones, never ranked."""
    waiting = [o for o in options if o.state == "not_yet"]
    blocks: list[Block] = [Gap(), Heading("Not yet")] if waiting else []
    first = [o for o in waiting if set(o.missing) & _asked_first(knowledge)]
    if first:
        blocks.append(Para(f"the stop-now questions come first: {len(first)} options wait for them"))
    blocks += _waiting_for([o for o in waiting if o not in first], knowledge)
    barred = [o for o in options if o.state == "barred"]
    if barred:
        blocks += [Gap(), Heading("Barred"), *_with_reason(barred)]
    return blocks


def _asked_first(knowledge: Knowledge) -> set[str]:
    return {name for b in knowledge.region.always_ask for name in (*b.findings, *b.context)}


def _waiting_for(options: list[OptionAdvice], knowledge: Knowledge) -> list[Block]:
    """The answers that would open most, first; options whose reason is no missing answer are told with it."""
    wanted = Counter(name for o in options for name in o.missing)
    alone: dict[str, list[str]] = {}
    for option in options:
        if len(option.missing) == 1:
            alone.setdefault(option.missing[0], []).append(option.name)
    blocks: list[Block] = []
    rows = tuple(
        (f"{fact_name(knowledge, n)}?", f"opens {listed(alone[n], 2)}" if n in alone else f"{count} wait for it")
        for n, count in wanted.most_common(_MOST)
    )
    if rows:
        blocks.append(Rows(rows, first=46))
        left = len(wanted) - len(rows)
        hint = "why NAME tells what an option waits for"
        blocks.append(Para(f"and {left} more answers; {hint}" if left > 0 else hint, tone="quiet"))
    return [*blocks, *_with_reason([o for o in options if not o.missing])]


def _with_reason(options: list[OptionAdvice]) -> list[Block]:
    reasons: dict[str, list[str]] = {}
    for option in options:
        reasons.setdefault(_why(option), []).append(option.name)
    return [Para(f"{listed(names, 4)}: {why}") for why, names in reasons.items()]


def _why(option: OptionAdvice) -> str:
    """The strictest reason, which comes first; `why NAME` gives all of them."""
    return option.reasons[0].rstrip(".") if option.reasons else "not now"
