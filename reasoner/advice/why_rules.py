"""Why an option, screen or finding is as it is: gates, verdicts, figures and sources."""

from __future__ import annotations

from reasoner.advice.explanation import Explanation, Section, chance_words, name_of, strength_words, words_in
from reasoner.advice.figures import effect_of, figures_of
from reasoner.advice.side import SideView
from reasoner.advice.sources import basis_words, cite
from reasoner.advice.treatments import judge_option, worth_of
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Finding, OptionRecord, Screen
from reasoner.safety.rules import Outcome, evaluate
from reasoner.safety.screens import Screening

__all__ = ["why_finding", "why_option", "why_screen"]


def why_option(option: OptionRecord, view: SideView) -> Explanation:
    knowledge = view.facts.knowledge
    gate = judge_option(option, view.gates)
    barriers = tuple(
        (b.state.replace("_", " "), b.say, basis_words(knowledge, b.basis, b.evidence)) for b in gate.barriers
    )
    sections = [
        Section("state", ((gate.state.replace("_", " "), "" if barriers else "no bar or caution on these answers"),)),
        Section("gates", barriers),
    ]
    figures, effect = figures_of(option, view.facts), effect_of(option, view.facts)
    if option.lane == "try_now" and figures is not None and gate.state != "barred":
        worth = worth_of(option, figures, view.beliefs)
        sections.append(
            Section(
                f"chance of a worthwhile change on {knowledge.measures[figures.sign].name}",
                (
                    ("if the studies hold", chance_words(worth.if_hold)),
                    ("if it does no more than touch", chance_words(worth.if_touch)),
                    ("weighed by certainty", f"{chance_words(worth.value)} ({figures.certainty.replace('_', ' ')})"),
                    ("figures", basis_words(knowledge, figures.basis, figures.evidence)),
                ),
            )
        )
        if effect is not None and effect.certainty_reasons:
            sections.append(Section("why no more certain", tuple((why, "") for why in effect.certainty_reasons)))
        if effect is not None and effect.short_term_only:
            sections.append(Section("how long", (("figures are of the change straight after it, no later", ""),)))
    contrary = tuple(dict.fromkeys(c for e in option.effects for c in e.contrary))
    if contrary:
        rows = [(cite(knowledge, c), knowledge.evidence[c].says if c in knowledge.evidence else "") for c in contrary]
        sections.append(Section("what speaks against it", tuple(rows)))
    if option.dose is not None:
        dose = (option.dose.text, basis_words(knowledge, option.dose.basis, option.dose.evidence))
        sections.append(Section("dose", (dose,)))
    if option.equipment:
        sections.append(Section("needs", ((", ".join(option.equipment), ""),)))
    name = option.name if view.label is None else f"{option.name}, {view.label}"
    return Explanation("option", option.id, name, tuple(s for s in sections if s.rows))


def why_screen(screen: Screen, screening: Screening) -> Explanation:
    knowledge = screening.facts.knowledge
    result = screening.result(screen.id)
    parts = (("in use", screen.use_when), ("made for", screen.valid_when), ("criteria", screen.rule))
    rows = [
        (label, _verdict_words(label, outcome), _reasons(knowledge, outcome))
        for label, rule in parts
        if rule is not None
        for outcome in (evaluate(rule, screening.rules),)
    ]
    sections = [
        Section("state", ((result.state.replace("_", " "), screen.say_met if result.state == "met" else ""),)),
        Section("how it is judged", tuple(rows)),
        Section("next step", ((screen.next_step, ""),)),
    ]
    if screen.not_excluded:
        sections.append(Section("what it does not exclude", ((screen.not_excluded, ""),)))
    if screen.resolve_by:
        sections.append(Section("what would answer it", ((screen.resolve_by, ""),)))
    if result.score is not None:
        low, high = result.score
        points = f"{low:g}" if low == high else f"{low:g} to {high:g}"
        sections.append(Section("score beside it (never unblocks)", ((points, ""),)))
    said = [("basis", basis_words(knowledge, screen.basis, screen.evidence))]
    if screen.specificity is not None:
        spec = screen.specificity
        share = chance_words(knowledge.number(spec))
        source = basis_words(knowledge, spec.basis, spec.evidence)
        said.append(("of those without it, not flagged", f"{share}   {source}"))
    return Explanation("screen", screen.id, screen.name, (*sections, Section("says who", tuple(said))))


def why_finding(knowledge: Knowledge, finding: Finding) -> Explanation:
    rows = [("how", finding.ask), ("counts as present", finding.present_when), ("holds for", finding.holds_for)]
    group = knowledge.group_of.get(finding.id)
    linked = tuple(
        (h.name, strength_words(link), basis_words(knowledge, link.basis, link.evidence))
        for h in knowledge.hypotheses.values()
        for link in h.produces
        if link.finding in (finding.id, group)
    )
    leak, spared = finding.leak, tuple((name_of(knowledge, h), "") for h in finding.reassuring_about)
    sections = [
        Section("what it is", tuple((k, v) for k, v in rows if v)),
        Section("counts once, together with", _members(knowledge, group, finding.id)),
        Section("brought by", linked),
        Section("its absence never speaks against", spared),
    ]
    if leak is not None:
        without = f"{chance_words(knowledge.number(leak))}   {basis_words(knowledge, leak.basis, leak.evidence)}"
        sections.append(Section("chance of it with none of them", ((without, ""),)))
    screens = tuple((s.name, s.send.replace("_", " ")) for s in knowledge.screens.values() if _mentions(s, finding.id))
    sections.append(Section("read by the screens", screens))
    return Explanation("finding", finding.id, finding.name, tuple(s for s in sections if s.rows))


def _members(knowledge: Knowledge, group: str | None, own: str) -> tuple[tuple[str, ...], ...]:
    if group is None:
        return ()
    return tuple((name_of(knowledge, m.finding), "") for m in knowledge.groups[group].members if m.finding != own)


def _mentions(screen: Screen, finding: str) -> bool:
    return any(finding in words_in(rule) for rule in (screen.use_when, screen.valid_when, screen.rule))


def _verdict_words(label: str, outcome: Outcome) -> str:
    if outcome.verdict.unknown:
        return "not known"
    if outcome.verdict.certainly:
        return "met" if label == "criteria" else "yes"
    return {"criteria": "not met", "made for": "no: outside whom it was made for"}.get(label, "no")


def _reasons(knowledge: Knowledge, outcome: Outcome) -> str:
    parts = []
    if outcome.met_by:
        parts.append("by " + ", ".join(name_of(knowledge, n) for n in outcome.met_by))
    if outcome.missing:
        parts.append("missing " + ", ".join(name_of(knowledge, n) for n in outcome.missing))
    return "; ".join(parts)
