"""Hostile bytes for every reader, a few of each. For longer: python -m tests.benchmarks.fuzz --minutes 5."""

from __future__ import annotations

import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reasoner.graph.knowledge import Knowledge
from reasoner.problems import InputRefused
from tests.hostile.targets import TOKENS, WORDS, Bench, TooSlow, check_refusal, edited, reworded, within

NAMES = (
    "yaml", "snapshot", "knowledge", "overlay", "clinic header", "scenario", "case mix", "readings", "landmarks",
    "studies", "letterhead", "bundle", "trail line", "trail", "trail payload", "remarks", "clinic record", "script",
)  # fmt: skip
SECONDS = 30  # for one input, on a busy machine
EDITS = st.lists(
    st.tuples(st.integers(0, 10**6), st.sampled_from(TOKENS) | st.binary(max_size=3), st.integers(0, 20)), max_size=4
)
OTHER_WORDS = st.lists(st.tuples(st.integers(0, 10**6), st.sampled_from(WORDS)), max_size=3)


@pytest.fixture(scope="module")
def bench(tiny_knowledge: Knowledge, tmp_path_factory: pytest.TempPathFactory) -> Bench:
    """The readers, in a folder of their own."""
    return Bench(tiny_knowledge, tmp_path_factory.mktemp("hostile"))


def test_these_are_all(bench: Bench) -> None:
    assert tuple(bench.targets()) == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_good_input_is_read(name: str, bench: Bench) -> None:
    """What the hostile bytes are made from is accepted: else nothing behind the first check would be tried."""
    read, good = bench.targets()[name]
    assert good
    for data in good:
        read(data)


@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=12, deadline=None)
@given(data=st.data())
def test_whatever_the_bytes_they_are_read_or_refused_in_clear_lines(
    name: str, bench: Bench, data: st.DataObject
) -> None:
    read, good = bench.targets()[name]
    hostile = reworded(edited(data.draw(st.sampled_from(good)), data.draw(EDITS)), data.draw(OTHER_WORDS))
    try:
        with within(SECONDS):
            read(hostile)
    except InputRefused as refused:
        check_refusal(refused)


def test_the_checks_can_fail() -> None:
    """A reader that hangs is stopped; a refusal that says nothing is noticed."""
    with pytest.raises(TooSlow), within(1):
        time.sleep(60)
    with pytest.raises(AssertionError):
        check_refusal(InputRefused([]))
