"""What a clinic's folder does: checked, judged for looseness, its effect on cases. For publish, impact and diff."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from reasoner.commands import cache_file
from reasoner.problems import InputRefused, Problem

if TYPE_CHECKING:
    from reasoner.graph.knowledge import Knowledge
    from reasoner.graph.overlay.entries import ClinicCopy
    from reasoner.upkeep.guard import Judged
    from reasoner.upkeep.impact import Impact, Looked

__all__ = ["case_files", "effect_of", "judged", "looked_at", "regions_of", "strange_regions"]


def regions_of(base: Path, copy: ClinicCopy) -> list[str]:
    """Regions of the shipped knowledge that the clinic's files bear on."""
    from reasoner.graph.files import regions

    known = regions(base)
    own = {name.split("/")[0] for name in copy.files if "/" in name}
    shared = any(name in copy.files for name in ("policy.yaml", "scales.yaml"))
    return [r for r in known if shared or r in own]


def effect_of(folder: Path | None, copy: ClinicCopy) -> tuple[list[Problem], list[str]]:
    """(problems that stop publishing, lines to print before)."""
    from reasoner.graph.load import default_folder, load
    from reasoner.graph.overlay.folder import header_of
    from reasoner.upkeep.impact import impact, impact_lines

    base = folder if folder is not None else default_folder()
    header, problems = header_of(copy.files)
    problems += strange_regions(base, copy)
    lines: list[str] = []
    for region in regions_of(base, copy) if header is not None else ():
        shipped, wrong = load(base, region, cache_file(base, region, "shipped"))
        ours, found = load(base, region, clinic=copy)
        problems += [p for p in (*wrong, *found) if p.level == "error"]
        if shipped is None or ours is None:
            continue
        assert ours.clinic is not None
        lines += [f"note: {note}" for note in ours.clinic.notes]
        cases = list(looked_at(shipped, ours, case_files(None)))
        told = judged(base, region, copy, shipped, ours, cases)
        problems += told.problems
        for entry, looser in told.signed:
            lines.append(f"looser, {entry.signed}: {entry.id}: {looser[0]}")
        moved = impact(shipped, ours, cases)
        rest = "knowledge impact --against shipped --all"
        lines += [f"Effect on {region}, against the shipped knowledge:", *impact_lines(moved, all_of_it=rest)]
        problems += _missed(moved, told)
    return list(dict.fromkeys(problems)), lines


def strange_regions(base: Path, copy: ClinicCopy) -> list[Problem]:
    """Folders that are no region of the shipped knowledge: nothing in them would be read."""
    from reasoner.graph.files import regions
    from reasoner.problems import nearest

    known = regions(base)
    found = []
    for region in sorted({name.split("/")[0] for name in copy.files if "/" in name} - set(known)):
        near = nearest(region, known, 1)
        hint = f"write {near[0]}/" if near else "regions: " + ", ".join(known)
        found.append(Problem("F-FOLDER", f"there is no region {region}", hint, f"clinic/{region}"))
    return found


def _missed(moved: Impact, told: Judged) -> Iterator[Problem]:
    signed_screens = any(entry.kind in ("screen", "finding") for entry, _ in told.signed)
    for name in moved.missed if not signed_screens else ():
        hint = "look: reasoner knowledge impact DIR"
        yield Problem("O-LOOSER", f"an emergency would now be missed in the case {name}", hint, "clinic/")


def judged(
    base: Path, region: str, copy: ClinicCopy, shipped: Knowledge, ours: Knowledge, cases: Iterable[Looked]
) -> Judged:
    """Which entries make something looser, in made-up states and in these cases."""
    from reasoner.graph.load import load
    from reasoner.graph.overlay.entries import ClinicCopy
    from reasoner.upkeep.guard import guard
    from reasoner.upkeep.states import Made

    def without(left_out: frozenset[str]) -> Knowledge | None:
        return load(base, region, clinic=ClinicCopy(copy.files, copy.today, left_out))[0]

    return guard(shipped, ours, without, [Made(one.name, one.old) for one in cases])


# ------------------------------------------------------------------------------------------------ cases to look at


def case_files(folder: Path | None) -> list[Path]:
    """Snapshots to look at: those of a folder, else the bundled ones and, in a working tree, the benchmark cases."""
    from reasoner.commands.demo import scenario_folder

    if folder is not None:
        if not folder.is_dir():
            raise InputRefused([Problem("F-MISSING", "there is no such folder", file=str(folder))])
        return sorted(p for p in folder.rglob("*.yaml") if not p.stem.endswith("_key"))
    bundled = scenario_folder()
    found = sorted(bundled.rglob("*.yaml"))
    beside = bundled.parent / "tests" / "cases"
    return found + sorted(p for p in beside.rglob("*/*.yaml")) if beside.is_dir() else found


def looked_at(old: Knowledge, new: Knowledge, files: list[Path], trails: tuple[str, ...] = ()) -> Iterator[Looked]:
    """Cases of this region read with both; a file that is no snapshot of the region is passed over."""
    from reasoner.consult.snapshot import read_snapshot, state_of
    from reasoner.upkeep.impact import Looked
    from reasoner.upkeep.states import NOW

    for path in files:
        try:
            document = read_snapshot(path)
            if document.value.get("region") != old.region.id:
                continue
            yield Looked(path.stem, state_of(document, old, NOW), state_of(document, new, NOW))
        except InputRefused:
            continue  # scenarios of another kind stand in the same folders
    for case in trails:
        from reasoner.consult.sitting import state_of_trail
        from reasoner.trail.paths import home
        from reasoner.trail.store import Trail

        trail = Trail.open(home(os.environ), case)
        if trail.header.get("region") == old.region.id:
            state = state_of_trail(trail.entries)
            yield Looked(case, state, state, trail.entries[-1].at)
