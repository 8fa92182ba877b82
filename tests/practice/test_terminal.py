"""Practice at the keys: Enter asks the patient, nobody answers for them, and the case can be left and taken up."""

from __future__ import annotations

from pathlib import Path

import pytest
from prompt_toolkit.input import create_pipe_input
from prompt_toolkit.output import DummyOutput

from reasoner.case import events as ev
from reasoner.graph.knowledge import Knowledge
from reasoner.prompt.loop import run_loop
from reasoner.prompt.practising import PracticeDesk
from reasoner.views.render import plain_lines
from tests.practice.players import Game, game, scenario


def at_the_keys(g: Game, *lines: str, end: str = "\x04") -> str:
    """The same case at a terminal: lines typed, then `end` (Ctrl-D); what the desk showed."""
    pages: list = []
    desk = PracticeDesk(g.sitting, pages.append, patient=g.patient, wait=g.desk.wait)
    with create_pipe_input() as keys:
        keys.send_text("".join(line + "\r" for line in lines) + end)
        run_loop(g.sitting, keys=keys, screen=DummyOutput(), desk=desk)
    return "\n".join(line for page in pages for line in plain_lines(page))


def test_enter_asks_the_next_question(knowledge: Knowledge, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    g = game(knowledge, tmp_path, scenario("ceramics_painter", knowledge))
    said = at_the_keys(g, "", "", "ask age", "y", "left", "no")
    context = g.sitting.state.context
    assert (context.side, context.setting, context.age) == ("left", "after_sprain", 41.0)
    assert "I turned it on a kerb" in said
    assert said.count("in practice you do not answer for them") >= 1
    shown = capsys.readouterr().out
    assert "[enter] asks this; or: ask NAME" in shown
    assert "for example: left" not in shown
    assert "practise --case oak-heron-17" in " ".join(shown.split())


def test_facts_asked_together_are_answered_with_enter(knowledge: Knowledge, tmp_path: Path) -> None:
    g = game(knowledge, tmp_path, scenario("ceramics_painter", knowledge))
    g.type("ask who", "ask history", "ask person", "ask stop-now", "stop-now in_question no")
    g.type("ask problem, goal, worries", "ask day", "ask irritability")
    g.type("signs function_score, pain_at_sign, knee_to_wall")
    g.type("ask function_score, pain_at_sign")
    desk = PracticeDesk(g.sitting, g.pages.append, patient=g.patient, wait=g.desk.wait)
    desk.start()
    for _ in range(4):
        if desk.ask is not None and desk.ask.kind == "facts":
            break
        desk.line("")
    assert desk.ask is not None
    assert desk.ask.kind == "facts"
    wanted = set(desk.ask.name.split(","))
    desk.line("")
    assert wanted <= {a.finding for a in g.sitting.state.answers}


def test_how_long_it_was_worse_is_theirs_to_tell(knowledge: Knowledge, tmp_path: Path) -> None:
    """Soreness by hand: six acts beyond what it bears, each a point times `each`; a day for each point."""
    played = scenario("beekeeper", knowledge)
    g = game(knowledge, tmp_path, played)
    times = played.strain.bears + 2
    g.type("ask who", *(["ask forced_point_hurts"] * times), "close", "new visit", "ask flare")
    flare = [r.event for r in g.sitting.state.log if isinstance(r.event, ev.FlareStated)][-1]
    assert flare.hours == round(2 * played.strain.each * played.strain.lasts)
    with pytest.raises(Exception, match="the patient answers"):
        g.type("flare no")


def test_a_hurried_stop_keeps_what_was_asked(knowledge: Knowledge, tmp_path: Path) -> None:
    """Ctrl-C throws away only the line being typed; Ctrl-D leaves; the case goes on where it was."""
    g = game(knowledge, tmp_path, scenario("night_nurse", knowledge))
    at_the_keys(g, "ask who", end="ask fev\x03\x04")
    count = len(g.sitting.trail.entries)
    assert g.sitting.state.context.age is not None
    assert not g.sitting.state.answers
    at_the_keys(g, "ask swelling")
    assert len(g.sitting.trail.entries) == count + 1
