"""The network refuses what is not one, and stays as it is when something is added."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from reasoner.inference.network import Network, chance_below

TWO: Any = {"f": ([[0.8], [0.5]], [0.1])}


@pytest.mark.parametrize(
    ("causes", "prior", "nodes", "words"),
    [
        (("a", "a"), (0.1, 0.2), {}, "twice"),
        (("a",), (0.1, 0.2), {}, "priors"),
        (("a",), (1.2,), {}, "between 0 and 1"),
        (("a",), (float("nan"),), {}, "between 0 and 1"),
        (("a", "b"), (0.1, 0.2), {"f": ([[0.8]], [0.1])}, "f: reach"),
        (("a",), (0.1,), {"f": ([[0.8]], [])}, "f: reach"),
        (("a",), (0.1,), {"f": ([[1.1]], [0.1])}, "f: chances"),
        (("a",), (0.1,), {"f": ([[0.3, 0.4]], [0.1, 0.1])}, "rise"),
        (("a",), (0.1,), {"f": ([[0.4, 0.3]], [0.1, 0.2])}, "rise"),
    ],
)
def test_says_what_is_wrong(causes: Any, prior: Any, nodes: Any, words: str) -> None:
    """Each mistake has its own words."""
    with pytest.raises(ValueError, match=words):
        Network.of(causes, prior, nodes)


def test_a_finding_more_leaves_the_old_network_alone() -> None:
    """Adding shares the arrays and copies nothing."""
    network = Network.of(("a", "b"), (0.3, 0.2), TWO)
    more = network.with_link("response", {"b": 0.6}, 0.05)
    assert network.nodes == ("f",)
    assert more.nodes == ("f", "response")
    assert more.reach[0] is network.reach[0]
    assert chance_below(more, "response", 1, ["a", "b"]) == pytest.approx(0.95 * 0.4)
    assert more.without({"f"}).nodes == ("response",)


def test_names_it_does_not_hold() -> None:
    """An unknown finding is named; the same one twice is refused."""
    network = Network.of(("a", "b"), (0.3, 0.2), TWO)
    with pytest.raises(ValueError, match="'g'"):
        network.levels("g")
    with pytest.raises(ValueError, match="already"):
        network.with_link("f", {}, 0.1)


def test_rounding_in_the_levels_leaves_no_negative_share() -> None:
    """A last-digit rise is taken as equal."""
    network = Network.of(("a",), (0.3,), {"f": ([[0.3, 0.3 + 1e-16]], [0.1, 0.1])})
    assert np.all(np.diff(network.reach[0], axis=1) <= 0)
