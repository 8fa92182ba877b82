"""A shipped entry as the beginning of a clinic's own: load classes stay, evidence goes, and that is said."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from reasoner.graph.files import FOLDERS
from reasoner.problems import InputRefused, Problem, nearest

__all__ = ["copied"]


def copied(
    shipped: Mapping[tuple[str, str, str], dict[str, Any]], region: str, ident: str, new: str, prefix: str
) -> tuple[str, str, list[str]]:
    """(file name, text, what to say) of a copy. InputRefused for an unknown id or one without the prefix."""
    from reasoner.graph.source import written

    kinds = [k for (r, k, i) in shipped if (r, i) == (region, ident) and k in FOLDERS.values()]
    if not kinds:
        near = nearest(ident, [i for r, _, i in shipped if r == region])
        hint = f"did you mean {' or '.join(near)}?" if near else "reasoner knowledge list KIND"
        raise InputRefused([Problem("O-TARGET", f"nothing shipped is called {ident}", hint)])
    if not new.startswith((f"{prefix}_", f"{prefix}-")):
        message = f"{new} does not begin with {prefix}_"
        raise InputRefused([Problem("O-PREFIX", message, f"write --as {prefix}_{new}")])
    kind = kinds[0]
    value = _without_evidence({**shipped[region, kind, ident], "id": new})
    value["name"] = f"{value.get('name', new)} (ours)"
    value.pop("aliases", None)  # a typed name must not mean two things
    value.pop("formerly", None)
    folder = next(f for f, k in FOLDERS.items() if k == kind)
    kept = ", ".join(value.get("load_classes", ())) or "none"
    said = [
        f"Load classes are kept: {kept}. What the act does to the tissue decides what bars it.",
        "Evidence is taken off and every figure is marked as practice: the sources are for the shipped entry, "
        "not for what you make of it.",
        "Other names are taken off: a typed name means one thing only.",
    ]
    return f"{region}/{folder}/{new}.yaml", written(value), said


def _without_evidence(value: Any) -> Any:
    if isinstance(value, dict):
        made = {k: _without_evidence(v) for k, v in value.items() if k not in ("evidence", "derived", "contrary")}
        if made.get("basis") == "published":
            made["basis"] = "practice"
        return made
    return [_without_evidence(v) for v in value] if isinstance(value, list) else value
