"""Events survive being written: every type, any field values, texts apart from the rest."""

from __future__ import annotations

import json
from types import NoneType, UnionType
from typing import Any, get_args, get_origin, get_type_hints

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reasoner.case.codec import decode, encode
from reasoner.case.events import EVENT_TYPES, Answered, Event, Noted, ScreenResolved, Treated, free_fields
from reasoner.problems import InputRefused
from tests.strategies import CALM


def _fitting(hint: Any) -> st.SearchStrategy[Any]:
    """Any value of a field's type; floats finite, because a trail refuses others."""
    if hint is float:
        return st.floats(allow_nan=False, allow_infinity=False)
    if isinstance(hint, UnionType):
        return st.one_of(*map(_fitting, get_args(hint)))
    if get_origin(hint) is tuple:
        return st.lists(_fitting(get_args(hint)[0]), max_size=4).map(tuple)
    return st.none() if hint is NoneType else st.from_type(hint)


@st.composite
def events(draw: Any) -> Event:
    """Any event with any values its types allow."""
    kind = draw(st.sampled_from(sorted(EVENT_TYPES.values(), key=lambda k: k.__name__)))
    made: Event = draw(st.builds(kind, **{name: _fitting(hint) for name, hint in get_type_hints(kind).items()}))
    return made


@CALM
@given(events())
def test_an_event_written_as_json_reads_back_equal(event: Event) -> None:
    line = encode(event)
    payload = json.loads(json.dumps(line.payload))
    assert decode(line.name, payload, line.texts) == event


@CALM
@given(events())
def test_a_persons_own_words_never_stand_in_the_payload(event: Event) -> None:
    line = encode(event)
    assert not set(free_fields(type(event))) & set(line.payload)
    assert set(line.texts) <= set(free_fields(type(event)))


def test_words_are_told_apart_from_the_rest() -> None:
    line = encode(Noted("problem", "stairs"))
    assert (line.payload, line.texts) == ({"heading": "problem"}, {"text": "stairs"})
    assert {"done", "result", "read_by", "not_excluded", "when"} == set(free_fields(ScreenResolved))
    assert "option" not in free_fields(Treated)


def test_a_text_that_was_taken_out_still_reads() -> None:
    assert decode("noted", {"heading": "problem"}, {"text": "[text removed]"}) == Noted("problem", "[text removed]")


@pytest.mark.parametrize(
    ("name", "payload", "says"),
    [
        ("dreamt", {}, "does not know"),
        ("answered", {"finding": "fever", "side": "none", "value": "perhaps"}, "value cannot be 'perhaps'"),
        ("answered", {"finding": "fever", "side": "none", "value": "present", "mood": "good"}, "mood"),
        ("answered", {"finding": "fever", "side": "none"}, "lacks a field"),
        ("answered", {"finding": 7, "side": "none", "value": "present"}, "finding cannot be 7"),
        ("measured", {"measure": "m", "side": "left", "tool": "tape", "values": ["4"]}, "values cannot be"),
        ("measured", {"measure": "m", "side": "left", "tool": "tape", "values": [True]}, "values cannot be"),
        ("visit_opened", {"number": "1"}, "number cannot be '1'"),
    ],
)
def test_fields_that_do_not_fit_are_refused_in_one_line(name: str, payload: dict[str, Any], says: str) -> None:
    with pytest.raises(InputRefused) as refused:
        decode(name, payload, {})
    assert says in str(refused.value)
    assert len(refused.value.problems) == 1


def test_a_whole_number_is_read_where_a_number_is_expected() -> None:
    assert decode("answered", {"finding": "f", "side": "left", "value": "present", "sure": 1}, {}) == Answered(
        "f", "left", "present", 1
    )
