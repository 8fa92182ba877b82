"""What a clinician can do in a visit, as values. The prompt makes them; `decide` turns them into events.

Names in a command are ids, already looked up: a command never holds a guess.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from reasoner.case.state import Side, Value

__all__ = [
    "Answer", "AnswerBundle", "AnswerStall", "ChooseSigns", "Close", "Command", "Consent", "EndCase",
    "ExcuseRetest", "HandOver", "HearOrder", "Judge", "Measure", "NewAssessment", "OpenVisit", "Pause", "PlanExam",
    "Resolve", "Resume", "Retest", "SetAnchor", "SetContext", "SetGoal", "SetImmobilised", "SetSurgery",
    "StateCompetence", "StateFlare", "StateIrritability", "TakeAdvice", "Treat", "Undo", "Withdraw", "Write",
]


@dataclass(frozen=True, slots=True)
class Command:
    """Base of all commands."""


# ------------------------------------------------------------------------------------------------ the frame


@dataclass(frozen=True, slots=True)
class OpenVisit(Command):
    """Begin the next visit."""


@dataclass(frozen=True, slots=True)
class NewAssessment(Command):
    """Begin a new picture before treatment: what is seen and tested is asked again."""

    reason: str = ""


@dataclass(frozen=True, slots=True)
class Pause(Command):
    """Leave, to come back to this visit."""


@dataclass(frozen=True, slots=True)
class Resume(Command):
    """Come back to an open visit. `take_over`: it was opened by somebody else, and that is meant."""

    take_over: bool = False


@dataclass(frozen=True, slots=True)
class Close(Command):
    """End the visit."""


@dataclass(frozen=True, slots=True)
class Undo(Command):
    """Withdraw the last thing recorded. `reason` is needed for a danger answer whose screen has fired."""

    reason: str = ""


@dataclass(frozen=True, slots=True)
class TakeAdvice(Command):
    """Look at the options now: what the tool advises at this moment is recorded."""


# ------------------------------------------------------------------------------------------------ told and seen


@dataclass(frozen=True, slots=True)
class SetContext(Command):
    """Side, age (years), sex or setting id. `value` None: asked, not known."""

    name: Literal["side", "age", "sex", "setting"]
    value: str | float | None


@dataclass(frozen=True, slots=True)
class SetAnchor(Command):
    """Whole days since an injury, operation, ...; `none`: it did not happen; both empty: not known."""

    anchor: str
    days: int | None = None
    none: bool = False


@dataclass(frozen=True, slots=True)
class SetImmobilised(Command):
    """Cast, boot or splint: weeks and position, either not known as None."""

    none: bool = False
    weeks: float | None = None
    position: str | None = None
    unknown: bool = False


@dataclass(frozen=True, slots=True)
class SetSurgery(Command):
    """What was operated. A part left None keeps what was stated before."""

    none: bool = False
    procedure: str | None = None
    fixation: str | None = None
    weight_bearing: str | None = None
    orders: Literal["known", "not_seen", "conflicting"] | None = None
    unknown: bool = False


@dataclass(frozen=True, slots=True)
class Answer(Command):
    """An answer about one finding. `side` None: the case's own side. `reason`: why a danger answer is taken back."""

    finding: str
    value: Value
    side: Side | None = None
    sure: float | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class AnswerBundle(Command):
    """One answer to a question that holds several findings: absent = none of them; present = yes to one."""

    bundle: str
    value: Value


@dataclass(frozen=True, slots=True)
class Withdraw(Command):
    """Take an answer back, so that it counts as not asked."""

    finding: str
    side: Side | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Measure(Command):
    """Trials of one measure on one side, in the measure's unit. `side` None: the case's own, or not sided."""

    measure: str
    values: tuple[float, ...]
    side: Side | None = None
    tool: str = ""  # empty: the tool used before, else the measure's first
    setup: str = ""


@dataclass(frozen=True, slots=True)
class StateIrritability(Command):
    """Effort to provoke, intensity (0-10) and minutes to settle."""

    activity: str = ""
    effort: Literal["little", "some", "much", "unknown"] = "unknown"
    intensity: float | None = None
    minutes: float | None = None


@dataclass(frozen=True, slots=True)
class StateCompetence(Command):
    """The clinician has a recorded competence for a load class."""

    load_class: str


@dataclass(frozen=True, slots=True)
class ChooseSigns(Command):
    """One to three measures that every retest repeats."""

    signs: tuple[str, ...]
    function_words: str = ""


@dataclass(frozen=True, slots=True)
class SetGoal(Command):
    """A number the patient wants of one measure, in its unit. `side` None: the case's own, or not sided."""

    measure: str
    value: float
    side: Side | None = None
    words: str = ""


@dataclass(frozen=True, slots=True)
class Write(Command):
    """Free text under a heading."""

    heading: str
    text: str


@dataclass(frozen=True, slots=True)
class Judge(Command):
    """The clinician's own judgement: ranked hypothesis ids, a confidence word, and the words as typed."""

    ranked: tuple[str, ...]
    confidence: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class PlanExam(Command):
    """What has to be examined today, what should be, what is left; ids. How far it may go. Empty: as suggested."""

    must: tuple[str, ...]
    should: tuple[str, ...] = ()
    leave: tuple[str, ...] = ()
    extent: Literal["active", "first_pain", "limit", "overpressure"] = "active"


@dataclass(frozen=True, slots=True)
class StateFlare(Command):
    """Hours it was worse after the last visit (0: not; None: not known), and swelling new since."""

    hours: float | None = None
    swelling: Value = "unknown"


@dataclass(frozen=True, slots=True)
class AnswerStall(Command):
    """What no progress is answered with."""

    choice: Literal["changed_hypothesis", "imaging_question", "second_opinion"]
    words: str = ""


@dataclass(frozen=True, slots=True)
class HearOrder(Command):
    """A surgeon's order by word of mouth: what, from whom, when."""

    text: str = ""
    by: str = ""
    when: str = ""


# ------------------------------------------------------------------------------------------------ acts


@dataclass(frozen=True, slots=True)
class HandOver(Command):
    """An emergency handed over: who took it, when, how they travel, what they were told. `phoned`: by phone first."""

    to: str = ""
    at: str = ""
    travel: str = ""
    told: str = ""
    phoned: bool = False


@dataclass(frozen=True, slots=True)
class EndCase(Command):
    """The end of care here; every part in words."""

    reason: Literal["goals_met", "partly_met", "no_progress", "their_choice", "sent_on", "stopped_coming", "other"]
    outcome: str = ""
    self_management: str = ""
    return_signs: str = ""


@dataclass(frozen=True, slots=True)
class Resolve(Command):
    """Leave a screen that has fired: what was done, result, who read it, when, what that does not exclude."""

    screen: str
    done: str = ""
    result: str = ""
    read_by: str = ""
    not_excluded: str = ""
    when: str = ""


@dataclass(frozen=True, slots=True)
class Consent(Command):
    """The patient's answer about one option."""

    option: str
    answer: Literal["given", "refused", "withdrawn"]
    covered: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Treat(Command):
    """An option as really given. `reason`: why, where it is not offered, or its retest cannot be compared."""

    option: str
    dose: str = ""
    side: Side | None = None
    reason: str = ""
    late: bool = False


@dataclass(frozen=True, slots=True)
class Retest(Command):
    """The same signs again after the last treatment; `unwanted`: what is newly wrong."""

    measures: tuple[Measure, ...]
    unwanted: tuple[str, ...] = ()
    rechecked: bool = False  # the set-up was checked again after a jump


@dataclass(frozen=True, slots=True)
class ExcuseRetest(Command):
    """Close the open loop without a retest."""

    reason: str
