"""Belief over time as inline SVG: one line a hypothesis, told apart by dash and letter."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from reasoner.graph.knowledge import Knowledge
from reasoner.review.moments import Moment
from reasoner.visible import markup

__all__ = ["belief_chart", "shown"]

_MOST = 5
_WIDTH, _HEIGHT = 760, 330
_LEFT, _RIGHT, _TOP, _BOTTOM = 46, 24, 14, 40
_COLOURS = ("#0b4a8f", "#8f0b0b", "#1e5e1e", "#6a2c91", "#7a4a00")
_DASHES = ("", "8 4", "2 4", "10 3 2 3", "4 2")
_LISTS = ("restriction", "condition")  # what must not be missed is shown by its screens, never as a small number
_APART = 15  # letters of two lines that end together


def shown(found: Sequence[Moment], knowledge: Knowledge) -> tuple[tuple[str, str], ...]:
    """(letter, hypothesis) of those drawn: the highest at any moment, in the order of the end."""
    ranked = [h.id for h in knowledge.hypotheses.values() if h.list in _LISTS]
    highest = sorted(ranked, key=lambda h: -max(m.chance[h] for m in found))[:_MOST]
    ordered = sorted(highest, key=lambda h: -found[-1].chance[h])
    return tuple((chr(ord("A") + n), h) for n, h in enumerate(ordered))


def belief_chart(found: Sequence[Moment], knowledge: Knowledge) -> str:
    """The picture; its numbers stand in a table beside it."""
    picked = shown(found, knowledge)
    across = (_WIDTH - _LEFT - _RIGHT) / max(len(found) - 1, 1)
    parts = [_frame(found, across)]
    ends = _spread([_y(found[-1].chance[h]) for _, h in picked])
    for n, (letter, h) in enumerate(picked):
        points = " ".join(f"{_LEFT + across * k:.1f},{_y(m.chance[h]):.1f}" for k, m in enumerate(found))
        dash = f' stroke-dasharray="{_DASHES[n]}"' if _DASHES[n] else ""
        parts.append(f'<polyline points="{points}" fill="none" stroke="{_COLOURS[n]}" stroke-width="2.5"{dash}/>')
        parts.append(f'<text x="{_WIDTH - _RIGHT + 6}" y="{ends[n] + 5:.1f}" font-size="15" font-weight="700" '
                     f'fill="{_COLOURS[n]}">{letter}</text>')  # fmt: skip
    names = "; ".join(f"{letter} {knowledge.hypotheses[h].name}, {found[0].chance[h]:.2f} to {found[-1].chance[h]:.2f}"
                      for letter, h in picked)  # fmt: skip
    legend = "".join(
        f'<text x="{_LEFT}" y="{_HEIGHT + 18 + 20 * n}" font-size="15" fill="{_COLOURS[n]}">'
        f"{letter}  {markup(knowledge.hypotheses[h].name)}</text>"
        for n, (letter, h) in enumerate(picked)
    )
    tall = _HEIGHT + 10 + 20 * len(picked)
    return (
        f'<svg viewBox="0 0 {_WIDTH} {tall}" role="img" aria-labelledby="chart-title chart-words" '
        f'font-family="system-ui, sans-serif"><title id="chart-title">Belief after each answer</title>'
        f'<desc id="chart-words">First to last: {markup(names)}. The table after the picture has the values.</desc>'
        f"{''.join(parts)}{legend}</svg>"
    )


def _y(chance: float) -> float:
    return _TOP + (1 - chance) * (_HEIGHT - _TOP - _BOTTOM)


def _frame(found: Sequence[Moment], across: float) -> str:
    parts = []
    for step in (0.0, 0.25, 0.5, 0.75, 1.0):
        y = _y(step)
        parts.append(f'<line x1="{_LEFT}" y1="{y:.1f}" x2="{_WIDTH - _RIGHT}" y2="{y:.1f}" stroke="#ccc"/>')
        parts.append(
            f'<text x="{_LEFT - 6}" y="{y + 5:.1f}" font-size="13" text-anchor="end" fill="#333">{step:g}</text>'
        )
    every = max(1, len(found) // 8)
    for k in range(0, len(found), every):
        x = _LEFT + across * k
        parts.append(f'<text x="{x:.1f}" y="{_HEIGHT - _BOTTOM + 18}" font-size="13" text-anchor="middle" fill="#333">'
                     f"{found[k].seq}</text>")  # fmt: skip
    middle = (_LEFT + _WIDTH - _RIGHT) / 2
    parts.append(f'<text x="{middle:.0f}" y="{_HEIGHT - 4}" font-size="13" text-anchor="middle" fill="#333">'
                 "line of the trail</text>")  # fmt: skip
    return "".join(parts)


def _spread(ends: Sequence[float]) -> list[float]:
    """Heights of the letters, pushed apart where lines end close together."""
    order = sorted(range(len(ends)), key=lambda n: ends[n])
    placed = list(ends)
    for before, after in pairwise(order):
        placed[after] = max(placed[after], placed[before] + _APART)
    return placed
