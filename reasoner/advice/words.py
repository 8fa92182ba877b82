"""Chances in words. Numbers are shown only where somebody asks why."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = [
    "APART", "HANGS", "NARROWLY", "STEADY", "STRENGTH", "fit_words", "likely_words", "must_not_miss_words",
]  # fmt: skip

_STATE_WORDS = {
    "met": "criteria met",
    "open": "open: not excluded",
    "not_met": "criteria not met on these answers; not excluded",
    "does_not_apply": "its screen does not apply here; not excluded",
}
# of a list, when every number is drawn from its interval
STEADY, NARROWLY = "steady", "leads narrowly"
HANGS, APART = "hangs on one answer", "cannot be told apart"
_POSSIBLE = 0.1
STRENGTH = ("met", "open", "not_met", "does_not_apply")


def fit_words(chance: float, base: float, leads: bool, best: float) -> str:
    """`fits best` leads its list with at least `best`; `fits` is at or above its base rate; else little for it.

    >>> fit_words(.7, .4, True, .5), fit_words(.45, .4, True, .5), fit_words(.2, .4, False, .5)
    ('fits best', 'fits', 'little for it')
    """
    if leads and chance >= best:
        return "fits best"
    return "fits" if chance >= base else "little for it"


def likely_words(chance: float, base: float, best: float) -> str:
    """For what a test could establish: `likely` from `best` on, `possible` from a tenth on or above its base rate.

    >>> likely_words(.6, .65, .5), likely_words(.44, .65, .5), likely_words(.06, .04, .5), likely_words(.02, .04, .5)
    ('likely', 'possible', 'less likely', 'little for it')
    """
    if chance >= best:
        return "likely"
    if chance >= _POSSIBLE:
        return "possible"
    return "less likely" if chance > base else "little for it"


def must_not_miss_words(states: Sequence[str], chance: float, base: float) -> str:
    """The state of its screens; without one, words that never reassure."""
    if states:
        return _STATE_WORDS[min(states, key=STRENGTH.index)]
    return "more likely than usual here; not excluded" if chance > base else "not excluded"
