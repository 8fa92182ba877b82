"""Tab proposes names; it fills in the line and nothing more."""

from __future__ import annotations

import pytest
from prompt_toolkit.completion import CompleteEvent
from prompt_toolkit.document import Document

from reasoner.case.state import CaseState
from reasoner.graph.knowledge import Knowledge
from reasoner.prompt.completion import NameCompleter
from reasoner.prompt.names import Lexicon


@pytest.mark.parametrize(
    ("typed", "first", "replaces"),
    [
        ("pin", "front pinch", 3), ("fever -, pin", "front pinch", 3), ("fever -; ba le", "back glide less", 5),
        ("treat gl", "glide the talus back", 2), ("why calf", "short calf", 4), ("resolve hot", "hot joint", 3),
        ("opt", "options", 3), ("knee wal", "knee to wall", 8),
    ],
)  # fmt: skip
def test_names_are_proposed_for_the_last_part_of_the_line(
    typed: str, first: str, replaces: int, tiny_knowledge: Knowledge
) -> None:
    completer = NameCompleter(lambda: Lexicon(tiny_knowledge, CaseState()))
    found = list(completer.get_completions(Document(typed), CompleteEvent(completion_requested=True)))
    assert (found[0].text, -found[0].start_position) == (first, replaces)


@pytest.mark.parametrize("typed", ["", "treat ", "fever -, ", "zzzzqqq"])
def test_nothing_is_proposed_for_nothing(typed: str, tiny_knowledge: Knowledge) -> None:
    completer = NameCompleter(lambda: Lexicon(tiny_knowledge, CaseState()))
    assert list(completer.get_completions(Document(typed), CompleteEvent(completion_requested=True))) == []
