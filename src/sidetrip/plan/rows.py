"""Rows of legs: ports that are alike are counted, not told apart; ports that are pinned or odd stand by themselves."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

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
    apart = _apart(by_port, signatures, pinned, any_pair=ground.any_pair)
    rows: list[Row] = []
    alike: defaultdict[tuple[int, tuple[object, ...]], list[int]] = defaultdict(list)
    for (carrier, number), legs in by_port.items():
        place, following = (carrier, number), (carrier, number + 1)
        if place in apart:
            pair_legs = _legs_of_pair(legs, by_port.get(following, {}))
            if pair_legs and (ground.any_pair or number % 2) and following in apart:
                rows.append(Row(carrier, pair_legs, ((number, number + 1),), (), alone=True))
            rows.append(Row(carrier, legs, (), (number,), alone=True))
        else:
            alike[carrier, signatures[place]].append(number)
    for (carrier, _), numbers in alike.items():
        pairs = _tiled(numbers, any_pair=ground.any_pair)
        paired = {n for pair in pairs for n in pair}
        rows.append(Row(carrier, by_port[carrier, numbers[0]], pairs, tuple(n for n in numbers if n not in paired)))
    return tuple(sorted(rows, key=lambda row: (row.carrier, min(row.numbers), not row.pairs)))


def _apart(
    by_port: dict[tuple[int, int], dict[str, Leg]],
    signatures: Mapping[tuple[int, int], tuple[object, ...]],
    pinned: set[tuple[int, int]],
    *,
    any_pair: bool,
) -> set[tuple[int, int]]:
    """Return the places that cannot be counted with others: pinned, or in a pair whose two are not alike.

    Where any neighbours make a pair, whoever may pair with such a place is one too, and so on along the run.
    """
    apart = pinned & by_port.keys()
    waiting = sorted(apart)
    for carrier, number in by_port:
        for other in _partners(number, any_pair=any_pair):
            mine, its = (carrier, number), (carrier, other)
            pairs = its in by_port and bool(_legs_of_pair(by_port[mine], by_port[its]))
            if pairs and signatures[mine] != signatures[its] and mine not in apart:
                apart.add(mine)
                waiting.append(mine)
    for carrier, number in waiting:
        for other in _partners(number, any_pair=any_pair):
            its = carrier, other
            if its in by_port and its not in apart and _legs_of_pair(by_port[carrier, number], by_port[its]):
                apart.add(its)
                waiting += [its] if any_pair else []
    return apart


def _partners(number: int, *, any_pair: bool) -> tuple[int, ...]:
    """Return the ports with which a port can make a pair."""
    return (number - 1, number + 1) if any_pair else (number + 1 if number % 2 else number - 1,)


def _tiled(numbers: list[int], *, any_pair: bool) -> tuple[tuple[int, int], ...]:
    """Return as many pairs as there are in these rising numbers: odd-even ones, or from the start of each run."""
    pairs: list[tuple[int, int]] = []
    last = 0
    for number, following in pairwise(numbers):
        if number > last and following == number + 1 and (any_pair or number % 2):
            pairs.append((number, following))
            last = following
    return tuple(pairs)


def _legs_of_pair(one: dict[str, Leg], other: dict[str, Leg]) -> dict[str, Leg]:
    """Return the legs of the units that reach both ports under the same settings."""
    return {unit: leg for unit, leg in one.items() if unit in other and leg.signature == other[unit].signature}
