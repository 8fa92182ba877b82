"""The number that flips a lead: by hand, and by putting the crossing back into the network."""

from __future__ import annotations

import numpy as np
import pytest

from reasoner.inference.draws import Intervals
from reasoner.inference.evidence import Evidence
from reasoner.inference.flips import Flip, flips
from reasoner.inference.kernel import Limits, posterior
from reasoner.inference.network import Network
from tests.strategies import random_evidence, random_network


def wide(network: Network, factor: float) -> Intervals:
    """Every number from itself divided by `factor` up to itself times it, at most .98; zeros stay."""

    def ends(values: np.ndarray) -> np.ndarray:
        return np.stack([values / factor, np.minimum(values * factor, 0.98)], axis=-1)

    return Intervals(ends(network.prior), tuple(map(ends, network.reach)), tuple(map(ends, network.leak)))


def changed(network: Network, flip: Flip, value: float) -> Network:
    """The network with that one number set."""
    p = flip.parameter
    prior = network.prior.copy()
    nodes = {n: (r.copy(), k.copy()) for n, r, k in zip(network.nodes, network.reach, network.leak, strict=True)}
    if p.kind == "base_rate":
        prior[network.cause_index[p.cause]] = value
    elif p.kind == "link":
        nodes[p.node][0][network.cause_index[p.cause], p.level - 1] = value
    else:
        nodes[p.node][1][p.level - 1] = value
    return Network.of(network.causes, prior, nodes)


def test_two_base_rates_by_hand() -> None:
    """.30 against .25 with no evidence: a falls to .25 (half of the way to .20), b rises to .30 (a third, to .40)."""
    network = Network.of(("a", "b"), (0.3, 0.25), {})
    intervals = Intervals(np.array([[0.2, 0.45], [0.2, 0.4]]), (), ())
    found = flips(network, intervals, Evidence(), "a", ("a", "b"))
    assert [(f.parameter.cause, f.other) for f in found] == [("b", "b"), ("a", "b")]
    assert [f.at for f in found] == pytest.approx([0.3, 0.25])
    assert [f.share for f in found] == pytest.approx([1 / 3, 1 / 2])


def test_a_link_by_hand() -> None:
    """f present, base rates .2 and .2, links c and .5, leak .1: equal where the links are, at c = .5.

    With c from .8 down to .4, that is 3/4 of the way. The other link, .5 up to .7, never gets there.
    """
    network = Network.of(("a", "b"), (0.2, 0.2), {"f": ([[0.8], [0.5]], [0.1])})
    reach = (np.array([[[0.4, 0.9]], [[0.3, 0.7]]]),)
    intervals = Intervals(np.array([[0.2, 0.2], [0.2, 0.2]]), reach, (np.array([[0.1, 0.1]]),))
    (found,) = flips(network, intervals, Evidence.of({"f": (0, 1)}), "a", ("b",))
    assert (found.parameter.kind, found.parameter.cause, found.parameter.node) == ("link", "a", "f")
    assert found.at == pytest.approx(0.5)
    assert found.share == pytest.approx(0.75)


@pytest.mark.parametrize("seed", range(8))
def test_put_back_the_two_draw_level(seed: int) -> None:
    """At the crossing both chances agree to 1e-9; just short of it the lead still leads, past it another does."""
    rng = np.random.default_rng(seed)
    network = random_network(rng, causes=7, nodes=12, links=3)
    evidence = random_evidence(rng, network, present=4, absent=3, soft=1)
    chance = posterior(network, evidence).chance
    lead = network.causes[int(np.argmax(chance))]
    found = flips(network, wide(network, 2.5), evidence, lead, network.causes)
    assert [f.share for f in found] == sorted(f.share for f in found)
    for flip in found:
        assert 0 <= flip.share <= 1
        at = posterior(changed(network, flip, flip.at), evidence).chance
        assert at[network.cause_index[lead]] == pytest.approx(at[network.cause_index[flip.other]], abs=1e-9)
        short = flip.parameter.value + 0.99 * (flip.at - flip.parameter.value)
        before = posterior(changed(network, flip, short), evidence).chance
        assert network.causes[int(np.argmax(before))] == lead


def test_some_of_those_networks_do_flip() -> None:
    """So that the test above is not empty."""
    assert sum(_flips_of(seed) > 0 for seed in range(8)) >= 3


def _flips_of(seed: int) -> int:
    rng = np.random.default_rng(seed)
    network = random_network(rng, causes=7, nodes=12, links=3)
    evidence = random_evidence(rng, network, present=4, absent=3, soft=1)
    lead = network.causes[int(np.argmax(posterior(network, evidence).chance))]
    return len(flips(network, wide(network, 2.5), evidence, lead, network.causes))


def test_no_interval_no_flip_and_never_an_approximate_one() -> None:
    """Numbers without intervals cannot flip anything; what is not exact is refused."""
    rng = np.random.default_rng(2)
    network = random_network(rng, causes=7, nodes=12, links=3)
    evidence = random_evidence(rng, network, present=5, absent=3, soft=1)
    lead = network.causes[int(np.argmax(posterior(network, evidence).chance))]
    assert flips(network, Intervals.none(network), evidence, lead, network.causes) == ()
    tight = Limits(live_bits=1, row_bits=1, work_bits=1)
    with pytest.raises(ValueError, match="too many"):
        flips(network, wide(network, 2), evidence, lead, network.causes, limits=tight)
