"""Values in draws against hand calculation; where nothing may vary, every draw is the stated value."""

from __future__ import annotations

import numpy as np
import pytest

from reasoner.graph.records import Effect
from reasoner.options.drawn import ResponseDraws, response_draws, value_draws
from reasoner.options.value import response
from tests.options.test_value import EFFECT, KNOWN


def test_a_value_by_hand() -> None:
    """Certainty moderate weighs .75, leak .05. Hold: (1 - .95 x .4) x .5 = .31; touch: (1 - .95 x .8) x .25 = .06.

    .75 x .31 + .25 x .06 = .2475. In the second draw nothing responds but for the leak: .05 of both shares, here 1.
    """
    got = response(EFFECT, KNOWN, targets=1)
    assert got is not None
    assert (got.leak, got.weight) == (0.05, 0.75)
    drawn = ResponseDraws(np.zeros(2), np.zeros(2), np.array([0.5, 1.0]), np.array([0.25, 1.0]))
    found = value_draws(got, drawn, np.array([0.4, 1.0]), np.array([0.8, 1.0]))
    assert found == pytest.approx([0.2475, 0.05], abs=1e-12)


@pytest.mark.parametrize("sham", [True, False])
def test_printed_figures_do_not_vary(sham: bool) -> None:
    """A trial's gain and SD stay as printed, and so does a published chance; here nothing else has an interval."""
    given = {"sham": 0.3, "sham_sd": 0.4} if sham else {"p0": 0.2}
    effect = Effect(sign="reach", gain=1.0, sd=1.0, certainty="moderate", basis="published", evidence=("a",), **given)
    got = response(effect, KNOWN, targets=1)
    drawn = response_draws(effect, KNOWN, 1, 7, f"sham {sham}", 4000)
    assert got is not None
    assert drawn is not None
    assert drawn.contact_c == pytest.approx(np.full(4000, got.contact_c))
    assert drawn.target_c == pytest.approx(np.full(4000, got.target_c))
    assert drawn.share_if_hold == pytest.approx(np.full(4000, got.share_if_hold))
    assert drawn.share_if_touch == pytest.approx(np.full(4000, got.share_if_touch))
