"""`reasoner knowledge selftest`: are the chances what they say, on patients drawn from the same figures?"""

from __future__ import annotations

import argparse
import dataclasses
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from reasoner.commands import load_knowledge
from reasoner.problems import InputRefused, Problem, nearest
from reasoner.visible import json_text

if TYPE_CHECKING:
    from reasoner.inference.selftest import SelfTest

__all__ = ["HANDLERS", "LABEL", "add_action"]

LABEL = "checks code, not knowledge: patients are drawn from the figures that judge them"
_MOST_PATIENTS = 20000
_LISTS = {
    "restriction": "what limits", "condition": "what is injured or ill", "serious": "must not be missed",
    "pain_mechanism": "how it hurts", "contributing": "what feeds it",
}  # fmt: skip


def add_action(actions: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Arguments of `reasoner knowledge selftest`."""
    parser = actions.add_parser("selftest", help="simulated patients: are the chances what they say? (code only)")
    parser.add_argument("--patients", type=int, default=500, metavar="N", help="default 500")
    parser.add_argument("--answers", type=int, default=15, metavar="N", help="findings answered of each; default 15")
    parser.add_argument("--setting", default="not_stated", metavar="ID", help="default: not_stated")
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="default 1; the same seed, the same patients")
    parser.add_argument("--json", action="store_true", help="as JSON")
    parser.add_argument("--region", default="", help="default: the first")


def _selftest(args: argparse.Namespace) -> int:
    from reasoner.inference.compile import compile_network
    from reasoner.inference.selftest import LIMIT, selftest

    _refuse_sizes(args)
    knowledge = load_knowledge(args.knowledge, args.region)
    if args.setting not in knowledge.settings:
        near = nearest(args.setting, list(knowledge.settings), 2)
        hint = f"did you mean {' or '.join(near)}?" if near else "reasoner knowledge list settings lists them"
        raise InputRefused([Problem("", f"there is no setting {args.setting}", hint)])
    found = selftest(
        compile_network(knowledge, args.setting), patients=args.patients, answers=args.answers, seed=args.seed
    )
    if args.json:
        print(json_text({
            "schema": 1, "region": args.region, "knowledge": knowledge.digest, "setting": args.setting, "label": LABEL,
            **dataclasses.asdict(found), "limit": LIMIT, "holds": found.holds,
        }))  # fmt: skip
    else:
        _print(found, knowledge.settings[args.setting].name, LIMIT)
    return 0 if found.holds else 1


def _refuse_sizes(args: argparse.Namespace) -> None:
    for name, least, most in (("patients", 50, _MOST_PATIENTS), ("answers", 0, 60)):
        if not least <= getattr(args, name) <= most:
            message = f"--{name}: found {getattr(args, name)}"
            raise InputRefused([Problem("", message, f"write a number from {least} to {most}")])


def _print(found: SelfTest, setting: str, limit: float) -> None:
    print(f"Self-test: {found.patients} simulated patients ({setting}), {found.answers} answers each")
    print(LABEL)
    print(f"\n{'chance said':<16}{'hypotheses':>11}{'mean said':>11}{'were there':>12}   95 % interval")
    for band in found.bands:
        low, high = band.interval
        share = band.there / band.count
        print(
            f"{band.low:>4.2f} to {band.high:<8.2f}{band.count:>11}{band.said:>11.3f}{share:>12.3f}"
            f"   {low:.3f} to {high:.3f}"
        )
    print(f"\n{'log loss, bits a hypothesis':<30}{'base rates':>12}{'answered':>12}")
    for name, (before, after) in found.loss.items():
        print(f"{_LISTS[name]:<30}{before:>12.3f}{after:>12.3f}")
    verdict = "holds" if found.holds else "DOES NOT HOLD"
    print(f"\nlevel and slope together: chi-squared {found.chi_squared:.2f} (limit {limit}): {verdict}")


HANDLERS: Mapping[str, Callable[[argparse.Namespace], int]] = {"selftest": _selftest}
