"""From answers and measures to weights."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reasoner.facts.observed import Observed
from reasoner.inference.compile import Compiled, compile_network
from reasoner.inference.evidence import Evidence
from reasoner.inference.kernel import posterior
from reasoner.inference.observe import pair, weights
from tests.inference.build import finding, group, hypothesis, knowledge, link, measured, member
from tests.strategies import CALM


@pytest.fixture(scope="module")
def compiled() -> Compiled:
    """Two told findings, a group of two tests, a measure."""
    made = knowledge(
        [finding("f"), finding("g"), finding("t1"), finding("t2"), finding("lonely"), measured("m", (2.0, 4.0))],
        [hypothesis("h", 0.3, link("f", chance=0.8), link("g", chance=0.5), link("m", levels=(0.8, 0.4))),
         hypothesis("o", 0.2, link("g", chance=0.6), link("s", chance=0.3))],
        [group("s", "h", member("t1", sens=0.8, spec=0.7), member("t2", sens=0.7, spec=0.8))],
    )  # fmt: skip
    return compile_network(made, "not_stated")


def test_plain_answers(compiled: Compiled) -> None:
    """Present, absent, unsure, hidden; unknown and unlinked carry no weight; the order is kept."""
    seen = {
        "g": Observed("absent"),
        "lonely": Observed("present"),
        "f": Observed("present", sure=0.7),
        "no_such": Observed("present"),
    }
    evidence = weights(compiled, seen)
    assert [r.name for r in evidence.readings] == ["g", "f"]
    assert evidence.weights["f"] == pytest.approx([0.3, 0.7])
    assert weights(compiled, {"f": Observed("unknown")}).readings == ()
    masked = weights(compiled, {"f": Observed("absent", masked=0.4)})
    assert masked.weights["f"].tolist() == [1.0, 0.4]


def test_group_members_multiply_into_one_pair(compiled: Compiled) -> None:
    """l1 *= a, l0 *= b; absent 1-a, 1-b; unsure s a + (1-s)(1-a); hidden absent (1-a) + mu a."""
    a1, b1 = compiled.members["t1"].when_present, compiled.members["t1"].when_absent
    a2, b2 = compiled.members["t2"].when_present, compiled.members["t2"].when_absent
    for first, second, l1, l0 in (
        (Observed("present"), Observed("absent"), a1 * (1 - a2), b1 * (1 - b2)),
        (Observed("present", sure=0.7), Observed("present"), (0.7 * a1 + 0.3 * (1 - a1)) * a2,
         (0.7 * b1 + 0.3 * (1 - b1)) * b2),
        (Observed("absent", masked=0.4), Observed("present"), ((1 - a1) + 0.4 * a1) * a2, ((1 - b1) + 0.4 * b1) * b2),
    ):  # fmt: skip
        evidence = weights(compiled, {"t1": first, "t2": second})
        assert evidence.weights["s"] == pytest.approx([l0, l1])
        assert [r.node for r in evidence.readings] == ["s", "s"]


def test_copies_of_a_test_never_say_more_than_the_sign(compiled: Compiled) -> None:
    """Both members present stay below the sign itself present."""
    both = weights(compiled, {"t1": Observed("present"), "t2": Observed("present")})
    sign = Evidence.of({"s": (0, 1)})
    one = weights(compiled, {"t1": Observed("present")})
    chance = [posterior(compiled.network, e).chance[0] for e in (one, both, sign)]
    assert chance[0] < chance[1] < chance[2]


def test_measures(compiled: Compiled) -> None:
    """A number goes through its error; it takes the place of a plain answer; said present means level 1 or more."""
    evidence = weights(compiled, {"m": Observed("present")}, {"m": (3.0, 0.54), "f": (1.0, 0.1)})
    assert [r.name for r in evidence.readings] == ["m"]
    assert evidence.weights["m"] == pytest.approx(compiled.scales["m"].weights(3.0, 0.54))
    assert weights(compiled, {"m": Observed("present")}).weights["m"].tolist() == [0.0, 1.0, 1.0]
    assert weights(compiled, {"m": Observed("absent")}).weights["m"].tolist() == [1.0, 0.0, 0.0]


@given(st.floats(0, 1), st.floats(0, 1))
@CALM
def test_pairs_lie_between_their_ends(sure: float, masked: float) -> None:
    """Between present and absent; hiding only ever weakens absent."""
    known = pair(Observed("present", sure=sure, masked=masked))
    assert known is not None
    assert known[0] == pytest.approx(1 - sure)
    assert sure <= known[1] <= 1


def test_half_sure_is_unknown(compiled: Compiled) -> None:
    """.5 says nothing; it is a statement about the observation."""
    for silent in (Observed("present", sure=0.5), Observed("absent", masked=1.0)):
        found = posterior(compiled.network, weights(compiled, {"f": silent}))
        assert found.chance == pytest.approx(compiled.network.prior)


def test_an_absence_never_speaks_against_what_it_must_not_reassure_about() -> None:
    """f at .8 with a (.3) and .5 with b (.2), leak .1; f's absence must not reassure about a.

    By hand, absent: a stays at .3; b .2 * .5 / (.2 * .5 + .8) = .1111. Half said counts the same way round. Present:
    P(f) = 1 - .9 * (1 - .3 * .8) * (1 - .2 * .5) = .3844; with a 1 - .9 * .2 * .9 = .838: .3 * .838 / .3844 = .6540.
    """
    known = compile_network(
        knowledge(
            [finding("f", 0.1, reassuring_about=("a",))],
            [hypothesis("a", 0.3, link("f", chance=0.8)), hypothesis("b", 0.2, link("f", chance=0.5))],
        ),
        "not_stated",
    )

    def after(seen: Observed) -> list[float]:
        return posterior(known.network, weights(known, {"f": seen})).chance[:2].tolist()

    assert after(Observed("absent")) == pytest.approx([0.3, 1 / 9], abs=1e-12)
    assert after(Observed("absent", sure=0.2))[0] == pytest.approx(0.3, abs=1e-12)
    assert after(Observed("present"))[0] == pytest.approx(0.3 * 0.838 / 0.3844, abs=1e-12)
    assert after(Observed("absent", masked=0.5))[0] == pytest.approx(0.3, abs=1e-12)
