"""One observation of a finding, as the engine reads it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["Observed"]


@dataclass(frozen=True, slots=True)
class Observed:
    """What was answered about one finding on one side.

    sure: "present, so sure", between 0 and 1; it takes the place of `value`. masked: chance that a present sign would
    be hidden now (pain-killers, lost feeling); it weakens "absent". Unknown carries no weight.
    """

    value: Literal["present", "absent", "unknown"]
    sure: float | None = None
    masked: float | None = None
