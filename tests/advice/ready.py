"""A state of the shipped pack in which everything is answered that bars hands-on, and no danger sign is there."""

from __future__ import annotations

from collections.abc import Mapping

from reasoner.case.state import Anchor, Answer, CaseState, Context, Immobilised, Side, Surgery, Visit
from reasoner.graph.knowledge import Knowledge
from reasoner.inference.compile import compile_network
from tests.build import NOW

# facts about the person that gates read and that are not danger signs
GATE_FACTS = (
    "blood_thinners", "bleeding_disorder", "long_term_steroids", "fluoroquinolones", "osteoporosis",
    "inflammatory_flare", "pregnant", "general_hypermobility", "painkillers_taken", "immunosuppressed",
    "skin_broken_here", "diabetes",
)  # fmt: skip


def ready(knowledge: Knowledge, answers: Mapping[str, str], *, setting: str = "after_sprain") -> CaseState:
    """Left ankle, 60 days after an injury, nothing operated or immobilised; `answers` on top, side where it has one."""
    compiled = compile_network(knowledge, setting)
    absent = [
        f.id
        for f in knowledge.findings.values()
        if f.kind not in ("measured", "composite") and (f.danger or f.id in GATE_FACTS or compiled.node(f.id) is None)
    ]
    said = {**dict.fromkeys(absent, "absent"), **answers}
    made = []
    for seq, (name, value) in enumerate(said.items(), 1):
        side: Side = "left" if knowledge.findings[name].sided else "none"
        made.append(Answer(name, side, value, None, NOW, seq=seq))  # type: ignore[arg-type]
    never = Anchor(None, NOW, none=True)
    context = Context(
        side="left", age=34, sex="female", setting=setting,
        days_since={"injury": Anchor(60, NOW), "surgery": never, "cast_off": never},
        immobilised=Immobilised(none=True), surgery=Surgery(none=True),
    )  # fmt: skip
    return CaseState(case="t", context=context, answers=tuple(made), visits=(Visit(1, NOW),))
