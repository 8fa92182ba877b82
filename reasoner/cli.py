"""The command line: a table of commands, each module imported only when its command is called.

Exit codes: 0 fine, 1 problems found, 2 wrong input or usage, 130 interrupted. What is wrong goes to standard error,
one line each, and never a traceback.
"""

from __future__ import annotations

import argparse
import importlib
import os
import re
import sys
from collections.abc import Iterable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import NoReturn, TextIO, cast

import reasoner
from reasoner.problems import InputRefused, Problem, nearest
from reasoner.visible import Shown

__all__ = ["COMMANDS", "FINE", "INTERRUPTED", "PROBLEMS", "WRONG_INPUT", "main"]

FINE, PROBLEMS, WRONG_INPUT, INTERRUPTED, PIPE_CLOSED = 0, 1, 2, 130, 141
MOST_LINES = 10  # of problems on a screen

# name -> (module with add_arguments(parser) and run(args) -> int, what it does)
COMMANDS: dict[str, tuple[str, str]] = {
    "session": ("reasoner.commands.session", "work through a visit, one question at a time"),
    "consider": ("reasoner.commands.consider", "one answer about one snapshot file"),
    "practise": ("reasoner.commands.practise", "practise on a simulated patient; counted back at the end"),
    "review": ("reasoner.commands.review", "a mentor's reading of a trail or a folder"),
    "demo": ("reasoner.commands.demo", "watch an invented patient from intake to plan"),
    "report": ("reasoner.commands.report", "print the visit note of a case"),
    "progress": ("reasoner.commands.progress", "is it better, or is it the tape measure: a case over its visits"),
    "measure": ("reasoner.commands.measure", "your own error of measurement; alignment drawings for teaching"),
    "trail": ("reasoner.commands.trail", "the record: verify, sign, seal, join, export, erase"),
    "redact": ("reasoner.commands.redact", "take a person's words out of a case for good"),
    "knowledge": ("reasoner.commands.knowledge", "check or list what the tool knows"),
    "explain": ("reasoner.commands.explain", "what a problem code means and how to mend it"),
    "where": ("reasoner.commands.where", "where cases and knowledge are kept"),
    "config": ("reasoner.commands.config", "who may read the cases; keys"),
    "pack": ("reasoner.commands.pack", "everything in one file, to move house"),
    "unpack": ("reasoner.commands.unpack", "put what was packed in place, verified"),
}


class _Parser(argparse.ArgumentParser):
    """An argument parser whose complaint is one line with the nearest word."""

    def error(self, message: str) -> NoReturn:
        choice = re.search(r"invalid choice: '(.*?)' \(choose from (.*)\)", message)
        hint = f"see {self.prog} --help"
        if choice:
            words = [w.strip(" '\"") for w in choice.group(2).split(",")]
            near = nearest(choice.group(1), words, 1)
            message = f"there is no {choice.group(1)} here"
            hint = f"did you mean {near[0]}?" if near else "write one of " + ", ".join(words)
        raise InputRefused([Problem("", f"{self.prog}: {message}", hint)])


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; its exit code."""
    streams = sys.stdout, sys.stderr
    for stream in streams:
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a terminal that lacks a letter shows ? instead of failing
    sys.stdout, sys.stderr = cast(TextIO, Shown(streams[0])), cast(TextIO, Shown(streams[1]))
    try:
        return _exit_code(list(sys.argv[1:] if argv is None else argv))
    finally:
        sys.stdout, sys.stderr = streams


def _exit_code(argv: list[str]) -> int:
    try:
        code = _run(argv)
        sys.stdout.flush()
        return code
    except InputRefused as refused:
        _say(refused.problems)
        return WRONG_INPUT
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        _silence_stdout()
        return PIPE_CLOSED
    except OSError as error:
        _say([Problem("", error.strerror or str(error), file=str(error.filename or "reasoner"))])
        return WRONG_INPUT


def _run(argv: list[str]) -> int:
    parser = _top_parser()
    top = parser.parse_args(argv)
    if top.command is None:
        parser.print_help()
        return FINE
    if top.command not in COMMANDS:
        near = nearest(top.command, COMMANDS, 1)
        hint = f"did you mean {near[0]}?" if near else "commands: " + ", ".join(COMMANDS)
        raise InputRefused([Problem("", f"reasoner: there is no command {top.command}", hint)])
    module_name, about = COMMANDS[top.command]
    module = importlib.import_module(module_name)
    own = _Parser(prog=f"reasoner {top.command}", description=about[0].upper() + about[1:] + ".")
    _knowledge_option(own, top.knowledge, top.without_clinic)
    module.add_arguments(own)
    anywhere = _Parser(prog=own.prog, add_help=False, allow_abbrev=False)  # also after a word such as `list`
    _knowledge_option(anywhere, top.knowledge, top.without_clinic)
    given, rest = anywhere.parse_known_args(top.rest)
    args = own.parse_args(rest)
    args.knowledge, args.without_clinic = given.knowledge, given.without_clinic
    code: int = module.run(args)
    return code


def _knowledge_option(parser: argparse.ArgumentParser, default: Path | None = None, without: bool = False) -> None:
    parser.add_argument("--knowledge", metavar="DIR", type=Path, default=default, help="use this knowledge folder")
    told = "leave the clinic's own knowledge out; recorded and shown"
    parser.add_argument("--without-clinic", action="store_true", default=without, help=told)


def _top_parser() -> argparse.ArgumentParser:
    listed = "\n".join(f"  {name:<10} {about}" for name, (_, about) in COMMANDS.items())
    parser = _Parser(
        prog="reasoner",
        description="Reasons with you about one stiff or painful joint: screen, measure, work out\n"
        "what limits, choose, treat, measure again, record. It supports judgement; it\ndoes not diagnose.",
        epilog=f"commands:\n{listed}\n\nreasoner COMMAND --help says more about one.",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        usage="reasoner [--version] [--knowledge DIR] COMMAND ...",
    )
    parser.add_argument("--version", action="version", version=f"reasoner {reasoner.__version__}")
    _knowledge_option(parser)
    parser.add_argument("command", nargs="?", help=argparse.SUPPRESS)
    parser.add_argument("rest", nargs=argparse.REMAINDER, help=argparse.SUPPRESS)
    return parser


def _say(problems: Iterable[Problem]) -> None:
    """The first problems and the count of the rest, on standard error."""
    lines = [str(p) for p in problems]
    for line in lines[:MOST_LINES]:
        print(line, file=sys.stderr)
    if len(lines) > MOST_LINES:
        print(f"and {len(lines) - MOST_LINES} more", file=sys.stderr)


def _silence_stdout() -> None:
    """Whoever read our output has gone: keep the interpreter from complaining about it at exit."""
    with suppress(OSError, ValueError):  # not a real file, as under a test
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
