"""A question for the integer program made small: without what is never worth dialling, split where it falls apart."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TypeVar

from sidetrip.plan.alignment_program import Condition, Ear, Question

CHAIN = 3
"""No line is dialled further than so many times the widest shift that anything asks for."""

_Either = TypeVar("_Either", Condition, Ear)


def left_of(own: _Either, chosen: frozenset[int]) -> _Either:
    """Return a condition or an ear with those lines only that are dialled."""
    return replace(own, lines=tuple(one for one in own.lines if one[0] in chosen))


def useful(question: Question) -> Question:
    """Return the question without the lines and moves that only slight pairs hang on: dialling them is never worth it.

    A line that makes ears late now is kept, for dialling it back may make room.
    """
    lines = {line for own in question.conditions if own.grade for line, _ in own.lines}
    lines |= {line for ear in question.ears for line, _ in ear.lines if question.lines[line].now}
    lines -= _in_series(question, lines)
    moves = {move for own in question.conditions if own.grade for move, _ in own.moves}

    def left(own: _Either) -> _Either:
        return replace(
            own,
            lines=tuple(one for one in own.lines if one[0] in lines and question.lines[one[0]].open),
            moves=tuple(one for one in own.moves if one[0] in moves),
        )

    conditions, ears = tuple(map(left, question.conditions)), tuple(map(left, question.ears))
    return replace(question, conditions=conditions, ears=ears)


def _in_series(question: Question, lines: set[int]) -> set[int]:
    """Return the lines that shift just what an earlier one shifts, which is long enough for both."""
    widest = max((abs(end) for own in question.conditions for zone, _ in own.zones for end in zone), default=0.0)
    columns: dict[int, list[tuple[int, int]]] = {line: [] for line in lines}
    both: list[Condition | Ear] = [*question.conditions, *question.ears]
    for number, own in enumerate(both):
        for line, factor in own.lines:
            if line in columns:
                columns[line].append((number, factor))
    seen: set[tuple[tuple[int, int], ...]] = set()
    dropped = set()
    for line in sorted(lines):
        own_line, column = question.lines[line], tuple(columns[line])
        if not own_line.open or own_line.now:
            continue
        if column in seen:
            dropped.add(line)
        elif own_line.most * own_line.step >= CHAIN * widest:
            seen.add(column)
    return dropped


def parts_of(question: Question) -> Iterable[tuple[list[Condition], list[Ear]]]:
    """Split what is asked where nothing connects it."""
    parent: dict[tuple[str, int], tuple[str, int]] = {}

    def root(node: tuple[str, int]) -> tuple[str, int]:
        while parent.setdefault(node, node) != node:
            parent[node] = node = parent[parent[node]]
        return node

    def nodes(own: Condition | Ear) -> list[tuple[str, int]]:
        lines = [("line", line) for line, _ in own.lines]
        return lines + [("move", move) for move, _ in own.moves]

    everything: list[Condition | Ear] = [*question.conditions, *question.ears]
    for own in everything:
        for node in nodes(own)[1:]:
            parent[root(node)] = root(nodes(own)[0])
    found: dict[tuple[str, int], tuple[list[Condition], list[Ear]]] = {}
    for own in everything:
        if nodes(own):
            part = found.setdefault(root(nodes(own)[0]), ([], []))
            part[0].append(own) if isinstance(own, Condition) else part[1].append(own)
    return found.values()


__all__ = ["CHAIN", "left_of", "parts_of", "useful"]
