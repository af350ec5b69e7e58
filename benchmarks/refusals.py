"""How long it takes to choose among 200 requests on 128 ports, and to explain everybody who stays in.

The desk has four rows of 32 ports that carry inserts, each brought from one of two computers in nested parts, and two
boxes on jacks; the shows have musts, keeps, nevers, pins, loads, siblings, bypasses in one press, loops behind outputs
and limits for ears. Every show has at least 100 refusals, or it does not count.
"""

import random
from functools import cache
from statistics import median
from time import perf_counter, process_time

from benchmarks.registry import Outcome, Spec

from sidetrip.model.desk import Desk
from sidetrip.model.show import Show
from sidetrip.plan.allocation import build_program, key_of, solve
from sidetrip.plan.assign import allocate
from sidetrip.plan.options import find_options
from sidetrip.plan.reasons import Explainer
from sidetrip.plan.ways import survey
from sidetrip.showfile.check_desk import check_desk
from sidetrip.showfile.check_show import check_show
from sidetrip.showfile.read import read_desk, read_show

SEEDS = range(1, 21)
REQUESTS = 200
GROWTH = (25, 50, 100, 200)
FEWEST_REFUSALS = 100
_ALIVE = 'insert: {send_alive_when_out: "yes", send_alive_when_muted: "yes"}'


@cache
def desk() -> Desk:
    """Return the desk: 128 ports that carry inserts, in rows of 32 with choices of 8, 16, 24 and 32."""
    rows = [(32 * number + 1, 32 * number + 32) for number in range(4)]
    blocks = []
    for first, last in rows:
        choices = "\n".join(
            f"      - {{from: {card} in {first}-{first + n - 1}, covers: aux in {first}-{first + n - 1}}}"
            for card in ("card", "tab")
            for n in (8, 16, 24, 32)
        )
        blocks.append(f"  - feeds: aux in {first}-{last}\n    choices:\n      - jacks\n{choices}")
        blocks += [
            f"  - {{feeds: {card} out {first}-{last}, choices: [stage {first}-{last}, aux out {first}-{last}]}}"
            for card in ("card", "tab")
        ]
    return read_desk(
        f"""
sidetrip_desk: 1
name: large bench desk
summary: made for the benchmark
source: invented
rates: [48000]
name_length: 12
strips:
  - {{kinds: [channel], legs: 480, order: [insert, fader], {_ALIVE}}}
  - {{kinds: [aux], legs: 16, order: [insert, fader], {_ALIVE}}}
  - {{kinds: [main], legs: 2, order: [insert, fader], {_ALIVE}}}
taps: {{main: after fader, aux: after fader}}
ports:
  - {{name: stage, direction: in, count: 480, jacks: yes}}
  - {{name: local in, direction: in, count: 16, jacks: yes}}
  - {{name: aux in, direction: in, count: 128, jacks: yes}}
  - {{name: aux out, direction: out, count: 128, jacks: yes}}
  - {{name: card in, direction: in, count: 128, jacks: no}}
  - {{name: card out, direction: out, count: 128, jacks: no}}
  - {{name: tab in, direction: in, count: 128, jacks: no}}
  - {{name: tab out, direction: out, count: 128, jacks: no}}
  - {{name: local out, direction: out, count: 16, jacks: yes}}
blocks:
{chr(10).join(blocks)}
carriers:
  - {{send: aux out 1-128, return: aux in 1-128}}
  - {{send: local out 9-12, return: local in 9-12}}
connections: [{{name: card, out: card out, back: card in}}, {{name: tab, out: tab out, back: tab in}}]
output_ways: [{{out: [local out], back: [local in]}}]
hops:
  - from: [stage, local in, channel, aux, main, insert, aux in, aux out, card in, card out, tab in, tab out]
    to: [channel, aux, main, insert, aux in, aux out, card in, card out, tab in, tab out, local out]
    frames: 8
delay_step_frames: 1
delay_max_ms: 500
bypass: {{key: insert, presses: 2, seconds: 1, output_key: routing, output_presses: 2, output_seconds: 1,
  group_keys: 4, group_key_takes_inserts: "yes"}}
""",
        "large-bench-desk.yaml",
    )


def show(seed: int, requests: int = REQUESTS) -> Show:
    """Return a show of so many requests, drawn by the seed."""
    draw = random.Random(seed)
    inputs, asks, names, pairs, ch = [], [], [], [], 1
    for number in range(1, requests - 1):
        stereo = draw.random() < 0.5
        ch += 1 if stereo and ch % 2 == 0 else 0
        port = f"stage {ch}-{ch + 1}" if stereo else f"stage {ch}"
        name = f"In {number}"
        names.append(name)
        pairs += [name] if stereo else []
        inputs.append(f"  - {{ch: {ch}, name: {name}, port: {port}, to: [Main]}}")
        want = "must" if number <= 4 else str(draw.randint(1, 9))
        more = draw.choice(["", "", "", ", unit: card", ", unit: tab"])
        if number % 25 == 10:
            first = draw.randrange(1, 127, 2)
            run = f"{first}-{first + 1}" if stereo else f"{first}"
            more = f", ports: {{send: aux out {run}, return: aux in {run}}}"
        more += ", one_press: yes" if number % 40 == 20 else ""
        asks.append(f"  - {{strip: {name}, chain: c{draw.randint(0, 5)}, want: {want}{more}}}")
        ch += 2 if stereo else 1
    asks += [
        "  - {strip: PA, way: output, unit: box, want: 6}",
        f"  - {{strip: {pairs[-1]}, unit: rack, want: 5, way: insert}}",
    ]
    asks = asks[:-1] if any(f"strip: {pairs[-1]}," in ask for ask in asks[:-1]) else asks
    voices, drums = ", ".join(names[4:8]), ", ".join(names[8:12])
    pressed = ", ".join(name for number, name in enumerate(names, 1) if number % 40 == 20)
    text = f"""
sidetrip: 1
show: large bench {seed}
sample_rate: 48000
desk: {{type: large-bench-desk.yaml}}
units:
  - {{name: card, kind: computer, connects: card, aligns: per chain, buffer: 64, load_limit: 0.7,
      measured: [{{buffer: 64, rate: 48000, round_trip_frames: 300}}]}}
  - {{name: tab, kind: computer, connects: tab, aligns: per chain, buffer: 64, load_limit: 0.5,
      measured: [{{buffer: 64, rate: 48000, round_trip_frames: 300}}]}}
  - {{name: box, kind: hardware, out: local out 9-10, back: local in 9-10, delay_ms: 0}}
  - {{name: rack, kind: hardware, out: local out 11-12, back: local in 11-12, delay_ms: 0}}
inputs:
{chr(10).join(inputs)}
  - {{ch: 479, name: Talk, port: stage 479, to: [Main]}}
mixes:
  - {{name: Main, kind: main, width: stereo}}
  - {{name: Ears, kind: aux, width: mono, for: singer, listens: in-ear, from: [{voices}]}}
outputs: [{{name: PA, from: Main, port: local out 1-2}}, {{name: Pack, from: Ears, port: local out 3}}]
chains: {{{", ".join(f"c{n}: [{{black box: {{delay_frames: 0, load: {0.004 + 0.003 * n:.3f}}}}}]" for n in range(6))}}}
keep:
  - {{ports: aux in {draw.randrange(9, 16)}, for: interval music}}
  - {{ports: card out 97-128, for: recorder}}
  - {{ports: tab in {draw.randrange(65, 80)}, for: playback}}
never: [Talk]
siblings: {{drums: [{drums}]}}
bypass_groups: {{{f"pressed: [{pressed}]" if pressed else ""}}}
limits: {{ear_added_ms: 14}}
requests:
{chr(10).join(asks)}
"""
    return read_show(text, f"large-bench-{seed}.yaml").show


@cache
def _measured(seed: int, requests: int) -> dict[str, float]:
    """Return seconds to choose, to explain all refusals and one by itself, and how many there are."""
    own, on = show(seed, requests), desk()
    errors = [finding for finding in check_show(own, on) if finding.severity == "error"]
    if errors:
        raise RuntimeError(f"seed {seed} makes no show: {errors[0]}")
    start = perf_counter()
    ground = survey(own, on)
    options = find_options(own, on, ground)
    choice = solve(build_program(own, on, ground, options), options, ground, on)
    chosen = perf_counter() - start
    if choice is None:
        raise RuntimeError(f"seed {seed}: the musts conflict")
    stays = [request for request in options.requests if key_of(request) not in choice.served]
    goes = tuple(request for request in own.requests if key_of(request) in choice.served)
    loops = allocate(own.model_copy(update={"requests": goes}), on).loops
    start, cpu = perf_counter(), process_time()
    Explainer(own, on, ground, options, choice, loops).explain_all(stays)
    explained, used = perf_counter() - start, process_time() - cpu
    alone = 0.0
    for request in stays[:: max(1, len(stays) // 3)]:
        start = perf_counter()
        Explainer(own, on, ground, options, choice, loops, request).explain(request)
        alone = max(alone, perf_counter() - start)
    return {
        "choose": chosen,
        "explain_all": explained,
        "explain_one": alone,
        "explain_all_cpu": used,
        "refused": len(stays),
    }


@cache
def _all() -> list[dict[str, float]]:
    if check_desk(desk()):
        raise RuntimeError(f"the desk contradicts itself: {check_desk(desk())[0]}")
    _measured(0, 25)  # loads the solver
    found = [_measured(seed, REQUESTS) for seed in SEEDS]
    few = [seed for seed, one in zip(SEEDS, found, strict=True) if one["refused"] < FEWEST_REFUSALS]
    if few:
        raise RuntimeError(f"fewer than {FEWEST_REFUSALS} refusals with seeds {few}")
    return found


def _detail(key: str) -> dict[str, object]:
    growth = {
        requests: round(median(_measured(seed, requests)[key] for seed in list(SEEDS)[:3]), 4) for requests in GROWTH
    }
    return {
        "requests": REQUESTS,
        "ports": 128,
        "seeds": list(SEEDS),
        "seconds": [round(one[key], 4) for one in _all()],
        "refused": [int(one["refused"]) for one in _all()],
        "growth_s": growth,
    }


def _median() -> Outcome:
    return Outcome(median(one["choose"] for one in _all()), _detail("choose"))


def _worst() -> Outcome:
    return Outcome(max(one["choose"] for one in _all()), _detail("choose"))


def _explained() -> Outcome:
    return Outcome(max(one["explain_all"] for one in _all()), _detail("explain_all"))


def _one() -> Outcome:
    return Outcome(max(one["explain_one"] for one in _all()), _detail("explain_one"))


_PEER = "none: the growth from 25 to 200 requests is in the detail"

SPECS = (
    Spec(name="choice-200", goal="<= 1", unit="s", peer=_PEER, run=_median),
    Spec(name="choice-200-worst", goal="<= 4", unit="s", peer=_PEER, run=_worst),
    Spec(name="refusals-200", goal="<= 5", unit="s", peer=_PEER, run=_explained),
    Spec(name="refusal-one", goal="<= 0.5", unit="s", peer=_PEER, run=_one),
)
