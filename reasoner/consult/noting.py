"""The clinician's own words: story, judgement, conclusion, plan. Kept as typed; the tool never rewrites them."""

from __future__ import annotations

from reasoner.case.events import Judged, Noted
from reasoner.consult.commands import Judge, Write
from reasoner.consult.situation import Decision, Situation, refuse

__all__ = ["HEADINGS", "judge", "write"]

# heading -> what is asked, in the order of a visit
HEADINGS = {
    "problem": "Their main problem, in their words?",
    "where": "Where exactly?",
    "eases": "What eases it?",
    "day": "How is it over 24 hours: morning, day, night?",
    "episode": "How did this episode go so far?",
    "past": "Earlier problems there, treatment, imaging?",
    "health": "General health and medicines, in short?",
    "work": "Work, sport, home: what must it do?",
    "goal": "What do they want to be able to do, by when?",
    "worries": "What do they think it is; what worries them?",
    "straight_after": "How was it straight after last time?",
    "that_night": "That night?",
    "next_day": "The next day?",
    "unwanted": "Anything unwanted since?",
    "home_done": "What was really done at home?",
    "health_change": "Any change in health or medicines?",
    "exam_plan": "Examination: must, should, leave for today?",
    "conclusion": "Your conclusion, in your words?",
    "home": "Home, at most three things, with dose?",
    "next_visit": "Next visit when, and what then?",
    "return_if": "Return sooner if?",
    "plan": "The plan, in your words?",
    "note": "Note?",
}
_LONGEST = 4000


def write(case: Situation, command: Write) -> Decision:
    """Free text under a heading."""
    text = command.text.strip()
    name = command.heading.replace("_", " ")
    if not text:
        return refuse(f"{name}: no text", f"write: {name}: ...")
    if len(text) > _LONGEST:
        return refuse(f"{name}: {len(text)} letters", f"at most {_LONGEST}; split it")
    return Decision((Noted(command.heading, text),), (f"{name}: noted",))


def judge(case: Situation, command: Judge) -> Decision:
    """The clinician's own ranking before the tool's."""
    names = [case.knowledge.hypotheses[h].name for h in command.ranked]
    said = "your judgement: " + (" > ".join(names) if names else command.words)
    if command.confidence:
        said += f" ({command.confidence})"
    return Decision((Judged(command.ranked, command.confidence, command.words),), (said,))
