"""Chances in words. Numbers are shown only where somebody asks why."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["STRENGTH", "fit_words", "must_not_miss_words"]

_STATE_WORDS = {
    "met": "criteria met",
    "open": "open: not excluded",
    "not_met": "criteria not met on these answers; not excluded",
    "does_not_apply": "its screen does not apply here; not excluded",
}
STRENGTH = ("met", "open", "not_met", "does_not_apply")


def fit_words(chance: float, base: float, leads: bool, best: float) -> str:
    """`fits best` leads its list with at least `best`; `fits` is at or above its base rate; else little for it.

    >>> fit_words(.7, .4, True, .5), fit_words(.45, .4, True, .5), fit_words(.2, .4, False, .5)
    ('fits best', 'fits', 'little for it')
    """
    if leads and chance >= best:
        return "fits best"
    return "fits" if chance >= base else "little for it"


def must_not_miss_words(states: Sequence[str], chance: float, base: float) -> str:
    """The state of its screens; without one, words that never reassure."""
    if states:
        return _STATE_WORDS[min(states, key=STRENGTH.index)]
    return "more likely than usual here; not excluded" if chance > base else "not excluded"
