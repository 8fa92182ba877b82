"""Measures for tests: one as a tape reads it, with numbers chosen for the tests only."""

from __future__ import annotations

from typing import Any

from reasoner.graph.records import ErrorFigure, Measure, Tool


def figure(tool: str = "tape", interval: Any = "within_visit", rater: Any = "within", **numbers: float) -> ErrorFigure:
    """An error figure; its numbers by name."""
    return ErrorFigure(tool=tool, interval=interval, rater=rater, basis="published", evidence=("x",), **numbers)  # type: ignore[arg-type]


def reach(*errors: ErrorFigure, **changes: Any) -> Measure:
    """A sided measure in cm, better when higher, three trials, a tape and a unit of the body."""
    told: dict[str, Any] = {
        "id": "reach", "name": "reach", "unit": "cm", "possible": (-15.0, 25.0), "usual": (-8.0, 18.0),
        "better": "higher", "trials": 3, "errors": errors, "setup": ("heel held down", "a finger under the line"),
        "tools": (
            Tool(id="tape", name="tape on the floor", aliases=("ruler", "cm")),
            Tool(id="finger_widths", name="finger widths", aliases=("fingers", "finger"), per_unit=1.5),
        ),
    } | changes  # fmt: skip
    return Measure(**told)


RATING = Measure(id="pain", name="pain", unit="0-10", possible=(0.0, 10.0), better="lower", sided=False)
COUNT = Measure(id="rises", name="rises", unit="count", possible=(0.0, 150.0), better="higher")
SHIN = Measure(id="shin", name="shin angle", unit="deg", possible=(-10.0, 75.0), better="higher")
