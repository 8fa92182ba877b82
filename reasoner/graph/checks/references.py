"""Every id named anywhere must be the id of something of the right kind."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from reasoner.graph.checks.base import Check, Spot, rule
from reasoner.graph.pack import Pack, based
from reasoner.graph.rules import rules_of, steps, wrong_forms
from reasoner.graph.source import FieldPath
from reasoner.problems import nearest

__all__ = ["CHECKS", "references"]

# kind -> (field, kind named there), the field holding one id or a list of ids
_FIELDS: dict[str, tuple[tuple[str, str], ...]] = {
    "finding": (("position", "position"), ("load_classes", "load_class"), ("reassuring_about", "hypothesis"),
                ("general_for", "finding")),
    "group": (("reference", "hypothesis"),),
    "masking": (("when", "finding"), ("hides", "finding")),
    "hypothesis": (("screens", "screen"),),
    "measure": (("position", "position"), ("load_classes", "load_class")),
    "option": (
        ("load_classes", "load_class"),
        ("acts_on", "hypothesis"),
        ("for_screens", "screen"),
        ("position", "position"),
        ("retest", "measure"),
    ),
    "screen": (("score", "finding"), ("hypotheses", "hypothesis")),
    "region": (
        ("function_sign", "measure"), ("pain_sign", "measure"),
        ("main_measure", "measure"), ("resting_pain", "measure"),
    ),
}
# kind -> (list field, field of its items, kind named there)
_ITEM_FIELDS: dict[str, tuple[tuple[str, str, str], ...]] = {
    "group": (("members", "finding", "finding"),),
    "hypothesis": (
        ("produces", "finding", "sign"), ("produces", "study_setting", "setting"), ("shifted_by", "by", "hypothesis"),
    ),
    "measure": (("errors", "tool", "tool"), ("courses", "settings", "setting")),
    "option": (("effects", "sign", "measure"), ("effects", "contrary", "evidence")),
    "protocol": (("windows", "load_class", "load_class"),),
    "region": (
        ("settings", "accounts_for", "finding"),
        ("always_ask", "findings", "finding"),
        ("always_ask", "context", "context"),
    ),
}
_RULE_KINDS = {
    "procedure": "procedure",
    "setting": "setting",
    "measure": "measure",
    "screen": "screen",
    "suspected": "hypothesis",
    "competence": "load_class",
    "immobilised_position": "immobilised_position",
}
_CONTEXT = ("age", "sex", "setting", "side", "days_since", "immobilised", "surgery")
_WHERE = {
    "sign": "findings/ or groups/", "finding": "findings/", "hypothesis": "hypotheses/", "evidence": "evidence/",
    "measure": "measures/", "load_class": "load_classes/", "screen": "screens/", "position": "region.yaml",
    "setting": "region.yaml", "procedure": "region.yaml", "tool": "this measure's tools",
}  # fmt: skip


def _named(value: Any, path: FieldPath) -> Iterator[tuple[FieldPath, str]]:
    if isinstance(value, str):
        if value:
            yield path, value
    else:
        for n, one in enumerate(value):
            if isinstance(one, str):
                yield (*path, n), one


def references(kind: str, record: Any) -> Iterator[tuple[FieldPath, str, str]]:
    """(field path, kind, id) of every id a record names, rules included."""
    for name, target in _FIELDS.get(kind, ()):
        for path, ident in _named(getattr(record, name), (name,)):
            yield path, target, ident
    for name, part, target in _ITEM_FIELDS.get(kind, ()):
        for n, item in enumerate(getattr(record, name)):
            for path, ident in _named(getattr(item, part), (name, n, part)):
                yield path, target, ident
    if kind == "finding" and record.measured is not None:
        yield ("measured", "measure"), "measure", record.measured.measure
    if kind == "hypothesis":
        for setting in record.base_rate:
            yield ("base_rate", setting), "setting", setting
    if kind == "finding" and record.measured is not None:
        for setting in record.measured.reference_in:
            yield ("measured", "reference_in", setting), "setting", setting
    if kind == "measure" and record.derived:
        for ident in record.derived.split("-"):
            yield ("derived",), "measure", ident.strip()
    for path, part in based(record):
        for n, ident in enumerate(part.evidence):
            yield (*path, "evidence", n), "evidence", ident
    for path, whole in rules_of(kind, record):
        yield from _in_rule(whole, path)


def _in_rule(whole: Any, path: FieldPath) -> Iterator[tuple[FieldPath, str, str]]:
    for step in steps(whole, path):
        if isinstance(step.rule, str) and step.rule:
            yield step.path, "finding", step.rule
        elif step.operator in _RULE_KINDS:
            for where, ident in _named(step.rule[step.operator], (*step.path, step.operator)):
                yield where, _RULE_KINDS[step.operator], ident


def _known(pack: Pack, kind: str, record: Any) -> frozenset[str]:
    knowledge = pack.knowledge
    if kind == "sign":
        return pack.ids("finding") | pack.ids("group")
    if kind == "position":
        return frozenset(p.id for p in knowledge.region.positions)
    if kind == "setting":
        return frozenset(knowledge.settings) | {"not_stated"}
    if kind == "procedure":
        return frozenset(p.id for p in knowledge.region.procedures)
    if kind == "immobilised_position":
        return frozenset(p.id for p in knowledge.region.immobilised_positions)
    if kind == "tool":
        return frozenset(t.id for t in record.tools)
    if kind == "context":
        return frozenset(_CONTEXT)
    return pack.ids(kind)


@rule("K-UNKNOWN")
def unknown_id(pack: Pack) -> Iterator[Spot]:
    """An id is named that nothing has.

    Every id written in a field or in a rule must be the id of a record of the right kind: findings and groups where
    a hypothesis says what it produces, load classes where an option says what it does, and so on. Most often a slip
    of the pen (the nearest id is shown), or a record that is still to be written.
    """
    near_to: dict[tuple[str, str], tuple[str, ...]] = {}  # one slip is often made many times
    for kind, record in pack.every():
        for path, target, ident in references(kind, record):
            known = _known(pack, target, record)
            if ident not in known and not (target == "immobilised_position" and not known):  # then any word is taken
                if (target, ident) not in near_to:
                    near_to[target, ident] = nearest(ident, sorted(known), 1)
                near = near_to[target, ident]
                field = ".".join(p for p in path if isinstance(p, str))
                what = "finding or group" if target == "sign" else target.replace("_", " ")
                hint = f"write {near[0]}" if near else f"add it in {_WHERE.get(target, 'this file')}"
                yield Spot(record, path, f"{field}: there is no {what} {ident}", hint)
    for holder in (pack.knowledge.policy, pack.knowledge.region):
        for ident in holder.suspected_above:
            if ident not in pack.ids("hypothesis"):
                near = nearest(ident, sorted(pack.ids("hypothesis")), 1)
                hint = f"write {near[0]}" if near else "add it in hypotheses/"
                message = f"suspected_above: there is no hypothesis {ident}"
                yield Spot(holder, ("suspected_above", ident), message, hint)


@rule("K-RULE")
def rule_grammar(pack: Pack) -> Iterator[Spot]:
    """A rule is not written in the rule language.

    A rule is a finding id, or a mapping with exactly one of: all, any, not, at_least + of, score, age, sex,
    days_since or weeks_since (+ below, at_least), setting, surgery, procedure, orders, weight_bearing, immobilised,
    immobilised_position, measure (+ of, below, at_least), screen, suspected, competence. Two of them together are
    joined with all: or any:.
    """
    for kind, record in pack.every():
        for path, whole in rules_of(kind, record):
            for wrong in wrong_forms(whole, path):
                yield Spot(record, wrong.path, wrong.message, wrong.hint)


CHECKS: tuple[Check, ...] = (unknown_id, rule_grammar)
