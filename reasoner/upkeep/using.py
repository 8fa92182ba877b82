"""A filed figure put where it counts: the patch of a shipped entry that names its source."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Any

from reasoner.graph.files import FOLDERS
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.overlay.show import record_of
from reasoner.problems import InputRefused, Problem, nearest

__all__ = ["patch_for"]

_NAMES = ("id", "finding", "load_class", "sign", "measure", "tool")


def _refuse(message: str, hint: str) -> InputRefused:
    return InputRefused([Problem("N-USE", message, hint)])


def patch_for(
    knowledge: Knowledge, region: str, evidence: str, target: str, figure: str
) -> tuple[str, str, str, str, str]:
    """(kind, id, file name, text, file that changes the entry already). InputRefused where it cannot be used so."""
    from reasoner.graph.source import written

    entry = knowledge.evidence.get(evidence)
    if entry is None:
        near = nearest(evidence, knowledge.evidence, 1)
        raise _refuse(f"there is no evidence entry {evidence}", f"did you mean {near[0]}?" if near else "file it first")
    ident, _, path = target.partition(".")
    found = record_of(knowledge, ident)
    if found is None or not path:
        raise _refuse(
            f"{target}: found no entry and field", "write ID.FIELD, such as calf_stretch.effects.knee_to_wall.gain"
        )
    kind, record = found
    steps = _steps(record, path.split("."), target)
    number = _number(entry.figures, figure, evidence)
    if steps[-1] == "gain" and entry.compares == "before_after":
        hint = "use a study that compares groups, or write the patch by hand with a note that says so"
        raise _refuse(f"{evidence} compares before with after: not a usual gain", hint)
    value: Any = {steps[-1]: number, "basis": "published", "evidence": [evidence]}
    for step in reversed(steps[:-1]):
        value = {step: value}
    folder = next((f for f, k in FOLDERS.items() if k == kind), "")
    text = written({"changes": record.id, **value})
    clinic = knowledge.clinic.entries if knowledge.clinic is not None else ()
    taken = next((e.file.removeprefix("clinic/") for e in clinic if (e.kind, e.id) == (kind, record.id)), "")
    return kind, record.id, f"{region}/{folder}/{record.id}.yaml", text, taken


def _steps(record: Any, path: list[str], target: str) -> list[str]:
    """The path checked step by step: fields of records, names of entries in a list (or their place from 1)."""
    here, steps = record, []
    for step in path:
        if dataclasses.is_dataclass(here):
            names = [f.name for f in dataclasses.fields(here) if f.name != "place"]
            if step not in names:
                near = nearest(step, names, 1)
                raise _refuse(f"{target}: there is no field {step}", f"write {near[0]}" if near else ", ".join(names))
            here = getattr(here, step)
        elif isinstance(here, tuple):
            step, here = _item(here, step, target)
        elif isinstance(here, dict) and step in here:
            here = here[step]
        else:
            raise _refuse(f"{target}: nothing stands at {step}", "look: reasoner knowledge show ID")
        steps.append(step)
    if here is not None and not isinstance(here, (int, float)):
        raise _refuse(f"{target}: is not a number", "name the field that holds the number")
    return steps


def _item(items: tuple[Any, ...], step: str, target: str) -> tuple[str, Any]:
    named = [(str(getattr(i, n)), i) for i in items for n in _NAMES if hasattr(i, n)]
    if step.isdigit() and 1 <= int(step) <= len(items):
        item = items[int(step) - 1]
        step = next(str(getattr(item, n)) for n in _NAMES if hasattr(item, n))
    match = [(name, i) for name, i in named if name == step]
    if len(match) != 1:
        known = ", ".join(dict.fromkeys(name for name, _ in named))
        near = nearest(step, [name for name, _ in named], 1)
        if not match and near:
            raise _refuse(f"{target}: there is no {step}", f"did you mean {near[0]}?")
        raise _refuse(f"{target}: {step} stands {len(match)} times", f"there are: {known}")
    return match[0]


def _number(figures: Mapping[str, Any], name: str, evidence: str) -> float:
    here: Any = figures
    for step in name.split("."):
        if not isinstance(here, dict) or step not in here:
            known = ", ".join(figures)
            raise _refuse(f"{evidence} has no figure {name}", f"it has: {known}" if known else "it has none")
        here = here[step]
    if isinstance(here, bool) or not isinstance(here, (int, float)):
        raise _refuse(f"{evidence}: {name} is not one number", "name a single number")
    return here
