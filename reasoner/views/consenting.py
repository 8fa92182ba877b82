"""What a patient hears before agreeing: what and why, after-effects, other choices and none, that they may stop."""

from __future__ import annotations

from reasoner.consult.situation import Situation
from reasoner.consult.words import listed
from reasoner.views.page import Block, Heading, Page, Para, Rows

__all__ = ["page"]


def page(case: Situation, option: str) -> Page:
    """Read out, then answered with y or n."""
    record = case.knowledge.options[option]
    offered = [o for o in case.advice.options if o.id != option and o.state == "offered" and o.relevant]
    others = [o.name for lane in ("try_now", "due") for o in offered if o.lane == lane]
    blocks: list[Block] = [Heading(f"Agreed with them? {record.name}")]
    said = (
        ("w", f"what and why: {record.what_and_why or record.about or record.how or 'say it in your words'}"),
        ("a", f"afterwards: {record.after_effects or 'say what is common'}"),
        ("i", f"instead: {listed(dict.fromkeys(others), 3) + ', or nothing' if others else 'nothing'}"),
        ("q", "their questions"), ("o", "somebody with them, if they wish"), ("s", "they may stop at any time"),
    )  # fmt: skip
    blocks.append(Rows(said, first=2))
    blocks.append(Para("y: all of it said, they agree; only some, by letter: waq y; n: not agreed", tone="strong"))
    return tuple(blocks)
