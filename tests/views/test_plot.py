"""The plot in plain letters: 80 columns, every visit in its place, nothing lost."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reasoner.views.plot import HEIGHT, MOST_VISITS, Plotted, plot
from tests.strategies import CALM

values = st.integers(-3000, 3000).map(lambda n: n / 10)
visits = st.lists(st.tuples(values, st.none() | values, st.booleans()), min_size=1, max_size=50)


@CALM
@given(visits, st.none() | st.tuples(values, values), st.none() | values)
def test_any_series_fits_80_plain_columns(
    given_visits: list[tuple[float, float | None, bool]], band: tuple[float, float] | None, goal: float | None
) -> None:
    points = [Plotted(n, b, a, t) for n, (b, a, t) in enumerate(given_visits, 1)]
    lines = plot(points, band, goal)
    assert len(lines) == HEIGHT + 3
    assert max(map(len, lines)) <= 80
    assert "".join(lines).isascii()
    shown = points[-MOST_VISITS:]
    marks = sum(line[10:].count(c) for line in lines[:HEIGHT] for c in "o*")
    assert marks == len(shown)  # one column a visit, so no value hides another's
    assert lines[HEIGHT + 1].count("T") == sum(p.treated for p in shown)
    assert lines[-1].rstrip().endswith(str(shown[-1].visit))


def test_thirty_visits_stand_in_order_and_height() -> None:
    points = [Plotted(n, 3 + n / 10, 4 + n / 10 if n % 2 else None, n % 2 == 1) for n in range(1, 31)]
    lines = plot(points, (1.1, 5.1), 9.2)
    columns = sorted((line.index(" |") + 2 + x, r) for r, line in enumerate(lines[:HEIGHT])
                     for x, c in enumerate(line[10:]) if c in "o*")
    assert len(columns) == 30
    rows = [r for _, r in columns]
    assert rows == sorted(rows, reverse=True)  # rising values never go down the page
    goal = next(r for r, line in enumerate(lines) if "-----" in line)
    assert goal < min(rows)
    assert lines[HEIGHT + 1].count("T") == 15


@pytest.mark.parametrize("value", [0.0, 5.0, -3.2, 1e-3, 12345.0])
def test_one_value_alone_is_drawn(value: float) -> None:
    lines = plot([Plotted(1, value)])
    assert sum(line.count("o") for line in lines[:HEIGHT]) == 1
    with pytest.raises(ValueError, match="nothing"):
        plot([])
    assert all(math.isfinite(float(w)) for line in lines[:HEIGHT] if (w := line[:8].strip()))
