"""Rings: named in the order of the signal, without times, and never the end of the program."""

from collections.abc import Iterable

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidetrip.graph.arrivals import find_arrivals
from sidetrip.graph.build import build
from sidetrip.graph.linemap import Edge, LineMap, Node, Place
from sidetrip.graph.rings import find_rings, nodes_on_rings, ring_words
from sidetrip.graph.span import NOTHING
from smallshows import fixed, insert_loop, plain_desk, rows_at, show_from

DESK = plain_desk()
RING = """
units: [{name: box, kind: hardware, out: local out 3, back: local in 3, delay_ms: 2}]
inputs:
  - {ch: 1, name: Voice, port: stage 1, to: [mix 3, Main]}
  - {ch: 2, name: Other, port: stage 2, to: [Main]}
  - {ch: 3, name: return 3, port: local in 3, to: [mix 3]}
mixes:
  - {name: mix 3, kind: group, width: mono, to: [Main]}
  - {name: Main, kind: main, width: stereo}
outputs:
  - {name: send 3, from: mix 3, port: local out 3}
  - {name: PA, from: Main, port: local out 1-2}
"""


def _ring_map(body: str = RING) -> LineMap:
    show = show_from(body, DESK)
    return build(show, DESK, (), {"box": fixed(96)})


def test_a_return_that_feeds_its_own_send_is_named_in_order() -> None:
    """Mix 3 goes out by send 3 through the box, comes back on return 3 and into mix 3: one ring, in that order."""
    (ring,) = _ring_map().rings
    assert ring_words(ring) == "mix 3 → send 3 → box → return 3 → mix 3"


def test_what_passes_a_ring_has_no_time() -> None:
    """The voice has no arrival through mix 3, neither at the main nor at the send; its own way to the main stands."""
    arrivals = find_arrivals(_ring_map())
    assert [row.route for row in rows_at(arrivals, "Voice", "PA")] == [("Voice", "Main")]
    assert rows_at(arrivals, "Voice", "send 3") == []


def test_places_beside_a_ring_keep_their_times() -> None:
    """Another voice in the same main arrives after 30 + 8 + 16 frames as if there were no ring."""
    arrivals = find_arrivals(_ring_map())
    (row,) = rows_at(arrivals, "Other", "PA")
    assert row.base.low * 48000 == pytest.approx(54)


def test_a_loops_return_open_in_the_mix_it_is_inserted_on_is_a_ring() -> None:
    """The insert of the mix comes back on aux in 1, which also feeds a strip into the same mix."""
    show = show_from(
        """
units: [{name: laptop, kind: computer, connects: card}]
inputs:
  - {ch: 1, name: Voice, port: stage 1, to: [Band]}
  - {ch: 2, name: Open, port: aux in 1, to: [Band]}
mixes: [{name: Band, kind: group, width: mono, to: [Main]}, {name: Main, kind: main, width: stereo}]
outputs: [{name: PA, from: Main, port: local out 1-2}]
""",
        DESK,
    )
    loop = insert_loop("Band", "aux out 1", "aux in 1", unit="laptop", card="1")
    line_map = build(show, DESK, (loop,), {"laptop": fixed(300)})
    (ring,) = line_map.rings
    assert ring_words(ring) == "Band → loop Band → Open → Band"
    assert rows_at(find_arrivals(line_map), "Voice", "PA") == []


def test_a_return_open_elsewhere_is_no_ring() -> None:
    """Back into a mix that does not feed the send: two ways, no ring."""
    line_map = _ring_map(RING.replace("port: local in 3, to: [mix 3]", "port: local in 3, to: [Main]"))
    assert line_map.rings == ()
    routes = sorted(row.route for row in rows_at(find_arrivals(line_map), "Voice", "PA"))
    assert routes == [("Voice", "Main"), ("Voice", "mix 3", "Main"), ("Voice", "mix 3", "return 3", "Main")]


def test_channels_of_a_wide_unit_do_not_leak_into_each_other() -> None:
    """A unit of four channels: what goes in on its first comes back on its first, so mix A never rings."""
    body = """
units: [{name: box, kind: hardware, out: local out 11-14, back: local in 11-14, delay_ms: 2}]
inputs:
  - {ch: 1, name: Voice, port: stage 1, to: [A, B]}
  - {ch: 11, name: Back of A, port: local in 11, to: [B]}
  - {ch: 12, name: Back of B, port: local in 12, to: [Main]}
mixes:
  - {name: A, kind: group, width: mono, to: [Main]}
  - {name: B, kind: group, width: mono, to: [Main]}
  - {name: Main, kind: main, width: stereo}
outputs:
  - {name: Out of A, from: A, port: local out 11}
  - {name: Out of B, from: B, port: local out 12}
  - {name: PA, from: Main, port: local out 1-2}
"""
    assert _ring_map(body).rings == ()
    crossed = body.replace("local in 11, to: [B]", "local in 11, to: [A]")
    assert [ring_words(ring) for ring in _ring_map(crossed).rings] == ["A → Out of A → box → Back of A → A"]


def test_a_box_of_two_channels_may_bring_either_back_on_both() -> None:
    """A stereo box fed on its left and heard on its right can ring."""
    body = RING.replace("out: local out 3, back: local in 3", "out: local out 3-4, back: local in 3-4")
    assert len(_ring_map(body.replace("port: local in 3,", "port: local in 4,")).rings) == 1


def test_several_rings_are_all_named() -> None:
    """Two mixes with a box each that feeds them back are two rings."""
    body = """
units:
  - {name: box, kind: hardware, out: local out 3, back: local in 3, delay_ms: 2}
  - {name: tin, kind: hardware, out: local out 4, back: local in 4, delay_ms: 2}
inputs:
  - {ch: 3, name: back 3, port: local in 3, to: [mix 3]}
  - {ch: 4, name: back 4, port: local in 4, to: [mix 4]}
mixes:
  - {name: mix 3, kind: aux, width: mono}
  - {name: mix 4, kind: aux, width: mono}
outputs:
  - {name: send 3, from: mix 3, port: local out 3}
  - {name: send 4, from: mix 4, port: local out 4}
"""
    show = show_from(body, DESK)
    rings = build(show, DESK, (), {"box": fixed(9), "tin": fixed(9)}).rings
    assert [ring_words(ring).split(" → ")[-1] for ring in rings] == ["back 3", "back 4"]


# Graphs drawn at random, against an independent search for cycles


def _node(number: int) -> Node:
    return Node("strip", f"n{number:02}")


def _outgoing(edges: Iterable[tuple[int, int]]) -> dict[Node, tuple[Edge, ...]]:
    found: dict[Node, list[Edge]] = {}
    for start, end in sorted(set(edges)):
        found.setdefault(_node(start), []).append(Edge(_node(start), _node(end), NOTHING, "fixed", "wire"))
    return {node: tuple(leaving) for node, leaving in found.items()}


graphs = st.lists(st.tuples(st.integers(0, 7), st.integers(0, 7)), max_size=18)


@given(graphs)
def test_there_is_a_ring_exactly_where_a_graph_has_a_cycle(edges: list[tuple[int, int]]) -> None:
    """Checked against networkx.simple_cycles; every ring named is one of its cycles, node by node in order."""
    graph = nx.DiGraph(sorted(set(edges)))
    cycles = {frozenset(_pairs([_node(number) for number in cycle])) for cycle in nx.simple_cycles(graph)}
    rings = find_rings(_outgoing(edges))
    assert bool(rings) == bool(cycles)
    assert {frozenset(_pairs(list(ring))) for ring in rings} <= cycles


def _pairs(nodes: list[Node]) -> list[tuple[Node, Node]]:
    return list(zip(nodes, [*nodes[1:], nodes[0]], strict=True))


@given(graphs)
def test_every_node_of_every_cycle_is_known_to_be_on_a_ring(edges: list[tuple[int, int]]) -> None:
    """Also those of cycles that share an edge with another and are not named themselves."""
    graph = nx.DiGraph(sorted(set(edges)))
    outgoing = _outgoing(edges)
    expected = {_node(number) for cycle in nx.simple_cycles(graph) for number in cycle}
    assert nodes_on_rings(find_rings(outgoing), outgoing) == expected


@given(graphs)
def test_a_ring_begins_with_its_first_name_and_edges_in_any_order_name_the_same(edges: list[tuple[int, int]]) -> None:
    """The order in which edges are met decides nothing."""
    rings = find_rings(_outgoing(edges))
    backwards = dict(reversed(list(_outgoing(edges).items())))
    assert rings == find_rings(backwards)
    assert all(ring[0] == min(ring) for ring in rings)


def test_a_node_that_shares_its_ring_with_another_has_no_time_either() -> None:
    """Rings s-x and s-y-x open at one edge: what enters at y still passes a ring."""
    a, s, x, y, place = (Node("strip", name) for name in ("place", "s", "x", "y", "z"))
    source = Node("source", "voice")
    ways = [(source, y), (y, x), (x, s), (s, x), (s, y), (y, place), (source, a), (a, place)]
    edges = tuple(Edge(start, end, NOTHING, "fixed", "wire") for start, end in sorted(ways))
    outgoing = {node: tuple(edge for edge in edges if edge.start == node) for node, _ in ways}
    rings = find_rings(outgoing)
    line_map = LineMap(edges, (Place("z", "output", place),), (), rings, (), outgoing)
    assert [row.route for row in find_arrivals(line_map).rows] == [("place", "z")]
