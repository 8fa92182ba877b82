"""Part of the graph of knowledge drawn as text: a tree for a terminal, DOT and Mermaid for other programs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from reasoner.graph.network import Node, network

if TYPE_CHECKING:
    import networkx as nx

    from reasoner.graph.knowledge import Knowledge

__all__ = ["drawn"]

_MOST = 40  # neighbours of one node shown in a tree
_SHAPES = {"finding": "box", "hypothesis": "ellipse", "option": "hexagon", "screen": "octagon", "evidence": "note"}


def drawn(knowledge: Knowledge, ident: str, form: str = "tree", depth: int = 2) -> str | None:
    """The surroundings of an id as `tree`, `dot` or `mermaid`; None when nothing has the id."""
    graph = network(knowledge)
    start = next((node for node in graph if node[1] == ident), None)
    if start is None:
        return None
    if form == "tree":
        lines = [f"{_said(start)}"]
        for words, forward in (("comes from", False), ("leads to", True)):
            lines += [words, *_tree(graph, start, forward, depth, "  ", {start})]
        return "\n".join(lines)
    nodes = _around(graph, start, depth)
    part = graph.subgraph(nodes)
    return "\n".join(_dot(part) if form == "dot" else _mermaid(part))


def _tree(
    graph: nx.DiGraph[Node], node: Node, forward: bool, depth: int, indent: str, seen: set[Node]
) -> Iterator[str]:
    following = sorted(graph.successors(node) if forward else graph.predecessors(node))
    if not depth:
        return
    for other in following[:_MOST]:
        why = graph.edges[(node, other) if forward else (other, node)]["why"]
        yield f"{indent}{_said(other)}  ({why.replace('_', ' ')})"
        if other not in seen:
            seen.add(other)
            yield from _tree(graph, other, forward, depth - 1, indent + "  ", seen)
    if len(following) > _MOST:
        yield f"{indent}and {len(following) - _MOST} more"
    if not following and indent == "  ":
        yield f"{indent}nothing"


def _around(graph: nx.DiGraph[Node], start: Node, depth: int) -> list[Node]:
    """Nodes within `depth` steps forwards or backwards, never mixing the two."""
    found: dict[Node, None] = {start: None}
    for step in (graph.successors, graph.predecessors):
        here = [start]
        for _ in range(depth):
            here = [other for node in here for other in sorted(step(node)) if other not in found]
            found |= dict.fromkeys(here)
    return list(found)


def _said(node: Node) -> str:
    return f"{node[0].replace('_', ' ')} {node[1]}"


def _dot(graph: Any) -> Iterator[str]:
    yield "digraph knowledge {"
    yield "  rankdir=LR;"
    for kind, ident in sorted(graph.nodes):
        name = str(graph.nodes[kind, ident]["name"]).replace("\\", "\\\\").replace('"', '\\"')
        yield f'  "{kind}:{ident}" [shape={_SHAPES.get(kind, "plain")}, label="{name}"];'
    for one, two, data in sorted(graph.edges(data=True), key=lambda e: (e[0], e[1])):
        yield f'  "{one[0]}:{one[1]}" -> "{two[0]}:{two[1]}" [label="{data["why"]}"];'
    yield "}"


def _mermaid(graph: Any) -> Iterator[str]:
    yield "graph LR"
    numbers = {node: f"n{place}" for place, node in enumerate(sorted(graph.nodes))}
    for node, number in numbers.items():
        name = str(graph.nodes[node]["name"]).replace('"', "#quot;")
        yield f'  {number}["{name}"]'
    for one, two, data in sorted(graph.edges(data=True), key=lambda e: (e[0], e[1])):
        yield f"  {numbers[one]} -->|{data['why']}| {numbers[two]}"
