"""What can happen to a case: one frozen record a kind of event, with plain fields only.

An event says what was done or told, never what follows from it. `Recorded` is an event with its
place in the trail. Fields marked `FREE` hold a person's own words; they are stored beside the trail,
so that they can be taken out later.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from datetime import datetime
from typing import Any, Final, Literal

__all__ = [
    "EVENT_TYPES", "FREE", "Advised", "AnchorStated", "AnswerWithdrawn", "Answered", "AssessmentOpened",
    "BundleAnswered", "CaseOpened", "ClinicStated", "CompetenceRecorded", "ConsentRecorded", "ContextStated",
    "EpisodeEnded", "Event", "ExamPlanned", "Exported", "FlareStated", "GoalSet", "HandedOver", "ImmobilisedStated",
    "IrritabilityStated", "Judged", "Measured", "Noted", "OrderHeard", "PatientSimulated", "Paused", "Recorded",
    "Resumed", "RetestExcused", "Retested", "ScreenResolved", "SignsChosen", "StallAnswered", "SurgeryStated",
    "Treated", "Undone", "VisitClosed", "VisitOpened", "free_fields",
]

FREE: Final[Mapping[str, bool]] = {"free_text": True}

SideName = Literal["left", "right", "both", "none"]
ValueName = Literal["present", "absent", "unknown"]


@dataclass(frozen=True, slots=True)
class Event:
    """Base of all events."""


# ----------------------------------------------------------------------------------------------- frame


@dataclass(frozen=True, slots=True)
class CaseOpened(Event):
    """First line of a trail. The kind never changes afterwards."""

    case: str
    kind: Literal["real", "demo", "practice"]
    region: str


@dataclass(frozen=True, slots=True)
class VisitOpened(Event):
    """A sitting begins; from the second on it also begins a new assessment."""

    number: int


@dataclass(frozen=True, slots=True)
class AssessmentOpened(Event):
    """A new picture before treatment: what is seen and tested is asked again, what lasts is kept."""

    reason: str = field(default="", metadata=FREE)


@dataclass(frozen=True, slots=True)
class Paused(Event):
    """Left on purpose, to be taken up again."""


@dataclass(frozen=True, slots=True)
class Resumed(Event):
    """Taken up again, after a pause or after it stopped without one. `taken_from`: code of who had it open before."""

    taken_from: str = ""


@dataclass(frozen=True, slots=True)
class VisitClosed(Event):
    """The sitting ends. `open_items`: what was still missing, in plain words."""

    open_items: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Undone(Event):
    """Withdraws the event `target` and the dependants in `takes`, by sequence.

    `finding`, `side`, `reason`: a danger answer was withdrawn after its screen had fired.
    """

    target: int
    takes: tuple[int, ...] = ()
    finding: str = ""
    side: SideName = "none"
    reason: str = field(default="", metadata=FREE)


@dataclass(frozen=True, slots=True)
class ClinicStated(Event):
    """Which clinic's own knowledge is laid over the shipped one from here on, or that it was left out on request.

    `clinic` is its id, `copy` the digest of its files; both empty: none.
    """

    clinic: str = ""
    copy: str = ""
    set_aside: bool = False


@dataclass(frozen=True, slots=True)
class Exported(Event):
    """A document left the tool: what kind, the digest of its bytes, and the trail's anchor that it prints.

    `options`: what it tells the patient to do, so that a later answer which closes one of them recalls it.
    """

    document: str
    digest: str
    count: int = 0
    head: str = ""
    options: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PatientSimulated(Event):
    """Practice only: which simulated patient this is. `digest`: of the scenario as played; the truth is not told."""

    scenario: str
    digest: str
    seed: int


@dataclass(frozen=True, slots=True)
class Advised(Event):
    """What the tool advised at that moment, in short: ids only."""

    blocked: bool
    complete: bool
    screens_met: tuple[str, ...] = ()
    screens_open: tuple[str, ...] = ()
    leads: tuple[str, ...] = ()  # "list:hypothesis", first of each list
    offered: tuple[str, ...] = ()
    caution: tuple[str, ...] = ()
    not_yet: tuple[str, ...] = ()
    barred: tuple[str, ...] = ()


# --------------------------------------------------------------------------------------- told and seen


@dataclass(frozen=True, slots=True)
class ContextStated(Event):
    """Side, age, sex or setting. `value` None: asked, not known."""

    name: Literal["side", "age", "sex", "setting"]
    value: str | float | None


@dataclass(frozen=True, slots=True)
class AnchorStated(Event):
    """Days since something on the day this is recorded. `none`: it did not happen. Both empty: not known."""

    anchor: str
    days: int | None = None
    none: bool = False


@dataclass(frozen=True, slots=True)
class ImmobilisedStated(Event):
    """Cast, boot or splint."""

    none: bool = False
    weeks: float | None = None
    position: str | None = None
    unknown: bool = False


@dataclass(frozen=True, slots=True)
class SurgeryStated(Event):
    """What was done, as far as known; the whole of it each time."""

    none: bool = False
    procedure: str | None = None
    fixation: str | None = field(default=None, metadata=FREE)  # as typed: no pack lists fixations
    weight_bearing: str | None = None
    orders: Literal["known", "not_seen", "conflicting", "unknown"] = "unknown"
    unknown: bool = False


@dataclass(frozen=True, slots=True)
class Answered(Event):
    """One answer about one finding on one side. `sure` strictly between 0 and 1 for an unsure one."""

    finding: str
    side: SideName
    value: ValueName
    sure: float | None = None


@dataclass(frozen=True, slots=True)
class BundleAnswered(Event):
    """One answer to a question that holds several findings, each as "finding@side".

    `present` means "yes to one of these": it answers none of them, they are then asked one by one.
    """

    bundle: str
    value: ValueName
    findings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class AnswerWithdrawn(Event):
    """An answer taken back. `after_screen`: it was a danger answer behind a screen that had fired."""

    finding: str
    side: SideName
    after_screen: bool = False
    reason: str = field(default="", metadata=FREE)


@dataclass(frozen=True, slots=True)
class Measured(Event):
    """Trials of one measure on one side, in the measure's own unit. `loop`: the retest it belongs to."""

    measure: str
    side: SideName
    tool: str
    values: tuple[float, ...]
    setup: str = field(default="", metadata=FREE)
    phase: Literal["baseline", "retest"] = "baseline"
    loop: int | None = None


@dataclass(frozen=True, slots=True)
class IrritabilityStated(Event):
    """What sets it off, how much of that it takes, how bad it gets (0-10), how long to settle (minutes)."""

    activity: str = field(default="", metadata=FREE)
    effort: Literal["little", "some", "much", "unknown"] = "unknown"
    intensity: float | None = None
    minutes: float | None = None


@dataclass(frozen=True, slots=True)
class CompetenceRecorded(Event):
    """The clinician states a recorded competence for a load class."""

    load_class: str


@dataclass(frozen=True, slots=True)
class SignsChosen(Event):
    """One to three signs that every retest repeats; the function in the patient's own words."""

    signs: tuple[str, ...]
    function_words: str = field(default="", metadata=FREE)


@dataclass(frozen=True, slots=True)
class GoalSet(Event):
    """What the patient wants of one measure, in its unit, and their words for it. The latest stands."""

    measure: str
    side: SideName
    value: float
    words: str = field(default="", metadata=FREE)


@dataclass(frozen=True, slots=True)
class ExamPlanned(Event):
    """What has to be examined today, what should be, what is left, by id; how far it may go."""

    must: tuple[str, ...]
    should: tuple[str, ...] = ()
    leave: tuple[str, ...] = ()
    extent: Literal["active", "first_pain", "limit", "overpressure"] = "active"


@dataclass(frozen=True, slots=True)
class FlareStated(Event):
    """How long it was worse after the last visit, in hours (0: not; None: not known), and swelling new since."""

    hours: float | None = None
    swelling: ValueName = "unknown"


@dataclass(frozen=True, slots=True)
class StallAnswered(Event):
    """What no progress was answered with."""

    choice: Literal["changed_hypothesis", "imaging_question", "second_opinion"]
    words: str = field(metadata=FREE)


@dataclass(frozen=True, slots=True)
class OrderHeard(Event):
    """A surgeon's order by word of mouth: what, from whom, when."""

    text: str = field(metadata=FREE)
    by: str = field(metadata=FREE)
    when: str = field(metadata=FREE)


@dataclass(frozen=True, slots=True)
class HandedOver(Event):
    """An emergency handed over: by phone first, who took it, when, how they travel, what they were told."""

    to: str = field(metadata=FREE)
    at: str = field(metadata=FREE)
    travel: str = field(metadata=FREE)
    told: str = field(metadata=FREE)
    phoned: bool = False


@dataclass(frozen=True, slots=True)
class EpisodeEnded(Event):
    """The end of care here: why, outcome against the patient's goals, what they do themselves, when to come back."""

    reason: Literal["goals_met", "partly_met", "no_progress", "their_choice", "sent_on", "stopped_coming", "other"]
    outcome: str = field(metadata=FREE)
    self_management: str = field(metadata=FREE)
    return_signs: str = field(metadata=FREE)


@dataclass(frozen=True, slots=True)
class Noted(Event):
    """Free text under a heading: problem, conclusion, home, ..."""

    heading: str
    text: str = field(metadata=FREE)


@dataclass(frozen=True, slots=True)
class Judged(Event):
    """The clinician's own ranking, first first, before the tool's; how sure; what would change their mind."""

    ranked: tuple[str, ...]
    confidence: str = ""
    words: str = field(default="", metadata=FREE)


# ------------------------------------------------------------------------------------------------ acts


@dataclass(frozen=True, slots=True)
class ScreenResolved(Event):
    """How a screen that had fired was left. `covers`: danger answers standing then, as "finding@side"."""

    screen: str
    covers: tuple[str, ...]
    done: str = field(metadata=FREE)
    result: str = field(metadata=FREE)
    read_by: str = field(metadata=FREE)
    not_excluded: str = field(metadata=FREE)
    when: str = field(default="", metadata=FREE)


@dataclass(frozen=True, slots=True)
class ConsentRecorded(Event):
    """The patient's answer about one option, and what was covered before it."""

    option: str
    answer: Literal["given", "refused", "withdrawn"]
    covered: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Treated(Event):
    """An option as really given. Opens the loop `loop`.

    `stood`: the option's state at that moment. `reason`: why it was given although not offered, or
    without a baseline.
    """

    loop: int
    option: str
    side: SideName
    stood: Literal["offered", "caution", "not_yet", "barred"]
    dose: str = field(default="", metadata=FREE)
    reason: str = field(default="", metadata=FREE)
    late: bool = False
    predicted: float | None = None


@dataclass(frozen=True, slots=True)
class Retested(Event):
    """The retest of a loop is complete: what was newly wrong, and the verdict as shown."""

    loop: int
    verdict: Literal["beyond", "within", "worse", "range_only", "no_comparison"]
    unwanted: tuple[str, ...] = ()
    rechecked: tuple[str, ...] = ()  # measures whose set-up was checked again after a jump


@dataclass(frozen=True, slots=True)
class RetestExcused(Event):
    """A loop closed without a retest, and why."""

    loop: int
    reason: str = field(metadata=FREE)


EVENT_TYPES: Final[Mapping[str, type[Event]]] = {
    "case_opened": CaseOpened,
    "visit_opened": VisitOpened,
    "assessment_opened": AssessmentOpened,
    "paused": Paused,
    "resumed": Resumed,
    "visit_closed": VisitClosed,
    "undone": Undone,
    "exported": Exported,
    "clinic_stated": ClinicStated,
    "patient_simulated": PatientSimulated,
    "advised": Advised,
    "context_stated": ContextStated,
    "anchor_stated": AnchorStated,
    "immobilised_stated": ImmobilisedStated,
    "surgery_stated": SurgeryStated,
    "answered": Answered,
    "bundle_answered": BundleAnswered,
    "answer_withdrawn": AnswerWithdrawn,
    "measured": Measured,
    "irritability_stated": IrritabilityStated,
    "competence_recorded": CompetenceRecorded,
    "signs_chosen": SignsChosen,
    "goal_set": GoalSet,
    "exam_planned": ExamPlanned,
    "flare_stated": FlareStated,
    "stall_answered": StallAnswered,
    "order_heard": OrderHeard,
    "handed_over": HandedOver,
    "episode_ended": EpisodeEnded,
    "noted": Noted,
    "judged": Judged,
    "screen_resolved": ScreenResolved,
    "consent_recorded": ConsentRecorded,
    "treated": Treated,
    "retested": Retested,
    "retest_excused": RetestExcused,
}


@dataclass(frozen=True, slots=True)
class Recorded:
    """An event with its sequence in the trail, when (with time zone), by whom and in what role."""

    seq: int
    at: datetime
    by: str
    role: str
    event: Event


def free_fields(kind: type[Event]) -> tuple[str, ...]:
    """Names of the fields of an event type that hold a person's own words."""
    return tuple(f.name for f in fields(kind) if _is_free(f.metadata))


def _is_free(metadata: Mapping[str, Any]) -> bool:
    return bool(metadata.get("free_text"))
