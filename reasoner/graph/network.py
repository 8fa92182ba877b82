"""The knowledge as a networkx graph: what leads to what. For checks that follow paths, and for showing neighbours.

Edges run the way reasoning goes: finding -> group -> hypothesis -> option -> measure (retest), measure -> finding,
finding -> screen -> hypothesis, and whatever cites evidence -> evidence. Nodes are (kind, id).

networkx takes longer to import than the knowledge takes to read, so it is imported where it is used, and nothing here
runs when a session starts.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from reasoner.graph.checks.base import Check, Spot, rule
from reasoner.graph.checks.references import references
from reasoner.graph.health import HEALTH_CHECKS
from reasoner.graph.knowledge import Knowledge
from reasoner.graph.pack import FIELDS, Pack
from reasoner.problems import Problem

if TYPE_CHECKING:
    import networkx as nx

__all__ = ["NETWORK_CHECKS", "Node", "neighbours", "network", "network_problems"]

Node = tuple[str, str]

# kinds whose references point against the way reasoning goes: a hypothesis names its findings, an option its targets
_BACKWARDS = {
    ("hypothesis", "sign"), ("hypothesis", "finding"), ("group", "finding"), ("option", "hypothesis"),
    ("option", "screen"), ("screen", "finding"), ("hypothesis", "screen"), ("finding", "measure"),
    ("finding", "screen"), ("hypothesis", "hypothesis"),
}  # fmt: skip


def network(knowledge: Knowledge) -> nx.DiGraph[Node]:
    """The graph of one region. Node attribute `name`; edge attribute `why`: the field that makes the edge."""
    import networkx as nx

    graph: nx.DiGraph[Node] = nx.DiGraph()
    pack = Pack.of(knowledge)
    for kind, record in pack.every():
        if kind in FIELDS:
            graph.add_node((kind, record.id), name=getattr(record, "name", record.id))
    for kind, record in pack.every():
        for path, target, ident in references(kind, record) if kind in FIELDS else ():
            other = (_kind_of(knowledge, target, ident), ident)
            if other in graph and other != (kind, record.id):
                here = (kind, record.id)
                ends = (other, here) if (kind, target) in _BACKWARDS else (here, other)
                graph.add_edge(*ends, why=str(path[0]))
    return graph


def _kind_of(knowledge: Knowledge, target: str, ident: str) -> str:
    if target == "sign":
        return "group" if ident in knowledge.groups else "finding"
    return target


def network_problems(knowledge: Knowledge) -> list[Problem]:
    """What only the whole shows, most of it notes. Not part of loading: `reasoner knowledge check` asks for it."""
    pack = Pack.of(knowledge)
    return [problem for one in NETWORK_CHECKS for problem in one.run(pack)]


@rule("K-DEAD-END")
def hypothesis_leads_nowhere(pack: Pack) -> Iterator[Spot]:
    """A hypothesis from which no path leads to an option, and that says no next step. A note, not an error.

    Naming it would help nobody. Say in next_step: what to do, or name it in acts_on: of an option.
    """
    import networkx as nx

    silent = [h for h in pack.records["hypothesis"] if not h.next_step.strip()]
    graph = network(pack.knowledge) if silent else nx.DiGraph()
    for hypothesis in silent:
        onward = nx.descendants(graph, ("hypothesis", hypothesis.id))
        if not any(kind == "option" for kind, _ in onward):
            yield Spot(hypothesis, ("id",), f"nothing follows from {hypothesis.id}", "add next_step:", "info")


@rule("K-UNCITED")
def evidence_never_cited(pack: Pack) -> Iterator[Spot]:
    """An evidence entry that no number and no option names, and that does not say why. A note, not an error.

    It may wait for its use; if it speaks against something the pack does, name it there under contrary:. If nothing
    should rest on it, say why under not_used:.
    """
    cited = _cited(pack)
    for entry in pack.records["evidence"]:
        if entry.id not in cited and not entry.not_used:
            hint = "name it where it counts, or say why not in not_used:"
            yield Spot(entry, ("id",), f"nothing names {entry.id}", hint, "info")


@rule("K-NOT-USED")
def used_after_all(pack: Pack) -> Iterator[Spot]:
    """An evidence entry says under not_used: why nothing rests on it, and yet something names it.

    One of the two is out of date: take the reason out, or the name.
    """
    cited = _cited(pack)
    for entry in pack.records["evidence"]:
        if entry.not_used and entry.id in cited:
            message = f"not_used: {cited[entry.id]} names {entry.id}"
            yield Spot(entry, ("not_used",), message, "take not_used: out, or the entry out of what names it")


def _cited(pack: Pack) -> dict[str, str]:
    """Evidence id -> a record that names it."""
    found: dict[str, str] = {}
    for kind, record in pack.every():
        for _, target, ident in references(kind, record):
            if target == "evidence":
                found.setdefault(ident, record.id)
    policy = pack.knowledge.policy
    for part in (policy.irritability, policy.visit_rules):
        found.update((ident, "policy.yaml") for ident in (part.evidence if part is not None else ()))
    return found


@rule("K-NO-FIGURE")
def tried_without_figure(pack: Pack) -> Iterator[Spot]:
    """An option to try now states no response figure, so that it is listed unranked. A note, not an error.

    Where no figure and no word can be defended that is as it should be. Otherwise add effects: for a retest measure.
    """
    for option in pack.records["option"]:
        if option.lane == "try_now" and not option.effects:
            yield Spot(option, ("id",), f"{option.id} states no figure: it is listed unranked", "add effects:", "info")


NETWORK_CHECKS: tuple[Check, ...] = (
    hypothesis_leads_nowhere, tried_without_figure, evidence_never_cited, used_after_all, *HEALTH_CHECKS,
)  # fmt: skip


def neighbours(knowledge: Knowledge, ident: str) -> dict[str, list[dict[str, Any]]] | None:
    """What leads to an id and where it leads, each as kind, id, name and why; None when nothing has the id."""
    graph = network(knowledge)
    nodes = [node for node in graph if node[1] == ident]
    if not nodes:
        return None
    rows: dict[str, list[dict[str, Any]]] = {"from": [], "to": []}
    for node in nodes:
        for other, _, data in graph.in_edges(node, data=True):
            rows["from"].append(_neighbour(graph, other, data))
        for _, other, data in graph.out_edges(node, data=True):
            rows["to"].append(_neighbour(graph, other, data))
    return rows


def _neighbour(graph: nx.DiGraph[Node], node: Node, data: dict[str, Any]) -> dict[str, Any]:
    return {"kind": node[0], "id": node[1], "name": graph.nodes[node]["name"], "why": data["why"]}
