"""The self-test holds for the code as it is, finds code that is wrong, and says that it says nothing of the figures."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from reasoner.cli import main
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Shift
from reasoner.inference import selftest as module
from reasoner.inference.compile import compile_network
from reasoner.inference.kernel import posterior
from reasoner.inference.network import Network, chance_below
from reasoner.inference.selftest import selftest
from reasoner.inference.simulate import simulate
from tests.inference.build import finding, group, hypothesis, knowledge, link, measured, member
from tests.inference.test_coupling import case


@pytest.fixture(scope="module")
def small() -> Knowledge:
    """A driver, what it drives, two variants, a group, a measured finding."""
    return knowledge(
        [*(finding(f"f{k}") for k in range(6)), finding("t1"), finding("t2"), measured("m", (1.0, 2.0))],
        [
            hypothesis("worn", 0.3, link("f0", chance=0.7), link("f1", chance=0.4)),
            hypothesis("tear_1", 0.2, link("f1", chance=0.6), link("f2", chance=0.5), one_of="tear"),
            hypothesis("tear_2", 0.1, link("f2", chance=0.9), link("f3", chance=0.7), one_of="tear"),
            hypothesis(
                "stiff", 0.3, link("f4", chance=0.8), link("m", levels=(0.8, 0.5)), link("sign", chance=0.4),
                kind="restriction", shifted_by=(Shift(by="worn", odds_ratio=4.0, basis="practice"),),
            ),
            hypothesis("short", 0.4, link("f5", chance=0.6), link("m", levels=(0.6, 0.2)), kind="restriction"),
        ],
        [group("sign", "short", member("t1", sens=0.8, spec=0.7), member("t2", sens=0.6, spec=0.8))],
    )  # fmt: skip


def test_it_holds_and_tells_more_than_base_rates(small: Knowledge) -> None:
    found = selftest(compile_network(small, "not_stated"), patients=250, answers=6, seed=2)
    assert found.holds
    assert sum(b.count for b in found.bands) == 250 * 5
    assert all(after < before for before, after in found.loss.values())


def test_wrong_code_is_found(small: Knowledge, monkeypatch: pytest.MonkeyPatch) -> None:
    """Chances a little too sure of themselves do not hold."""

    def overconfident(network: Network, evidence: Any) -> Any:
        right = posterior(network, evidence)
        odds = (right.chance / (1 - right.chance)) ** 2
        return replace(right, chance=odds / (1 + odds))

    monkeypatch.setattr(module, "posterior", overconfident)
    assert not selftest(compile_network(small, "not_stated"), patients=250, answers=6, seed=2).holds


def test_patients_are_as_often_ill_as_the_network_says() -> None:
    """20,000 patients of a network with drivers and variants: base rates, and levels by the formula; four errors."""
    network, _ = case(2)
    drawn = simulate(network, 20_000, np.random.default_rng(3))
    error = 4 * np.sqrt(network.prior * (1 - network.prior) / 20_000)
    assert np.all(np.abs(drawn.on.mean(axis=0) - network.prior) < error)
    assert not (drawn.on[:, 0] & drawn.on[:, 1]).any()  # variants of one problem
    node = network.nodes[0]
    own = np.flatnonzero(network.reach[0].any(axis=1))
    for cause in own:
        others = [c for c in own if c != cause]
        alone = drawn.on[:, cause] & ~drawn.on[:, others].any(axis=1)
        if alone.sum() > 200:
            below = chance_below(network, node, 1, [network.causes[cause]])
            assert (drawn.level[node][alone] < 1).mean() == pytest.approx(below, abs=4 * np.sqrt(0.25 / alone.sum()))


def test_the_command(capsys: pytest.CaptureFixture[str]) -> None:
    """In the great toe, which is small; the label is there whichever way it is printed."""
    arguments = ["knowledge", "selftest", "--region", "great_toe", "--patients", "60", "--answers", "4"]
    assert main(arguments) == 0
    said = capsys.readouterr().out
    assert "checks code, not knowledge" in said
    assert "95 % interval" in said
    assert max(map(len, said.splitlines())) <= 80
    assert main([*arguments, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["label"].startswith("checks code, not knowledge")
    assert found["holds"] is True


@pytest.mark.parametrize("wrong", [["--setting", "after_sprian"], ["--patients", "3"], ["--answers", "-1"]])
def test_wrong_arguments_are_told(wrong: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["knowledge", "selftest", *wrong]) == 2
    assert capsys.readouterr().err.strip()
