"""Problems as values: how they print, and what is near."""

from __future__ import annotations

from reasoner.problems import InputRefused, Problem, nearest, one_line


def test_a_problem_prints_on_one_line_with_its_place() -> None:
    assert str(Problem("K-X", "found a", "write b", "f.yaml", 3)) == "f.yaml:3: K-X: found a; write b"
    assert str(Problem("K-X", "found a", file="f.yaml")) == "f.yaml: K-X: found a"
    assert str(Problem("", "found a")) == "found a"


def test_refused_input_carries_all_problems() -> None:
    refused = InputRefused([Problem("A", "one"), Problem("B", "two")])
    assert [p.code for p in refused.problems] == ["A", "B"]
    assert str(refused) == "A: one\nB: two"


def test_nearest_names() -> None:
    known = ["front_pinch", "night_pain", "swelling"]
    assert nearest("front_pinsh", known) == ("front_pinch",)
    assert nearest("pain", known) == ("night_pain",)
    assert nearest("zzz", known) == ()
    assert nearest("", known) == ()


def test_foreign_text_stays_on_one_line_and_prints() -> None:
    assert one_line("a\n  b\tc") == "a b c"
    assert one_line("\x1b[31mred") == "?[31mred"
    assert one_line("x" * 100, 10) == "xxxxxxx..."
