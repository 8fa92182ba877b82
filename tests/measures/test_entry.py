"""What people type for a measure."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.load import default_folder, load
from reasoner.graph.records import Measure
from reasoner.measures.entry import MAX_TRIALS, check_value, parse_trials
from reasoner.measures.units import in_unit
from tests.measures.build import COUNT, RATING, SHIN, reach
from tests.strategies import CALM

REACH = reach()
Read = list[tuple[str, tuple[float, ...]]]


def read(text: str, measure: Measure = REACH) -> Read:
    """(side, values) of a line that must be readable."""
    found, problems = parse_trials(text, measure)
    assert not [p for p in problems if p.level == "error"], problems
    assert found
    return [(trials.side, trials.values) for trials in found]


def refused(text: str, measure: Measure = REACH) -> str:
    """The one problem of a line that must be refused."""
    found, problems = parse_trials(text, measure)
    assert found == ()
    assert len(problems) == 1
    assert problems[0].level == "error"
    told = str(problems[0])
    assert "\n" not in told
    assert told.isascii()
    return told


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("L 4 4.5 4.5 R 9 9 9.5", [("left", (4.0, 4.5, 4.5)), ("right", (9.0, 9.0, 9.5))]),
        ("left 4", [("left", (4.0,))]),
        ("r9 l4", [("right", (9.0,)), ("left", (4.0,))]),
        ("L: 4 R: 9", [("left", (4.0,)), ("right", (9.0,))]),
        ("L=4 R=9", [("left", (4.0,)), ("right", (9.0,))]),
        ("4 4.5 left", [("left", (4.0, 4.5))]),
        ("RIGHT .5 +2 5.", [("right", (0.5, 2.0, 5.0))]),
        # minus, as keyboards and documents give it
        ("L -4 −3.5 –3 minus 2 plus 1", [("left", (-4.0, -3.5, -3.0, -2.0, 1.0))]),
        # units
        ("L 45mm", [("left", (4.5,))]),
        ("L 45 46 mm", [("left", (4.5, 4.6))]),
        ("L 45 mm R 90 mm", [("left", (4.5,)), ("right", (9.0,))]),
        ("L 2in", [("left", (5.08,))]),  # 2 * 2.54
        ('L 2" R 3"', [("left", (5.08,)), ("right", (7.62,))]),
        ("L 4 cm R 9", [("left", (4.0,)), ("right", (9.0,))]),
        ("L\u00a04,5\u00a04,5", [("left", (4.5, 4.5))]),
        # commas
        ("L 4,5 4,5", [("left", (4.5, 4.5))]),
        ("L 4, 5", [("left", (4.0, 5.0))]),
        ("L 4, 4.5, 4.5", [("left", (4.0, 4.5, 4.5))]),
        ("L 4,4.5", [("left", (4.0, 4.5))]),
        ("L 4,5,4", [("left", (4.0, 5.0, 4.0))]),
        ("L 4,5, 4,5", [("left", (4.5, 4.5))]),
        ("L 4,5 5 R -9,5 9", [("left", (4.5, 5.0)), ("right", (-9.5, 9.0))]),
        ("L 4; 5", [("left", (4.0, 5.0))]),
        ("L 4,5; 4,5", [("left", (4.5, 4.5))]),
    ],
)
def test_what_is_typed_is_read(text: str, expected: Read) -> None:
    assert read(text) == expected


@pytest.mark.parametrize(
    ("text", "told"),
    [
        # what can be read in two ways, with both ways to write it
        ("L 4,5", "write 4.5 for one number, or 4 5 for two trials"),
        ("L 4,5 R 9,5", "write 4.5 for one number, or 4 5 for two trials"),
        ("L -4,5", "write -4.5 for one number, or -4 5 for two trials"),
        ("L 4,5mm", "can be one number or two trials"),
        ("L 4,5 4.5", "points and commas are mixed"),
        ("L 4,5,4 4,5", "points and commas are mixed"),
        ("L ,5", "is not a number"),
        ("L 4 ,5", "is not a number"),
        ("L 4-5", "joins two numbers"),
        ("L - 4", "is not a number"),
        ("L minus -4", "its sign twice"),
        ("L 4 minus", "a minus without its number"),
        ("L 4 1/2", "fraction"),
        ("L 4½", "fraction"),
        ("L 1e1", "not a unit"),
        ("L 4.5.1", "one point"),
        ("L ４", "not understood"),
        ("L nan", "not understood"),
        ("L inf", "not understood"),
        # sides
        ("4 4.5", "which side is not said"),
        ("4 L 5 R", "stand before any side"),
        ("L 4 L 5", "left is given twice"),
        ("L R 9", "no number for left"),
        ("both 4", "each side needs its own numbers"),
        ("", "no number found"),
        ("L", "no number found"),
        # units
        ("L 4 deg", "measured in cm"),
        ("L 4deg", "measured in cm"),
        ("L 4 45mm", "another unit than the rest"),
        ("L 8 9mm", "another unit than the rest"),
        ("L 45 mm R 9", "another unit than the rest"),
        ("L 45mm 2in", "another unit than the rest"),
        ("L 3 R 6 fingers", "another unit than the rest"),
        ("fingers L 3cm", "does not read in cm"),
        ("tape L 3 fingers", "two tools"),
        # values
        ("L 45", "if these are millimetres, write 45mm"),
        ("L 45 46 R 90 92", "write 45mm"),
        ("L -150", "write -150mm"),
        ("L 300", "not possible for reach (-15 to 25)"),
        ("L 45cm", "not possible for reach (-15 to 25)"),
        ("L " + "9" * 400, "not possible"),
        ("L " + "4 " * (MAX_TRIALS + 1), "at most 20"),
        ("L 4 banana", "not understood"),
        ("L 4 hel down", "nearest: "),
        ("?", "not understood"),
    ],
)
def test_what_is_refused_says_how_to_write_it(text: str, told: str) -> None:
    assert told in refused(text)


def test_a_slip_of_ten_that_fits_neither_way_has_no_hint_of_millimetres() -> None:
    assert "millimetres" not in refused("L 300")
    assert "millimetres" not in refused("L 45cm")
    assert "millimetres" not in refused("L 80", SHIN)


def test_a_side_may_come_from_the_case() -> None:
    found, problems = parse_trials("4 4.5", REACH, side="right")
    assert [(t.side, t.values) for t in found] == [("right", (4.0, 4.5))]
    assert problems == ()
    found, _ = parse_trials("L 4", REACH, side="right")  # what is typed comes first
    assert found[0].side == "left"


def test_tools_and_set_up() -> None:
    def told(text: str, tool: str | None = None) -> list[tuple[str, tuple[float, ...], str, str]]:
        found, problems = parse_trials(text, REACH, tool=tool)
        assert not problems, problems
        return [(t.side, t.values, t.tool, t.setup) for t in found]

    assert told("L 4") == [("left", (4.0,), "tape", "")]
    assert told("L 4 ruler") == [("left", (4.0,), "tape", "")]
    assert told("L 4 R 9 heel down") == [
        ("left", (4.0,), "tape", "heel down"), ("right", (9.0,), "tape", "heel down")
    ]  # fmt: skip
    three = [("left", (4.5,), "finger_widths", "")]  # 3 * 1.5
    for text in ("L 3 fingers", "L 3fingers", "3 finger widths left", "fingers L 3", "finger widths L 3"):
        assert told(text) == three
    assert told("L 3", tool="finger_widths") == three
    # a word that is both a tool's unit and part of the set-up never changes a number in silence
    assert told("L 4 heel on finger") == [("left", (4.0,), "tape", "heel on finger")]
    assert "can be the unit or the set-up" in refused("L 4 finger under heel")


def test_a_refusal_says_the_range_and_where_it_is_from(knowledge: Knowledge) -> None:
    for pack in (knowledge, loaded("great_toe")):
        for record in pack.measures.values():
            found = check_value(record, record.possible[1] * 1000 + 1)
            assert found is not None
            low, high = record.possible
            assert f"({low:g} to {high:g}; {record.possible_source})" in found.message
            basis = ("(common practice)", "own range")
            assert record.possible_source.endswith(basis), record.id


def loaded(region: str) -> Knowledge:
    """The shipped knowledge of a region."""
    found, problems = load(default_folder(), region)
    assert found is not None, problems
    return found


def test_an_unusual_value_is_read_and_said() -> None:
    found, problems = parse_trials("L 20", REACH)
    assert found[0].values == (20.0,)
    assert [(p.code, p.level) for p in problems] == [("M-USUAL", "info")]


def test_a_measure_without_sides() -> None:
    assert read("5", RATING) == [("none", (5.0,))]
    for text in ("5/10", "5 / 10", "5 of 10", "5 out of 10"):
        assert read(text, RATING) == [("none", (5.0,))]
    assert "has no sides" in refused("L 5", RATING)
    assert "11 is not possible for pain (0 to 10)" in refused("11", RATING)
    assert "not possible" in refused("-1", RATING)


def test_a_count_is_whole() -> None:
    assert read("L 20 reps R 25 reps", COUNT) == [("left", (20.0,)), ("right", (25.0,))]
    assert read("L 20x", COUNT) == [("left", (20.0,))]
    assert "whole" in refused("L 20.5", COUNT)


def test_degrees() -> None:
    assert read("L 35° R 40 deg", SHIN) == [("left", (35.0,)), ("right", (40.0,))]
    assert "measured in deg" in refused("L 9cm", SHIN)


def test_a_derived_measure_is_not_typed() -> None:
    assert "worked out" in refused("L 4", reach(derived="a - b"))


def test_readings_of_a_tool_in_the_measure_s_unit() -> None:
    assert in_unit(REACH, None, [3, 4]) == (3, 4)
    assert in_unit(REACH, "finger_widths", [3, 2]) == (4.5, 3.0)
    with pytest.raises(KeyError):
        in_unit(REACH, "goniometer", [3])


def test_a_value_is_checked_on_its_own() -> None:
    assert check_value(REACH, 4.0) is None
    problem = check_value(REACH, 45.0)
    assert problem is not None
    assert problem.level == "error"
    problem = check_value(REACH, float("nan"))
    assert problem is not None
    assert problem.level == "error"


halves = st.integers(-30, 50).map(lambda n: n / 2)
sides = st.lists(halves, min_size=1, max_size=6)


@CALM
@given(sides, sides)
def test_what_is_written_plainly_is_read_back_and_sides_may_come_in_any_order(
    left: list[float], right: list[float]
) -> None:
    one = " ".join(map(str, left))
    other = " ".join(map(str, right))
    assert read(f"L {one} R {other}") == [("left", tuple(left)), ("right", tuple(right))]
    assert read(f"R {other} L {one}") == [("right", tuple(right)), ("left", tuple(left))]


@CALM
@given(sides)
def test_the_value_does_not_depend_on_the_unit_it_is_typed_in(values: list[float]) -> None:
    plain = read("L " + " ".join(map(str, values)))
    assert read("L " + " ".join(f"{v * 10:g}mm" for v in values)) == plain
    assert read("L " + " ".join(f"{v:g}cm" for v in values)) == plain


@CALM
@given(st.lists(halves, min_size=2, max_size=6))
def test_decimal_commas_read_as_points_where_blanks_set_the_trials_apart(values: list[float]) -> None:
    assert read("L " + " ".join(str(v).replace(".", ",") for v in values)) == read("L " + " ".join(map(str, values)))


words = st.sampled_from([
    "L", "R", "left", "4", "-4", "4,5", "4.5", "45mm", "fingers", "mm", "heel", "minus", "/10", ",", ";", "-", "x",
    "\u00bd", "tape", '"',
])  # fmt: skip


@CALM
@given(st.lists(words, max_size=8).map(" ".join) | st.text(max_size=30))
def test_any_line_is_read_or_refused_in_one_line(text: str) -> None:
    found, problems = parse_trials(text, REACH)
    if not found:
        assert len(problems) == 1
        assert "\n" not in str(problems[0])
    for trials in found:
        assert trials.values
        assert all(-15 <= value <= 25 for value in trials.values)


def test_huge_input_ends() -> None:
    for text in ("L " + "4," * 50_000, "L " + "4 " * 50_000, "9" * 100_000, "-" * 100_000, "L 4 " + "a" * 100_000):
        assert len(refused(text)) < 200
