"""`reasoner pack FILE`: everything that belongs to the cases in one file, to move house or to keep elsewhere."""

from __future__ import annotations

import argparse
import os
from datetime import datetime
from pathlib import Path

from reasoner.problems import InputRefused, Problem, nearest

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `reasoner pack`."""
    parser.add_argument("file", metavar="FILE", type=Path, help="written there, readable by you only")
    parser.add_argument("--case", metavar="CASE", action="append", default=[], help="only this case (may be repeated)")
    to = "encrypt it for this age recipient (age1...; may be repeated)"
    parser.add_argument("--to", metavar="RECIPIENT", action="append", default=[], help=to)


def run(args: argparse.Namespace) -> int:
    """Gather, read back, write, and say what is not in it."""
    from reasoner.trail.age import encrypted
    from reasoner.trail.files import refusing, write_new
    from reasoner.trail.keys import key_folder
    from reasoner.trail.packlog import note
    from reasoner.trail.packs import Pack, gather, read_pack, write_pack
    from reasoner.trail.paths import cases, check_case, home
    from reasoner.trail.verify import verify_all

    state, now = home(os.environ), datetime.now().astimezone()
    for case in args.case:
        if check_case(case) not in cases(state):
            near = ", ".join(nearest(case, cases(state)))
            raise InputRefused([Problem("T-CASE", f"there is no case {case}", f"nearest: {near}" if near else "")])
    files = gather(state, args.case)
    if not files:
        raise InputRefused([Problem("T-PACK", f"there is nothing to pack in {state}")])
    raw = write_pack(files, now)
    pack: Pack = read_pack(raw, str(args.file))  # what could not be unpacked is not written
    with refusing(args.file, "write the pack"):
        write_new(args.file, encrypted(raw, args.to) if args.to else raw)
    try:
        note(state, args.file, pack.cases, now)
    except InputRefused as refused:  # a rescue from a disk that can only be read
        print(f"note: {refused.problems[0]}")
    kept = len({n.split("/")[1] for n in pack.files if n.startswith("archive/")})
    print(f"{args.file}: {len(pack.cases)} case(s), {kept} archived copies of knowledge, {len(pack.files)} files")
    bad = [str(path) for path, found in verify_all(state).items() if any(p.level == "error" for p in found)]
    if bad and not args.case:
        print(f"packed as they are, though not as recorded: {', '.join(Path(b).stem for b in bad)}")
    if args.to:
        print("Encrypted: only the holder of a key for it can unpack it.")
    else:
        print("Not encrypted: keep it as private as the cases are, or add --to RECIPIENT.")
    print(f"Not in it: keys ({key_folder(os.environ)}), with whom the folder is shared, the cache.")
    return 0
