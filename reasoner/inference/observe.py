"""From what was observed to evidence: one reading each, in the order recorded.

Weights are (not there, there). present (0, 1); absent (1, 0); "present, s sure" (1 - s, s): a statement about the
observation, not the chance afterwards. Where a present sign may be hidden with chance mu, absent is (1, mu). A group's
member with a = P(positive | sign), b = P(positive | no sign) turns (o0, o1) into ((1-b) o0 + b o1, (1-a) o0 + a o1).
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from reasoner.facts.observed import Observed
from reasoner.inference.compile import Compiled
from reasoner.inference.evidence import Evidence, Reading
from reasoner.inference.network import Numbers

__all__ = ["pair", "weights"]


def pair(observed: Observed) -> tuple[float, float] | None:
    """(weight of not there, weight of there); None where nothing is known.

    >>> pair(Observed("present")), pair(Observed("absent")), pair(Observed("unknown"))
    ((0.0, 1.0), (1.0, 0.0), None)
    >>> pair(Observed("present", sure=0.75)), pair(Observed("absent", masked=0.4))
    ((0.25, 0.75), (1.0, 0.4))
    """
    if observed.sure is None:
        if observed.value == "unknown":
            return None
        sure = 1.0 if observed.value == "present" else 0.0
    else:
        sure = observed.sure
    hidden = observed.masked or 0.0
    return 1.0 - sure, sure + (1.0 - sure) * hidden


def weights(
    compiled: Compiled,
    observed: Mapping[str, Observed],
    measured: Mapping[str, tuple[float, float]] | None = None,
) -> Evidence:
    """Evidence from answers (finding id -> Observed) and measures (finding id -> (d, its standard error)).

    In the order of the mappings, answers first; a finding that was measured is read from its number only. What the
    setting accounts for, and what no hypothesis is linked to, carries no weight.
    """
    numbers = measured or {}
    readings = []
    for finding, seen in observed.items():
        node, says = compiled.node(finding), pair(seen)
        if node is not None and says is not None and finding not in numbers:
            node = compiled.node_if_absent(finding) if says[0] > says[1] else node
            assert node is not None
            member = compiled.members.get(finding)
            readings.append(Reading(finding, node, _weights(compiled, finding, node, says), member, says))
    for finding, (value, se) in numbers.items():
        node, scale = compiled.node(finding), compiled.scales.get(finding)
        if node == finding and scale is not None:
            readings.append(Reading(finding, finding, scale.weights(value, se)))
    return Evidence(tuple(readings))


def _weights(compiled: Compiled, finding: str, node: str, says: tuple[float, float]) -> Numbers:
    member = compiled.members.get(finding)
    if member is not None:
        return np.asarray(np.array(says) @ member.table)
    levels = compiled.network.levels(node)
    return np.array([says[0], *[says[1]] * (levels - 1)])  # "present" of a graded finding: level 1 or higher
