"""The strict reader: what is a value, what is refused, and where."""

from __future__ import annotations

import json
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from reasoner.graph.source import MOST_BYTES, Document, parse
from tests.tiny_pack import TINY


def value_of(text: str) -> Any:
    document, problems = parse(text.encode(), "f.yaml")
    assert problems == []
    assert document is not None
    return document.value


def codes_of(text: str | bytes) -> list[tuple[str, int]]:
    data = text if isinstance(text, bytes) else text.encode()
    return [(p.code, p.line) for p in parse(data, "f.yaml")[1]]


@pytest.mark.parametrize(
    ("written", "value"),
    [
        ("true", True),
        ("false", False),
        ("null", None),
        ("", None),
        ("0", 0),
        ("-12", -12),
        ("+3", 3),
        (".95", 0.95),
        ("0.35", 0.35),
        ("-4.50", -4.5),
        ("front pinch", "front pinch"),
        ("y", "y"),
        ("n", "n"),
        ("2026-01-31", "2026-01-31"),  # a date stays text: no field holds a date
        ("6-12", "6-12"),
        ("1.2.3", "1.2.3"),
        ("10 weeks", "10 weeks"),
        ("'no'", "no"),
        ('"3:30"', "3:30"),
        ("'012'", "012"),
        ("'1e3'", "1e3"),
        ("'true'", "true"),
        ("nobody", "nobody"),
        ("information", "information"),
    ],
)
def test_scalars(written: str, value: Any) -> None:
    found = value_of(f"a: {written}\n")["a"]
    assert found == value
    assert type(found) is type(value)


# what common YAML readers make of these: PyYAML's own default loader is the witness that they are traps
@pytest.mark.parametrize(
    "written",
    ["yes", "Yes", "no", "NO", "on", "off", "True", "FALSE", "~", "Null", "3:30", "012", "1_000", "0x1F", "0b11",
     "1.5e+3", ".inf", "-.INF", ".nan", "5.", "190:20:30", "-1:30.5"],
)  # fmt: skip
def test_silent_conversions_are_refused(written: str) -> None:
    assert not isinstance(yaml.safe_load(f"a: {written}")["a"], str)
    ((code, line),) = codes_of(f"# first\na: {written}\n")
    assert code in ("Y-WORD", "Y-NUMBER")
    assert line == 2


@pytest.mark.parametrize("written", ["1e3", "1E-5", "0o17", "nan", "inf", "Infinity", "9" * 400, "0." + "3" * 40])
def test_numbers_that_readers_disagree_about(written: str) -> None:
    assert codes_of(f"a: {written}\n") == [("Y-NUMBER", 1)]


def test_keys_are_text() -> None:
    assert value_of("no: 1\n012: 2\nn: 3\n2020-01-01: 4\n") == {"no": 1, "012": 2, "n": 3, "2020-01-01": 4}


def test_lines_of_every_key_and_item() -> None:
    document, problems = parse(b"# head\na: 1\nb:\n  - x\n  - c: 2\n    d: [3,\n      4]\n", "f.yaml")
    assert problems == []
    assert document is not None
    assert document.lines == {
        (): 2, ("a",): 2, ("b",): 3, ("b", 0): 4, ("b", 1): 5, ("b", 1, "c"): 5, ("b", 1, "d"): 6,
        ("b", 1, "d", 0): 6, ("b", 1, "d", 1): 7,
    }  # fmt: skip


def test_windows_line_ends_and_byte_order_mark() -> None:
    document, problems = parse(b"\xef\xbb\xbfa: 1\r\nb: [2]\r\n", "f.yaml")
    assert problems == []
    assert document is not None
    assert document.value == {"a": 1, "b": [2]}
    assert document.lines["b",] == 2


def test_same_key_twice_says_both_lines() -> None:
    document, (problem,) = parse(b"a: 1\nb: 2\na: 3\n", "f.yaml")
    assert (problem.code, problem.line) == ("Y-DUPLICATE", 3)
    assert "line 1" in problem.message
    assert document is not None
    assert document.value == {"a": 1, "b": 2}


def test_all_problems_of_a_file_at_once() -> None:
    assert codes_of("a: no\nb: 012\na: “x”\nc: &d 1\n") == [
        ("Y-WORD", 1), ("Y-NUMBER", 2), ("Y-DUPLICATE", 3), ("Y-QUOTES", 3), ("Y-ANCHOR", 4),
    ]  # fmt: skip


def test_alias_bomb_is_not_expanded() -> None:
    lines = ["a0: &a0 [x]"] + [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]" for n in range(1, 30)]
    document, problems = parse("\n".join(lines).encode(), "f.yaml")
    assert {p.code for p in problems} == {"Y-ANCHOR"}
    assert document is not None
    assert len(json.dumps(document.value)) < 10_000


@pytest.mark.parametrize("opening", ["[", "{a: ", "- ", "? "])
def test_deep_nesting_is_refused_not_followed(opening: str) -> None:
    assert codes_of(opening * 20_000)


def test_too_large_and_wrong_bytes() -> None:
    assert codes_of(b"a: " + b"x" * MOST_BYTES) == [("Y-BYTES", 0)]
    assert codes_of(b"a: 1\nb: caf\xe9\n") == [("Y-BYTES", 2)]
    assert codes_of("a: 1\n".encode("utf-16")) == [("Y-BYTES", 1)]
    assert [c for c, _ in codes_of(b"a: x\x00y\n")] == ["Y-SYNTAX"]


def test_odd_characters_in_comments_do_no_harm() -> None:
    assert codes_of("# 5\u00a0mm\na: 1\n") == []
    assert codes_of("a: 5\u00a0mm\n") == [("Y-CHARACTER", 1)]
    assert codes_of("\ta: 1\n") == [("Y-TAB", 1)]
    assert codes_of("a: 1\t# comment\n") == []


def test_python_parser_reads_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where libyaml is not built in, the slower parser stands in for it."""
    fast = {name: parse(text.encode(), name) for name, text in TINY.items()}
    monkeypatch.setattr(yaml, "__with_libyaml__", False)
    slow = {name: parse(text.encode(), name) for name, text in TINY.items()}
    assert slow == fast


def only_plain(value: Any) -> bool:
    if isinstance(value, dict):
        return all(type(k) is str and only_plain(v) for k, v in value.items())
    if isinstance(value, list):
        return all(only_plain(v) for v in value)
    return value is None or type(value) in (str, int, float, bool)


@given(st.one_of(st.binary(max_size=200), st.text(max_size=200).map(str.encode)))
def test_any_bytes_give_plain_values_or_problems(data: bytes) -> None:
    document, problems = parse(data, "f.yaml")
    if document is None:
        assert problems
    else:
        assert isinstance(document, Document)
        assert only_plain(document.value)
        json.dumps(document.value, allow_nan=False)
    for problem in problems:
        assert problem.message
        assert "\n" not in str(problem)


pieces = st.sampled_from(
    ["a", "b: ", "- ", "? ", ": ", "[", "]", "{", "}", ",", "&x ", "*x", "!t ", "no", "1", "012", '"', "'", "|", ">",
     "\n", "\n  ", "\n    ", "#", " ", "\t", "---", "%", "@", "“", "\u00a0", "<<: "]
)  # fmt: skip


@given(st.lists(pieces, max_size=30).map("".join))
def test_yaml_like_text_gives_plain_values_or_problems(text: str) -> None:
    test_any_bytes_give_plain_values_or_problems.hypothesis.inner_test(text.encode())  # type: ignore[attr-defined]


@given(st.text(alphabet=st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1))
def test_quoted_text_comes_back_as_it_is(text: str) -> None:
    assert value_of(f"a: {json.dumps(text, ensure_ascii=False)}\n")["a"] == text
