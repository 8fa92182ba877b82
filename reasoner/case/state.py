"""What is known about one case: the value that events fold into. Plain and frozen; holds no judgement.

Answers and measurements keep everything recorded (latest last); what counts now is decided in `facts/`.
Times are timezone-aware datetimes of the event that recorded them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Literal

__all__ = [
    "Anchor", "Answer", "BundleSaid", "CaseState", "Consent", "Context", "Ending", "ExamPlan", "Flare", "Goal",
    "HandedOver", "Immobilised", "Irritability", "Judgement", "Loop", "Measurement", "Note", "OrderHeard", "Resolution",
    "Side", "Stall", "Surgery", "Visit", "Withdrawn",
]

Side = Literal["left", "right", "both", "none"]
Value = Literal["present", "absent", "unknown"]


@dataclass(frozen=True, slots=True)
class Anchor:
    """Days since an injury, operation, ... as stated, and when that was stated. `none`: it did not happen."""

    days: int | None  # None with none=False: asked, not known
    stated_at: datetime | None
    none: bool = False
    seq: int = 0


@dataclass(frozen=True, slots=True)
class Surgery:
    """What was done. `procedure` None with `none` False: an operation of unknown kind."""

    none: bool = False
    procedure: str | None = None
    fixation: str | None = None
    weight_bearing: str | None = None
    orders: Literal["known", "not_seen", "conflicting", "unknown"] = "unknown"


@dataclass(frozen=True, slots=True)
class Immobilised:
    """Cast or boot: whole or part weeks and position, either unknown as None. `none`: was not immobilised."""

    none: bool = False
    weeks: float | None = None
    position: str | None = None


@dataclass(frozen=True, slots=True)
class Context:
    """Who and how: every part None while not asked. `unknown` holds names asked and not answerable."""

    side: Side | None = None
    age: float | None = None
    sex: str | None = None
    setting: str | None = None
    # injury surgery cast_off union_on_film symptoms
    days_since: Mapping[str, Anchor] = field(default_factory=dict)
    immobilised: Immobilised | None = None
    surgery: Surgery | None = None
    unknown: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer about one finding. `side` is left, right or none (not sided). `sure` strictly in (0, 1)."""

    finding: str
    side: Side
    value: Value
    sure: float | None = None
    at: datetime | None = None
    visit: int = 1
    assessment: int = 1
    seq: int = 0


@dataclass(frozen=True, slots=True)
class Measurement:
    """Trials of one measure, already in its unit. `phase`: baseline (before treatment) or retest (after)."""

    measure: str
    side: Side
    tool: str
    values: tuple[float, ...]
    setup: str = ""
    phase: Literal["baseline", "retest"] = "baseline"
    at: datetime | None = None
    visit: int = 1
    assessment: int = 1
    seq: int = 0
    loop: int | None = None  # number of the loop a retest belongs to


@dataclass(frozen=True, slots=True)
class Resolution:
    """How a met screen was left: what was done, result, who read it, what that does not exclude."""

    screen: str
    done: str
    result: str
    read_by: str
    not_excluded: str
    covers: tuple[str, ...]  # danger findings standing when it was made, as "finding@side"
    at: datetime | None = None
    visit: int = 1
    seq: int = 0
    when: str = ""  # when it was read, as stated


@dataclass(frozen=True, slots=True)
class Consent:
    """Agreement to one option: what was covered and the answer."""

    option: str
    agreed: bool
    covered: tuple[str, ...] = ()  # what_why, after_effects, alternatives, questions, observer
    at: datetime | None = None
    visit: int = 1
    seq: int = 0
    withdrawn: bool = False


@dataclass(frozen=True, slots=True)
class Loop:
    """One test-treat-retest: the option, the dose really given, and how it ended."""

    number: int
    option: str
    dose: str
    side: Side
    visit: int
    assessment: int
    at: datetime | None = None
    seq: int = 0
    against_advice: str = ""  # reason, where it was given although barred or not yet
    late: bool = False
    unwanted: tuple[str, ...] = ()  # new symptom, swelling, gait reported at retest
    retested: bool = False
    excused: str = ""  # reason given for no retest
    predicted: float | None = None
    verdict: str | None = None  # beyond | within | worse | range_only, as judged and shown at the time


@dataclass(frozen=True, slots=True)
class Visit:
    """One sitting."""

    number: int
    opened_at: datetime | None
    clinician: str = ""
    role: str = ""
    closed_at: datetime | None = None
    closing: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Goal:
    """What the patient wants of one measure on one side, in its unit."""

    measure: str
    side: Side
    value: float
    words: str = ""
    at: datetime | None = None
    visit: int = 1
    seq: int = 0


@dataclass(frozen=True, slots=True)
class Note:
    """Free text under a heading (`problem`, `conclusion`, `plan`, `judgement`, `note`, ...)."""

    heading: str
    text: str
    at: datetime | None = None
    visit: int = 1
    seq: int = 0


@dataclass(frozen=True, slots=True)
class Withdrawn:
    """A danger answer withdrawn after its screen fired, with the reason: heads every review."""

    finding: str
    side: Side
    reason: str
    visit: int = 1
    seq: int = 0


@dataclass(frozen=True, slots=True)
class BundleSaid:
    """How a question holding several findings was answered; "present" = yes to one: ask one by one."""

    bundle: str
    value: Value
    at: datetime | None = None
    visit: int = 1
    seq: int = 0


@dataclass(frozen=True, slots=True)
class Irritability:
    """What sets it off, how much of that it takes, how bad (0-10), minutes to settle; None = not known."""

    activity: str = ""
    effort: Literal["little", "some", "much", "unknown"] = "unknown"
    intensity: float | None = None
    minutes: float | None = None
    visit: int = 1
    seq: int = 0


@dataclass(frozen=True, slots=True)
class Judgement:
    """The clinician's own ranking (hypothesis ids, first first), how sure, and their words."""

    ranked: tuple[str, ...]
    confidence: str = ""
    words: str = ""
    at: datetime | None = None
    visit: int = 1
    seq: int = 0


@dataclass(frozen=True, slots=True)
class ExamPlan:
    """What was planned to be examined, by id, and how far: active, first_pain, limit or overpressure."""

    must: tuple[str, ...]
    should: tuple[str, ...]
    leave: tuple[str, ...]
    extent: str
    visit: int = 1
    seq: int = 0


@dataclass(frozen=True, slots=True)
class Flare:
    """Hours it was worse after the visit before (0: not; None: not known), and swelling new since."""

    hours: float | None
    swelling: Value
    visit: int = 1
    seq: int = 0


@dataclass(frozen=True, slots=True)
class Stall:
    """What no progress was answered with: changed_hypothesis, imaging_question or second_opinion."""

    choice: str
    words: str
    at: datetime | None = None
    visit: int = 1
    seq: int = 0


@dataclass(frozen=True, slots=True)
class OrderHeard:
    """A surgeon's order by word of mouth: what, from whom, when."""

    text: str
    by: str
    when: str
    at: datetime | None = None
    visit: int = 1
    seq: int = 0


@dataclass(frozen=True, slots=True)
class HandedOver:
    """An emergency handed over: who took it, when, how they travel, what they were told."""

    to: str
    when: str
    travel: str
    told: str
    phoned: bool = False
    at: datetime | None = None
    visit: int = 1
    seq: int = 0


@dataclass(frozen=True, slots=True)
class Ending:
    """The end of care here."""

    reason: str
    outcome: str
    self_management: str
    return_signs: str
    at: datetime | None = None
    visit: int = 1
    seq: int = 0


@dataclass(frozen=True, slots=True)
class CaseState:
    """One case. Collections are in the order recorded."""

    case: str = ""
    kind: Literal["real", "demo", "practice"] = "real"
    region: str = ""
    context: Context = Context()
    answers: tuple[Answer, ...] = ()
    measurements: tuple[Measurement, ...] = ()
    resolutions: tuple[Resolution, ...] = ()
    consents: tuple[Consent, ...] = ()
    loops: tuple[Loop, ...] = ()
    visits: tuple[Visit, ...] = ()
    notes: tuple[Note, ...] = ()
    withdrawn: tuple[Withdrawn, ...] = ()
    retest_signs: tuple[str, ...] = ()  # measure ids, one to three
    function_words: str = ""  # the function in the patient's words
    competences: frozenset[str] = frozenset()  # load classes the clinician has a recorded competence for
    assessment: int = 1
    seq: int = 0  # of the last event applied
    extra: Mapping[str, Any] = field(default_factory=dict)
    bundles: tuple[BundleSaid, ...] = ()
    irritability: Irritability | None = None
    judgements: tuple[Judgement, ...] = ()
    goals: tuple[Goal, ...] = ()  # one a measure and side: the latest
    exam_plans: tuple[ExamPlan, ...] = ()
    flares: tuple[Flare, ...] = ()
    stalls: tuple[Stall, ...] = ()
    orders_heard: tuple[OrderHeard, ...] = ()
    handovers: tuple[HandedOver, ...] = ()
    ending: Ending | None = None
    # events that stand (case.events.Recorded), in order: what undo folds again. Empty for a snapshot.
    log: tuple[Any, ...] = field(default=(), repr=False, compare=False)

    @property
    def visit(self) -> int:
        """Number of the latest visit; 1 before any (a snapshot)."""
        return self.visits[-1].number if self.visits else 1
