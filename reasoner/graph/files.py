"""Which files make up a knowledge folder, and what stands in it that does not belong there.

    policy.yaml  scales.yaml  <region>/region.yaml  <region>/<kind>/**/*.yaml

Names are given relative to the knowledge folder with forward slashes, so that they are the same everywhere.
Hidden files, editor back-ups (`name~`) and `.md` pages are passed over in silence; any other stray file is a problem,
because a file that is silently not read is a change that silently does not happen.
"""

from __future__ import annotations

import errno
import os
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from reasoner.problems import Problem, nearest, one_line
from reasoner.reading import read_regular

__all__ = ["FILE_CODES", "FOLDERS", "MOST_BYTES", "SourceFile", "collect", "first_region", "kind_of", "names_in",
           "not_read", "regions"]  # fmt: skip

MOST_BYTES = 1_000_000  # of one file
_REGION = re.compile(r"[a-z][a-z0-9_]{0,40}", re.ASCII)

# folder under the region -> kind of record in it
FOLDERS: Mapping[str, str] = {
    "findings": "finding",
    "groups": "group",
    "maskings": "masking",
    "hypotheses": "hypothesis",
    "measures": "measure",
    "options": "option",
    "load_classes": "load_class",
    "protocols": "protocol",
    "screens": "screen",
    "evidence": "evidence",
    "alignment": "alignment",
}

FILE_CODES: Mapping[str, str] = {
    "F-MISSING": "A file every knowledge folder needs is not there: policy.yaml and scales.yaml at the top, "
    "region.yaml in the region's folder.",
    "F-NAME": "The file is not read because of its name. Names end in .yaml; copies made by an editor or a file "
    "manager (`x - Copy.yaml`, `x (1).yaml`, `x.yaml.txt`, `x.yml`) are renamed or removed.",
    "F-FOLDER": "The file stands in a folder that is not read. Folders under a region: " + ", ".join(FOLDERS) + ".",
    "F-READ": "The file or folder cannot be opened, or is larger than any real one. Make it readable, or split it. "
    "Links to folders are not followed.",
}


@dataclass(frozen=True, slots=True)
class SourceFile:
    """One file to read. `kind` is a record kind, or `region`, `policy` or `scales`."""

    kind: str
    name: str
    data: bytes


def regions(folder: Path) -> tuple[str, ...]:
    """Names of the regions in a knowledge folder."""
    try:
        return tuple(sorted(p.parent.name for p in folder.glob("*/region.yaml")))
    except OSError:
        return ()


def first_region(folder: Path) -> str:
    """The region meant where none is named: the first by name; empty where there is none."""
    try:
        like = [p.name for p in folder.iterdir() if p.is_dir() and any((p / f).is_dir() for f in FOLDERS)]
    except OSError:
        like = []
    return next(iter((*regions(folder), *sorted(like))), "")


def collect(folder: Path, region: str) -> tuple[list[SourceFile], list[Problem]]:
    """Read every file of one region and the two shared ones, sorted by name; other regions are passed over."""
    if not folder.is_dir():
        return [], [Problem("F-MISSING", "there is no such folder", file=str(folder))]
    if (folder / "region.yaml").is_file() and not (folder / "policy.yaml").exists():
        return [], [Problem("F-FOLDER", "this is one region's folder", "give the folder above it", str(folder))]
    if not _REGION.fullmatch(region) or not (folder / region).is_dir():
        have = ", ".join(regions(folder)) or "none"
        found = f"there is no region {one_line(region, 40)}".rstrip()
        return [], [Problem("F-MISSING", found, f"regions here: {have}", str(folder))]
    files: list[SourceFile] = []
    problems: list[Problem] = []
    for name in names_in(folder, region, problems):
        kind, problem = kind_of(name, region)
        if problem is not None:
            problems.append(problem)
        elif kind:
            try:
                data = read_regular(f"{folder}/{name}", MOST_BYTES)  # a path object a file is a third of the time
                files.append(SourceFile(kind, name, data))
            except OSError as error:
                problems.append(not_read(error, name))
    have_names = {f.name for f in files} | {p.file for p in problems}
    for needed in ("policy.yaml", "scales.yaml", f"{region}/region.yaml"):
        if needed not in have_names:
            problems.append(Problem("F-MISSING", "this file is needed and not there", "add it", needed))
    return files, problems


def not_read(error: OSError, name: str) -> Problem:
    """Why a file was not read."""
    if error.errno == errno.EFBIG:
        message = f"this file is not read: it is larger than {MOST_BYTES / 1e6:.0f} MB"
        return Problem("F-READ", message, "split it: an entry a file", name)
    return Problem("F-READ", f"cannot be opened: {error.strerror}", "make it readable", name)


def names_in(folder: Path, region: str, problems: list[Problem]) -> list[str]:
    """Relative names of all files at the top and under the region."""

    def refused(error: OSError) -> None:
        name = Path(error.filename).relative_to(folder).as_posix() if error.filename else ""
        problems.append(Problem("F-READ", f"cannot be opened: {error.strerror}", "make it readable", name))

    names = [p.name for p in folder.iterdir() if p.is_file()]
    for root, folders, found in os.walk(folder / region, onerror=refused):
        base = "".join(f"{part}/" for part in Path(root).relative_to(folder).parts)
        folders[:] = sorted(f for f in folders if not f.startswith((".", "__")))
        for linked in [f for f in folders if (Path(root) / f).is_symlink()]:
            problems.append(Problem("F-READ", "a link to a folder is not followed", "copy it here", base + linked))
        names += [base + one for one in found]
    return sorted(names)


def kind_of(name: str, region: str) -> tuple[str, Problem | None]:
    """Kind of record a file holds; empty for one passed over."""
    parts = name.split("/")
    last = parts[-1]
    lower = last.lower()
    if last.startswith(".") or last.endswith("~") or lower.endswith(".md"):
        return "", None
    bad = next(_bad_names(last), None)
    if bad is not None:
        return "", Problem("F-NAME", f"this file is not read: {bad[0]}", bad[1], name)
    if name in ("policy.yaml", "scales.yaml"):
        return lower[:-5], None
    if name == f"{region}/region.yaml":
        return "region", None
    if len(parts) >= 3 and parts[1] in FOLDERS:
        return FOLDERS[parts[1]], None
    if len(parts) >= 3:
        near = nearest(parts[1], FOLDERS, 1)
        hint = f"write {near[0]}/" if near else "folders: " + ", ".join(FOLDERS)
        return "", Problem("F-FOLDER", f"this file is not read: no folder is called {parts[1]}", hint, name)
    where = f"{region}/<kind>/" if len(parts) == 1 else "one of " + ", ".join(FOLDERS)
    return "", Problem("F-FOLDER", "this file is not read here", f"move it to {where}", name)


def _bad_names(last: str) -> Iterator[tuple[str, str]]:
    lower = last.lower()
    if lower.endswith(".yml"):
        yield "its name ends in .yml", f"rename it to {last[:-4]}.yaml"
    elif lower.endswith(".yaml.txt"):
        yield "its name ends in .yaml.txt", f"rename it to {last[:-4]}"
    elif not lower.endswith(".yaml"):
        yield "its name does not end in .yaml", "rename or remove it"
    elif not last.endswith(".yaml"):
        yield f"its name ends in {last[-5:]}", "end it in .yaml, small letters"
    elif " " in last or "(" in last or ".sync-conflict" in lower:
        yield "its name looks like a copy", "use small letters and underscores, or remove the copy"
