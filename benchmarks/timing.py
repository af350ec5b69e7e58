"""How long it takes to find every arrival and meeting of a large show, to say what to dial, and to draw it.

The show has 128 inputs, 48 mixes, 24 outputs and 12 listeners on one desk, with 40 loops; every planned state is
judged: all IN, all OUT, each loop OUT, a group OUT, the unit dead. The number of arrivals is in the detail.
"""

import json
import random
from functools import cache
from statistics import median
from time import perf_counter, process_time

from benchmarks.registry import Outcome, Spec

from sidetrip.findings import has_errors
from sidetrip.graph.arrivals import find_arrivals
from sidetrip.model.desk import Desk
from sidetrip.model.show import Show
from sidetrip.plan.hearing import heard_at
from sidetrip.plan.lanes import lanes_at
from sidetrip.plan.meetings import find_meetings
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.reports.draw.comb import Case, comb_svg
from sidetrip.reports.draw.palette import PAGE
from sidetrip.reports.draw.time_map import time_map_svg
from sidetrip.showfile.check_desk import check_desk
from sidetrip.showfile.check_show import check_show
from sidetrip.showfile.read import read_desk, read_show

SEED = 1
INPUTS = 128
LOOPS = 40
GROWTH = (16, 32, 64, 128)
FEWEST_ARRIVALS = 5000
RUNS = 5
_ALIVE = '{send_alive_when_out: "yes", send_alive_when_muted: "yes"}'


@cache
def desk() -> Desk:
    """Return the desk: any strip takes any of 64 ports, and a computer sits on its card."""
    found = read_desk(
        f"""
sidetrip_desk: 1
name: timing bench desk
summary: made for the benchmark
source: invented
rates: [48000]
name_length: 20
strips:
  - {{kinds: [channel], legs: 160, order: [trim, eq, insert, compressor, delay, fader, mute], insert: {_ALIVE}}}
  - {{kinds: [group, aux], legs: 128, order: [insert, eq, delay, fader, mute], insert: {_ALIVE}}}
  - {{kinds: [main], legs: 2, order: [insert, eq, delay, fader, mute], insert: {_ALIVE}}}
  - {{kinds: [matrix], legs: 64, order: [insert, eq, delay, fader, mute], insert: {_ALIVE}}}
taps: {{aux: before fader, group: after mute, main: after mute, matrix: after mute}}
ports:
  - {{name: stage, direction: in, count: 160, jacks: yes}}
  - {{name: aux in, direction: in, count: 64, jacks: yes}}
  - {{name: card in, direction: in, count: 64, jacks: no}}
  - {{name: local out, direction: out, count: 128, jacks: yes}}
  - {{name: aux out, direction: out, count: 64, jacks: yes}}
  - {{name: card out, direction: out, count: 64, jacks: no}}
blocks:
  - {{feeds: aux in 1-64, choices: [jacks, card in 1-64]}}
  - {{feeds: card out 1-64, choices: [stage 1-64, aux out 1-64]}}
carriers: [{{send: aux out 1-64, return: aux in 1-64}}]
connections: [{{name: card, out: card out, back: card in}}]
hops:
  - {{from: stage, to: channel, frames: 30}}
  - {{from: channel, to: [group, main, aux, matrix], frames: 8}}
  - {{from: [group, aux, main], to: [group, main, aux, matrix], frames: 4}}
  - {{from: [channel, group, aux, main, matrix], to: [local out, aux out], frames: 16}}
  - {{from: [insert, aux out, card out, card in, aux in], to: [aux out, card out, aux in, insert], frames: 3}}
delay_step_frames: 1
delay_max_ms: 500
bypass: {{key: insert, presses: 2, seconds: 1, output_key: routing, output_presses: 2, output_seconds: 1,
  group_keys: 4, group_key_takes_inserts: "yes"}}
""",
        "timing-bench-desk.yaml",
    )
    if check_desk(found):
        raise RuntimeError(f"the desk contradicts itself: {check_desk(found)[0]}")
    return found


def show(inputs: int = INPUTS) -> Show:
    """Return a show of so many inputs, and of mixes, outputs and loops in proportion."""
    draw, share = random.Random(SEED), inputs / INPUTS
    groups = [f"G{number}" for number in range(max(round(16 * share), 2))]
    ears = [f"A{number}" for number in range(max(round(16 * share), 2))]
    zones = [f"X{number}" for number in range(max(round(15 * share), 2))]
    sources = [f"s{number}" for number in range(max(round(60 * share), 8))]
    channels: list[dict[str, object]] = []
    for ch in range(1, inputs + 1):
        heard = {
            one: {"m": round(draw.uniform(0.05, 4), 2), "db": draw.choice([0, -6, -18])}
            for one in draw.sample(sources, 2 if draw.random() < 0.3 else 1)
        }
        channels.append(
            {"ch": ch, "name": f"In {ch}", "port": f"stage {ch}", "group": draw.choice(groups), "hears": heard}
        )
    mixes: list[dict[str, object]] = [
        {"name": name, "kind": "group", "width": "mono", "to": ["Main"]} for name in groups
    ]
    for name in ears:
        taken = {f"In {ch}": {"db": draw.choice([0, -6, -12])} for ch in draw.sample(range(1, inputs + 1), 8)}
        mixes.append(
            {
                "name": name,
                "kind": "aux",
                "width": "mono",
                "for": draw.choice(sources),
                "listens": "in-ear",
                "device_ms": 3,
                "from": taken,
            }
        )
    mixes.append({"name": "Main", "kind": "main", "width": "stereo"})
    for name in zones:
        tap = draw.choice(["before insert", "after mute"])
        mixes.append({"name": name, "kind": "matrix", "width": "mono", "from": {"Main": {"db": 0, "tap": tap}}})
    outputs: list[dict[str, object]] = [{"name": "PA", "from": "Main", "port": "local out 1-2", "device_ms": 2}]
    for number, name in enumerate(zones):
        crossover = {"crossover_hz": 90} if number < 3 else {}
        outputs.append({"name": f"Z{number}", "from": name, "port": f"local out {3 + number}", **crossover})
    outputs += [
        {"name": f"W{number}", "from": name, "port": f"local out {30 + number}"} for number, name in enumerate(ears[:8])
    ]
    listeners = []
    for number in range(max(round(12 * share), 2)):
        heard_from = ["PA", *draw.sample([f"Z{own}" for own in range(len(zones))], min(2, len(zones)))]
        hears = {name: {"m": draw.randint(3, 40), "db": draw.choice([0, -3, -6])} for name in heard_from}
        listeners.append({"name": f"row {number}", "hears": hears})
    loops = max(round(LOOPS * share), 4)
    asking = [f"In {ch}" for ch in draw.sample(range(1, inputs + 1), loops - 2)] + ["Main"]
    body = {
        "units": [
            {
                "name": "laptop",
                "kind": "computer",
                "connects": "card",
                "aligns": "per chain",
                "buffer": 64,
                "measured": [{"buffer": 64, "rate": 48000, "round_trip_frames": 331}],
            }
        ],
        "inputs": channels,
        "mixes": mixes,
        "outputs": outputs,
        "listeners": listeners,
        "chains": {"c": [{"eq": {}}]},
        "bypass_groups": {"some": asking[:5]},
        "requests": [{"strip": name, "chain": "c", "want": 5} for name in asking],
    }
    head = "sidetrip: 1\nshow: timing bench\nsample_rate: 48000\ndesk: {type: timing-bench-desk.yaml}\n"
    return read_show(head + "\n".join(f"{key}: {json.dumps(own)}" for key, own in body.items()), "bench.yaml").show


@cache
def planned(inputs: int) -> Plan:
    """Return the plan of the show; nothing is dialled yet."""
    own = show(inputs)
    wrong = [finding for finding in check_show(own, desk()) if has_errors([finding])]
    if wrong:
        raise RuntimeError(f"the show has an error: {wrong[0]}")
    return make_plan(own, desk(), dial=False)


@cache
def _found(inputs: int) -> dict[str, float]:
    """Return seconds for arrivals with meetings, and how many there are."""
    plan = planned(inputs)
    arrivals = plan.arrivals
    seconds = []
    for _ in range(RUNS):
        start = perf_counter()
        arrivals = find_arrivals(plan.line_map)
        meetings, _ = find_meetings(plan.show, plan.line_map, arrivals, plan.states)
        seconds.append(perf_counter() - start)
    return {
        "seconds": median(seconds),
        "arrivals": len(arrivals.rows),
        "states": len(plan.states),
        "causes": len(meetings),
        "mixes": len(plan.show.mixes),
        "outputs": len(plan.show.outputs),
        "loops": len(plan.allocation.loops),
    }


def _arrivals() -> Outcome:
    found = _found(INPUTS)
    if found["arrivals"] < FEWEST_ARRIVALS:
        raise RuntimeError(f"only {found['arrivals']} arrivals")
    growth = {inputs: {key: round(value, 4) for key, value in _found(inputs).items()} for inputs in GROWTH}
    return Outcome(found["seconds"], {"inputs": INPUTS, **found, "growth": growth})


def _dialled() -> Outcome:
    """Measure a plan with what to dial beside one without; processor time too, which other programs do not lengthen."""
    make_plan(show(GROWTH[0]), desk())  # so that libraries are loaded
    growth: dict[int, dict[str, object]] = {}
    seconds = 0.0
    for inputs in GROWTH:
        own = show(inputs)
        ticks = [(perf_counter(), process_time())]
        make_plan(own, desk(), dial=False)
        ticks.append((perf_counter(), process_time()))
        plan = make_plan(own, desk())
        ticks.append((perf_counter(), process_time()))
        seconds, processor = (ticks[2][n] - 2 * ticks[1][n] + ticks[0][n] for n in (0, 1))
        found = plan.alignment
        growth[inputs] = {
            "seconds": round(seconds, 3),
            "processor_s": round(processor, 3),
            "proven": found.proven,
            "open": [f"{one.aim}: {one.found:g} found, {one.least:g} at least" for one in found.open],
            "left_out": found.left_out,
            "settings": len(found.settings),
            "moves": len(found.moves),
        }
    if not growth[INPUTS]["proven"]:
        raise RuntimeError(f"what to dial is not proven: {growth[INPUTS]['open']}")
    return Outcome(seconds, {"inputs": INPUTS, **growth[INPUTS], "growth": growth})


def _picture() -> Outcome:
    plan = planned(32)
    place = plan.line_map.places[-1].name
    lanes = lanes_at(plan, place, plan.states[0])
    source = lanes.lanes[0].source
    case = Case("now", heard_at(plan, source, place, plan.states[0]).mixed)
    each: dict[str, list[float]] = {"time map": [], "comb": []}
    for _ in range(21):
        start = perf_counter()
        time_map_svg(place, lanes, PAGE)
        middle = perf_counter()
        comb_svg(source, case, case, PAGE)
        each["time map"].append(middle - start)
        each["comb"].append(perf_counter() - middle)
    middle_s = {name: median(seconds) for name, seconds in each.items()}
    bars = sum(len(lane.bars) for lane in lanes.lanes)
    detail = {
        "ms": {name: round(own * 1000, 3) for name, own in middle_s.items()},
        "lanes": len(lanes.lanes),
        "bars": bars,
    }
    return Outcome(max(middle_s.values()) * 1000, detail)


_PEER = "none: the growth from 16 to 128 inputs is in the detail"

SPECS = (
    Spec(name="meetings-128", goal="<= 1", unit="s", peer=_PEER, run=_arrivals),
    Spec(name="dialled-128", goal="<= 3", unit="s", peer=_PEER, run=_dialled),
    Spec(name="picture", goal="<= 5", unit="ms", peer="none: the slower of time map and comb", run=_picture),
)
