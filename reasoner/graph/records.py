"""The records that knowledge files hold, one class a kind: plain, frozen, each remembering its file and line.

The same classes are the schema: `graph/load.py` hands them to pydantic (strict, extra keys refused), so a field
exists once. Optional fields default to empty; `None` always means "not stated", never "no".
Every record read from a file has `place` filled in by the loader.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

__all__ = [
    "Alignment", "AlwaysAsk", "Basis", "Caution", "Citation", "Course", "Domain", "Dose", "Effect", "ErrorFigure",
    "Evidence",
    "Figure", "Finding", "Gate", "Grading", "Group", "GroupMember", "HomeText", "Hypothesis", "IrritabilityRule",
    "Kind", "Link", "LoadClass", "Masking", "Measure", "MeasuredBy", "Modifier", "Need", "NormalValue", "OptionRecord",
    "Place", "Policy", "Position", "Procedure", "Protocol", "Region", "ReturnToActivity", "Rule", "Scales", "Screen",
    "Setting", "SheetText", "Shift", "Spread", "Tool", "VisitRules", "Window", "Word", "Wording",
]

_STRICT: dict[str, Any] = {"extra": "forbid", "strict": True}

Basis = Literal["published", "practice", "recalled"]
HoldsFor = str  # "visit" | "lasting" | "N days"; checked by rule K-HOLDS
# A rule is a finding id or a mapping with one of: all, any, not, at_least+of, score+items, age, days_since,
# setting, procedure, surgery, immobilised, measure, screen, suspected, context. Grammar: safety/rules.py.
Rule = str | dict[str, Any]


@dataclass(frozen=True, slots=True)
class Place:
    """Where a record was read: file (relative to the knowledge folder), first line, and the line of each field path."""

    file: str = ""
    line: int = 0
    lines: Mapping[tuple[str | int, ...], int] = field(default_factory=dict, hash=False, compare=False, repr=False)
    # (file, line) of the field paths that a clinic's own folder sets
    overlaid: Mapping[tuple[str | int, ...], tuple[str, int]] = field(
        default_factory=dict, hash=False, compare=False, repr=False
    )

    def at(self, *path: str | int) -> int:
        """Line of a field path such as `("produces", 2, "finding")`; the nearest enclosing line if it has none."""
        return self.whereabouts(*path)[1]

    def blame(self, *path: str | int) -> tuple[str, int]:
        """File and line to mend: of an entry that a clinic's folder changes, the nearest line of the clinic's.

        The shipped entry was right before, so what is wrong now came with the change.
        """
        if not self.overlaid:
            return self.whereabouts(*path)

        def common(other: tuple[str | int, ...]) -> int:
            same = 0
            while same < min(len(path), len(other)) and path[same] == other[same]:
                same += 1
            return same

        best = max(self.overlaid, key=lambda other: (common(other), -len(other)))
        return self.overlaid[best]

    def whereabouts(self, *path: str | int) -> tuple[str, int]:
        """File and line of a field path: in a clinic's file if it comes from there."""
        while path:
            if path in self.overlaid:
                return self.overlaid[path]
            if path in self.lines:
                return self.file, self.lines[path]
            path = path[:-1]
        return self.file, self.line


NOWHERE = Place()


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One number (or one word of scales.yaml) with its basis. `range` is its interval; a word brings its own."""

    __pydantic_config__ = _STRICT
    value: float | None = None
    word: str | None = None
    range: tuple[float, float] | None = None
    basis: Basis
    evidence: tuple[str, ...] = ()
    derived: str = ""  # the arithmetic, where the number is not printed in the evidence entry itself
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Mean and standard deviation of something measured, in the measure's unit."""

    __pydantic_config__ = _STRICT
    mean: float
    sd: float
    basis: Basis
    evidence: tuple[str, ...] = ()
    derived: str = ""
    note: str = ""


# ------------------------------------------------------------------------------------------------ findings


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredBy:
    """A measure as one graded finding. d = `of`; larger d (or smaller, if worse: lower) is the higher level.

    side_difference: how far this side falls short of the other, positive = worse. value: the number itself.
    `cuts` run from mild to severe: K-1 of them give levels 0..K-1.
    """

    __pydantic_config__ = _STRICT
    measure: str
    of: Literal["side_difference", "value"]
    worse: Literal["higher", "lower"] = "higher"
    cuts: tuple[float, ...]
    reference: Spread  # everyone measured in this setting: N(mu, tau^2), divided out of the likelihood
    reference_in: dict[str, Spread] = field(default_factory=dict)  # by setting id, where one is known
    healthy: Spread  # people without any of the causes: gives the leak
    level_names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something told, seen, tested, measured or composed; present, absent or unknown."""

    __pydantic_config__ = _STRICT
    id: str
    name: str
    kind: Literal["told", "seen", "tested", "measured", "composite"]
    ask: str = ""  # the question, or how to do the test, in short own words
    present_when: str = ""
    says: str = ""  # echo when present, if the name does not say it well ("cannot take four steps")
    position: str = ""
    minutes: float = 0.3
    sided: bool = True  # False: about the person (fever), not a leg
    danger: bool = False  # yes = danger; never under `not`, never with a negative weight
    provokes: bool = False
    load_classes: tuple[str, ...] = ()
    aliases: tuple[str, ...] = ()
    holds_for: HoldsFor = "visit"
    leak: Figure | None = None  # chance of it with none of the causes
    answerable: Figure | None = None  # chance that it can be answered when asked; 1 when not stated
    hand_felt: bool = False  # an ungrouped hand-felt sign: its links are shrunk by `agreement`
    agreement: Figure | None = None  # published kappa (lower interval end is used)
    measured: MeasuredBy | None = None
    composite: Rule | None = None  # a rule, or {screen: id}: met = present, not_met = absent, else unknown
    # a general word for these findings: understood, never asked, without weight once one of them is found or measured
    general_for: tuple[str, ...] = ()
    absent_from_age: int | None = None  # from this age on nobody has it: not asked, and absent unless answered yes
    reassuring_about: tuple[str, ...] = ()  # hypotheses that its absence never speaks against
    about: str = ""
    basis: Basis = "practice"
    evidence: tuple[str, ...] = ()
    formerly: tuple[str, ...] = ()  # ids it had before; still understood
    retired: str = ""  # why it is never asked any more; an answer still counts
    instead: str = ""  # finding asked in its place: read where this one has no answer
    place: Place = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupMember:
    """One noisy reading of a group's latent sign: published sens+spec for the group's reference cause, or words."""

    __pydantic_config__ = _STRICT
    finding: str
    sens: float | None = None
    spec: float | None = None
    when_present: Figure | None = None  # a_k, where no accuracy is published
    when_absent: Figure | None = None  # b_k
    agreement: Figure | None = None
    basis: Basis
    evidence: tuple[str, ...] = ()
    derived: str = ""  # the arithmetic, where sens or spec is not printed in the evidence entry itself
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Signs that count once: one latent sign; hypotheses link to the group's id as to a finding."""

    __pydantic_config__ = _STRICT
    id: str
    name: str
    reference: str  # hypothesis id whose published accuracy the members' figures are for
    members: tuple[GroupMember, ...]
    leak: Figure | None = None
    note: str = ""
    formerly: tuple[str, ...] = ()  # ids it had before; still understood
    place: Place = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Masking:
    """What hides a sign: while `when` is present, an absent answer to `hides` counts as (mu, 1)."""

    __pydantic_config__ = _STRICT
    id: str
    when: str  # finding id
    hides: tuple[str, ...]  # finding ids
    mu: Figure  # chance that a present sign is hidden
    place: Place = NOWHERE


# ------------------------------------------------------------------------------------------------ hypotheses


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """What a hypothesis does to a finding or group. State one of: chance | sens+spec | lr_neg (+lr_pos) | levels |
    mean+sd. `chance` is a word of scales.yaml or a number: c, the chance that it alone brings the finding."""

    __pydantic_config__ = _STRICT
    finding: str
    chance: str | float | None = None
    sens: float | None = None
    spec: float | None = None
    lr_pos: float | None = None
    lr_neg: float | None = None
    range: tuple[float, float] | None = None  # interval of `chance`, or of `sens`
    spec_range: tuple[float, float] | None = None
    levels: tuple[str | float, ...] = ()  # measured findings: u(1), u(2), ...
    mean: float | None = None  # measured findings: of this cause, in d's own unit and sign
    sd: float | None = None
    sensitivity_only: bool = False
    study_setting: str = ""  # setting whose base rates the leak is worked out with
    basis: Basis
    evidence: tuple[str, ...] = ()
    derived: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Modifier:
    """A fact that raises or lowers the base rate by an odds ratio (or a risk ratio, converted and said so)."""

    __pydantic_config__ = _STRICT
    fact: Rule
    odds_ratio: float | None = None
    risk_ratio: float | None = None
    basis: Basis
    evidence: tuple[str, ...] = ()
    derived: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """A condition that, where it is present, moves the base rate of a restriction by an odds ratio.

    The base rate stays what it says, the chance over everybody in the setting, with and without the condition.
    """

    __pydantic_config__ = _STRICT
    by: str  # hypothesis id of a condition
    odds_ratio: float  # with it against without it
    basis: Basis
    evidence: tuple[str, ...] = ()
    derived: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hypothesis:
    """Something that may limit, hurt, be ill, must not be missed, or feeds the problem."""

    __pydantic_config__ = _STRICT
    id: str
    name: str
    list: Literal["restriction", "condition", "serious", "pain_mechanism", "contributing"]
    aliases: tuple[str, ...] = ()
    base_rate: dict[str, Figure]  # by setting id; `not_stated` is required and stands in for settings not named
    modifiers: tuple[Modifier, ...] = ()
    shifted_by: tuple[Shift, ...] = ()  # restrictions only; at most three conditions in a region shift anything
    one_of: str = ""  # the problem it is a stage or variant of: of those with the same word at most one is there
    produces: tuple[Link, ...] = ()
    establish: str = "no reference standard"  # what would establish it
    act_above: float | None = None  # serious: chance above which one acts
    screens: tuple[str, ...] = ()
    next_step: str = ""
    not_excluded_by: str = ""
    about: str = ""
    basis: Basis = "practice"
    evidence: tuple[str, ...] = ()
    formerly: tuple[str, ...] = ()  # ids it had before; still understood
    place: Place = NOWHERE


# ------------------------------------------------------------------------------------------------ measures


@dataclass(frozen=True, slots=True, kw_only=True)
class HomeText:
    """An option in a patient's words, for one language: short sentences, near a reading age of 11."""

    __pydantic_config__ = _STRICT
    title: str
    do: str
    dose: str = ""  # how much and how often, where the clinician wrote none
    feel: str = ""  # what it may feel like
    not_feel: str = ""  # what means stop
    exercise: bool = True  # False: advice or support that may stand on a sheet without exercises
    basis: Basis = "practice"
    evidence: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetText:
    """What every home sheet of a region says, for one language. `reviewed`: a clinician has read this wording."""

    __pydantic_config__ = _STRICT
    reviewed: bool = False
    labels: dict[str, str] = field(default_factory=dict)  # headings and fixed lines by their key
    flare: str  # what to do when it is sorer than before
    emergency_signs: tuple[str, ...] = ()
    call_signs: tuple[str, ...] = ()
    basis: Basis = "practice"
    evidence: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ErrorFigure:
    """Error of one tool, rater and interval: SEM and/or MDC95 in the measure's unit, of one mean as usually taken."""

    __pydantic_config__ = _STRICT
    tool: str
    rater: Literal["within", "between"] = "within"
    interval: Literal["within_visit", "between_visits"]
    sem: float | None = None
    mdc95: float | None = None
    mdc95_side_difference: float | None = None
    basis: Basis
    evidence: tuple[str, ...] = ()
    derived: str = ""
    note: str = ""
    # the part of `sem` that differs from one occasion to the next: further trials of one sitting do not shrink it
    sem_between_occasions: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """What a task asks of this measure, in its unit: at least `value`; `range` where sources or people differ."""

    __pydantic_config__ = _STRICT
    id: str
    name: str
    aliases: tuple[str, ...] = ()
    value: float
    range: tuple[float, float] | None = None
    basis: Basis
    evidence: tuple[str, ...] = ()
    derived: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """A published course of recovery: means of a group at so many weeks after an anchor. `weeks` rise.

    `of`: the value, or how far the side falls short of the other. `sd`: one for each week, or none.
    """

    __pydantic_config__ = _STRICT
    name: str
    settings: tuple[str, ...]  # shown for these; empty: for all
    counted_from: Literal["injury", "surgery", "cast_off", "union_on_film", "symptoms"]
    of: Literal["value", "side_difference"] = "value"
    weeks: tuple[float, ...]
    mean: tuple[float, ...]
    sd: tuple[float, ...] = ()
    basis: Basis
    evidence: tuple[str, ...] = ()
    derived: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tool:
    """An instrument; `per_unit` converts its reading to the measure's unit (a finger width to cm)."""

    __pydantic_config__ = _STRICT
    id: str
    name: str
    aliases: tuple[str, ...] = ()
    per_unit: float = 1.0
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """A number with unit, side, tool, trials and set-up."""

    __pydantic_config__ = _STRICT
    id: str
    name: str
    unit: str
    possible: tuple[float, float]
    usual: tuple[float, float] | None = None  # outside it: "re-check" rather than refuse
    better: Literal["higher", "lower"]
    sided: bool = True
    aliases: tuple[str, ...] = ()
    how: str = ""
    setup: tuple[str, ...] = ()  # what to keep the same
    position: str = ""
    minutes: float = 1.0
    trials: int = 1
    settle_within: float | None = None  # two trials agree within this: baseline is settled
    recheck_jump: float | None = None  # a change this large: re-check the set-up before crediting it
    tools: tuple[Tool, ...] = ()  # first = default
    errors: tuple[ErrorFigure, ...] = ()
    drift: Spread | None = None  # warm-up, touch and repetition: change without effective treatment
    worthwhile: Figure | None = None  # smallest worthwhile change
    derived: str = ""  # "a - b", measure ids
    load_classes: tuple[str, ...] = ()
    provokes: bool = False
    kind: Literal["range", "pain", "function", "strength", "girth", "balance", "other"] = "range"
    benefit_note: str = ""  # where more is not better
    home_text: dict[str, HomeText] = field(default_factory=dict)  # how a patient takes it at home, by language
    watch: tuple[dict[str, Any], ...] = ()  # [{when: rule, say: text}]: direction of benefit in context
    needs: tuple[Need, ...] = ()  # task requirements: goals to choose from
    courses: tuple[Course, ...] = ()  # published recovery, to look at beside a patient's own
    healthy_difference: Figure | None = None  # how far two healthy sides may differ, either way
    possible_source: str = ""  # where the possible range is from, for a refusal
    basis: Basis = "practice"
    evidence: tuple[str, ...] = ()
    formerly: tuple[str, ...] = ()  # ids it had before; still understood
    place: Place = NOWHERE


# ------------------------------------------------------------------------------------------------ alignment


@dataclass(frozen=True, slots=True, kw_only=True)
class NormalValue:
    """What is normal for one number of an alignment drawing, and how well readers agree on it."""

    __pydantic_config__ = _STRICT
    of: Literal["offset", "offset_ratio", "length_share", "radius"]
    name: str
    mean: float
    sd: float
    agreement: str = ""
    basis: Basis
    evidence: tuple[str, ...] = ()
    derived: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Alignment:
    """For teaching only: the names of what is drawn from a side view, its normal values, and what to be careful of.

    Never read by reasoning, notes, letters or home sheets. Lengths in mm; angles in degrees from the axis.
    """

    __pydantic_config__ = _STRICT
    id: str
    name: str
    axis: str  # names of the long axis, the round lower end, the hollow above it, and what the front edges are
    dome: str
    socket: str
    front: str
    motion: str  # what is lost when the front edges meet early
    normals: tuple[NormalValue, ...]
    cautions: tuple[str, ...]
    click_sd: Figure  # error of one click, mm
    socket_radius: Figure  # of the two-arc drawing
    socket_front: Figure  # where the hollow's front edge and the dome's front end lie, in degrees before the axis
    socket_back: Figure
    dome_front: Figure
    clearance: Figure  # mm apart at which two surfaces still count as touching
    basis: Basis = "practice"
    evidence: tuple[str, ...] = ()
    place: Place = NOWHERE


# ------------------------------------------------------------------------------------------------ options, gates


@dataclass(frozen=True, slots=True, kw_only=True)
class Dose:
    """How much, with its source."""

    __pydantic_config__ = _STRICT
    text: str
    basis: Basis
    evidence: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """Response figures of an option on one retest measure. Numbers (gain, sd, sham) or words (p1, p0), not both.

    gain/sd: within-visit change in the treated arm; drift: repeat or no-contact arm; sham: touch only. Measure's unit.
    """

    __pydantic_config__ = _STRICT
    sign: str  # measure id
    gain: float | None = None
    sd: float | None = None
    sham: float | None = None
    sham_sd: float | None = None
    sham_basis: Basis | None = None  # where the sham figures do not come from the source of gain and sd
    p1: str | float | None = None  # chance of a real change if it works as supposed, target present
    p0: str | float | None = None  # the same if it does no more than touch
    certainty: Literal["high", "moderate", "low", "very_low"]
    certainty_reasons: tuple[str, ...] = ()
    short_term_only: bool = True
    contrary: tuple[str, ...] = ()  # evidence ids that found nothing or harm
    basis: Basis
    evidence: tuple[str, ...] = ()
    derived: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """Says `say` while `when` is present or unknown."""

    __pydantic_config__ = _STRICT
    when: Rule
    say: str
    basis: Basis
    evidence: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class OptionRecord:
    """A technique, exercise or step, in one of four lanes."""

    __pydantic_config__ = _STRICT
    id: str
    name: str
    lane: Literal["due", "try_now", "protect", "ask_or_send"]
    aliases: tuple[str, ...] = ()
    load_classes: tuple[str, ...] = ()
    acts_on: tuple[str, ...] = ()  # hypothesis ids
    consider_when: Rule | None = None  # shown when certainly or possibly true; None = always
    for_screens: tuple[str, ...] = ()  # ask_or_send: shown while one is met or open
    how: str = ""
    setup: str = ""
    dose: Dose | None = None
    minutes: float = 5.0
    position: str = ""
    equipment: tuple[str, ...] = ()
    who: str = ""  # who can do it
    what_and_why: str = ""  # for consent
    after_effects: str = ""  # common after-effects, for consent
    progression: str = ""
    regression: str = ""
    retest: tuple[str, ...] = ()  # measure ids
    effects: tuple[Effect, ...] = ()
    cautions: tuple[Caution, ...] = ()
    home: bool = False
    home_text: dict[str, HomeText] = field(default_factory=dict)  # by language: en, de
    about: str = ""
    basis: Basis = "practice"
    evidence: tuple[str, ...] = ()
    formerly: tuple[str, ...] = ()  # ids it had before; still understood
    retired: str = ""  # why it is never suggested any more; still understood where it was done
    instead: str = ""
    place: Place = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """A bar (or caution) of a load class. Unknown `when`: a bar gives not_yet and names what is missing."""

    __pydantic_config__ = _STRICT
    when: Rule
    say: str
    basis: Basis
    evidence: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadClass:
    """What an act does to the tissue. Contraindications and healing windows attach here, not to techniques."""

    __pydantic_config__ = _STRICT
    id: str
    name: str
    about: str = ""
    # the least permission (`hands` of every met or open emergency/same-day screen) under which it may be done
    needs_hands: Literal["nothing", "protect_only", "active_pain_free", "unrestricted"]
    needs_screening: bool = True  # needs the always-ask set answered without unknown
    hands_on: bool = False
    bars: tuple[Gate, ...] = ()
    cautions: tuple[Gate, ...] = ()
    formerly: tuple[str, ...] = ()  # ids it had before; still understood
    place: Place = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Not before so many whole weeks after an anchor. `earlier`/`later`: the published range; later is the limit."""

    __pydantic_config__ = _STRICT
    load_class: str
    counted_from: Literal["injury", "surgery", "cast_off", "union_on_film"]
    earlier_weeks: int | None = None
    later_weeks: int
    say: str = ""
    basis: Basis
    evidence: tuple[str, ...] = ()
    derived: str = ""  # how the weeks follow, where they are not printed in the evidence entry itself
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Protocol:
    """Healing windows of one procedure or injury: records of load class -> not before."""

    __pydantic_config__ = _STRICT
    id: str
    name: str
    applies_when: Rule
    windows: tuple[Window, ...]
    question_to_surgeon: str = ""
    about: str = ""
    formerly: tuple[str, ...] = ()  # ids it had before; still understood
    place: Place = NOWHERE


# ------------------------------------------------------------------------------------------------ screens


@dataclass(frozen=True, slots=True, kw_only=True)
class Screen:
    """A danger rule with the population it was made for."""

    __pydantic_config__ = _STRICT
    id: str
    name: str
    send: Literal["emergency", "same_day", "urgent", "routine"]
    hands: Literal["nothing", "protect_only", "active_pain_free", "unrestricted"]
    use_when: Rule | None = None  # None = always in use
    valid_when: Rule | None = None
    rule: Rule
    score: str = ""  # id of a composite finding whose score is shown beside it; never unblocks
    hypotheses: tuple[str, ...] = ()
    say_met: str  # "published referral criteria met: ...; consider ..."
    next_step: str
    not_excluded: str = ""  # what "not met" does not exclude
    resolve_by: str = ""  # what would resolve it
    resolve_days: int = 1
    patient: dict[str, str] = field(default_factory=dict)  # what the patient does now, in plain words, by language
    specificity: Figure | None = None
    basis: Basis
    evidence: tuple[str, ...] = ()
    note: str = ""
    formerly: tuple[str, ...] = ()  # ids it had before; still understood
    place: Place = NOWHERE


# ------------------------------------------------------------------------------------------------ evidence, region


@dataclass(frozen=True, slots=True, kw_only=True)
class Citation:
    """Who, when, where. DOI or PMID where known."""

    __pydantic_config__ = _STRICT
    authors: str | None = None
    year: int | None = None
    journal: str | None = None
    title: str = ""
    doi: str | None = None
    pmid: str | None = None
    url: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Grading:
    """Certainty in a named scheme's own words, and who rated it."""

    __pydantic_config__ = _STRICT
    scheme: str
    value: str
    rated_by: Literal["published", "project"]
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """One source and what it says in numbers. `figures`: a (nested) mapping whose leaves are numbers or short text."""

    __pydantic_config__ = _STRICT
    id: str
    kind: Literal["accuracy", "prevalence", "effect", "measurement", "safety", "healing", "other"]
    citation: Citation
    design: str = ""
    compares: Literal["between_groups", "before_after", "not_applicable"] = "not_applicable"
    population: str = ""
    n: str | int | None = None
    says: str
    direction: Literal["helps", "no_difference", "harms", "mixed", "not_applicable"] = "not_applicable"
    certainty: Grading | None = None
    figures: dict[str, Any] = field(default_factory=dict)
    quality: Basis = "published"  # practice: teaching page, blog; recalled: from memory
    not_used: str = ""  # why nothing of the pack rests on it
    checked: str  # date as text, or "abstract read", ...
    review_by: str = ""
    note: str = ""
    formerly: tuple[str, ...] = ()  # ids it had before; still understood
    place: Place = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """How the person comes: base rates depend on it; the findings it accounts for carry no weight again."""

    __pydantic_config__ = _STRICT
    id: str
    name: str
    aliases: tuple[str, ...] = ()
    accounts_for: tuple[str, ...] = ()
    # what a time said together with it counts from ("sprain 6 weeks ago")
    counts_from: Literal["injury", "surgery", "cast_off", "union_on_film", "symptoms"] | None = None
    early: str = ""  # the setting meant where less than `early_days` are said with this one ("twisted it 3 days ago")
    early_days: int | None = None
    about: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class AlwaysAsk:
    """One always-ask question: a bundle over single-fact findings and context facts (age)."""

    __pydantic_config__ = _STRICT
    id: str
    ask: str
    findings: tuple[str, ...] = ()
    context: tuple[str, ...] = ()  # "age"
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Position:
    """Examination position and the cost of moving into it."""

    __pydantic_config__ = _STRICT
    id: str
    name: str
    change_minutes: float = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Procedure:
    """An operation the pack knows."""

    __pydantic_config__ = _STRICT
    id: str
    name: str
    aliases: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Wording:
    """An id with its name and the words people use for it."""

    __pydantic_config__ = _STRICT
    id: str
    name: str
    aliases: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Region:
    """A pack: whom it covers, settings, always-ask set, positions, procedures."""

    __pydantic_config__ = _STRICT
    id: str
    name: str
    covers: Rule  # certainly false or unknown-at-worst: only screens, protection and referral
    covers_say: str
    settings: tuple[Setting, ...]
    always_ask: tuple[AlwaysAsk, ...]
    positions: tuple[Position, ...]
    procedures: tuple[Procedure, ...] = ()
    immobilised_positions: tuple[Wording, ...] = ()  # in a cast or boot; none given: any word is taken as typed
    function_sign: str = ""  # measure id of the 0-10 function in the patient's words
    pain_sign: str = ""
    main_measure: str = ""
    suspected_above: dict[str, float] = field(default_factory=dict)  # hypothesis id -> chance that adds a caution
    resting_pain: str = ""  # measure id: a rise of it in a visit ends provoking tests for that visit
    overpressure: tuple[str, ...] = ()  # load classes that push past the limit: none while irritability is high
    return_to_activity: ReturnToActivity | None = None
    body_site: str = ""  # in words, for documents
    sheet: dict[str, SheetText] = field(default_factory=dict)  # home sheet wording by language
    icf: tuple[Wording, ...] = ()  # ICF codes with labels of our own; `aliases`: measure ids they stand for
    place: Place = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """A verbal chance: middle and range."""

    __pydantic_config__ = _STRICT
    id: str
    value: float
    range: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scales:
    """scales.yaml"""

    __pydantic_config__ = _STRICT
    words: tuple[Word, ...]
    place: Place = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class IrritabilityRule:
    """Cuts that turn each part into low, moderate or high (at or above); the middle one of the three parts decides.

    Pain is 0-10; minutes are those it takes to settle. Effort to provoke: little = high, some = moderate, much = low.
    """

    __pydantic_config__ = _STRICT
    moderate_pain: float
    high_pain: float
    moderate_minutes: float
    high_minutes: float
    basis: Basis
    evidence: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitRules:
    """How a visit goes: limits on provoking tests, what a flare means, when no progress has to be answered.

    Hours, weeks and visits as named. A flare that lasts longer than `lower_dose_hours` lowers the dose, longer than
    `reassess_hours`, or with new swelling, it means a new assessment.
    """

    __pydantic_config__ = _STRICT
    most_provoking: int  # provoking tests in a visit while irritability is high or not known
    lower_dose_hours: float
    reassess_hours: float
    review_visit: int  # from this visit on, or from this week after the first visit, no progress is answered
    review_weeks: float
    review_say: str
    gap_days: int  # a clock that runs backwards or leaps by more than this makes dates doubtful until stated again
    basis: Basis
    evidence: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Domain:
    """One domain to look at before somebody returns to full activity."""

    __pydantic_config__ = _STRICT
    id: str
    name: str
    look_at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReturnToActivity:
    """Published consensus domains, and what is known about cut-offs. Never range alone."""

    __pydantic_config__ = _STRICT
    domains: tuple[Domain, ...]
    cut_offs: str  # the fact about cut-offs, in words
    basis: Basis
    evidence: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """policy.yaml: figures of reasoning that belong to no anatomy."""

    __pydantic_config__ = _STRICT
    certainty_weight: dict[str, float]  # high 1, moderate .75, low .5, very_low .25
    leak_floor: dict[str, float]  # told .05, seen/tested/measured .02
    contact_base_rate: float = 0.25
    contact_leak: float = 0.05
    default_p0: float = 0.25
    least_p0: float = 0.06
    zero_or_one: tuple[float, float] = (0.02, 0.98)
    visit_hours: float = 12.0
    tell_apart: float = 0.6
    # the odds of a judgement that states no interval may be off by this much either way
    judgement_odds: float = 2.0
    live_bits: int = 14
    pain_worse: float = 2.0
    words_fit_best: float = 0.5
    suspected_above: dict[str, float] = field(default_factory=dict)  # hypothesis id -> chance that adds a caution
    irritability: IrritabilityRule | None = None  # None: shown as unknown, which counts as high
    visit_rules: VisitRules | None = None  # None: no such limit is stated, and none is applied
    basis: Basis = "practice"
    note: str = ""
    place: Place = NOWHERE


Kind = Literal[
    "finding", "group", "masking", "hypothesis", "measure", "option", "load_class", "protocol", "screen", "evidence",
    "alignment",
]
