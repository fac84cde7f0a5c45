"""The drawing in the DOT language, read by an independent parser (pydot)."""

from __future__ import annotations

import pydot

from sidecue.exchange.graphviz import graphviz


def drawn(plan):
    (graph,) = pydot.graph_from_dot_data(graphviz(plan))
    nodes = [node for part in graph.get_subgraphs() for node in part.get_nodes()]
    names = {node.get_name().strip('"') for node in (*nodes, *graph.get_nodes())}
    edges = [
        (edge.get_source().strip('"'), edge.get_destination().strip('"'))
        for edge in graph.get_edges()
    ]
    return graph, names, edges


def test_the_steps_follow_each_other_in_their_parts(sealant) -> None:
    graph, names, edges = drawn(sealant)
    steps = [f"step {step.id}" for step in sealant.steps]
    assert set(steps) <= names
    assert set(zip(["start", *steps], [*steps, "finished"], strict=True)) <= set(edges)
    labels = [part.get_label().strip('"') for part in graph.get_subgraphs()]
    assert set(labels) == {step.part for step in sealant.steps}


def test_every_way_back_and_every_emergency_is_drawn(small) -> None:
    _, names, edges = drawn(small)
    assert ("step mix", "step mix") in edges
    assert ("step etch", "step etch") in edges
    for emergency in small.emergencies:
        assert ("anywhere", f"emergency {emergency.id}") in edges
    assert {"paused", "finished"} <= names | {end for edge in edges for end in edge}
