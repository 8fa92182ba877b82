"""Numbers drawn from their intervals: within them, in order, repeatable, and spread where the interval is."""

from __future__ import annotations

import numpy as np
import pytest

from reasoner.inference.draws import Intervals, drawn, draws, triangular
from reasoner.inference.evidence import Evidence, Reading
from reasoner.inference.groups import Member
from reasoner.inference.kernel import posterior
from reasoner.inference.network import Network
from reasoner.inference.rows import Variation

NETWORK = Network.of(
    ("a", "b"), (0.3, 0.2), {"f": ([[0.8], [0.5]], [0.1]), "g": ([[0.7, 0.4], [0.6, 0.1]], [0.1, 0.05])}
)
SEEN = Evidence.of({"f": (0, 1), "g": (0.2, 0.9, 1.4)})


def test_no_intervals_is_the_same_answer_every_time() -> None:
    """Every draw is the posterior itself."""
    batch = draws(NETWORK, Intervals.none(NETWORK), SEEN, 1, 7)
    assert batch.chance == pytest.approx(np.tile(posterior(NETWORK, SEEN).chance, (7, 1)), abs=1e-14)


def test_only_what_is_uncertain_moves() -> None:
    """With only a base rate uncertain, its draws are its posterior with no evidence, and stay inside."""
    intervals = Intervals.none(NETWORK).with_prior(np.array([[0.1, 0.6], [0.2, 0.2]]))
    batch = draws(NETWORK, intervals, Evidence(), 1, 4000)
    assert batch.chance[:, 1] == pytest.approx(0.2)
    drawn = batch.chance[:, 0]
    assert drawn.min() >= 0.1
    assert drawn.max() <= 0.6
    # triangular: mean (low + mode + high)/3, variance (a^2+b^2+c^2-ab-ac-bc)/18 = .0105555..., five standard errors
    assert drawn.mean() == pytest.approx((0.1 + 0.3 + 0.6) / 3, abs=5 * np.sqrt(0.01056 / 4000))
    assert drawn.var() == pytest.approx((0.01 + 0.09 + 0.36 - 0.03 - 0.06 - 0.18) / 18, rel=0.1)


def test_the_same_seed_gives_the_same_draws() -> None:
    """Randomness comes in from outside."""
    wide = Intervals(
        np.array([[0.1, 0.6], [0.1, 0.4]]),
        tuple(np.stack([r * 0.5, np.minimum(r * 1.2, 1)], axis=-1) for r in NETWORK.reach),
        tuple(np.stack([k * 0.5, k * 2], axis=-1) for k in NETWORK.leak),
    )
    first, second = (draws(NETWORK, wide, SEEN, 9, 50).chance for _ in range(2))
    assert np.array_equal(first, second)
    assert first.std(axis=0).min() > 0.01
    more = NETWORK.with_link("response", {"a": 0.4}, 0.05)  # a finding that has no intervals
    assert draws(more, wide, Evidence.of({"response": (0, 1)}), 9, 5).chance.shape == (5, 2)
    left = wide.without(NETWORK, {"f"})
    assert len(left.reach) == 1
    assert left.reach[0] is wide.reach[1]


def test_what_is_drawn_is_still_a_network(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every row's reach and leak fall with the level, whatever overlap the intervals of the levels have."""
    drawn: list[Variation] = []

    def keep(network: Network, evidence: Evidence, vary: Variation, *, limits: object) -> None:
        drawn.append(vary)

    monkeypatch.setattr("reasoner.inference.draws.posteriors", keep)
    overlapping = Intervals(
        Intervals.none(NETWORK).prior,
        (np.array([[[0.1, 0.9]], [[0.2, 0.8]]]), np.array([[[0.3, 0.9], [0.1, 0.8]], [[0.2, 0.9], [0.0, 0.8]]])),
        (np.array([[0.05, 0.3]]), np.array([[0.02, 0.4], [0.01, 0.3]])),
    )
    draws(NETWORK, overlapping, SEEN, 4, 300)
    reach, leak = drawn[0].reach["g"], drawn[0].leak["g"]
    assert reach.shape == (2, 2, 300)
    assert np.all(reach[:, 0] >= reach[:, 1])
    assert np.all(leak[0] >= leak[1])
    assert reach.std(axis=-1).min() > 0.05


def test_levels_drawn_together_keep_their_order() -> None:
    """One draw for all levels of a link never makes a severe level likelier than a mild one."""
    ends = np.array([[0.5, 0.9], [0.2, 0.8], [0.05, 0.8]])
    level = np.tile(np.random.default_rng(3).random(500), (3, 1))
    drawn = triangular(ends, np.array([0.7, 0.6, 0.6]), level)
    assert np.all(np.diff(drawn, axis=0) <= 1e-12)


def test_readings_of_a_group_are_drawn_too() -> None:
    """A member with words varies, one with a published accuracy does not; never past the point of saying nothing."""
    sign = Network.of(("a",), (0.3,), {"s": ([[0.8]], [0.1])})
    unsure = Member("one", "s", 0.8, 0.1, (0.7, 0.9), (0.05, 0.75))
    exact = Member("two", "s", 0.8, 0.1)

    def reading(member: Member) -> Reading:
        return Reading(member.finding, "s", np.array([member.when_absent, member.when_present]), member, (0.0, 1.0))

    seen = Evidence((reading(unsure), reading(exact)))
    weights = drawn(sign, Intervals.none(sign), seen, 3, 400).weights["s"]
    assert weights.shape == (2, 400)
    alone = weights / np.array([[0.1], [0.8]])  # what is left after the exact one
    assert alone[1].min() >= 0.7
    assert alone[1].max() <= 0.9
    assert np.all(alone[0] <= alone[1] + 1e-12)
    assert alone.std(axis=1).min() > 0.02
    assert drawn(sign, Intervals.none(sign), Evidence((reading(exact),)), 3, 4).weights == {}


def test_a_number_keeps_its_draws_whatever_else_is_seen() -> None:
    """The stream belongs to the finding, not to its place among the answers."""
    wide = Intervals(
        np.array([[0.1, 0.6], [0.1, 0.4]]),
        tuple(np.stack([r * 0.5, np.minimum(r * 1.2, 1)], axis=-1) for r in NETWORK.reach),
        tuple(np.stack([k * 0.5, k * 2], axis=-1) for k in NETWORK.leak),
    )
    both, one = drawn(NETWORK, wide, SEEN, 5, 9), drawn(NETWORK, wide, Evidence.of({"g": (1, 0, 0)}), 5, 9)
    assert np.array_equal(both.reach["g"], one.reach["g"])
    assert np.array_equal(both.leak["g"], one.leak["g"])
    assert both.prior is not None
    assert one.prior is not None
    assert np.array_equal(both.prior, one.prior)
