"""The graph of what leads to what."""

from __future__ import annotations

from reasoner.graph.knowledge import Knowledge
from reasoner.graph.network import neighbours, network


def test_edges_run_the_way_reasoning_goes(tiny_knowledge: Knowledge) -> None:
    graph = network(tiny_knowledge)
    assert graph.has_edge(("finding", "front_pinch"), ("hypothesis", "talus_back_glide"))
    assert graph.has_edge(("hypothesis", "talus_back_glide"), ("option", "back_glide"))
    assert graph.has_edge(("option", "back_glide"), ("measure", "knee_to_wall"))
    assert graph.has_edge(("measure", "knee_to_wall"), ("finding", "knee_to_wall_deficit"))
    assert graph.has_edge(("finding", "calf_tight"), ("group", "short_calf_signs"))
    assert graph.has_edge(("finding", "bone_tender"), ("screen", "fracture_rule"))
    assert graph.has_edge(("screen", "fracture_rule"), ("hypothesis", "fracture"))
    assert graph.has_edge(("hypothesis", "fracture"), ("evidence", "a-study"))
    assert not graph.has_edge(("hypothesis", "talus_back_glide"), ("finding", "front_pinch"))


def test_every_record_is_a_node(tiny_knowledge: Knowledge) -> None:
    graph = network(tiny_knowledge)
    assert ("option", "explanation") in graph
    assert graph.nodes["finding", "fever"]["name"] == "fever"
    assert ("load_class", "light_touch") in graph


def test_neighbours_both_ways(tiny_knowledge: Knowledge) -> None:
    rows = neighbours(tiny_knowledge, "back_glide")
    assert rows is not None
    assert [(r["kind"], r["id"], r["why"]) for r in rows["from"]] == [("hypothesis", "talus_back_glide", "acts_on")]
    assert ("load_class", "posterior_talar_glide") in [(r["kind"], r["id"]) for r in rows["to"]]
    assert neighbours(tiny_knowledge, "no_such_id") is None
