"""How long the allocation takes: 64 requests on 32 carriers, each refusal explained.

Peer: the same rows given once to the same solver (HiGHS through SciPy) with one weighted aim, which may trade a high
want for low ones and explains nothing. The ratio is what strict order, one answer and reasons cost.
"""

import random
from statistics import median
from time import perf_counter

from benchmarks.registry import Outcome, Spec

from sidetrip.model.desk import Desk
from sidetrip.model.show import Show
from sidetrip.plan.allocation import build_program, key_of
from sidetrip.plan.assign import allocate
from sidetrip.plan.options import find_options
from sidetrip.plan.ways import survey
from sidetrip.showfile.check_desk import check_desk
from sidetrip.showfile.check_show import check_show
from sidetrip.showfile.read import read_desk, read_show

SEEDS = range(1, 6)
CARRIERS = 32
REQUESTS = 64


def desk() -> Desk:
    """Return a desk with nested choices of 2, 4, 8, 16 and 32 carriers, all behind one card."""
    nested = "\n".join(f"      - {{from: card in 1-{n}, covers: aux in 1-{n}}}" for n in (2, 4, 8, 16, 32))
    return read_desk(
        f"""
sidetrip_desk: 1
name: bench desk
summary: made for the benchmark
source: invented
rates: [48000]
name_length: 12
strips:
  - kinds: [channel]
    legs: 128
    order: [insert, fader]
    insert: {{send_alive_when_out: "yes", send_alive_when_muted: "yes"}}
  - kinds: [main]
    legs: 2
    order: [insert, fader]
    insert: {{send_alive_when_out: "yes", send_alive_when_muted: "yes"}}
taps: {{main: after fader}}
ports:
  - {{name: stage, direction: in, count: 128, jacks: yes}}
  - {{name: aux in, direction: in, count: {CARRIERS}, jacks: yes}}
  - {{name: aux out, direction: out, count: {CARRIERS}, jacks: yes}}
  - {{name: card in, direction: in, count: {CARRIERS}, jacks: no}}
  - {{name: card out, direction: out, count: {CARRIERS}, jacks: no}}
  - {{name: local out, direction: out, count: 2, jacks: yes}}
blocks:
  - feeds: aux in 1-{CARRIERS}
    choices:
      - jacks
{nested}
  - {{feeds: card out 1-{CARRIERS}, choices: [stage 1-{CARRIERS}, aux out 1-{CARRIERS}]}}
carriers: [{{send: aux out 1-{CARRIERS}, return: aux in 1-{CARRIERS}}}]
connections: [{{name: card, out: card out, back: card in}}]
hops:
  - {{from: [stage, channel, main, insert, aux in, aux out, card in, card out], to: [channel, main, insert, aux in,
      aux out, card in, card out, local out], frames: 8}}
delay_step_frames: 1
delay_max_ms: 500
bypass: {{key: insert, presses: 1, seconds: 1, output_key: routing, output_presses: 1, output_seconds: 1,
  group_keys: 1, group_key_takes_inserts: "yes"}}
""",
        "bench-desk.yaml",
    )


def show(seed: int) -> Show:
    """Return a show of 64 requests, mono and stereo, wants drawn by the seed, one kept port in the middle."""
    draw = random.Random(seed)
    inputs, requests, ch = [], [], 1
    for number in range(1, REQUESTS + 1):
        stereo = ch % 2 == 1 and draw.random() < 0.35
        port = f"stage {ch}-{ch + 1}" if stereo else f"stage {ch}"
        inputs.append(f"  - {{ch: {ch}, name: In {number}, port: {port}, to: [Main]}}")
        requests.append(f"  - {{strip: In {number}, chain: c, want: {draw.randint(1, 9)}}}")
        ch += 2 if stereo else 1
    text = "\n".join(
        [
            "sidetrip: 1",
            f"show: bench {seed}",
            "sample_rate: 48000",
            "desk: {type: bench-desk.yaml}",
            "units: [{name: computer, kind: computer, connects: card, aligns: per chain, buffer: 64, load_limit: 0.5}]",
            "inputs:",
            *inputs,
            "mixes: [{name: Main, kind: main, width: stereo}]",
            "outputs: [{name: PA, from: Main, port: local out 1-2}]",
            "chains: {c: [{black box: {delay_frames: 0, load: 0.018}}]}",
            "keep: [{ports: aux in 21, for: interval music}]",
            "requests:",
            *requests,
        ]
    )
    return read_show(text, f"bench-{seed}.yaml").show


def once_weighted(own: Show, on: Desk) -> None:
    """Solve the same rows with one weighted aim."""
    ground = survey(own, on)
    options = find_options(own, on, ground)
    built = build_program(own, on, ground, options)
    weights = {key_of(request): 1.0 if request.want == "must" else float(request.want) for request in options.requests}
    built.program.maximise({index: weights[key] for (key, _), index in built.served.items()})


def allocation() -> Outcome:
    """Time both by turns over the published seeds."""
    on = desk()
    assert not check_desk(on)
    own_s, peer_s, refused = [], [], []
    once_weighted(show(0), on)  # loads the solver
    for seed in SEEDS:
        case = show(seed)
        errors = [finding for finding in check_show(case, on) if finding.severity == "error"]
        if errors:
            raise RuntimeError(f"seed {seed} makes no show: {errors[0]}")
        start = perf_counter()
        result = allocate(case, on)
        middle = perf_counter()
        once_weighted(case, on)
        own_s.append(middle - start)
        peer_s.append(perf_counter() - middle)
        refused.append(len(result.refusals))
    detail = {
        "requests": REQUESTS,
        "carriers": CARRIERS,
        "seeds": list(SEEDS),
        "seconds": [round(value, 4) for value in own_s],
        "worst_s": round(max(own_s), 4),
        "refused": refused,
        "peer_seconds": [round(value, 4) for value in peer_s],
        "ratio_to_peer": round(median(own_s) / median(peer_s), 2),
    }
    return Outcome(median(own_s), detail)


SPECS = (
    Spec(
        name="allocation",
        goal="<= 1",
        unit="s",
        peer="HiGHS once over the same rows with one weighted aim",
        run=allocation,
    ),
)
