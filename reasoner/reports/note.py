"""The visit note: led by the clinician's own conclusion; each line says which visit it is from.

The tool's chances never enter it. Screens are given by state and what they do not exclude; what is missing is listed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from reasoner.advice.records import ScreenAdvice
from reasoner.consult.frame import open_items
from reasoner.consult.recall import recall_lines
from reasoner.consult.situation import Situation, Stamp
from reasoner.consult.standing import Standing, standing
from reasoner.consult.words import of_side
from reasoner.graph.records import AlwaysAsk
from reasoner.reports.chart import progress_figure
from reasoner.reports.document import Block, Bullets, Document, Para, Section, Table
from reasoner.reports.dossier import CAUTION, Dossier
from reasoner.reports.phrases import (
    closing,
    finding_name,
    handed_over,
    history,
    latest,
    loop_lines,
    measured_table,
    option_name,
    orders,
    side_lines,
    since_last,
    who,
)

__all__ = ["note", "screen_lines"]

_STORY = (
    "problem", "where", "eases", "day", "episode", "past", "health", "work", "goal", "worries", "straight_after",
    "that_night", "next_day", "unwanted", "home_done", "health_change",
)  # fmt: skip
_EARLIER = 8  # treatments of earlier visits that a note names
_PLANS = ("plan", "home", "next_visit", "return_if")


def note(d: Dossier) -> Document:
    """The note of a case, the latest visit first in mind; an empty part says so where its absence matters."""
    stands = standing(d.knowledge, d.state, d.as_of)
    recall = recall_lines(d.knowledge, d.state, d.advice, d.as_of)
    parts: tuple[tuple[str, Iterable[Block]], ...] = (
        ("Before anything else", _list((*recall, *_withdrawn(d)))),
        ("Clinician's conclusion", _list(_conclusions(d), "not written yet")),
        ("Who", _list((who(d), *history(d), *orders(d)))),
        ("Story", _list(_story(d), "not recorded")),
        ("Danger screens", _list(screen_lines(d, stands), "none judged")),
        ("Found", _list(_findings(d))),
        ("Measured", _measured(d)),
        ("Done", _list(_done(d), "nothing hands-on")),
        ("Plan", _list(_plan(d, stands), "not written yet")),
        ("Open items", _list(_open_items(d), "none")),
        ("Notes", _list(_other_notes(d))),
    )
    made = ((title, tuple(blocks)) for title, blocks in parts)
    return Document(
        kind="note",
        title=f"Visit note  {d.state.case}  {d.knowledge.region.name}",
        subtitle=(f"Visit {d.state.visit}, {d.moment(d.as_of)}, by {d.clinician}.", CAUTION),
        sections=tuple(Section(title, blocks) for title, blocks in made if blocks),
        footer=d.ending,
        invented=d.invented,
        paper=d.clinic.paper,
    )


def _list(lines: Iterable[str], empty: str = "") -> list[Block]:
    items = tuple(lines)
    if items:
        return [Bullets(items)]
    return [Para(empty)] if empty else []


def _notes(d: Dossier, headings: Iterable[str], *, labelled: bool) -> Iterator[str]:
    for heading in headings:
        for one in d.state.notes:
            if one.heading == heading:
                label = _label(heading) if labelled else ""
                yield f"{label}{one.text} ({d.visit_words(one.visit)})"


def _label(heading: str) -> str:
    return f"{heading.replace('_', ' ')}: "


def _conclusions(d: Dossier) -> Iterator[str]:
    """The latest first."""
    return reversed(tuple(_notes(d, ("conclusion",), labelled=False)))


def _other_notes(d: Dossier) -> Iterator[str]:
    known = {"conclusion", "handover", *_STORY, *_PLANS}
    for one in d.state.notes:
        if one.heading not in known:
            yield f"{one.heading.replace('_', ' ')}: {one.text} ({d.visit_words(one.visit)})"
    for judged in d.state.judgements:
        yield f"own judgement before the tool's: {judged.words} ({d.visit_words(judged.visit)})"


def _story(d: Dossier) -> Iterator[str]:
    yield from _notes(d, _STORY, labelled=True)
    yield from since_last(d)
    if d.state.function_words:
        yield f'function to retest, in their words: "{d.state.function_words}"'
    seen = d.state.irritability
    if seen is not None:
        intensity = f"{seen.intensity:g} of 10" if seen.intensity is not None else "how bad not known"
        minutes = f"eases in {seen.minutes:g} min" if seen.minutes is not None else "time to ease not known"
        yield f"set off by {seen.activity or 'not said'}: {intensity}, {minutes} ({d.visit_words(seen.visit)})"


# ------------------------------------------------------------------------------------------------ screens


def screen_lines(d: Dossier, stands: Iterable[Standing]) -> Iterator[str]:
    """Every screen by state, most pressing first, with what its state does not exclude."""
    waiting: list[str] = []
    apart: list[ScreenAdvice] = []
    for one in stands:
        words = ", ".join(finding_name(d, *_parts(m)) for m in one.met_by)
        by = f" (by: {words})" if words else ""
        yield f"MET {one.screen.name}, {one.screen.send.replace('_', ' ')}, {d.visit_words(one.visit)}{by}"
        yield f"  {one.screen.say_met}"
        yield f"  Next: {one.screen.next_step}"
        if one.screen.not_excluded:
            yield f"  Not excluded: {one.screen.not_excluded}"
    for made in d.state.resolutions:
        screen = d.knowledge.screens.get(made.screen)
        yield (
            f"resolved {screen.name if screen else made.screen}: {made.done}; result {made.result}; read by "
            f"{made.read_by}{', ' + made.when if made.when else ''}; not excluded by it: {made.not_excluded} "
            f"({d.visit_words(made.visit)})"
        )
    for judged in d.advice.screens:
        if judged.state == "not_met":
            yield f"criteria not met on these answers: {judged.name}. Not excluded: {judged.not_excluded or 'itself'}"
        elif judged.state == "open" and not judged.resolved:
            waiting.append(judged.name)
        elif judged.state == "does_not_apply" and not judged.resolved:
            apart.append(judged)
    if waiting:
        yield "open, not excluded: " + "; ".join(waiting)
    if apart:
        yield "not in question on these answers, so not judged and not excluded: " + _pressing_first(apart)


def _pressing_first(apart: Sequence[ScreenAdvice]) -> str:
    """Emergencies and same-day screens by name, the rest by number: the data exports name them all."""
    named = [s.name for s in apart if s.send in ("emergency", "same_day")]
    more = len(apart) - len(named)
    rest = f"{'and ' if named else ''}{more} less urgent"
    return "; ".join((*named, *((rest,) if more else ())))


def _parts(met_by: str) -> tuple[str, str]:
    finding, _, side = met_by.partition("@")
    return finding, side


def _withdrawn(d: Dossier) -> Iterator[str]:
    for w in d.state.withdrawn:
        yield f"danger answer taken back after its screen had fired: {finding_name(d, w.finding, w.side)}: {w.reason}"


# ------------------------------------------------------------------------------------------------ found, measured, done


def _findings(d: Dossier) -> Iterator[str]:
    answers = latest(d)
    grouped: set[tuple[str, str]] = set()
    for bundle in d.knowledge.region.always_ask:
        of_bundle = [a for a in answers if a.finding in bundle.findings and a.visit == d.state.visit]
        if _all_absent(bundle, {a.finding: a.value for a in of_bundle}):
            grouped |= {(a.finding, a.side) for a in of_bundle}
    unsure = [f"{finding_name(d, a.finding, a.side)} (sure {a.sure:g})" for a in answers if a.sure is not None]
    for value, said in (("present", "present"), ("unknown", "asked, not known"), ("absent", "absent")):
        by_side: dict[str, list[str]] = {}
        for a in answers:
            if a.value == value and a.sure is None and (a.finding, a.side) not in grouped:
                name = finding_name(d, a.finding, "") + ("" if a.visit == d.state.visit else f" (visit {a.visit})")
                by_side.setdefault(of_side(a.side), []).append(name)
        yield from (f"{said}{side}: " + "; ".join(names) for side, names in sorted(by_side.items()))
    if unsure:
        yield "unsure: " + "; ".join(unsure)
    asked = [b for b in d.knowledge.region.always_ask if any(f in b.findings for f, _ in grouped)]
    if asked:
        yield f"stop-now questions, every part answered no this visit ({len(asked)} of "\
              f"{len(d.knowledge.region.always_ask)}):"
        yield from (f"  {b.ask}" for b in asked)


def _all_absent(bundle: AlwaysAsk, said: dict[str, str]) -> bool:
    return bool(bundle.findings) and all(said.get(f) == "absent" for f in bundle.findings)


def _measured(d: Dossier) -> Iterator[Block]:
    rows = measured_table(d)
    if rows:
        yield Table("Measures with their 95 % error", ("what", "value", "how", "when"), rows)
    differences = tuple(side_lines(d))
    if differences:
        yield Bullets(differences)
    figure = progress_figure(d)
    if figure is not None:
        yield figure


def _done(d: Dossier) -> Iterator[str]:
    earlier = [p for p in d.state.loops if p.visit != d.state.visit]
    if len(earlier) > _EARLIER:
        yield f"{len(earlier) - _EARLIER} treatments of earlier visits: in the record"
    for loop in earlier[-_EARLIER:]:
        yield next(loop_lines(d, loop))
    for loop in d.state.loops:
        if loop.visit == d.state.visit:
            yield from loop_lines(d, loop)
    given = {(p.option, p.visit) for p in d.state.loops}
    for consent in d.state.consents:
        if not consent.agreed and (consent.option, consent.visit) not in given:
            yield f"{option_name(d, consent.option)}: refused ({d.visit_words(consent.visit)})"


def _plan(d: Dossier, stands: Iterable[Standing]) -> Iterator[str]:
    """What was handed over first, then the latest of each part; what was planned before a pressing screen was met is
    marked, not hidden."""
    pressing = [s for s in stands if s.screen.send in ("emergency", "same_day")]
    yield from handed_over(d)
    wait = f"[has to wait: {pressing[0].screen.name}] " if pressing else ""
    for heading in _PLANS:
        mark = wait if heading in ("home", "next_visit") else ""
        visit = max((n.visit for n in d.state.notes if n.heading == heading), default=0)
        told = [n for n in d.state.notes if n.heading == heading and n.visit == visit]
        yield from (f"{mark}{_label(heading)}{n.text} ({d.visit_words(n.visit)})" for n in told)
    yield from closing(d)


def _open_items(d: Dossier) -> Iterator[str]:
    """What is missing: as found on closing the visit, or as it stands while it is open."""
    visit = d.state.visits[-1] if d.state.visits else None
    for loop in d.state.loops:
        if not loop.retested and not loop.excused:
            yield f"{option_name(d, loop.option)}: not retested"
    if visit is not None and visit.closed_at is not None:
        left = (i for i in visit.closing.get("open_items", ()) if not i.startswith("recall "))  # said on top
        yield from (f"when the visit was closed: {item}" for item in left)
    else:
        yield "the visit is not closed"
        case = Situation(d.knowledge, d.state, lambda: d.advice, Stamp(d.as_of, d.by, d.role))
        yield from (item for item in open_items(case) if not item.startswith("recall "))
