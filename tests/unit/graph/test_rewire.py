"""A line map rewired: edges out and in, and which rings are loud enough to feed back."""

from __future__ import annotations

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidetrip.graph.build import build
from sidetrip.graph.linemap import Edge, LineMap, Node
from sidetrip.graph.rewire import loud_nodes, rewired
from sidetrip.graph.span import NOTHING
from smallshows import plain_desk, show_from

EMPTY = LineMap((), (), (), (), (), {})


def _edge(start: str, end: str, level_db: float | None = 0.0) -> Edge:
    return Edge(Node("strip", start), Node("strip", end), NOTHING, "fixed", f"{start} to {end}", level_db)


def _loud(*edges: Edge) -> list[list[str]]:
    return sorted(sorted(node.name for node in knot) for knot in loud_nodes(rewired(EMPTY, (), edges)))


@pytest.mark.parametrize(
    ("levels", "loud"),
    [((0.0, 0.0), True), ((6.0, -6.0), True), ((-3.0, -0.1), False), ((3.0, -3.1), False), ((None, -60.0), True)],
)
def test_a_ring_feeds_back_from_0_db_on_or_when_nobody_knows(levels: tuple[float | None, float], loud: bool) -> None:
    """By hand: the gains round the ring add up to 0 dB or more, or one of them is unknown."""
    edges = _edge("a", "b", levels[0]), _edge("b", "a", levels[1]), _edge("b", "c", 20.0)
    assert _loud(*edges) == ([["a", "b"]] if loud else [])


def test_the_louder_of_two_ways_decides() -> None:
    """Two ways side by side: the ring through the louder one feeds back."""
    assert _loud(_edge("a", "b", -20.0), _edge("a", "b", 1.0), _edge("b", "a", -1.0)) == [["a", "b"]]


def test_a_strip_that_feeds_itself_is_a_ring() -> None:
    """One node is enough."""
    assert _loud(_edge("a", "a", 0.0), _edge("a", "b")) == [["a"]]


@given(
    st.lists(
        st.tuples(st.integers(0, 6), st.integers(0, 6), st.integers(-6, 6)), max_size=16, unique_by=lambda e: e[:2]
    )
)
def test_an_independent_library_finds_the_same_rings(rows: list[tuple[int, int, int]]) -> None:
    """Against networkx: every simple cycle's gain, and the strongly connected set it lies in."""
    graph = nx.DiGraph()
    for start, end, level in rows:
        graph.add_edge(start, end, level=level)
    loud = set()
    for cycle in nx.simple_cycles(graph):
        gain = sum(graph[one][other]["level"] for one, other in zip(cycle, [*cycle[1:], cycle[0]], strict=True))
        if gain >= 0:
            loud |= {frozenset(own) for own in nx.strongly_connected_components(graph) if cycle[0] in own}
    found = loud_nodes(rewired(EMPTY, (), [_edge(str(start), str(end), float(level)) for start, end, level in rows]))
    assert {frozenset(int(node.name) for node in knot) for knot in found} == loud


def test_what_is_cut_is_gone_and_what_is_added_is_there() -> None:
    """Only the edges named change, the places stay, and a ring that was added has its name."""
    show = show_from(
        "inputs: [{ch: 1, name: Voice, port: stage 1, to: [Main]}]\n"
        "mixes: [{name: Main, kind: main, width: stereo}]\n"
        "outputs: [{name: PA, from: Main, port: local out 1-2}]\n",
        plain_desk(),
    )
    base = build(show, plain_desk(), (), {})
    strip, port = Node("strip", "Voice"), Node("port", "Voice")
    back = Edge(Node("strip", "Main"), strip, NOTHING, "fixed", "back")
    changed = rewired(base, [(port, strip)], [back])
    assert {*base.edges} - {*changed.edges} == {edge for edge in base.edges if (edge.start, edge.end) == (port, strip)}
    assert {*changed.edges} - {*base.edges} == {back}
    assert changed.places == base.places and base.rings == ()
    assert [{node.name for node in ring} for ring in changed.rings] == [{"Main", "Voice"}]
