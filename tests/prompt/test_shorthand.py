"""What a typed line means; and that nothing is ever guessed, passed over or crashed on."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reasoner.case.state import CaseState, Context, Judgement, Visit
from reasoner.consult import commands as c
from reasoner.consult.agenda import Ask
from reasoner.consult.treating import COVERED
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Wording
from reasoner.prompt.parsed import Line, Refused, Unclear
from reasoner.prompt.shorthand import parse
from tests.strategies import CALM

STATE = CaseState(
    case="oak-17", visits=(Visit(1, None),), context=Context(side="left"), function_words="coming down stairs"
)
NEW = replace(STATE, context=Context())
TWO_SIDES = replace(STATE, context=Context(side="both"))


def read(line: str, knowledge: Knowledge, ask: Ask | None = None, state: CaseState = STATE) -> tuple[c.Command, ...]:
    """Commands of a line."""
    return parse(line, knowledge, state, ask).commands


@pytest.fixture(scope="module")
def pack(tiny_knowledge: Knowledge) -> Knowledge:
    """The tiny pack, with words for set-up, positions in a boot, and what a time counts from."""
    wall = replace(tiny_knowledge.measures["knee_to_wall"], setup=("heel held down",))
    sprain = replace(tiny_knowledge.settings["after_sprain"], counts_from="injury")
    region = replace(
        tiny_knowledge.region,
        settings=(tiny_knowledge.settings["not_stated"], sprain),
        immobilised_positions=(Wording(id="down", name="pointing down", aliases=("foot pointing down",)),),
    )
    return replace(tiny_knowledge, measures={**tiny_knowledge.measures, "knee_to_wall": wall}, region=region)


PINCH = c.Answer("front_pinch", "present")
GLIDE = c.Answer("back_glide_less", "absent")
FEVER = c.Answer("fever", "unknown")


@pytest.mark.parametrize(
    ("line", "commands"),
    [
        ("front pinch +", (PINCH,)),
        ("front_pinch+", (PINCH,)),
        ("Front Pinch yes", (PINCH,)),
        ("front pinch +, back glide less -, fever ?", (PINCH, GLIDE, FEVER)),
        ("front pinch + back glide less - fever ?", (PINCH, GLIDE, FEVER)),
        ("front pinch +; back glide less –", (PINCH, GLIDE)),
        ("no fever", (c.Answer("fever", "absent"),)),
        ("no fever, front pinch +", (c.Answer("fever", "absent"), PINCH)),
        ("front pinch left +", (replace(PINCH, side="left"),)),
        ("front pinch + right", (replace(PINCH, side="right"),)),
        ("front pinch both -", (c.Answer("front_pinch", "absent", "both"),)),
        ("front pinch ~.7", (c.Answer("front_pinch", "present", None, 0.7),)),
        ("front pinch ~0.2", (c.Answer("front_pinch", "absent", None, 0.2),)),
        ("fever - because misheard", (c.Answer("fever", "absent", reason="misheard"),)),
        ("age 34", (c.SetContext("age", 34.0),)),
        ("34 years old", (c.SetContext("age", 34.0),)),
        ("sex f", (c.SetContext("sex", "female"),)),
        ("side left", (c.SetContext("side", "left"),)),
        ("left", (c.SetContext("side", "left"),)),
        ("setting after sprain", (c.SetContext("setting", "after_sprain"),)),
        ("setting unknown", (c.SetContext("setting", None),)),
        ("injury 42 days ago", (c.SetAnchor("injury", 42),)),
        ("turned it 6/52 ago", (c.SetAnchor("injury", 42),)),
        ("injury two months ago", (c.SetAnchor("injury", 60),)),
        ("injury yesterday", (c.SetAnchor("injury", 1),)),
        ("no injury", (c.SetAnchor("injury", none=True),)),
        ("injury unknown", (c.SetAnchor("injury"),)),
        ("sprain 6 weeks ago", (c.SetContext("setting", "after_sprain"), c.SetAnchor("injury", 42))),
        ("boot 3 weeks foot pointing down", (c.SetImmobilised(weeks=3.0, position="down"),)),
        ("no boot", (c.SetImmobilised(none=True),)),
        ("no surgery", (c.SetSurgery(none=True),)),
        ("surgery none", (c.SetSurgery(none=True),)),
        ("surgery unknown", (c.SetSurgery(unknown=True),)),
        ("operation 8 weeks ago", (c.SetSurgery(), c.SetAnchor("surgery", 56))),
        ("plate and screws 8 weeks ago",
         (c.SetSurgery(procedure="ankle_fracture_fixation"), c.SetAnchor("surgery", 56))),
        ("orders not seen", (c.SetSurgery(orders="not_seen"),)),
        ("weight bearing partial", (c.SetSurgery(weight_bearing="partial"),)),
        ("undo", (c.Undo(),)),
        ("undo because wrong line", (c.Undo("wrong line"),)),
        ("withdraw fever because misheard", (c.Withdraw("fever", None, "misheard"),)),
        ("problem: stairs, in the morning", (c.Write("problem", "stairs, in the morning"),)),
        ("note felt - better", (c.Write("note", "felt - better"),)),
        ("consent back glide yes", (c.Consent("back_glide", "given", COVERED),)),
        ("consent back glide no", (c.Consent("back_glide", "refused"),)),
        ("treat back glide 3x60 s", (c.Treat("back_glide", "3x60 s"),)),
        ("treat back glide right 3x60", (c.Treat("back_glide", "3x60", "right"),)),
        ("treat back glide because asked", (c.Treat("back_glide", reason="asked"),)),
        ("later treat back glide 3x60", (c.Treat("back_glide", "3x60", late=True),)),
        ("treat back glide 3x60 agreed", (c.Consent("back_glide", "given", COVERED), c.Treat("back_glide", "3x60"))),
        ("excuse because out of time", (c.ExcuseRetest("out of time"),)),
        ("retest swelling", (c.Retest((), ("swelling",)),)),
        ("signs ktw, function: stairs", (c.ChooseSigns(("knee_to_wall", "function_score"), "stairs"),)),
        ("judge not sure", (c.Judge((), "not sure", "not sure"),)),
        (
            "judge short calf > talus back glide; fairly sure",
            (c.Judge(("short_calf", "talus_back_glide"), "fairly sure", "short calf > talus back glide; fairly sure"),),
        ),
        ("irritability: ten stairs, some, 5/10, 5 min", (c.StateIrritability("ten stairs", "some", 5.0, 5.0),)),
        ("competence light touch", (c.StateCompetence("light_touch"),)),
        (
            "resolve fracture rule: done film; result no break; read by radiologist; when today; not excluded sprain",
            (c.Resolve("fracture_rule", "film", "no break", "radiologist", "sprain", "today"),),
        ),
        ("new visit", (c.OpenVisit(),)),
        ("", ()),
        ("   ", ()),
        ("\x1b[2J\u202e", ()),
    ],
)  # fmt: skip
def test_a_line_means(line: str, commands: tuple[c.Command, ...], pack: Knowledge) -> None:
    if line.startswith("\x1b"):
        with pytest.raises(Refused):  # what is left of it, "[2J", is no line
            read(line, pack)
        return
    assert read(line, pack) == commands


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("R, 47, m", ("right", 47.0, "male")),
        ("R 47 m", ("right", 47.0, "male")),
        ("left 47yo f", ("left", 47.0, "female")),
        ("l, 47f, injury 5 weeks ago", ("left", 47.0, "female")),
        ("right, age 47, f", ("right", 47.0, "female")),
        ("left, 47yo", ("left", 47.0, None)),
    ],
)
def test_who_it_is_may_be_said_as_briefly_as_it_is_written(
    line: str, said: tuple[str, float, str | None], pack: Knowledge
) -> None:
    """Side by its letter, age and sex straight behind it."""
    got = {x.name: x.value for x in read(line, pack, state=NEW) if isinstance(x, c.SetContext)}
    assert (got.get("side"), got.get("age"), got.get("sex")) == said


def test_a_bare_number_elsewhere_is_never_an_age(pack: Knowledge) -> None:
    """Behind a measure it may be a reading typed with a decimal comma."""
    with pytest.raises((Refused, Unclear)):
        read("front pinch +, 47", pack, state=NEW)


def test_measures_take_side_tool_trials_and_set_up(pack: Knowledge) -> None:
    left = c.Measure("knee_to_wall", (3.0, 3.5, 3.5), "left", "tape", "heel down")
    right = c.Measure("knee_to_wall", (9.0, 9.0, 9.5), "right", "tape", "heel down")
    assert read("ktw L 3 3.5 3.5 R 9 9 9.5 heel down", pack) == (left, right)
    assert read("ktw L 3 3.5 3.5 R 9 9 9.5 heel down front pinch +", pack) == (left, right, PINCH)
    assert read("ktw L -2", pack) == (c.Measure("knee_to_wall", (-2.0,), "left", "tape"),)
    # three fingers at the pack's 1.7 cm each
    fingers = read("ktw finger widths L 3", pack)
    assert fingers == (c.Measure("knee_to_wall", (5.1,), "left", "finger_widths"),)


def test_a_retest_takes_the_function_by_the_patients_words(pack: Knowledge) -> None:
    signs = c.Retest((
        c.Measure("function_score", (6.0,), "left", "rating"), c.Measure("knee_to_wall", (4.5, 5.0), "left", "tape"),
    ))  # fmt: skip
    assert read("retest stairs 6   ktw L 4.5 5", pack) == (signs,)
    assert read("retest stairs 6, ktw L 4.5 5, new symptom", pack) == (replace(signs, unwanted=("new_symptom",)),)


@pytest.mark.parametrize(
    ("line", "hint"),
    [
        ("y", "name what it is about"), ("n", "name what it is about"), ("?", "name what it is about"),
        ("none of those", "name what it is about"), ("~.7", "name what it is about"), ("+", "name what it is about"),
        ("front pinch", "present or absent"), ("front pinch 3", "not a measure"), ("- front pinch", "before any name"),
        ("front pinch + -", "before any name"), ("front pinch ~1.5", "between 0 and 1"),
        ("front pinch left right +", "two sides"), ("no front pinch +", "two ways"),
        ("ktw L 4,5", "4.5 for one number"), ("ktw L 4 deg", "deg"), ("ktw L 400", "not possible"),
        ("ktw 4.5", "side"), ("ktw left", "no number"), ("ktw L 4 glorp", "glorp"), ("age old", "age 34"),
        ("optoins", "options"), ("options now", "stands alone"),
        ("close because time is up", "type close by itself"), ("consent back glide", "yes, no"),
        ("treat", "options lists"), ("retest", "same signs"), ("signs", "one to three"),
        ("resolve", "screens lists"), ("resolve fracture rule: seen", "parts"), ("judge", "for example"),
        ("irritability: dunno", "for example"), ("orders perhaps", "not seen"), ("qwxyz +", "help names"),
        ("no to everything", "n answers the question asked"), ("no red flags", "n answers the question asked"),
        ("nad", "n answers the question asked"), ("All negative", "n answers the question asked"),
        ("front pinch + mild", "front pinch + because mild"), ("tore it skating 5/52 ago", "injury 5 weeks ago"),
    ],
)  # fmt: skip
def test_what_cannot_be_used_is_refused_with_what_to_write(line: str, hint: str, pack: Knowledge) -> None:
    with pytest.raises(Refused) as refused:
        read(line, pack)
    assert hint in str(refused.value.problem)


@pytest.mark.parametrize(
    ("line", "kind", "first"),
    [
        ("pinch +", "finding", "front_pinch"), ("fevr -", "finding", "fever"),
        ("glid less ?", "finding", "back_glide_less"),
        ("treat glide 3x2", "option", "back_glide"), ("resolve fracture: done film", "screen", "fracture_rule"),
        ("judge calf", "hypothesis", "short_calf"), ("knee wal L 4", "measure", "knee_to_wall"),
        ("setting after", "setting", "after_sprain"),
    ],
)  # fmt: skip
def test_a_near_name_is_proposed_and_counts_only_once_it_is_chosen(
    line: str, kind: str, first: str, pack: Knowledge
) -> None:
    with pytest.raises(Unclear) as unclear:
        read(line, pack)
    assert (unclear.value.kind, unclear.value.candidates[0].id) == (kind, first)
    chosen = parse(line, pack, STATE, None, {(kind, unclear.value.word): first})
    assert chosen.commands


ASKED = {
    "finding": Ask("finding.fever", "finding", "fever", "Fever?"),
    "bundle": Ask("bundle.hot", "bundle", "hot", "Hot?"),
    "person": Ask("bundle.person", "bundle", "person", "Age? Feeling?"),
    "side": Ask("context.side", "context", "side", "Side?"),
    "injury": Ask("context.days_since.injury", "context", "days_since.injury", "When?"),
    "surgery": Ask("context.surgery", "context", "surgery", "Operated?"),
    "age": Ask("context.age", "context", "age", "Age?"),
    "wall": Ask("measure.knee_to_wall", "measure", "knee_to_wall", "How far?"),
    "pain": Ask("measure.pain_at_sign", "measure", "pain_at_sign", "Pain?"),
    "problem": Ask("text.problem", "text", "problem", "Problem?"),
    "close": Ask("close", "confirm", "close", "Close?", accepts=c.Close()),
    "judgement": Ask("judgement", "judgement", "judgement", "Yours?"),
    "irritability": Ask("irritability", "irritability", "irritability", "What sets it off?"),
}


@pytest.mark.parametrize(
    ("ask", "line", "commands"),
    [
        ("finding", "y", (c.Answer("fever", "present"),)),
        ("finding", "n", (c.Answer("fever", "absent"),)),
        ("finding", "-", (c.Answer("fever", "absent"),)),
        ("finding", "?", (c.Answer("fever", "unknown"),)),
        ("finding", "~.7", (c.Answer("fever", "present", None, 0.7),)),
        ("finding", "front pinch +", (PINCH,)),
        ("finding", "", ()),
        ("bundle", "n", (c.AnswerBundle("hot", "absent"),)),
        ("bundle", "none of those", (c.AnswerBundle("hot", "absent"),)),
        ("bundle", "y", (c.AnswerBundle("hot", "present"),)),
        ("person", "34, n", (c.SetContext("age", 34.0), c.AnswerBundle("person", "absent"))),
        ("side", "l", (c.SetContext("side", "left"),)),
        ("side", "left, sprain, injury 6 weeks ago",
         (c.SetContext("side", "left"), c.SetContext("setting", "after_sprain"), c.SetAnchor("injury", 42))),
        ("injury", "6 weeks", (c.SetAnchor("injury", 42),)),
        ("injury", "?", (c.SetAnchor("injury"),)),
        ("injury", "none", (c.SetAnchor("injury", none=True),)),
        ("surgery", "n", (c.SetSurgery(none=True),)),
        ("age", "34", (c.SetContext("age", 34.0),)),
        ("wall", "L 3 R 9", (c.Measure("knee_to_wall", (3.0,), "left", "tape"),
                             c.Measure("knee_to_wall", (9.0,), "right", "tape"))),
        ("pain", "4", (c.Measure("pain_at_sign", (4.0,), "left", "rating"),)),
        ("problem", "coming down stairs, grabs at the front",
         (c.Write("problem", "coming down stairs, grabs at the front"),)),
        ("problem", "front pinch +", (PINCH,)),
        ("problem", "hurts after 10 stairs", (c.Write("problem", "hurts after 10 stairs"),)),
        ("problem", "no", (c.Write("problem", "no"),)),
        ("close", "y", (c.Close(),)),
        ("close", "n", ()),
        ("judgement", "short calf; sure", (c.Judge(("short_calf",), "sure", "short calf; sure"),)),
        ("irritability", "ten stairs, some, 5/10, 5 min", (c.StateIrritability("ten stairs", "some", 5.0, 5.0),)),
    ],
)  # fmt: skip
def test_a_short_line_answers_the_current_question(
    ask: str, line: str, commands: tuple[c.Command, ...], pack: Knowledge
) -> None:
    assert read(line, pack, ASKED[ask]) == commands


@pytest.mark.parametrize(
    ("ask", "line"), [("problem", "y"), ("problem", "?"), ("problem", "optoins"), ("surgery", "y")]
)
def test_a_short_line_that_answers_nothing_is_refused(ask: str, line: str, pack: Knowledge) -> None:
    with pytest.raises(Refused):
        read(line, pack, ASKED[ask])


@CALM
@given(st.text(max_size=60) | st.lists(st.sampled_from(
    ["front pinch", "fever", "+", "-", "?", "~.7", "ktw", "L", "R", "4", "4,5", "-2", ",", ";", "treat", "no", "left",
     "injury", "6 weeks ago", "boot", "surgery", "resolve", "because", "undo", "signs", "judge", ":", "retest", "none"]
), max_size=8).map(" ".join))
def test_no_line_ends_in_anything_but_commands_or_one_clear_refusal(tiny_knowledge: Knowledge, line: str) -> None:
    for ask in (None, *ASKED.values()):
        said = ""
        try:
            assert isinstance(parse(line, tiny_knowledge, STATE, ask), Line)
        except (Refused, Unclear) as refusal:
            said = str(refusal.problem)
        assert "\n" not in said


def test_a_name_with_a_comma_can_be_typed_as_it_stands_on_the_screen(knowledge: Knowledge) -> None:
    state = CaseState(region="ankle")
    for ident in ("posterior_talar_glide_1_2", "posterior_talar_glide_4", "mwm_weight_bearing"):
        name = knowledge.options[ident].name
        (treat,) = parse(f"treat {name} left 2 x 30 s", knowledge, state).commands
        assert (treat.option, treat.dose) == (ident, "2 x 30 s")  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("line", "setting", "days"),
    [
        ("sprain 6 weeks ago", "after_sprain", 42), ("turned it 6 weeks ago", "after_sprain", 42),
        ("twisted it 6 weeks ago", "after_sprain", 42), ("rolled it 5 weeks ago", "after_sprain", 35),
        ("sprained 6 weeks ago", "after_sprain", 42), ("twisted it 3 days ago", "acute_injury", 3),
        ("sprain 2 days ago", "acute_injury", 2),
    ],
)  # fmt: skip
def test_what_happened_and_when_give_setting_and_date(line: str, setting: str, days: int, knowledge: Knowledge) -> None:
    assert read(line, knowledge) == (c.SetContext("setting", setting), c.SetAnchor("injury", days))


STORY = Ask("text.problem", "text", "problem", "Their main problem?")


@pytest.mark.parametrize(
    "line",
    ["coming down stairs, it grabs at the front", "ten stairs, 5 minutes, then it eases", "next to the bone, on stairs",
     "give way on stairs, since the match", "open shoes hurt, boots do not", "why it started, he does not know"],
)  # fmt: skip
def test_a_story_is_taken_as_a_whole_line(line: str, knowledge: Knowledge) -> None:
    assert read(line, knowledge, STORY) == (c.Write("problem", line),)


def test_an_age_may_stand_with_the_answer(knowledge: Knowledge) -> None:
    bundle = Ask("bundle.person", "bundle", "person", "Age? ...")
    wanted = (c.SetContext("age", 34.0), c.AnswerBundle("person", "absent"))
    assert read("34 n", knowledge, bundle) == read("34, n", knowledge, bundle) == wanted
    assert read("34 years", knowledge, Ask("context.age", "context", "age", "How old?")) == wanted[:1]


HANDOVER = Ask("handover", "handover", "handover", "Phone first. Who took it?")
VIEW = Ask("judgement.treatment", "judgement", "judgement", "Before mine?")


@pytest.mark.parametrize(
    ("line", "commands"),
    [
        ("fever +", (replace(FEVER, value="present"),)),  # a sign told while it is handed over is a sign
        ("phoned, to the ward; at 9:31", (c.HandOver("the ward", "9:31", phoned=True),)),
    ],
)
def test_an_answer_at_the_handover_question_is_no_part_of_the_handover(
    line: str, commands: tuple[c.Command, ...], pack: Knowledge
) -> None:
    assert read(line, pack, HANDOVER) == commands


def test_the_view_committed_last_may_be_kept_with_one_word(pack: Knowledge) -> None:
    ranked = tuple(pack.hypotheses)[:2]
    judged = replace(STATE, judgements=(Judgement(ranked, "fairly sure", "their words"),))
    assert read("same", pack, VIEW, judged) == (c.Judge(ranked, "fairly sure", "their words"),)
    assert read("judge same as before", pack, None, judged) == (c.Judge(ranked, "fairly sure", "their words"),)
    with pytest.raises((Refused, Unclear)):
        read("judge same", pack)  # nothing was committed before
    with pytest.raises(Refused, match="wants your list"):
        read("n", pack, VIEW)
