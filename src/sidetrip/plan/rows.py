"""Rows of legs: ports that are alike are counted, not told apart; ports that are pinned or odd stand by themselves."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from sidetrip.plan.ways import Ground, Leg


@dataclass(frozen=True, slots=True)
class Row:
    """Legs that are alike: the same carrier row, open under the same settings for the same unit sets.

    legs: one of them for each unit that reaches them. A pair of which a port is pinned, or whose ports are not alike,
    is a row without mono loops; each of its ports is a row of its own, `alone`, beside it.
    """

    carrier: int
    legs: dict[str, Leg]
    pairs: tuple[tuple[int, int], ...]
    singles: tuple[int, ...]
    alone: bool = False

    @property
    def numbers(self) -> tuple[int, ...]:
        """The send numbers of all its legs."""
        return (*(n for pair in self.pairs for n in pair), *self.singles)

    @property
    def most_mono(self) -> int:
        """How many mono loops it can take."""
        return len(self.singles) if self.alone else 2 * len(self.pairs) + len(self.singles)


def port_rows(ground: Ground) -> dict[tuple[int, int], dict[str, Leg]]:
    """Return legs by carrier row and send port number, then by unit."""
    by_port: defaultdict[tuple[int, int], dict[str, Leg]] = defaultdict(dict)
    for leg in ground.legs:
        by_port[leg.row, leg.send.number][leg.unit] = leg
    return dict(sorted(by_port.items()))


def rows_of(ground: Ground, pinned: set[tuple[int, int]]) -> tuple[Row, ...]:
    """Group the legs that are alike. pinned: legs (carrier row, send number) that some request insists on."""
    by_port = port_rows(ground)
    signatures = {
        place: tuple((unit, leg.signature) for unit, leg in sorted(legs.items())) for place, legs in by_port.items()
    }
    rows: list[Row] = []
    alike: defaultdict[tuple[int, tuple[object, ...]], list[int]] = defaultdict(list)
    for (carrier, number), legs in by_port.items():
        place = carrier, number
        other = carrier, number + 1 if number % 2 else number - 1
        pair_legs = _legs_of_pair(legs, by_port.get(other, {}))
        if place in pinned or (pair_legs and (other in pinned or signatures[place] != signatures[other])):
            if pair_legs and number % 2:
                rows.append(Row(carrier, pair_legs, ((number, number + 1),), (), alone=True))
            rows.append(Row(carrier, legs, (), (number,), alone=True))
        else:
            alike[carrier, signatures[place]].append(number)
    for (carrier, _), numbers in alike.items():
        together = set(numbers)
        pairs = tuple((n, n + 1) for n in numbers if n % 2 == 1 and n + 1 in together)
        paired = {n for pair in pairs for n in pair}
        rows.append(Row(carrier, by_port[carrier, numbers[0]], pairs, tuple(n for n in numbers if n not in paired)))
    return tuple(sorted(rows, key=lambda row: (row.carrier, min(row.numbers), not row.pairs)))


def _legs_of_pair(one: dict[str, Leg], other: dict[str, Leg]) -> dict[str, Leg]:
    """Return the legs of the units that reach both ports under the same settings."""
    return {unit: leg for unit, leg in one.items() if unit in other and leg.signature == other[unit].signature}
