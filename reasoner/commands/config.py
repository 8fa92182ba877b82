"""`reasoner config`: who may read the state folder, and keys. Nothing is shared unless it is said here."""

from __future__ import annotations

import argparse
import os

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of `reasoner config`."""
    actions = parser.add_subparsers(dest="action", metavar="share|private|key")
    share = actions.add_parser("share", help="let a group of this system read and write all cases (0660, folders 2770)")
    share.add_argument("group", metavar="GROUP")
    actions.add_parser("private", help="readable by you alone again (0600, folders 0700)")
    actions.add_parser("key", help="make an age key, for packs and sealed cases; tell its recipient again")


def run(args: argparse.Namespace) -> int:
    """Change it, and say how it is."""
    from reasoner.trail.config import share, shared_with, unshare
    from reasoner.trail.keys import key_folder
    from reasoner.trail.paths import home

    state = home(os.environ)
    if args.action == "share":
        print(f"{share(state, args.group)} files and folders: members of {args.group} may read and write them.")
        print("Everyone in that group sees every case. Undo: reasoner config private")
    elif args.action == "key":
        _key()
    elif args.action == "private":
        print(f"{unshare(state)} files and folders: readable by you alone.")
    else:
        group = shared_with(state)
        print(f"state    {state}")
        print(f"shared   {f'with the group {group}' if group else 'no: readable by you alone'}")
        print(f"keys     {key_folder(os.environ)}")
    return 0


def _key() -> None:
    """Make the key, or tell the recipient of the one that is there: it is never written over."""
    from reasoner.trail.age import new_identity, recipient_of
    from reasoner.trail.keys import age_key, age_key_file, make_age_key

    there = age_key_file(os.environ)
    if there.exists():
        recipient = recipient_of(age_key(os.environ))
        print(f"{there}: kept as it is.")
    else:
        identity, recipient = new_identity()
        print(f"{make_age_key(os.environ, identity)}: made, readable by you alone. Keep a copy in another place:")
        print("what is encrypted for it cannot be read by anyone without it.")
    print(f"recipient  {recipient}")
