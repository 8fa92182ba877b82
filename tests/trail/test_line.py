"""Reading and writing one line."""

from __future__ import annotations

import json
from contextlib import suppress
from datetime import datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reasoner.trail.line import FIRST_PREVIOUS, KEYS, MAX_LINE, BadLine, decode, encode, parse_json, sha256
from reasoner.trail.upcast import SCHEMA, upcast
from tests.strategies import CALM
from tests.trail.build import START


def line(payload: dict[str, Any], **changes: Any) -> bytes:
    """A line with this payload."""
    told: dict[str, Any] = {
        "at": START, "by": "KM", "role": "physiotherapist", "knowledge": "k", "text_hashes": {}
    } | changes  # fmt: skip
    return encode(2, FIRST_PREVIOUS, "noted", payload, **told)


def sealed(body: str | bytes) -> bytes:
    """A line with any body and the hash that fits it: what is left to refuse is the body."""
    body = body.encode() if isinstance(body, str) else body
    return body + f',"hash":"{sha256(body)}"}}'.encode()


def body(**changes: str) -> str:
    """A good body with some values replaced by raw JSON."""
    values = {
        "seq": "2", "at": '"2026-03-02T09:00:00+00:00"', "by": '"KM"', "role": '"x"', "event": '"noted"', "schema": "1",
        "knowledge": '"k"', "previous": f'"{FIRST_PREVIOUS}"', "payload": "{}", "texts": "{}",
    } | changes  # fmt: skip
    return "{" + ",".join(f'"{key}":{value}' for key, value in values.items())


def test_the_hash_covers_every_byte_before_it_as_sha256_of_the_raw_bytes() -> None:
    # worked by another route: the standard library's hash over the bytes up to `,"hash":`
    import hashlib

    raw = line({"value": 4.50})
    before, _, rest = raw.partition(b',"hash":')
    assert json.loads(raw)["hash"] == "sha256:" + hashlib.sha256(before).hexdigest()
    assert rest.endswith(b'"}')
    assert tuple(json.loads(raw)) == KEYS


def test_a_good_body_sealed_by_the_test_is_read() -> None:
    assert decode(sealed(body())).event == "noted"  # so that the refusals below are about their change


json_values = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**14), 10**14) | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from("abc"), inner, max_size=3),
    max_leaves=8,
)  # fmt: skip


@CALM
@given(st.dictionaries(st.sampled_from(["one", "two", "übung"]), json_values))
def test_what_is_written_is_read_back(payload: dict[str, Any]) -> None:
    entry = decode(line(payload))
    assert entry.payload == payload
    assert (entry.seq, entry.at, entry.by, entry.schema) == (2, START, "KM", SCHEMA)


@CALM
@given(st.binary(max_size=200) | st.text(max_size=100).map(sealed) | st.binary(max_size=50).map(sealed))
def test_any_bytes_are_read_or_refused_and_nothing_else(raw: bytes) -> None:
    with suppress(BadLine):
        decode(raw)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"payload": '{"a":1,"a":2}'}, "twice"),
        ({"payload": '{"a":NaN}'}, "NaN"),
        ({"payload": '{"a":-Infinity}'}, "Infinity"),
        ({"payload": '{"a":1e400}'}, "too large"),
        ({"payload": '{"a":1234567890123456}'}, "15 digits"),
        ({"payload": '{"a":"\\u0000"}'}, "not text"),
        ({"payload": '{"a":"\\ud800"}'}, "not text"),
        ({"payload": "[]"}, "no payload"),
        ({"payload": '{"a":' + "[" * 100_000 + "]" * 100_000 + "}"}, "nested"),
        ({"payload": "{" + "1" * 5000 + "}"}, "not JSON"),
        ({"seq": "0"}, "counting"),
        ({"seq": "true"}, "counting"),
        ({"seq": "2.0"}, "counting"),
        ({"schema": "99"}, "newer"),
        ({"at": '"2026-03-02T09:00:00"'}, "offset"),
        ({"at": '"yesterday"'}, "isoformat"),
        ({"by": "7"}, "text is expected"),
        ({"event": '"../x"'}, "event name"),
        ({"previous": '"none"'}, "line before"),
        ({"texts": '{"words":"plain"}'}, "without its hash"),
        ({"extra": "1"}, "keys"),
    ],
)
def test_a_line_that_could_be_understood_in_two_ways_is_refused(changes: dict[str, str], told: str) -> None:
    with pytest.raises(BadLine, match=told):
        decode(sealed(body(**changes)))


def test_bytes_that_are_not_text_are_refused() -> None:
    with pytest.raises(BadLine, match="UTF-8"):
        decode(sealed(body(by='"X"').encode().replace(b"X", b"\xff")))
    with pytest.raises(BadLine, match="NUL"):
        decode(sealed(body().encode().replace(b"noted", b"no\x00ted")))
    with pytest.raises(BadLine, match="bytes"):
        decode(sealed(body(by='"' + "x" * MAX_LINE + '"')))


def test_a_surrogate_pair_is_text() -> None:
    assert parse_json(b'"\\ud83e\\uddb6"') == "\U0001f9b6"


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), "\ud800", "\x00", 10**20, "x" * MAX_LINE])
def test_what_could_not_be_read_back_is_not_written(bad: object) -> None:
    with pytest.raises(BadLine):
        line({"a": bad})


def test_a_time_without_its_offset_is_not_written() -> None:
    with pytest.raises(ValueError, match="offset"):
        line({}, at=datetime(2026, 3, 2, 9, 0))


def test_old_schemas_go_through_every_step() -> None:
    steps = {
        1: lambda event, payload: (event, payload | {"b": payload["a"] + 1}),
        2: lambda event, payload: ("renamed", payload),
    }
    assert upcast("noted", {"a": 1}, 1, steps=steps, newest=3) == ("renamed", {"a": 1, "b": 2})
    assert upcast("noted", {"a": 1}, 3, steps=steps, newest=3) == ("noted", {"a": 1})
    with pytest.raises(ValueError, match="newer"):
        upcast("noted", {}, 4, steps=steps, newest=3)
    with pytest.raises(ValueError, match="no longer"):
        upcast("noted", {}, 1, steps={}, newest=3)
