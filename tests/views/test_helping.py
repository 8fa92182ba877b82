"""Help names every word of command, and each of its pages fits a screen."""

from __future__ import annotations

import re

import pytest

from reasoner.graph.knowledge import Knowledge
from reasoner.prompt.verbs import VERBS
from reasoner.views.asked import view
from reasoner.views.helping import TOPICS, help_page, topic_page
from reasoner.views.page import Page
from reasoner.views.render import plain_lines
from tests.visit import begin

QUESTION_LINES = 5  # a gap, the question, its hint, the prompt, the bottom line


def text(page: Page) -> str:
    """In one line."""
    return " ".join(" ".join(plain_lines(page)).split())


def named(verb: str, said: str) -> bool:
    """Is the word there by itself?"""
    return re.search(rf"(?<![\w-]){re.escape(verb)}(?![\w-])", said) is not None


@pytest.mark.parametrize("verb", sorted(VERBS))
def test_every_word_of_command_is_in_help(verb: str) -> None:
    assert named(verb, text(help_page())), "missing on the first page"
    assert any(named(verb, text(topic_page(topic))) for topic in TOPICS), "missing in its topic"


@pytest.mark.parametrize("topic", ["", *TOPICS])
def test_every_page_of_help_leaves_room_for_the_question(topic: str) -> None:
    lines = plain_lines(topic_page(topic) if topic else help_page())
    assert len(lines) <= 24 - QUESTION_LINES
    assert max(map(len, lines)) <= 80


def test_help_with_a_topic_or_a_part_of_a_name(tiny_knowledge: Knowledge, tmp_path) -> None:  # type: ignore[no-untyped-def]
    sitting = begin(tiny_knowledge, tmp_path).sitting
    for topic in TOPICS:
        assert view("help", topic, sitting, None) == topic_page(topic)
    assert "front pinch" in text(view("help", "pinch", sitting, None))
    assert "no name has" in text(view("help", "no such thing", sitting, None))
