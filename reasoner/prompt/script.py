"""A visit from a file or a pipe: the same lines, the same events; it stops at the first line it cannot use."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

from reasoner.consult.sitting import Sitting
from reasoner.problems import InputRefused
from reasoner.prompt.desk import Desk, Show

__all__ = ["run_script"]


def run_script(
    sitting: Sitting,
    lines: Iterable[str],
    name: str,
    show: Show,
    *,
    echo: Callable[[str], None] | None = None,
    desk: Desk | None = None,
) -> None:
    """Take every line; empty ones and those that begin with # are passed over. Lines after an end are refused.

    `echo` is given each line before it is taken; `desk` is one that takes them differently (a simulated patient).

    InputRefused names file and line; what earlier lines recorded stays.
    """
    desk = desk if desk is not None else Desk(sitting, show, script=True)
    desk.start()
    for number, line in enumerate(lines, 1):
        text = line.strip()
        if not text or text.startswith("#"):
            continue
        try:
            if echo is not None:
                echo(text)
            desk.left = False
            desk.line(text)
        except InputRefused as refused:
            placed = (replace(p, file=p.file or name, line=p.line or number) for p in refused.problems)
            raise InputRefused(placed) from None
