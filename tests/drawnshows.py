"""Shows drawn at random, as data that is written out as text: small, without rings, with everything that takes time."""

from __future__ import annotations

import json
import random
from typing import Any

from sidetrip.model.desk import Desk
from sidetrip.model.show import Show
from sidetrip.showfile.check_show import check_show
from sidetrip.showfile.read import read_show

Data = dict[str, Any]

_IN_SERIES = ("chains",)  # the processors of a chain stand in the order of the signal
_TAPS = ("input", "before insert", "after insert", "before fader", "after mute")


def drawn(seed: int, *, unknowns: bool = False) -> Data:
    """Return a show for the plain desk. unknowns: some of its figures are ranges or unknown."""
    draw = random.Random(seed)
    groups, auxes, matrices = draw.randint(0, 2), draw.randint(0, 2), draw.randint(0, 2)
    inputs = [_input(draw, ch, groups, unknowns=unknowns) for ch in range(1, draw.randint(1, 4) + 1)]
    names = [item["name"] for item in inputs]
    mixes: list[Data] = [
        {"name": f"Group {n}", "kind": "group", "width": draw.choice(["mono", "stereo"]), "to": ["Main"]}
        for n in range(groups)
    ]
    mixes += [_aux(draw, n, names, groups, unknowns=unknowns) for n in range(auxes)]
    mixes.append({"name": "Main", "kind": "main", "width": "stereo", "from": _sends(draw, names[:1])})
    fed = ["Main", *(f"Group {n}" for n in range(groups))]
    for n in range(matrices):
        own = {"name": f"Matrix {n}", "kind": "matrix", "width": "mono", "from": _sends(draw, _some(draw, fed))}
        mixes.append(own)
    outputs = [{"name": "PA", "from": "Main", "port": "local out 1-2", "device_ms": _ms(draw, unknowns)}]
    outputs += [
        {"name": f"Zone {n}", "from": f"Matrix {n}", "port": f"local out {3 + n}", "delay_ms": _ms(draw, unknowns)}
        for n in range(matrices)
    ]
    if matrices and draw.random() < 0.5:
        outputs[-1]["crossover_hz"] = 90
    if draw.random() < 0.3:
        outputs[0]["picture_delay_ms"] = draw.randint(0, 200)
    return {
        "sidetrip": 1,
        "show": "drawn",
        "sample_rate": 48000,
        "desk": {"type": "small.yaml"},
        "units": [
            _unit("laptop", draw, unknowns=unknowns),
            {"name": "box", "kind": "hardware", "out": "local out 21-22", "back": "local in 21-22", "delay_ms": 1},
        ],
        "inputs": inputs,
        "mixes": mixes,
        "outputs": outputs,
        "listeners": [_listener(draw, n, outputs, unknowns=unknowns) for n in range(draw.randint(0, 2))],
        "chains": {"plain": [{"eq": {}}], "long": [{"black box": {"delay_frames": 96}}, {"limiter": {}}]},
        "requests": _requests(draw, [*names, *(mix["name"] for mix in mixes)]),
        "limits": {"ear_total_ms": 14, "ear_added_ms": 8},
        "bypass_groups": {"some": _some(draw, names)},
    }


def show_of(data: Data, desk: Desk) -> Show:
    """Read a drawn show. Raises AssertionError when checking it finds an error."""
    show = read_show(json.dumps(data), "show.yaml").show
    errors = [str(finding) for finding in check_show(show, desk) if finding.severity == "error"]
    assert not errors, "\n".join(errors)
    return show


def shuffled(data: Any, draw: random.Random, key: str = "") -> Any:
    """Return the same show with every list and every set of keys in another order."""
    if isinstance(data, dict):
        keys = sorted(data, key=lambda own: (own != "sidetrip", draw.random()))
        return {own: data[own] if own in _IN_SERIES else shuffled(data[own], draw, own) for own in keys}
    if isinstance(data, list):
        items = [shuffled(item, draw, key) for item in data]
        draw.shuffle(items)
        return items
    return data


def _ms(draw: random.Random, unknowns: bool) -> Any:
    if unknowns and draw.random() < 0.25:
        return draw.choice(["unknown", "1 to 2"])
    return draw.choice([0, 0.5, 1, 3])


def _some(draw: random.Random, names: list[str]) -> list[str]:
    return sorted(draw.sample(names, draw.randint(1, len(names))))


def _sends(draw: random.Random, names: list[str]) -> Data:
    return {name: {"db": draw.choice([0, -3, -6]), "tap": draw.choice(_TAPS[:1] + _TAPS[3:])} for name in names}


def _input(draw: random.Random, ch: int, groups: int, *, unknowns: bool) -> Data:
    hears = {
        source: {"m": _ms(draw, unknowns), "db": draw.choice([0, -6, -12, -30])}
        for source in draw.sample(["singer", "drum", "bell"], draw.randint(0, 2))
    }
    into = f"Group {draw.randrange(groups)}" if groups and draw.random() < 0.7 else "Main"
    found = {"ch": ch, "name": f"In {ch}", "port": f"stage {ch}", "group": into, "device_ms": _ms(draw, unknowns)}
    return found | ({"hears": hears} if hears else {}) | ({"delay_ms": 1} if draw.random() < 0.2 else {})


def _aux(draw: random.Random, number: int, names: list[str], groups: int, *, unknowns: bool) -> Data:
    sends = {
        name: {"db": draw.choice([0, -6]), "tap": draw.choice(_TAPS if name in names else _TAPS[3:])}
        for name in _some(draw, [*names, *(f"Group {n}" for n in range(groups))])
    }
    own = {"name": f"Ears {number}", "kind": "aux", "width": "mono", "from": sends, "device_ms": _ms(draw, unknowns)}
    return own | {"for": draw.choice(["singer", "nobody"]), "listens": "in-ear"}


def _listener(draw: random.Random, number: int, outputs: list[Data], *, unknowns: bool) -> Data:
    heard = _some(draw, [output["name"] for output in outputs])
    hears = {
        name: {"m": draw.choice([5, 8, "unknown" if unknowns else 9]), "db": draw.choice([0, -6])} for name in heard
    }
    return {"name": f"row {number}", "hears": hears}


def _unit(name: str, draw: random.Random, *, unknowns: bool) -> Data:
    points: list[Data] = [{"buffer": b, "rate": 48000, "round_trip_frames": 200 + 2 * b} for b in (32, 64, 128)]
    if unknowns and draw.random() < 0.5:
        points = [{"buffer": 64, "rate": 48000, "round_trip_frames": draw.choice(["unknown", "300 to 340"])}]
    aligns = draw.choice(["all", "per chain", "unknown"])
    return {
        "name": name,
        "kind": "computer",
        "connects": "card",
        "aligns": aligns,
        "buffer": "auto",
        "measured": points,
    }


def _requests(draw: random.Random, strips: list[str]) -> list[Data]:
    wanted = draw.sample(strips, min(len(strips), draw.randint(0, 5)))
    found = [{"strip": s, "chain": draw.choice(["plain", "long"]), "want": draw.randint(1, 9)} for s in wanted]
    if draw.random() < 0.4:
        found.append({"strip": "PA", "way": "output", "unit": "box", "want": draw.randint(1, 9)})
    return found
