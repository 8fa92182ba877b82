"""Who is at the desk: a code, never a name."""

from __future__ import annotations

import os
import re

from reasoner.problems import InputRefused, Problem

__all__ = ["clinician_code"]

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
