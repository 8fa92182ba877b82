"""A sheet handed out and something recorded after it: which document to recall, and why."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from reasoner.consult.commands import Answer, Write
from reasoner.consult.recall import recall_lines
from reasoner.graph.knowledge import Knowledge
from reasoner.reports.dossier import Dossier
from reasoner.reports.make import make
from reasoner.trail.store import Trail
from tests.reports.playing import Played

CALM = (
    "right, age 44, after a sprain", "injury 30 days ago, not immobilised, no surgery",
    "stop-now person injury limb clot heat slow in_question no",
    "swelling +, joint stuck in one position now -, skin broken here -, thinners -, steroids -",
    "home: balance 5 minutes; short walks twice a day",
)  # fmt: skip


@pytest.fixture
def handed_out(knowledge: Knowledge, tmp_path: Path) -> Played:
    """A home sheet given at 10:42."""
    played = Played(knowledge, tmp_path).lines(*CALM)
    played.clock.now = played.clock.now.replace(hour=10, minute=42)
    made = make(played.dossier(), "home")
    assert set(made.event.options) == {"balance_training", "walking_small_doses"}
    played.hand_out(made)
    played.clock.wait(minutes=5)
    return played


def test_it_is_said_at_once_and_once(handed_out: Played) -> None:
    home, case = handed_out.sitting.trail.home, handed_out.sitting.state.case
    printed = Trail.open(home, case)  # the command that prints, beside the open session
    printed.append("exported", handed_out.sitting.trail.entries[-1].payload, at=handed_out.clock.now, by="KM",
                   role="physio", knowledge=handed_out.sitting.knowledge.digest)  # fmt: skip
    calm = handed_out.sitting.submit([Write("note", "they will ring on Friday")])
    assert not calm.refused
    assert not any("recall" in line for line in calm.says)
    told = handed_out.sitting.submit([Answer("joint_hot_red", "present")])
    assert any(line.startswith("recall the 10:47 home sheet: danger sign recorded after it") for line in told.says)
    again = handed_out.sitting.submit([Write("note", "rung")])
    assert not any("recall" in line for line in again.says)


def lines(d: Dossier) -> tuple[str, ...]:
    return recall_lines(d.knowledge, d.state, d.advice, d.as_of)


def test_nothing_after_it_recalls_nothing(handed_out: Played) -> None:
    assert lines(handed_out.dossier()) == ()
    handed_out.lines("note they will ring on Friday")
    assert lines(handed_out.dossier()) == ()


def test_a_danger_sign_after_it(emergency: Dossier) -> None:
    (line,) = lines(emergency)
    assert line.startswith("recall the 10:42 home sheet: danger sign recorded after it (joint infection: criteria met)")
    assert line in " ".join(make(emergency, "note").text.split())
    assert any(line == item for item in emergency.state.visits[-1].closing["open_items"])
    assert line in make(emergency, "letter").remarks


def test_a_danger_sign_before_it_was_known_to_it(emergency: Dossier, knowledge: Knowledge, tmp_path: Path) -> None:
    played = Played(knowledge, tmp_path).play("emergency")
    played.lines("joint hot red +, fever +")
    played.hand_out(make(played.dossier(), "home"))
    assert lines(played.dossier()) == ()


def test_a_new_copy_takes_the_place_of_the_old_one(knowledge: Knowledge, tmp_path: Path) -> None:
    played = Played(knowledge, tmp_path).lines(*CALM)
    played.hand_out(make(played.dossier(), "home"))
    played.lines("joint hot red +, fever +")
    assert lines(played.dossier())
    played.hand_out(make(played.dossier(), "home"))
    assert lines(played.dossier()) == ()


def test_a_resolution_after_it(knowledge: Knowledge, tmp_path: Path) -> None:
    played = Played(knowledge, tmp_path).play("emergency")
    played.lines("joint hot red +, fever +")
    played.hand_out(make(played.dossier(), "letter"))
    played.lines(
        "resolve joint infection: done fluid drawn; result no growth; read by hospital doctor; when today; "
        "not excluded early infection"
    )
    (line,) = lines(played.dossier())
    assert "letter: a screen was resolved after it (joint infection)" in line


def test_a_new_window_after_it(handed_out: Played) -> None:
    handed_out.lines("operation 14 days ago achilles repair, orders not seen")
    (line,) = lines(handed_out.dossier())
    assert "dates, operation or orders were changed after it" in line


def test_another_day_is_named(handed_out: Played) -> None:
    handed_out.lines("joint hot red +, fever +")
    d = handed_out.dossier()
    (line,) = recall_lines(d.knowledge, d.state, d.advice, d.as_of + timedelta(hours=20))
    assert line.startswith("recall the Mon 2 Mar 10:42 home sheet")


def test_an_export_keeps_hash_anchor_and_what_it_listed(handed_out: Played) -> None:
    entry = handed_out.sitting.trail.entries[-1]
    assert entry.event == "exported"
    assert entry.payload["digest"].startswith("sha256:")
    assert entry.payload["head"] == entry.previous
    assert entry.payload["count"] == entry.seq - 1
