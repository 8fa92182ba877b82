"""A clinic's own repeated measures: the table, what is worked out from it, and every way a file can be wrong."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reasoner.cli import main
from reasoner.graph.records import Measure
from reasoner.measures.error import standard_error
from reasoner.measures.formulas import sem_of_mean, split_error
from reasoner.measures.readings import read_readings
from reasoner.measures.reliability import nested_error, reliability
from reasoner.problems import InputRefused
from tests.measures.build import figure, reach
from tests.strategies import CALM

tenths = st.integers(-200, 200).map(lambda n: n / 10)
tables = st.integers(2, 5).flatmap(
    lambda k: st.lists(st.lists(tenths, min_size=k, max_size=k), min_size=3, max_size=8)
)
parts = st.floats(0.1, 5)


@CALM
@given(tables, st.sampled_from([10.0, 0.1, 2.54]), st.integers(-50, 50))
def test_icc_does_not_depend_on_the_unit_and_the_error_goes_with_it(
    table: list[list[float]], scale: float, shift: int
) -> None:
    try:
        here = reliability(table)
        there = reliability([[v * scale + shift for v in row] for row in table])
    except ValueError:
        return
    for form, found in here.icc.items():
        assert there.icc[form].value == pytest.approx(found.value, abs=1e-6)
    assert there.sem_agreement.value == pytest.approx(here.sem_agreement.value * scale, rel=1e-6)


@CALM
@given(tables)
def test_intervals_hold_their_number_and_consistency_is_never_below_agreement(table: list[list[float]]) -> None:
    try:
        found = reliability(table)
    except ValueError:
        return
    for form in ("1,1", "3,1", "1,k", "3,k"):
        e = found.icc[form]
        assert e.low <= e.value <= e.high <= 1
    assert found.sem_consistency.low < found.sem_consistency.value < found.sem_consistency.high
    # an offset between columns leaves consistency where it was and makes agreement worse
    apart = reliability([[v + 100 * i for i, v in enumerate(row)] for row in table])
    assert apart.sem_consistency.value == pytest.approx(found.sem_consistency.value, rel=1e-6)
    assert apart.sem_agreement.value > found.sem_agreement.value


def test_the_part_between_occasions_by_hand() -> None:
    # two people, two occasions, two trials. Within-occasion squares: .5 each of four occasions -> MS 2/4 = .5.
    # occasion means 4.5 6.5 | 8.5 8.5: squares about own means 1+1+0+0 = 2, over n(o-1) = 2 -> 1.0
    found = nested_error([[[4, 5], [6, 7]], [[8, 9], [8, 9]]])
    assert found.one_trial == pytest.approx(0.5**0.5)
    assert found.sem.value == pytest.approx(1.0)
    assert found.between_occasions == pytest.approx((1.0 - 0.5 / 2) ** 0.5)
    assert found.of_mean(2) == pytest.approx(1.0)
    assert found.of_mean(1000) == pytest.approx(found.between_occasions, abs=1e-3)


@CALM
@given(parts, parts, st.integers(2, 12))
def test_splitting_an_error_and_putting_it_together_again(between: float, trial: float, k: int) -> None:
    one, mean = sem_of_mean(between, trial, 1), sem_of_mean(between, trial, k)
    assert split_error(one, mean, k) == pytest.approx((between, trial), rel=1e-6, abs=1e-6)
    assert between <= sem_of_mean(between, trial, k + 1) <= mean <= one


def test_more_trials_shrink_only_the_trial_part_of_a_stated_error() -> None:
    # 1.0^2 = .6^2 + .64, of the mean of 3; one trial: sqrt(.36 + .64 * 3) = 1.510
    measure = reach(figure(sem=1.0, sem_between_occasions=0.6))
    for trials, expected in [(3, 1.0), (1, 1.5100), (12, 0.7211)]:  # 12: sqrt(.36 + 1.92 / 12)
        used = standard_error(measure, trials=trials)
        assert used is not None
        assert used.value == pytest.approx(expected, abs=5e-5)
        assert used.mdc90 < used.mdc95


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("", 1, "holds nothing"),
        ("# only a remark\n", 1, "holds nothing"),
        ("person,a,b\n", 1, "0 of the people needed"),
        ("person,a,b\np1,1,2\n", 2, "1 of the people needed"),
        ("person,a\np1,1\np2,2\n", 1, "1 columns of readings"),
        ("person,a,a\np1,1,2\np2,2,3\n", 1, "a stands twice"),
        ("person,a,\np1,1,2\np2,2,3\n", 1, "no name"),
        ("p1,4.5,5.0\np2,6.1,7.0\n", 1, "names the columns; found numbers"),
        ("person,a,b\np1,1,x\np2,2,3\n", 2, "found 'x'"),
        ("person,a,b\np1,1,\np2,2,3\n", 2, "found nothing"),
        ("person,a,b\np1,1,nan\np2,2,3\n", 2, "found 'nan'"),
        ("person,a,b\np1,1,1e400\np2,2,3\n", 2, "found '1e400'"),
        ("person,a,b\np1,1,2\n\np2,2\n", 4, "1 readings, the first line names 2"),
        ("person,a,b\np1,1,2\np1,2,3\n", 3, "stands here twice"),
        ("person,a,b\np1,1,2\np2,4,5,6\n", 3, "3 readings"),
        ("person,a,b\np1,1,\u202e2\np2,4,5\n", 2, "found"),
        ("person,a,b\np1,3,3\np2,5,5\n", 1, "agree exactly"),
        ("person,a,b\np1,3,4\np2,4,3\n", 1, "same mean"),
    ],
)
def test_a_bad_file_is_one_clear_line_and_exit_2(
    text: str, line: int, says: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "own.csv"
    path.write_text(text, encoding="utf-8")
    assert main(["measure", "reliability", str(path)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert err.startswith(f"{path}:{line}: ")
    assert says in err


@pytest.mark.parametrize("data", [b"\xff\xfe\x00", b"person,a,b\np1,1,\xe9\n", b"person,a\0,b\n"])
def test_what_is_not_text_is_refused(data: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "own.csv"
    path.write_bytes(data)
    assert main(["measure", "reliability", str(path)]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert main(["measure", "reliability", str(tmp_path / "none.csv")]) == 2
    assert main(["measure", "reliability", str(tmp_path)]) == 2


@given(st.text(max_size=200))
@CALM
def test_any_text_is_read_or_refused(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    path = tmp_path_factory.mktemp("any") / "own.csv"
    path.write_text(text, encoding="utf-8", errors="replace")
    try:
        read = read_readings(path)
    except InputRefused:
        return
    assert len(read.table) >= 2
    assert {len(row) for row in read.table} == {len(read.columns)}


def test_semicolons_bring_decimal_commas_and_occasions_are_told_apart(tmp_path: Path) -> None:
    path = tmp_path / "own.csv"
    path.write_text("\ufeffperson;mon.1;mon.2;thu.1;thu.2\np1;4,5;5;\u22121,5;5\np2;9;9,5;9;8\n", encoding="utf-8")
    read = read_readings(path)
    assert read.table[0] == (4.5, 5.0, -1.5, 5.0)
    assert read.occasions == (("mon", 2), ("thu", 2))
    assert read.nested()[1] == ((9.0, 9.5), (9.0, 8.0))


def test_with_a_measure_its_possible_range_is_held_and_its_figure_compared(
    tiny_folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "own.csv"
    path.write_text("person,a,b\np1,45,5\np2,9,9\n", encoding="utf-8")
    argv = ["--knowledge", str(tiny_folder), "measure", "reliability", str(path), "--measure", "ktw"]
    assert main(argv) == 2
    assert "45 cm is not possible" in capsys.readouterr().err
    path.write_text("person,a,b\np1,4.5,5\np2,9,9\np3,7,8\n", encoding="utf-8")
    assert main(argv) == 0
    out = capsys.readouterr().out
    assert max(map(len, out.splitlines())) <= 80
    assert "SEM 0.60 cm (practice)" in out  # the tiny pack's own figure
    # by hand: differences .5 0 1, about their mean .5: sum of squares .5, MSE .5/2/2 = .125; columns 3 * 2 * .25^2 =
    # .375; (.375 + 2 * .125) / 3 = .2083, root .456
    assert "sem: 0.46" in out
    assert main([*argv[:-1], "nonsense"]) == 2
    assert main([*argv, "--tool", "string"]) == 2


def test_a_table_needs_people_who_differ_and_readings_that_do_not_agree_exactly() -> None:
    for bad in ([[1, 2]], [[1], [2]], [[1, 2], [3]], [[1, 1], [2, 2]], [[1, 2], [2, 1]]):
        with pytest.raises(ValueError, match=r"needed|exactly|same mean"):
            reliability(bad)
    assert isinstance(reach(), Measure)
