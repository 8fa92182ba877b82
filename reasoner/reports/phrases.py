"""Lines that several documents share: who, findings, measures with their error, what was done. No layout, no advice."""

from __future__ import annotations

from collections.abc import Iterator

from reasoner.case.state import Answer, Loop, Measurement, Side
from reasoner.consult.words import covered_words, number, of_side, signed
from reasoner.graph.records import Measure
from reasoner.measures.baseline import side_difference, value
from reasoner.measures.error import ErrorUsed, side_difference_error, standard_error
from reasoner.reports.dossier import Dossier

__all__ = [
    "VERDICTS", "changes", "closing", "consent_line", "finding_name", "handed_over", "history", "latest",
    "loop_lines", "measured_table", "option_name", "orders", "present_names", "reading", "side_lines", "since_last",
    "who",
]

VERDICTS = {
    "beyond": "change beyond measurement error and drift",
    "within": "change within measurement error and drift",
    "worse": "worse",
    "range_only": "range beyond error, function not",
    "no_comparison": "no comparison possible",
}
_Z95 = 1.96


def finding_name(d: Dossier, finding: str, side: Side | str) -> str:
    """How a present finding is said, with its side."""
    record = d.knowledge.findings.get(finding)
    name = (record.says or record.name) if record is not None else finding.replace("_", " ")
    return name + (f" {side}" if side in ("left", "right") else "")


def option_name(d: Dossier, option: str) -> str:
    """An option's name; its id if the loaded knowledge does not have it."""
    record = d.knowledge.options.get(option)
    return record.name if record is not None else option.replace("_", " ")


def latest(d: Dossier) -> tuple[Answer, ...]:
    """The latest answer to each finding and side, in the order first asked, of every visit."""
    return tuple({(a.finding, a.side): a for a in d.state.answers}.values())


def present_names(d: Dossier, *, danger: bool | None = None) -> list[str]:
    """What is present by the latest answers, of this visit unmarked, of an earlier one with its visit."""
    names = []
    for answer in latest(d):
        record = d.knowledge.findings.get(answer.finding)
        if answer.value != "present" or answer.sure is not None or record is None:
            continue
        if danger is None or record.danger == danger:
            visit = "" if answer.visit == d.state.visit else f" ({d.visit_words(answer.visit)})"
            names.append(finding_name(d, answer.finding, answer.side) + visit)
    return names


# ------------------------------------------------------------------------------------------------ who


def who(d: Dossier) -> str:
    """Age, sex and how it comes, in one line."""
    context = d.state.context
    setting = d.knowledge.settings.get(context.setting or "")
    parts = (
        f"age {number(context.age)}" if context.age is not None else "age not recorded",
        context.sex or "",
        f"side {context.side}" if context.side else "side not recorded",
        setting.name if setting is not None and setting.id != "not_stated" else "",
    )
    return ", ".join(p for p in parts if p)


def history(d: Dossier) -> Iterator[str]:
    """Injury, operation, cast: with days since and the date."""
    context = d.state.context
    for event, anchor in context.days_since.items():
        name = event.replace("_", " ")
        days, day = d.since(event)
        if anchor.none:
            yield f"{name}: none"
        elif days is None:
            yield f"{name}: time since not known"
        else:
            yield f"{name} {d.day(day)}, {days} days ago"
    surgery = context.surgery
    if surgery is not None and surgery.none:
        yield "operation: none"
    elif surgery is not None:
        known = {p.id: p.name for p in d.knowledge.region.procedures}
        parts = [known.get(surgery.procedure or "", surgery.procedure or "kind not known")]
        parts += [f"fixation {surgery.fixation}"] if surgery.fixation else []
        parts += [f"weight bearing {surgery.weight_bearing}"] if surgery.weight_bearing else []
        parts.append(f"orders {surgery.orders.replace('_', ' ')}")
        yield "operation: " + "; ".join(parts)
    if context.immobilised is not None and not context.immobilised.none:
        weeks, position = context.immobilised.weeks, context.immobilised.position
        length = f"{number(weeks)} weeks" if weeks is not None else "weeks not known"
        yield f"immobilised {length}, position {position or 'not known'}"


def handed_over(d: Dossier) -> Iterator[str]:
    """Emergencies handed over, and what was written about it in the clinician's own words."""
    for h in d.state.handovers:
        phoned = ", by phone first" if h.phoned else ""
        yield f"handed over to {h.to}{phoned}, {h.when}; travels: {h.travel}; told: {h.told} ({d.visit_words(h.visit)})"
    told = {h.visit for h in d.state.handovers}  # said in parts there, so the words of that visit's note add nothing
    for note in d.state.notes:
        if note.heading == "handover" and note.visit not in told:
            yield f"{note.text} ({d.visit_words(note.visit)})"


def orders(d: Dossier) -> Iterator[str]:
    """A surgeon's orders by word of mouth: they are looked up in writing."""
    for order in d.state.orders_heard:
        yield f"order by word of mouth: {order.text} (from {order.by}, {order.when}; not seen in writing)"


def since_last(d: Dossier) -> Iterator[str]:
    """How the visit before was borne."""
    for flare in d.state.flares:
        if flare.hours == 0:
            told = "not worse after the visit before"
        else:
            hours = "hours not known" if flare.hours is None else f"{number(flare.hours)} hours"
            told = f"worse after the visit before: {hours}"
        yield f"{told}; new swelling: {flare.swelling} ({d.visit_words(flare.visit)})"


def closing(d: Dossier) -> Iterator[str]:
    """What no progress was answered with, and the end of care here."""
    for stall in d.state.stalls:
        choice = stall.choice.replace("_", " ")
        yield f"no progress, answered with {choice}: {stall.words} ({d.visit_words(stall.visit)})"
    end = d.state.ending
    if end is not None:
        yield f"care here ended ({end.reason.replace('_', ' ')}, {d.visit_words(end.visit)}): {end.outcome}"
        yield f"  they go on by themselves with: {end.self_management}"
        yield f"  they come back if: {end.return_signs}"


# ------------------------------------------------------------------------------------------------ measures


def reading(record: Measure | None, m: Measurement) -> str:
    """The value with its unit, and how far it may be off: 3.3 cm (give or take 0.9)."""
    unit = _unit(record)
    said = f"{number(value(m.values))}{unit}"
    error = standard_error(record, m.tool, trials=len(m.values)) if record is not None else None
    return said + (f" (give or take {number(_Z95 * error.value)})" if error is not None else "")


def _unit(record: Measure | None) -> str:
    if record is None or not record.unit:
        return ""
    return " of 10" if record.unit == "0-10" else f" {record.unit}"


def measured_table(d: Dossier) -> tuple[tuple[str, ...], ...]:
    """Rows of (measure and side, value with error, how, when): all of this visit, and the latest of what was not
    measured in it."""
    latest = {(m.measure, m.side): m.seq for m in d.state.measurements if m.phase == "baseline"}
    rows = []
    for m in d.state.measurements:
        if m.visit != d.state.visit and latest.get((m.measure, m.side)) != m.seq:
            continue
        record = d.knowledge.measures.get(m.measure)
        name = record.name if record is not None else m.measure
        trials = ", ".join(number(v) for v in m.values) if len(m.values) > 1 else ""
        how = "; ".join(p for p in (f"trials {trials}" if trials else "", _tool(record, m.tool), m.setup) if p)
        rows.append((name + of_side(m.side), reading(record, m), how, f"{m.phase}, {d.visit_words(m.visit)}"))
    return tuple(rows)


def _tool(record: Measure | None, tool: str) -> str:
    return next((t.name for t in record.tools if t.id == tool), tool) if record is not None else tool


def side_lines(d: Dossier, visits: tuple[int, ...] | None = None) -> Iterator[str]:
    """How far the case's side falls short of the other, before treatment; of each measure first and last visit."""
    taken: dict[tuple[int, str], dict[str, Measurement]] = {}
    for m in d.state.measurements:
        if m.phase == "baseline" and m.side in ("left", "right") and (visits is None or m.visit in visits):
            taken.setdefault((m.visit, m.measure), {})[m.side] = m
    ours = d.state.context.side
    both = {key: sides for key, sides in taken.items() if len(sides) == 2 and ours in sides}
    seen: dict[str, list[int]] = {}
    for visit, measure in both:
        seen.setdefault(measure, []).append(visit)
    for (visit, measure), sides in both.items():
        record = d.knowledge.measures.get(measure)
        if record is None or visit not in (seen[measure][0], seen[measure][-1]):
            continue
        assert ours is not None
        this = sides[ours]
        other = sides["right" if ours == "left" else "left"]
        short = side_difference(value(this.values), value(other.values), record.better)
        error = side_difference_error(
            record, this.tool, trials=len(this.values), other_tool=other.tool, other_trials=len(other.values)
        )
        said = f"{record.name}: the {ours} is {_short(short, _unit(record))} the other"
        yield f"{said}{_against(short, error)} ({d.visit_words(visit)})"


def _short(short: float, unit: str) -> str:
    if number(abs(short)) == "0":
        return "level with"
    return f"{number(abs(short))}{unit} {'worse than' if short > 0 else 'better than'}"


def _against(short: float, error: ErrorUsed | None) -> str:
    if error is None:
        return "; no error is known for this measure"
    beyond = "beyond error" if abs(short) >= error.mdc95 else "within error"
    return f" (give or take {number(_Z95 * error.value)}): {beyond}"


# ------------------------------------------------------------------------------------------------ done


def changes(d: Dossier, loop: Loop) -> str:
    """What the retest of a loop measured: each sign before and after."""
    said = []
    for after in d.state.measurements:
        if after.loop != loop.number or after.phase != "retest":
            continue
        same = [
            m for m in d.state.measurements
            if (m.measure, m.side, m.visit) == (after.measure, after.side, after.visit) and m.seq < after.seq
        ]
        record = d.knowledge.measures.get(after.measure)
        name = record.name if record is not None else after.measure
        if same:
            before, now = value(same[-1].values), value(after.values)
            said.append(f"{name} {number(before)} to {number(now)}{_unit(record)} ({signed(now - before)})")
    return "; ".join(said)


def loop_lines(d: Dossier, loop: Loop) -> Iterator[str]:
    """One treatment: what, dose, how it ended, what the signs did, consent."""
    dose = loop.dose or "dose not recorded"
    late = " (written down afterwards)" if loop.late else ""
    name = option_name(d, loop.option)
    yield f"{name}{of_side(loop.side)}: {dose}; {_ended(loop)} ({d.visit_words(loop.visit)}){late}"
    measured = changes(d, loop)
    if measured:
        yield f"  {measured}"
    if loop.unwanted:
        yield "  newly unwanted: " + ", ".join(u.replace("_", " ") for u in loop.unwanted)
    if loop.against_advice:
        yield f"  given against advice: {loop.against_advice}"
    line = consent_line(d, loop)
    if line:
        yield f"  {line}"


def _ended(loop: Loop) -> str:
    if loop.excused:
        return f"not retested: {loop.excused}"
    if not loop.retested:
        return "not retested yet"
    return "retest: " + VERDICTS.get(loop.verdict or "", "no verdict")


def consent_line(d: Dossier, loop: Loop) -> str:
    """Agreement to what was given; nothing where a referral or question needs none."""
    record = d.knowledge.options.get(loop.option)
    if record is not None and record.lane == "ask_or_send":
        return ""
    given = [c for c in d.state.consents if c.option == loop.option and c.visit == loop.visit]
    if not given:
        return "consent not recorded"
    last = given[-1]
    if last.withdrawn:
        return "consent given, later withdrawn"
    covered = ", ".join(covered_words(last.covered))
    return ("agreed" if last.agreed else "refused") + (f"; talked through: {covered}" if covered else "")
