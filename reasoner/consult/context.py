"""Who, when and what was done: the facts that settings, windows and screens read."""

from __future__ import annotations

from reasoner.case.events import AnchorStated, CompetenceRecorded, ContextStated, ImmobilisedStated, SurgeryStated
from reasoner.case.state import Surgery
from reasoner.consult import words
from reasoner.consult.commands import SetAnchor, SetContext, SetImmobilised, SetSurgery, StateCompetence
from reasoner.consult.situation import Decision, Situation, refuse

__all__ = ["ANCHOR_NAMES", "set_anchor", "set_context", "set_immobilised", "set_surgery", "state_competence"]

ANCHOR_NAMES = {
    "injury": "the injury",
    "surgery": "the operation",
    "cast_off": "cast or boot off",
    "union_on_film": "union seen on a film",
    "symptoms": "the symptoms began",
}
_OLDEST = 120
_LONGEST = 365 * 100
_SEXES = ("female", "male", "other")


def set_context(case: Situation, command: SetContext) -> Decision:
    """Side, age, sex, setting."""
    value = command.value
    if command.name == "side":
        return _set_side(case, command)
    if command.name == "age" and value is not None and not (isinstance(value, (int, float)) and 0 <= value <= _OLDEST):
        return refuse(f"age {value}: not possible", f"write years, 0 to {_OLDEST}: age 34")
    if command.name == "sex" and value is not None and value not in _SEXES:
        return refuse(f"sex {value}: not known", "write one of: female, male, other")
    said = f"{command.name}: not known"
    if value is not None:
        said = f"{command.name}: {words.number(value) if isinstance(value, (int, float)) else value}"
    if command.name == "setting" and value is not None:
        said = f"setting: {case.knowledge.settings[str(value)].name}"
    return Decision((ContextStated(command.name, value),), (said + _was(case, command.name, value),))


def _set_side(case: Situation, command: SetContext) -> Decision:
    value, known = command.value, case.state.context.side
    if value not in ("left", "right", "both"):
        return refuse("the side has to be known", "write: left, right or both")
    recorded = case.state.answers or case.state.measurements or case.state.loops
    if known is not None and value not in (known, "both") and recorded:
        return refuse(
            f"the case is about the {known} side and things are recorded for it; it cannot become {value}",
            "for the other side as well: side both; for another problem: a new case",
        )
    return Decision((ContextStated("side", value),), (f"side: {value}",))


def _was(case: Situation, name: str, value: object) -> str:
    earlier = getattr(case.state.context, name)
    if earlier is None or earlier == value:
        return ""
    return f" (was {words.number(earlier) if isinstance(earlier, float) else earlier})"


def set_anchor(case: Situation, command: SetAnchor) -> Decision:
    """Days since something."""
    surgery, name = case.state.context.surgery, ANCHOR_NAMES[command.anchor]
    if command.days is not None and not 0 <= command.days <= _LONGEST:
        return refuse(f"{command.days} days since {name}: not possible", "write for example: 6 weeks ago")
    happened = not command.none and command.days is not None
    if command.anchor == "surgery" and happened and surgery is not None and surgery.none:
        return refuse("'no surgery' is recorded", "say first what was operated: surgery unknown kind, or its name")
    if command.none:
        said = f"{name}: did not happen"
    elif command.days is None:
        said = f"time since {name}: not known"
    else:
        said = f"{command.days} days since {name}"
    return Decision((AnchorStated(command.anchor, command.days, command.none),), (said,))


def set_immobilised(case: Situation, command: SetImmobilised) -> Decision:
    """Cast, boot or splint."""
    if command.weeks is not None and not 0 <= command.weeks <= _LONGEST / 7:
        return refuse(f"{words.number(command.weeks)} weeks: not possible", "write for example: boot 3 weeks")
    event = ImmobilisedStated(command.none, command.weeks, command.position, command.unknown)
    if command.none:
        return Decision((event,), ("was not immobilised",))
    if command.unknown:
        return Decision((event,), ("immobilised: not known",))
    weeks = f"{words.number(command.weeks)} weeks" if command.weeks is not None else "weeks not known"
    return Decision((event,), (f"immobilised: {weeks}, {_plain(command.position) or 'position not known'}",))


def set_surgery(case: Situation, command: SetSurgery) -> Decision:
    """What was operated; a part not given keeps what was stated before."""
    if command.none or command.unknown:
        anchor = case.state.context.days_since.get("surgery")
        if command.none and anchor is not None and anchor.days is not None:
            return refuse(
                f"{anchor.days} days since an operation are recorded, so it cannot be 'no surgery'",
                "correct that first: operation none",
            )
        said = "no surgery" if command.none else "surgery: not known"
        return Decision((SurgeryStated(none=command.none, unknown=command.unknown),), (said,))
    known = case.state.context.surgery or Surgery()
    if known.none:
        known = Surgery()
    event = SurgeryStated(
        procedure=command.procedure or known.procedure,
        fixation=command.fixation or known.fixation,
        weight_bearing=command.weight_bearing or known.weight_bearing,
        orders=command.orders or known.orders,
    )
    return Decision((event,), (_surgery_says(case, event), *_orders_say(event)))


def _surgery_says(case: Situation, event: SurgeryStated) -> str:
    names = {p.id: p.name for p in case.knowledge.region.procedures}
    parts = [names.get(event.procedure or "", event.procedure or "kind not known")]
    if event.fixation:
        parts.append(f"fixed with {_plain(event.fixation)}")
    if event.weight_bearing:
        parts.append(f"weight bearing {_plain(event.weight_bearing)}")
    parts.append(f"orders {_plain(event.orders)}")
    return f"surgery: {', '.join(parts)}"


def _orders_say(event: SurgeryStated) -> tuple[str, ...]:
    """What unseen or conflicting orders mean for what may be done."""
    if event.orders == "not_seen":
        return ("  until they are seen the later of its limits holds; surgeon: drafts the question",)
    if event.orders == "conflicting":
        return ("  the stricter of them holds, and the later of its limits; surgeon: drafts the question",)
    return ()


def _plain(ident: str | None) -> str:
    return (ident or "").replace("_", " ")


def state_competence(case: Situation, command: StateCompetence) -> Decision:
    """A recorded competence of the clinician for a load class."""
    name = case.knowledge.load_classes[command.load_class].name
    return Decision((CompetenceRecorded(command.load_class),), (f"competence recorded: {name}",))
