"""The sweep order: every cause once, every finding opened once and closed once, never more open than findings."""

from __future__ import annotations

from math import log2, prod

from hypothesis import given
from hypothesis import strategies as st

from reasoner.inference.order import plan
from tests.strategies import CALM

digit = st.tuples(st.sets(st.integers(0, 7), max_size=6).map(lambda s: tuple(sorted(s))), st.integers(2, 4))


@given(st.lists(digit, max_size=8))
@CALM
def test_everything_once(digits: list[tuple[tuple[int, ...], int]]) -> None:
    """Causes are shared, folded or free; positions in the state multiply out."""
    parents, sizes = tuple(p for p, _ in digits), tuple(s for _, s in digits)
    made = plan(8, parents, sizes)
    folded = [f.cause for f in made.folds if not f.into_cause]
    assert sorted([*(s.cause for s in made.steps), *folded, *made.free]) == list(range(8))
    opened = [d for s in made.steps for d in s.opens]
    closed = [t.digit for s in made.steps for t in s.closes]
    assert sorted(opened) == sorted(closed)
    inside = [f.digit for f in made.folds if f.into_cause]
    assert sorted([*opened, *inside, *made.alone]) == list(range(len(digits)))
    links = {(cause, d) for d, members in enumerate(parents) for cause in members}
    for fold in made.folds:  # when a leaf is folded nothing else is left to meet it
        links.remove((fold.cause, fold.digit))
        assert not any((d == fold.digit) if fold.into_cause else (cause == fold.cause) for cause, d in links)
    assert made.peak_bits <= sum(log2(s) for s in sizes) + 1e-12
    live = 1
    for step in made.steps:
        if step.turn is not None:  # there and back again
            assert prod(step.turn.shape) == live
            assert tuple(step.turn.shape[a] for a in step.turn.axes) == step.turn.turned
            assert tuple(step.turn.turned[b] for b in step.turn.back) == step.turn.shape
        live *= prod(sizes[d] for d in step.opens)
        fired = [d for group in step.groups for d in group.digits]
        assert sorted(fired) == sorted(d for cause, d in links if cause == step.cause)
        before = 1
        for group in step.groups:  # at the front of the state, one after another
            assert (group.before, group.levels) == (before, tuple(sizes[d] for d in group.digits))
            assert [parents[d][s] for d, s in zip(group.digits, group.slots, strict=True)] == [step.cause] * len(
                group.slots
            )
            before *= prod(group.levels)
        assert live % before == 0
        live //= prod(sizes[t.digit] for t in step.closes)
    assert live == 1


def test_what_must_be_open() -> None:
    """A chain of ten findings folds to nothing; closed to a ring, three are open at a time."""
    assert plan(11, tuple((k, k + 1) for k in range(10)), (2,) * 10).steps == ()
    assert plan(10, tuple((k, (k + 1) % 10) for k in range(10)), (2,) * 10).peak_bits == 3.0
