"""From records to arrays: every rule of section "inference" of the contract, one small knowledge each."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Modifier, Setting, Shift
from reasoner.inference.codes import CODES
from reasoner.inference.compile import compile_network, compile_problems
from reasoner.inference.evidence import Evidence
from reasoner.inference.kernel import posterior
from reasoner.inference.network import Network
from reasoner.inference.responses import CONTACT
from tests.inference.build import figure, finding, group, hypothesis, knowledge, link, measured, member


def reach(network: Network, cause: str, node: str) -> list[float]:
    """What a cause does to a node."""
    return [float(u) for u in network.reach[network.place(node)][network.cause_index[cause]]]


def leak(network: Network, node: str) -> list[float]:
    """A node's leak."""
    return [float(u) for u in network.leak[network.place(node)]]


def codes(made: Knowledge) -> list[tuple[str, str]]:
    """(code, level) of every problem."""
    return [(p.code, p.level) for p in compile_problems(made)]


# ------------------------------------------------------------------------------------------------ links and leaks


def test_a_word_is_the_chance_and_brings_its_range() -> None:
    """`usually` is .8 in the scale; a stated range is kept."""
    h = hypothesis("h", 0.2, link("f", chance="usually"), link("g", chance=0.6, range=(0.4, 0.7)))
    made = compile_network(knowledge([finding("f", "often"), finding("g")], [h]), "not_stated")
    assert reach(made.network, "h", "f") == [0.8]
    assert leak(made.network, "f") == [0.6]
    low_high = made.intervals.reach[made.network.place("f")][0, 0]
    assert low_high == pytest.approx([0.65, 0.84])
    assert made.intervals.reach[made.network.place("g")][0, 0] == pytest.approx([0.4, 0.7])
    assert made.network.causes == ("h", CONTACT)
    assert made.network.prior[1] == pytest.approx(0.25)


def test_sensitivity_and_specificity() -> None:
    """c = 1 - (1-.8)/.7, leak = 1 - .7/(1 - .2*.5) = .2222 with another cause at .2 that brings it with .5."""
    study = link("f", "published", sens=0.8, spec=0.7, range=(0.7, 0.9), spec_range=(0.6, 0.8))
    made = compile_network(
        knowledge([finding("f")], [hypothesis("h", 0.3, study), hypothesis("o", 0.2, link("f", chance=0.5))]),
        "not_stated",
    )
    assert reach(made.network, "h", "f") == pytest.approx([1 - 0.2 / 0.7])
    assert leak(made.network, "f") == pytest.approx([1 - 0.7 / 0.9])
    ends = made.intervals.reach[0][0, 0]
    assert ends == pytest.approx([1 - 0.3 / 0.6, 1 - 0.1 / 0.8])
    assert made.intervals.leak[0][0] == pytest.approx([1 - 0.8 / 0.9, 1 - 0.6 / 0.9])


def test_the_leak_uses_the_study_s_own_base_rates() -> None:
    """The other cause at .2 where nothing is stated, at .6 in the study: leak = 1 - .7/(1 - .6*.4)."""
    other = hypothesis("o", 0, link("f", chance=0.4), base_rate={"not_stated": 0.2, "after_sprain": 0.6})
    study = link("f", "published", sens=0.8, spec=0.7, study_setting="after_sprain")
    made = knowledge([finding("f")], [hypothesis("h", 0.3, study), other])
    assert leak(compile_network(made, "not_stated").network, "f") == pytest.approx([1 - 0.7 / 0.76])


def test_likelihood_ratios() -> None:
    """LR- alone gives c and leaves the stated leak; with LR+ too, Sp = (LR+ - 1)/(LR+ - LR-) gives the leak."""
    made = compile_network(
        knowledge(
            [finding("f", 0.12), finding("g", 0.12), finding("k", 0.12)],
            [hypothesis("h", 0.3, link("f", "published", lr_neg=0.25), link("g", "published", lr_pos=4.0, lr_neg=0.25),
                        link("k", "published", sens=0.8, spec=0.8, sensitivity_only=True))],
        ),
        "not_stated",
    ).network  # fmt: skip
    assert [reach(made, "h", n)[0] for n in "fgk"] == pytest.approx([0.75, 0.75, 0.75])
    # Sp = 3/3.75 = .8
    assert [leak(made, n)[0] for n in "fgk"] == pytest.approx([0.12, 0.2, 0.12])


def test_several_specificities_are_averaged() -> None:
    """Two studies: leaks 1 - .7/(1-.2*c2) and 1 - .8/(1-.3*c1), each without its own cause."""
    one, two = link("f", "published", sens=0.8, spec=0.7), link("f", "published", sens=0.6, spec=0.8)
    made = knowledge([finding("f")], [hypothesis("h", 0.1, one), hypothesis("k", 0.1, two)])
    c1, c2 = 1 - 0.2 / 0.7, 1 - 0.4 / 0.8
    expected = (1 - 0.7 / (1 - 0.1 * c2) + 1 - 0.8 / (1 - 0.1 * c1)) / 2
    assert leak(compile_network(made, "not_stated").network, "f") == pytest.approx([expected])


def test_leaks_are_raised_to_the_floor_and_it_is_said() -> None:
    """.05 for told, .02 for tested; a computed leak between 0 and the floor as well."""
    made = knowledge(
        [finding("told", 0.01, "told"), finding("tested", 0.01), finding("computed")],
        [hypothesis("h", 0.1, link("told", chance=0.5), link("tested", chance=0.5),
                    link("computed", "published", sens=0.8, spec=0.9)),
         hypothesis("o", 0.1, link("computed", chance=0.95))],
    )  # fmt: skip
    network = compile_network(made, "not_stated").network
    assert [leak(network, n)[0] for n in ("told", "tested", "computed")] == pytest.approx([0.05, 0.02, 0.02])
    assert codes(made) == [("N-LEAK-RAISED", "info")] * 3
    assert "0.006" in compile_problems(made)[2].message  # 1 - .9/(1 - .095) = .0055


def test_a_higher_published_specificity_lowers_the_floor() -> None:
    """Sp .995: the floor for this finding is .005; a judged specificity does not lower it."""
    for basis, expected in (("published", 0.005), ("practice", 0.02)):
        made = knowledge([finding("f")], [hypothesis("h", 0.1, link("f", basis, sens=0.8, spec=0.995))])
        assert leak(compile_network(made, "not_stated").network, "f") == pytest.approx([expected])


def test_accuracies_that_cannot_all_hold() -> None:
    """Sp .6 beside a cause at .5 that brings it with .95: leak 1 - .6/.525 < 0; k = (1 - .6/.98)/(.5*.95) = .816."""
    study = link("f", "published", sens=0.8, spec=0.6)
    made = knowledge(
        [finding("f", 0.15)], [hypothesis("h", 0.1, study), hypothesis("o", 0.5, link("f", chance=0.95))]
    )
    (problem,) = compile_problems(made)
    assert (problem.code, problem.level) == ("N-CANNOT-HOLD", "error")
    assert "cannot all hold" in problem.message
    assert "0.82" in problem.hint
    assert "sensitivity_only" in problem.hint
    assert leak(compile_network(made, "not_stated").network, "f") == [0.15], "meanwhile the stated leak"
    fixed = knowledge(
        [finding("f", 0.15)],
        [hypothesis("h", 0.1, study), hypothesis("o", 0.5, link("f", "published", chance=0.95))],
    )
    assert "multiply" not in compile_problems(fixed)[0].hint, "a published link is not shrunk"


def test_hand_felt_signs_are_shrunk_by_agreement() -> None:
    """c' = kappa c with the lower end; at or below 0 the link goes, and it is said."""
    felt = {"hand_felt": True}
    made = knowledge(
        [finding("f", agreement=figure(0.5, range=(0.3, 0.7)), **felt), finding("g", agreement=figure(0.4), **felt),
         finding("k", agreement=figure(0.2, range=(-0.1, 0.5)), **felt), finding("n", **felt)],
        [hypothesis("h", 0.1, *(link(n, chance=0.6) for n in "fgkn"))],
    )  # fmt: skip
    network = compile_network(made, "not_stated").network
    assert [reach(network, "h", n)[0] for n in "fgn"] == pytest.approx([0.18, 0.24, 0.6])
    assert "k" not in network.node_index
    assert codes(made) == [("N-NO-AGREEMENT", "info")]


def test_zero_and_one_are_not_taken_at_their_word() -> None:
    """Sens 1 counts as .98: c = 1 - .02/.7; said as a note."""
    made = knowledge([finding("f")], [hypothesis("h", 0.1, link("f", "published", sens=1.0, spec=0.7))])
    assert reach(compile_network(made, "not_stated").network, "h", "f") == pytest.approx([1 - 0.02 / 0.7])
    assert codes(made) == [("N-ZERO-ONE", "info")]


def test_no_leak_is_a_problem() -> None:
    """The floor stands in meanwhile."""
    made = knowledge([finding("f", None)], [hypothesis("h", 0.1, link("f", chance=0.5))])
    assert codes(made) == [("N-LEAK-MISSING", "error")]
    assert leak(compile_network(made, "not_stated").network, "f") == [0.02]


def test_what_nothing_is_linked_to_is_left_out() -> None:
    """An unlinked finding, and one the pack does not hold."""
    h = hypothesis("h", 0.1, link("f", chance=0.5), link("no", chance=0.5))
    made = knowledge([finding("f"), finding("g")], [h])
    compiled = compile_network(made, "not_stated")
    assert compiled.network.nodes == ("f",)
    assert compiled.node("g") is None
    assert compiled.asked("g") is None


# ------------------------------------------------------------------------------------------------ base rates


def test_modifiers_are_odds_ratios_and_only_those_that_hold() -> None:
    """.2 with OR 2 and 3: .6; a risk ratio of 1.5 gives .3; nothing known leaves .2."""
    modifiers = (
        Modifier(fact="x", odds_ratio=2.0, basis="practice"),
        Modifier(fact="y", odds_ratio=3.0, basis="practice"),
        Modifier(fact="z", risk_ratio=1.5, basis="practice"),
    )
    h = hypothesis("h", 0.2, link("f", chance=0.5), modifiers=modifiers)
    made = knowledge([finding("f")], [h])
    for holding, expected in (((), 0.2), ((0, 1), 0.6), ((2,), 0.3)):
        compiled = compile_network(made, "not_stated", {("h", n) for n in holding})
        assert compiled.network.prior[0] == pytest.approx(expected)
    assert codes(made) == [("N-RISK-RATIO", "info")]
    assert "1.71" in compile_problems(made)[0].message  # (.3/.7)/(.2/.8)


def test_settings_have_their_own_base_rates_and_findings() -> None:
    """A setting not named uses `not_stated`; what the setting accounts for is dropped, alone or in a group."""
    base = knowledge(
        [finding(n) for n in ("twisted", "f", "g", "k")],
        [hypothesis("h", 0, link("twisted", chance=0.9), link("f", chance=0.5), link("s", chance=0.5),
                    base_rate={"not_stated": 0.2, "after_sprain": 0.7})],
        [group("s", "h", member("g", when_present=figure(0.8)), member("k", when_present=figure(0.7)), leak=0.1)],
    )  # fmt: skip
    settings = (Setting(id="not_stated", name="n"), Setting(id="after_sprain", name="s", accounts_for=("twisted", "g")))
    made = replace(base, region=replace(base.region, settings=settings))
    after = compile_network(made, "after_sprain")
    assert after.network.prior[0] == pytest.approx(0.7)
    assert after.network.nodes == ("f", "s")
    assert len(after.intervals.reach) == 2
    assert [after.node(n) for n in ("twisted", "g", "k", "f")] == [None, None, "s", "f"]
    before = compile_network(made, "no such setting")
    assert before.network.prior[0] == pytest.approx(0.2)
    assert before.node("twisted") == "twisted"


def test_serious_causes_weigh_more_and_the_hidden_one_nothing() -> None:
    """1/H(.05) = 3.49; 1/H(.5) = 1; 0 for the hidden cause."""
    made = compile_network(
        knowledge(
            [finding("f")],
            [hypothesis("h", 0.1, link("f", chance=0.5)),
             hypothesis("s", 0.01, link("f", chance=0.5), kind="serious"),
             hypothesis("t", 0.01, link("f", chance=0.5), kind="serious", act_above=0.5)],
        ),
        "not_stated",
    )  # fmt: skip
    assert made.entropy_weights == pytest.approx([1.0, 3.4916, 1.0, 0.0], abs=1e-4)


# ------------------------------------------------------------------------------------------------ groups


def test_a_group_is_one_sign_with_noisy_readings() -> None:
    """Se_S .8, Sp_S .9: c = 1 - .2/.9, leak .1; members (.5/.7): b = .3 - .1*5/7, a = b + 5/7."""
    tests = [("t1", 0.8, 0.7), ("t2", 0.7, 0.8), ("t3", 0.6, 0.9)]
    made = knowledge(
        [finding(n) for n, _, _ in tests],
        [hypothesis("h", 0.3)],
        [group("s", "h", *(member(n, sens=se, spec=sp) for n, se, sp in tests))],
    )
    compiled = compile_network(made, "not_stated")
    assert compiled.network.nodes == ("s",)
    assert reach(compiled.network, "h", "s") == pytest.approx([1 - 0.2 / 0.9])
    assert leak(compiled.network, "s") == pytest.approx([0.1])
    first = compiled.members["t1"]
    assert (first.when_present, first.when_absent) == pytest.approx((0.3 - 0.5 / 7 + 5 / 7, 0.3 - 0.5 / 7))
    asked = compiled.asked("t1")
    assert asked is not None
    assert asked.node == "s"
    assert asked.table is not None
    assert asked.table.sum(axis=0) == pytest.approx([1.0, 1.0])
    assert codes(made) == []


def test_a_member_without_accuracy() -> None:
    """a as stated, b its floor, shrunk by agreement: b + .5(a - b)."""
    made = knowledge(
        [finding("t1"), finding("t2", kind="told")],
        [hypothesis("h", 0.3, link("s", chance="usually"))],
        [group("s", "h", member("t1", when_present=figure("usually"), when_absent=figure(0.15)),
               member("t2", when_present=figure(0.75), agreement=figure(0.6, range=(0.5, 0.8))), leak=0.12)],
    )  # fmt: skip
    compiled = compile_network(made, "not_stated")
    assert (compiled.members["t1"].when_present, compiled.members["t1"].when_absent) == (0.8, 0.15)
    assert compiled.members["t2"].when_absent == 0.05
    assert compiled.members["t2"].when_present == pytest.approx(0.05 + 0.5 * 0.7)
    assert reach(compiled.network, "h", "s") == [0.8]
    assert leak(compiled.network, "s") == [0.12]


def test_links_of_a_group() -> None:
    """To a member: refused. The reference's own: not used, and said unless it is the same. No link at all: refused."""
    members = (member("t1", sens=0.8, spec=0.7), member("t2", sens=0.7, spec=0.8))
    findings = [finding("t1"), finding("t2")]

    def with_link(*links: object) -> Knowledge:
        h = hypothesis("h", 0.3, *links)  # type: ignore[arg-type]
        return knowledge(findings, [h, hypothesis("o", 0.1, link("s", chance=0.3))], [group("s", "h", *members)])

    assert codes(with_link(link("t1", chance=0.5))) == [("N-GROUP-LINK", "error")]
    assert codes(with_link(link("s", chance=0.5))) == [("N-GROUP-REFERENCE", "info")]
    assert codes(with_link(link("s", "published", sens=0.8, spec=0.8))) == []
    network = compile_network(with_link(link("s", chance=0.5)), "not_stated").network
    assert reach(network, "h", "s") == pytest.approx([1 - 0.2 / 0.8])
    assert reach(network, "o", "s") == [0.3]
    assert leak(network, "s") == pytest.approx([1 - 0.8 / (1 - 0.1 * 0.3)])
    words = group("s", "h", member("t1", when_present=figure(0.8)), leak=0.1)
    assert codes(knowledge(findings, [hypothesis("h", 0.3)], [words])) == [("N-GROUP-REFERENCE", "error")]


# ------------------------------------------------------------------------------------------------ measures


def test_levels_in_words_and_from_a_spread() -> None:
    """Words are the chances; a mean and SD go through the normal, the leak from the healthy group."""
    made = knowledge(
        [measured("f", (2.0, 4.0))],
        [hypothesis("h", 0.2, link("f", levels=("usually", "sometimes"))),
         hypothesis("k", 0.2, link("f", mean=3.0, sd=2.0))],
    )  # fmt: skip
    network = compile_network(made, "not_stated").network
    assert reach(network, "h", "f") == [0.8, 0.35]
    # error .54115: healthy SD sqrt(1 - .29284) = .84093, 1 - Phi(2/.84093) = .0087 -> floor .02, both levels
    assert leak(network, "f") == pytest.approx([0.02, 0.02])
    # SD sqrt(4 - .29284) = 1.92540: v = 1 - Phi(-.51937) = .69825, 1 - Phi(.51937) = .30175; u = 1 - (1 - v)/.98
    assert reach(network, "k", "f") == pytest.approx([1 - 0.30175 / 0.98, 1 - 0.69825 / 0.98], abs=1e-5)
    assert codes(made) == []


def test_worse_when_smaller() -> None:
    """The mirror image gives the same numbers."""
    high = knowledge([measured("f", (2.0, 4.0))], [hypothesis("k", 0.2, link("f", mean=3.0, sd=2.0))])
    low = knowledge([measured("f", (-2.0, -4.0), worse="lower")], [hypothesis("k", 0.2, link("f", mean=-3.0, sd=2.0))])
    one, two = (compile_network(k, "not_stated").network for k in (high, low))
    assert np.allclose(one.reach[0], two.reach[0])
    assert np.allclose(one.leak[0], two.leak[0])


def test_a_published_cut_off() -> None:
    """One cut with an accuracy: plain yes or no, leak from its specificity."""
    made = compile_network(
        knowledge([measured("f", (2.0,))], [hypothesis("h", 0.2, link("f", "published", sens=0.8, spec=0.7))]),
        "not_stated",
    )
    assert made.scales["f"].hard
    assert leak(made.network, "f") == pytest.approx([0.3])
    soft = knowledge([measured("f", (2.0,))], [hypothesis("h", 0.2, link("f", levels=(0.7,)))])
    assert not compile_network(soft, "not_stated").scales["f"].hard


def test_levels_that_do_not_fit() -> None:
    """One strength for two cuts; chances from a spread that rise with the level; an SD that is mostly error."""
    one = knowledge([measured("f", (2.0, 4.0))], [hypothesis("h", 0.2, link("f", chance=0.5))])
    assert codes(one) == [("N-LEVELS", "error")]
    # worked out: mild hardly above healthy, severe far above
    f = measured("f", (0.2, 3.0))
    rising = knowledge([f], [hypothesis("h", 0.2, link("f", mean=0.3, sd=6.0))])
    assert codes(rising) == [("N-LEVELS", "error")]
    compile_network(rising, "not_stated")  # still a network: levels flattened
    noisy = replace(f, measured=replace(f.measured, healthy=replace(f.measured.healthy, sd=0.5)))  # type: ignore[arg-type,union-attr]
    assert ("N-SPREAD", "info") in codes(knowledge([noisy], [hypothesis("h", 0.2, link("f", levels=(0.5, 0.2)))]))


# ------------------------------------------------------------------------------------------------ problems


def test_every_code_has_its_text_and_every_text_its_code() -> None:
    """Codes the modules can raise are those with a reference text, and the text's first sentence stands alone."""
    from pathlib import Path

    import reasoner.inference

    folder = Path(reasoner.inference.__path__[0])
    source = "".join(p.read_text(encoding="utf-8") for p in folder.glob("*.py") if p.name != "codes.py")
    raised = {word.strip('"') for word in source.replace("(", " ").replace(",", " ").split() if word.startswith('"N-')}
    assert raised == set(CODES)
    assert all(text.split("\n")[0].endswith(".") for text in CODES.values())


def test_compiling_again_costs_little_and_changes_nothing() -> None:
    """The same knowledge gives the same arrays, shared."""
    made = knowledge([finding("f")], [hypothesis("h", 0.1, link("f", chance=0.5))])
    first, second = compile_network(made, "not_stated"), compile_network(made, "not_stated")
    assert first.network.reach[0] is second.network.reach[0]
    assert compile_problems(made) == compile_problems(made)


def test_conditions_shift_and_variants_exclude() -> None:
    """A condition in .2 with odds ratio 4 on a restriction in .3, and two stages of one tear: by hand and as said.

    Base rate .3 over both: b with .8 s(b) + .2 s(b + ln 4) = .3; odds x give .8 x/(1+x) + .2 * 4x/(1+4x) = .3, so
    2.8 x^2 + .1 x - .3 = 0, x = (-.1 + sqrt(.01 + 3.36))/5.6 = .309957: rates .236616 and .553537.
    """
    made = knowledge(
        [finding("f")],
        [
            hypothesis("worn", 0.2, link("f", chance=0.5)),
            hypothesis("tear_1", 0.1, link("f", chance=0.6), one_of="tear"),
            hypothesis("tear_2", 0.05, link("f", chance=0.8), one_of="tear"),
            hypothesis(
                "stiff", 0.3, link("f", chance=0.3), kind="restriction",
                shifted_by=(Shift(by="worn", odds_ratio=4.0, basis="practice"),),
            ),
        ],
    )  # fmt: skip
    network = compile_network(made, "not_stated").network
    assert network.coupling is not None
    assert network.coupling.states == 6
    assert posterior(network, Evidence()).chance[:4] == pytest.approx([0.2, 0.1, 0.05, 0.3], abs=1e-12)
    rates, share = network.coupling.given(network.prior[:, None])
    assert sorted(set(rates[3, 0].round(6))) == pytest.approx([0.236616, 0.553537], abs=1e-6)
    assert share.sum() == pytest.approx(1.0)


def test_variants_keep_room_for_none() -> None:
    """Whatever modifiers make of them, together they stay at .95; none of them in .05."""
    likely = tuple(Modifier(fact="x", odds_ratio=50.0, basis="practice") for _ in range(2))
    made = knowledge(
        [finding("f")],
        [hypothesis(f"t{k}", 0.3, link("f", chance=0.5), one_of="tear", modifiers=likely) for k in range(2)],
    )
    network = compile_network(made, "not_stated", {("t0", 0), ("t0", 1), ("t1", 0), ("t1", 1)}).network
    assert network.prior[:2].sum() == pytest.approx(0.95)
