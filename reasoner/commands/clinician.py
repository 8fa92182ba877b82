"""Who is at the desk: a code and a role, never a name."""

from __future__ import annotations

import os
import re

from reasoner.problems import InputRefused, Problem

__all__ = ["ROLES", "clinician_code", "clinician_role"]

ROLES = ("physio", "graduate", "mentor")

_CODE = re.compile(r"[A-Za-z0-9]{1,8}", re.ASCII)


def clinician_code(given: str | None, *, needed: bool = False) -> str:
    """The code given, else $REASONER_BY, else `unsigned`. `needed`: a signature is wanted, so one must be given."""
    code = given or os.environ.get("REASONER_BY") or ("" if needed else "unsigned")
    if not code:
        raise InputRefused([Problem("", "this is signed", "say who you are: --by CODE (or $REASONER_BY)")])
    if not _CODE.fullmatch(code):
        hint = "write up to 8 letters or digits, never a name: KM"
        raise InputRefused([Problem("", f"{code!r} is not a code", hint)])
    return code


def clinician_role(given: str | None) -> str:
    """The role given, else $REASONER_ROLE, else the first one."""
    role = given or os.environ.get("REASONER_ROLE") or ROLES[0]
    if role not in ROLES:
        raise InputRefused([Problem("", f"{role!r} is not a role", f"write one of: {', '.join(ROLES)}")])
    return role
