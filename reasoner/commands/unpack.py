"""`reasoner unpack FILE`: a pack verified and put into the state folder; all of it or nothing."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `reasoner unpack`."""
    parser.add_argument("file", metavar="FILE", type=Path)
    parser.add_argument("--key", metavar="KEYFILE", type=Path, default=None, help="age key, if it is encrypted")


def run(args: argparse.Namespace) -> int:
    """Put it in place and say what came. Exit 1 if a trail in it does not verify."""
    from reasoner.trail.age import decrypted, is_encrypted
    from reasoner.trail.files import read_regular, refusing
    from reasoner.trail.keys import age_key
    from reasoner.trail.moving import arrive
    from reasoner.trail.packs import MOST_BYTES, read_pack
    from reasoner.trail.paths import home

    state = home(os.environ)
    with refusing(args.file, "read the pack"):
        raw = read_regular(args.file, MOST_BYTES)
    if is_encrypted(raw):
        raw = decrypted(raw, age_key(os.environ, args.key), str(args.file))
    pack = read_pack(raw, str(args.file))
    arrived = arrive(state, pack, str(args.file))
    print(f"{state}: {len(pack.cases)} case(s) as packed on {pack.at[:10]}")
    print(f"{arrived.new} files new, {arrived.same} here before")
    for problem in arrived.problems:
        print(problem)
    if not arrived.problems:
        print("Every trail verifies. Keys were not in it: bring them yourself. Sharing with a group is decided anew.")
    return 1 if arrived.problems else 0
