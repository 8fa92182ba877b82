"""Every answer behind every shipped screen, one by one: taken away it reassures nobody, one more never calms.

The random states of `test_shipped_safety.py` seldom touch the one answer that a screen hangs on; here each is touched.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from reasoner.case.state import Answer, CaseState
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import Screen
from reasoner.graph.rules import rules_of, steps
from reasoner.safety.screens import ScreenResult
from tests.advice.ready import ready
from tests.advice.test_shipped_safety import screening_of
from tests.build import NOW

FIRMNESS = {"does_not_apply": 0, "not_met": 0, "open": 1, "met": 2}


def behind(screen: Screen, knowledge: Knowledge) -> list[str]:
    """Findings that can be answered and that its rules name, themselves or through a composite."""
    found: dict[str, None] = {}

    def add(rule: object) -> None:
        for name in (s.rule for s in steps(rule) if isinstance(s.rule, str)):
            finding = knowledge.findings[name]
            if finding.composite is not None:
                add(finding.composite)
            elif finding.kind != "measured":
                found[name] = None

    for _, rule in rules_of("screen", screen):
        add(rule)
    return list(found)


def said(knowledge: Knowledge, state: CaseState, finding: str) -> CaseState:
    """The state with this finding present."""
    side = "left" if knowledge.findings[finding].sided else "none"
    rest = tuple(a for a in state.answers if a.finding != finding)
    return replace(state, answers=(*rest, Answer(finding, side, "present", None, NOW, seq=9000 + len(rest))))  # type: ignore[arg-type]


def without(state: CaseState, finding: str) -> CaseState:
    """The state in which nobody asked about it."""
    return replace(state, answers=tuple(a for a in state.answers if a.finding != finding))


def judged(knowledge: Knowledge, state: CaseState, screen: Screen) -> ScreenResult:
    """One screen in one state."""
    return screening_of(knowledge, state).result(screen.id)


def begun(knowledge: Knowledge) -> Iterator[tuple[Screen, list[str], CaseState]]:
    """Each screen with the findings behind it, in states with one or two neighbouring ones of them present."""
    calm = ready(knowledge, {})
    for screen in knowledge.screens.values():
        findings = behind(screen, knowledge)
        for n, one in enumerate(findings):
            state = said(knowledge, calm, one)
            yield screen, findings, state
            yield screen, findings, said(knowledge, state, findings[n - 1])


def test_no_answer_taken_away_reassures(knowledge: Knowledge) -> None:
    """Met or open, and one of the answers behind it was never given: met or open still."""
    tried = 0
    for screen, findings, state in begun(knowledge):
        if judged(knowledge, state, screen).state not in ("met", "open"):
            continue
        for finding in findings:
            after = judged(knowledge, without(state, finding), screen).state
            assert after in ("met", "open"), (screen.id, finding)
            tried += 1
    assert tried > 200


def test_no_danger_sign_more_calms_a_screen(knowledge: Knowledge) -> None:
    """One of the danger signs behind it more: the screen stands as firmly or more so."""
    tried = 0
    for screen, findings, state in begun(knowledge):
        before = judged(knowledge, state, screen)
        for finding in (f for f in findings if knowledge.findings[f].danger):
            after = judged(knowledge, said(knowledge, state, finding), screen)
            assert FIRMNESS[after.state] >= FIRMNESS[before.state], (screen.id, finding)
            tried += 1
    assert tried > 200
