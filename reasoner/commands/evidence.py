"""`reasoner knowledge add evidence` and `knowledge use`: file a source, and let it count for one number."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from reasoner.commands import load_knowledge
from reasoner.commands.clinic import draft_copy, draft_folder
from reasoner.problems import InputRefused, Problem, nearest

__all__ = ["add_evidence", "use_evidence"]

# what is asked, in order: (path, question, kind of value, needed)
_STEPS: tuple[tuple[tuple[str, ...], str, str, bool], ...] = (
    (("citation", "authors"), "Authors (Smith J et al.)", "text", True),
    (("citation", "year"), "Year", "whole", True),
    (("citation", "journal"), "Journal, volume, pages", "text", False),
    (("citation", "doi"), "DOI (10.1234/abcd)", "text", False),
    (("kind",), "Kind: accuracy, prevalence, effect, measurement, safety, healing, other", "kind", True),
    (("design",), "Design (randomised trial, cohort, ...)", "text", False),
    (("compares",), "Compares: between_groups, before_after, not_applicable", "compares", False),
    (("population",), "Who was studied, and how do they differ from yours", "text", False),
    (("n",), "How many people", "whole", False),
    (("says",), "What it found, in your own words", "text", True),
    (("figures",), "A number: name value [low high], such as gain 1.5 0.5 2.5 (empty: on)", "figures", False),
    (
        ("certainty",),
        "Certainty: high, moderate, low, very_low, and why (low; small)",
        "grade",
        False,
    ),
    (("checked",), "What was read, and when (abstract read 2026-03-01)", "text", True),
    (("review_by",), "Read again by (2028-03)", "text", False),
)
_CHOICES = {
    "kind": ("accuracy", "prevalence", "effect", "measurement", "safety", "healing", "other"),
    "compares": ("between_groups", "before_after", "not_applicable"),
}
_DRAFT = "evidence-draft.json"


def add_evidence(args: argparse.Namespace) -> int:
    """From a filled template, or step by step; checked as it will be loaded, then written into the folder."""
    from reasoner.graph.overlay.folder import header_of
    from reasoner.upkeep.filing import TEMPLATE, conversions, suggested_id

    if args.blank:
        print(TEMPLATE, end="")
        return 0
    folder = draft_folder()
    header, problems = header_of(draft_copy(folder).files)
    if header is None:
        raise InputRefused(problems)
    lines: Mapping[tuple[str | int, ...], int] = {}
    if args.template is not None:
        value, text, lines = _template(args.template)
        label = str(args.template)
    else:
        value = _asked()
        value["id"] = suggested_id(header.prefix, value)
        text, label = "", "answers"
    wrong = _problems(args, folder, value, label, header.prefix)
    if wrong:
        raise InputRefused(_on_its_line(p, lines) for p in wrong)
    path = folder / args.region / "evidence" / f"{value['id']}.yaml"
    _write(path, text or _written(value))
    (_state() / _DRAFT).unlink(missing_ok=True)
    for one in conversions(value):
        print(f"{one.name}: {one.text}")
    if value.get("compares") == "before_after":
        print("Before-after: what it measured includes what would have happened anyway;")
        print("it does not feed a usual gain.")
    print(f"{path}: filed; no number uses it yet.")
    print(f"To let it count:\n  reasoner knowledge use {value['id']} --for ID.FIELD --figure NAME")
    return 0


def _written(value: Mapping[str, Any]) -> str:
    from reasoner.graph.source import written

    order = ("id", "kind", "citation", "design", "compares", "population", "n", "says", "figures", "certainty")
    return written({k: value[k] for k in (*order, *value) if k in value})


def _write(path: Path, text: str) -> None:
    from reasoner.trail.files import refusing, write_new

    with refusing(path, "write the entry"):
        path.parent.mkdir(parents=True, exist_ok=True)
        write_new(path, text.encode())


def _state() -> Path:
    from reasoner.trail.paths import home

    return home(os.environ)


def _on_its_line(problem: Problem, lines: Mapping[tuple[str | int, ...], int]) -> Problem:
    """With the line of the key that its message begins with, where there is a file."""
    from dataclasses import replace

    key = tuple(problem.message.partition(":")[0].split("."))
    at = next((line for path, line in lines.items() if path and path[-len(key) :] == key), lines.get((), 0))
    return problem if problem.line else replace(problem, line=at)


def _template(path: Path) -> tuple[dict[str, Any], str, Mapping[tuple[str | int, ...], int]]:
    """The entry, its text as it stands, and the line of each field."""
    from reasoner.graph.files import MOST_BYTES
    from reasoner.graph.source import parse
    from reasoner.trail.files import read_regular, refusing

    with refusing(path, "read the template"):
        data = read_regular(path, MOST_BYTES)
    document, problems = parse(data, str(path))
    if document is None or problems:
        raise InputRefused(problems)
    if not isinstance(document.value, dict):
        raise InputRefused([Problem("S-RECORD", "found no key: value lines", "start from --template", str(path), 1)])
    return document.value, data.decode("utf-8-sig"), document.lines


def _problems(args: argparse.Namespace, folder: Path, value: dict[str, Any], label: str, prefix: str) -> list[Problem]:
    """The entry's own checks, then the loader's over the whole folder with the entry in it."""
    from dataclasses import replace

    from reasoner.graph.load import default_folder, load
    from reasoner.graph.overlay.entries import ClinicCopy
    from reasoner.upkeep.filing import entry_problems, suggested_id

    ident = value.get("id")
    if not isinstance(ident, str) or not ident.startswith(f"{prefix}-"):
        hint = f"write id: {suggested_id(prefix, value)}"
        return [Problem("O-PREFIX", f"id: {ident} does not begin with {prefix}-", hint, label)]
    shipped = load_knowledge(args.knowledge, args.region, without_clinic=True)
    copy = draft_copy(folder)
    name = f"{args.region}/evidence/{ident}.yaml"
    if name in copy.files or ident in shipped.evidence:
        return [Problem("N-TWICE", f"id: {ident} is filed already", "choose another id", label)]
    base = args.knowledge if args.knowledge is not None else default_folder()
    ours, _ = load(base, args.region, clinic=copy)
    known = (ours or shipped).evidence.values()
    found = [replace(p, file=label) for p in entry_problems(value, known)]
    if found:
        return found
    with_it = ClinicCopy({**copy.files, name: _written(value).encode()}, copy.today)
    _, problems = load(base, args.region, clinic=with_it)
    return [replace(p, file=label, line=0) for p in problems if p.level == "error" and p.file == f"clinic/{name}"]


# ------------------------------------------------------------------------------------------------ step by step


def _asked() -> dict[str, Any]:
    """Ask for each part; every answer is kept, so that the next call goes on where this one stopped."""
    value, place = _draft()
    if place:
        print(f"Going on with the entry begun earlier ({place} of {len(_STEPS)} answered). `back` goes back.")
    else:
        print("One line each. Empty or `skip` leaves a part out, `back` goes one back,")
        print("`quit` keeps what is there.")
    while place < len(_STEPS):
        path, question, kind, needed = _STEPS[place]
        answer = _line(f"{question}: ")
        if answer == "quit":
            _keep(value, place)
            raise InputRefused([Problem("", "stopped; what was answered is kept", "go on: knowledge add evidence")])
        if answer == "back":
            place = max(0, place - 1)
            _drop(value, _STEPS[place][0])
            continue
        if answer in ("", "skip"):
            if needed:
                print("  this one is needed")
                continue
            place += 1
        else:
            try:
                again = _take(value, path, kind, answer)
            except ValueError as error:
                print(f"  {error}")
                continue
            place += not again
        _keep(value, place)
    return value


def _line(question: str) -> str:
    try:
        answer = input(question if sys.stdin.isatty() else "")
    except EOFError:
        return "quit"
    return answer.strip()


def _take(value: dict[str, Any], path: tuple[str, ...], kind: str, answer: str) -> bool:
    """Put an answer in its place; True to ask the same again (figures). ValueError with what to write."""
    if kind == "figures":
        value.setdefault("figures", {}).update(_figure(answer))
        return True
    told: Any = answer
    if kind == "whole":
        if not answer.isdigit():
            raise ValueError(f"found {answer}; write a whole number")
        told = int(answer)
    elif kind in _CHOICES:
        if answer not in _CHOICES[kind]:
            near = nearest(answer, _CHOICES[kind], 1)
            raise ValueError(f"found {answer}; write {near[0] if near else ', '.join(_CHOICES[kind])}")
    elif kind == "grade":
        word, *reasons = [part.strip() for part in answer.split(";")]
        told = {"scheme": "GRADE", "value": word.replace(" ", "_"), "rated_by": "project", "reasons": reasons}
    here = value
    for step in path[:-1]:
        here = here.setdefault(step, {})
    here[path[-1]] = told
    _check_now(value, path)
    return False


def _figure(answer: str) -> dict[str, Any]:
    name, *numbers = answer.replace("[", " ").replace("]", " ").split()
    try:
        values = [float(n) for n in numbers]
    except ValueError:
        raise ValueError("write numbers with a point: gain 1.5 0.5 2.5") from None
    if len(values) not in (1, 3):
        raise ValueError("write a name and one number, or one number and its interval: gain 1.5 0.5 2.5")
    found: dict[str, Any] = {name: values[0]}
    if len(values) == 3:
        found[f"{name}_ci"] = values[1:]
    _raise_first({"figures": found})
    return found


def _check_now(value: dict[str, Any], path: tuple[str, ...]) -> None:
    try:
        _raise_first(value)
    except ValueError:
        _drop(value, path)
        raise


def _raise_first(value: Mapping[str, Any]) -> None:
    from reasoner.upkeep.filing import entry_problems

    for problem in entry_problems(value, ()):
        raise ValueError(f"{problem.message}; {problem.hint}")


def _drop(value: dict[str, Any], path: tuple[str, ...]) -> None:
    here: Any = value
    for step in path[:-1]:
        here = here.get(step, {})
    here.pop(path[-1], None)


def _draft() -> tuple[dict[str, Any], int]:
    try:
        told = json.loads((_state() / _DRAFT).read_bytes())
        return dict(told["value"]), int(told["place"])
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return {}, 0


def _keep(value: Mapping[str, Any], place: int) -> None:
    from reasoner.trail.files import make_folder, refusing, write_whole

    with refusing(_state() / _DRAFT, "keep what was answered"):
        make_folder(_state())
        write_whole(_state() / _DRAFT, json.dumps({"value": value, "place": place}).encode())


# ------------------------------------------------------------------------------------------------ use


def use_evidence(args: argparse.Namespace) -> int:
    """A patch that puts a filed figure where it counts, with its source."""
    from reasoner.graph.load import default_folder, load
    from reasoner.upkeep.using import patch_for

    folder = draft_folder()
    copy = draft_copy(folder)
    base = args.knowledge if args.knowledge is not None else default_folder()
    knowledge, problems = load(base, args.region, clinic=copy)
    if knowledge is None:
        raise InputRefused(p for p in problems if p.level == "error")
    _, ident, name, text, taken = patch_for(knowledge, args.region, args.evidence, args.target, args.figure)
    if taken:
        print(f"{taken} changes {ident} already. Add to it:")
        print(text)
        return 1
    _write(folder / name, text)
    print(f"{folder / name}: written; it counts from the next publish on.")
    print(f"See what it moves: reasoner knowledge impact {folder}")
    return 0
