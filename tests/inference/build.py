"""Small knowledge made in Python for the compile tests: invented records, no clinical claim."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.records import (
    ErrorFigure,
    Figure,
    Finding,
    Group,
    GroupMember,
    Hypothesis,
    Link,
    Measure,
    MeasuredBy,
    Spread,
    Tool,
)
from tests.build import knowledge as plain_knowledge


def figure(value: float | str, basis: str = "practice", **more: Any) -> Figure:
    """A figure from a number or a word."""
    given: Any = {"word": value} if isinstance(value, str) else {"value": value}
    return Figure(basis=basis, **given, **more)  # type: ignore[arg-type]


def finding(ident: str, leak: float | str | None = 0.1, kind: Any = "tested", **more: Any) -> Finding:
    """A tested finding with a stated leak."""
    return Finding(id=ident, name=ident, kind=kind, leak=None if leak is None else figure(leak), **more)


def hypothesis(ident: str, rate: float, *links: Link, kind: Any = "condition", **more: Any) -> Hypothesis:
    """One base rate for every setting unless `base_rate` is given."""
    rates = more.pop("base_rate", {"not_stated": rate})
    return Hypothesis(
        id=ident, name=ident, list=kind, produces=links, base_rate={k: figure(v) for k, v in rates.items()}, **more
    )


def link(target: str, basis: Any = "practice", **strength: Any) -> Link:
    """What a hypothesis does to a finding."""
    return Link(finding=target, basis=basis, **strength)


def member(ident: str, basis: Any = "published", **accuracy: Any) -> GroupMember:
    """One reading of a group's sign."""
    return GroupMember(finding=ident, basis=basis, **accuracy)


def group(ident: str, reference: str, *members: GroupMember, leak: float | None = None) -> Group:
    """Signs that count once."""
    stated = None if leak is None else figure(leak)
    return Group(id=ident, name=ident, reference=reference, members=members, leak=stated)


def measured(ident: str, cuts: tuple[float, ...], *, worse: Any = "higher", of: Any = "side_difference") -> Finding:
    """Healthy 0 (1), everybody 1 (2), in the unit of `reach_out`."""
    sign = 1 if worse == "higher" else -1
    return Finding(
        id=ident, name=ident, kind="measured",
        measured=MeasuredBy(
            measure="reach_out", of=of, worse=worse, cuts=cuts,
            reference=Spread(mean=sign * 1.0, sd=2.0, basis="practice"),
            healthy=Spread(mean=0.0, sd=1.0, basis="practice"),
        ),
    )  # fmt: skip


REACH_OUT = Measure(
    id="reach_out", name="reach", unit="cm", possible=(-50, 50), better="higher", tools=(Tool(id="tape", name="tape"),),
    errors=(ErrorFigure(tool="tape", interval="within_visit", sem=0.3, mdc95_side_difference=1.5, basis="practice"),),
)  # fmt: skip


def knowledge(
    findings: Iterable[Finding] = (), hypotheses: Iterable[Hypothesis] = (), groups: Iterable[Group] = (), **policy: Any
) -> Knowledge:
    """These records, and policy fields to change."""
    made = plain_knowledge(findings=findings, hypotheses=hypotheses, measures=(REACH_OUT,))
    return replace(made, groups={g.id: g for g in groups}, policy=replace(made.policy, **policy))
