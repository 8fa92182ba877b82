"""What to do after a retest: repeat, progress, switch or stop. Common practice; progressions are the pack's words."""

from __future__ import annotations

from reasoner.case.state import Loop
from reasoner.consult.situation import Situation

__all__ = ["suggestion"]


def suggestion(case: Situation, loop: Loop, verdict: str) -> list[str]:
    """One or two lines. `verdict` as the retest gave it."""
    option = case.knowledge.options.get(loop.option)
    progression = option.progression if option is not None else ""
    regression = option.regression if option is not None else ""
    if verdict == "worse":
        return ["next: stop this here" + (f"; milder: {regression}" if regression else "")]
    if verdict == "range_only":
        return ["next: range moved beyond error, what they want to do did not: look at what else feeds it"]
    if verdict == "beyond":
        onwards = f": {progression}" if progression else " to what they can do at home"
        return [f"next: once more, or progress{onwards}"]
    again = sum(p.option == loop.option and p.visit == loop.visit for p in case.state.loops)
    if verdict == "within" and again > 1:
        return ["next: the same again is no use: switch the technique, or ask what else could limit it"]
    if verdict == "within":
        return ["next: fits with the idea, and with touch and repetition; switch, or once more with another dose"]
    return ["next: measure before the next technique, so that a change can be seen"]
