"""A clock that cannot be right, said at the line where it shows. Order is by number, whatever it says."""

from __future__ import annotations

from datetime import datetime, timedelta

from reasoner.graph.knowledge import Knowledge

__all__ = ["clock_says"]


def clock_says(knowledge: Knowledge, last: datetime, now: datetime) -> tuple[str, ...]:
    """What to say when the last entry was recorded at `last` and it is now `now`; empty where nothing is odd."""
    if now < last:
        return (f"the clock went back, from {_told(last)} to {_told(now)}: check it; the order is kept by number",)
    rules = knowledge.policy.visit_rules
    if rules is not None and now - last > timedelta(days=rules.gap_days):
        days = (now - last).days
        return (f"{days} days since the last entry: if that is wrong, set the clock; say again how long ago it was",)
    return ()


def _told(at: datetime) -> str:
    return f"{at:%Y-%m-%d %H:%M}"
