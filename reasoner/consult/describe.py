"""Any event in a few plain words: for undo, for the timeline, for whoever reads the record."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from reasoner.case import events as ev
from reasoner.consult import words
from reasoner.graph.knowledge import Knowledge

__all__ = ["clinic_words", "describe"]


def describe(knowledge: Knowledge, event: ev.Event) -> str:
    """One line. Names the pack no longer has are shown as their id."""
    say = _SAY.get(type(event))
    return say(knowledge, event) if say is not None else type(event).__name__.lower()


def clinic_words(event: ev.ClinicStated) -> str:
    """Whose knowledge is laid over the shipped one."""
    if event.set_aside:
        return "the clinic's own knowledge is left out, as asked for"
    return f"clinic's knowledge: {event.clinic} {event.copy[:12]}" if event.clinic else "no clinic's knowledge"


def _name(table: Mapping[str, Any], ident: str) -> str:
    record = table.get(ident)
    return record.name if record is not None else ident.replace("_", " ")


def _answered(k: Knowledge, e: ev.Answered) -> str:
    finding = k.findings.get(e.finding)
    if finding is None:
        return f"{e.finding}: {e.value}"
    return words.answered(finding, e.side, e.value, e.sure)


def _bundle(k: Knowledge, e: ev.BundleAnswered) -> str:
    if e.value == "present":
        return "yes to one of the stop-now questions"
    names = dict.fromkeys(_name(k.findings, entry.partition("@")[0]) for entry in e.findings)
    return f"{e.value}: {', '.join(names)}"


def _context(k: Knowledge, e: ev.ContextStated) -> str:
    value = e.value
    if e.name == "setting" and value in k.settings:
        value = k.settings[str(value)].name
    if isinstance(value, float):
        value = words.number(value)
    return f"{e.name}: {'not known' if value is None else value}"


def _anchor(k: Knowledge, e: ev.AnchorStated) -> str:
    name = e.anchor.replace("_", " ")
    return f"{name}: {'none' if e.none else 'not known' if e.days is None else f'{e.days} days ago'}"


def _immobilised(k: Knowledge, e: ev.ImmobilisedStated) -> str:
    if e.none or e.unknown:
        return f"immobilised: {'no' if e.none else 'not known'}"
    weeks = f"{words.number(e.weeks)} weeks" if e.weeks is not None else "weeks not known"
    return f"immobilised: {weeks}" + (f", {e.position.replace('_', ' ')}" if e.position else "")


def _surgery(k: Knowledge, e: ev.SurgeryStated) -> str:
    if e.none or e.unknown:
        return f"surgery: {'none' if e.none else 'not known'}"
    names = {p.id: p.name for p in k.region.procedures}
    name = names.get(e.procedure or "", e.procedure or "kind not known")
    return f"surgery: {name}, orders {e.orders.replace('_', ' ')}"


def _measured(k: Knowledge, e: ev.Measured) -> str:
    values = " ".join(words.number(v) for v in e.values)
    return f"{_name(k.measures, e.measure)}{words.of_side(e.side)} {values}" + (f", {e.setup}" if e.setup else "")


def _consent(k: Knowledge, e: ev.ConsentRecorded) -> str:
    said = {"given": "agreed", "refused": "not agreed", "withdrawn": "agreement taken back"}[e.answer]
    return f"{_name(k.options, e.option)}: {said}"


def _treated(k: Knowledge, e: ev.Treated) -> str:
    against = " against advice" if e.stood in ("not_yet", "barred") else ""
    dose = f", {e.dose}" if e.dose else ""
    late = " (written down afterwards)" if e.late else ""
    return f"given{against}: {_name(k.options, e.option)},{words.of_side(e.side)}{dose}{late}"


def _retested(k: Knowledge, e: ev.Retested) -> str:
    return f"retest: {e.verdict.replace('_', ' ')}" + (f" ({', '.join(e.unwanted)})" if e.unwanted else "")


def _advised(k: Knowledge, e: ev.Advised) -> str:
    if e.blocked:
        return f"advised: stop, {words.listed(_name(k.screens, s) for s in e.screens_met)}"
    offered = (*e.offered, *e.caution)
    return f"advised: {words.listed((_name(k.options, o) for o in offered), 3) or 'nothing to offer yet'}"


def _judged(k: Knowledge, e: ev.Judged) -> str:
    ranked = " > ".join(_name(k.hypotheses, h) for h in e.ranked) or e.words
    return f"own judgement: {ranked}" + (f", {e.confidence}" if e.confidence else "")


def _signs(k: Knowledge, e: ev.SignsChosen) -> str:
    return f"retest signs: {', '.join(_name(k.measures, s) for s in e.signs)}"


def _irritability(k: Knowledge, e: ev.IrritabilityStated) -> str:
    parts = [e.activity, e.effort]
    parts += [f"{words.number(e.intensity)} of 10"] if e.intensity is not None else []
    parts += [f"{words.number(e.minutes)} min"] if e.minutes is not None else []
    return f"irritability: {', '.join(p for p in parts if p)}"


def _any(k: Knowledge, ident: str) -> str:
    return _name(k.findings, ident) if ident in k.findings else _name(k.measures, ident)


def _flare(k: Knowledge, e: ev.FlareStated) -> str:
    lasted = "not known" if e.hours is None else "no" if e.hours == 0 else f"{words.number(e.hours)} hours"
    swelling = {"present": "; swelling new", "unknown": "; new swelling not known"}.get(e.swelling, "")
    return f"worse after the last visit: {lasted}{swelling}"


_SAY: Mapping[type[ev.Event], Callable[[Knowledge, Any], str]] = {
    ev.CaseOpened: lambda k, e: f"case opened ({e.kind})",
    ev.VisitOpened: lambda k, e: f"visit {e.number}",
    ev.AssessmentOpened: lambda k, e: "new assessment" + (f": {e.reason}" if e.reason else ""),
    ev.Paused: lambda k, e: "paused",
    ev.Resumed: lambda k, e: "resumed" + (f", taken over from {e.taken_from}" if e.taken_from else ""),
    ev.VisitClosed: lambda k, e: "visit closed",
    ev.Undone: lambda k, e: f"undone: number {e.target}" + (f" because {e.reason}" if e.reason else ""),
    ev.ClinicStated: lambda k, e: clinic_words(e),
    ev.Exported: lambda k, e: f"document: {e.document}",
    ev.PatientSimulated: lambda k, e: f"simulated patient {e.scenario}, seed {e.seed}",
    ev.Advised: _advised,
    ev.ContextStated: _context,
    ev.AnchorStated: _anchor,
    ev.ImmobilisedStated: _immobilised,
    ev.SurgeryStated: _surgery,
    ev.Answered: _answered,
    ev.BundleAnswered: _bundle,
    ev.AnswerWithdrawn: lambda k, e: f"withdrawn: {_name(k.findings, e.finding)}{words.of_side(e.side)}"
    + (f" because {e.reason}" if e.reason else ""),
    ev.Measured: _measured,
    ev.IrritabilityStated: _irritability,
    ev.CompetenceRecorded: lambda k, e: f"competence: {_name(k.load_classes, e.load_class)}",
    ev.SignsChosen: _signs,
    ev.GoalSet: lambda k, e: f"goal: {_name(k.measures, e.measure)}{words.of_side(e.side)} {words.number(e.value)}"
    + (f" ({e.words})" if e.words else ""),
    ev.ExamPlanned: lambda k, e: f"examination planned: {words.listed((_any(k, i) for i in e.must), 3)}; "
    f"{e.extent.replace('_', ' ')}",
    ev.FlareStated: _flare,
    ev.StallAnswered: lambda k, e: f"no progress: {e.choice.replace('_', ' ')}: {e.words}",
    ev.OrderHeard: lambda k, e: f"order by word of mouth, {e.by}, {e.when}: {e.text}",
    ev.HandedOver: lambda k, e: f"handed over to {e.to}, {e.at}; travels {e.travel}; told: {e.told}",
    ev.EpisodeEnded: lambda k, e: f"care here ends, {e.reason.replace('_', ' ')}: {e.outcome}",
    ev.Noted: lambda k, e: f"{e.heading.replace('_', ' ')}: {e.text}",
    ev.Judged: _judged,
    ev.ScreenResolved: lambda k, e: f"resolved: {_name(k.screens, e.screen)}: {e.done}, {e.result}",
    ev.ConsentRecorded: _consent,
    ev.Treated: _treated,
    ev.Retested: _retested,
    ev.RetestExcused: lambda k, e: f"no retest: {e.reason}",
}
