"""The whole plan: which buffer and why, states, findings, conflicts, and one plan whatever the order of the file."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drawnshows import drawn, show_of, shuffled
from sidetrip.errors import NoPlan
from sidetrip.plan.planner import Plan, make_plan
from smallshows import plain_desk, plan_from, theatre_desk

DESK = plain_desk()
POINTS = "{buffer: 32, rate: 48000, round_trip_frames: 264}, {buffer: 64, rate: 48000, round_trip_frames: 328}"
POINTS += ", {buffer: 128, rate: 48000, round_trip_frames: 456}"


def _plan(
    limits: str = "{}",
    *,
    unit: str = f"buffer: auto, measured: [{POINTS}]",
    hears: str = "{m: 0}",
    tap: str = "after insert",
    rate: int = 48000,
    buffer: int | None = None,
    more: str = "",
) -> Plan:
    """Plan a singer with a loop and ears: 54 + 168 frames = 4.625 ms, and buffer 32, 64, 128 add 280, 344, 472."""
    text = f"""
units: [{{name: laptop, kind: computer, connects: card, aligns: per chain, {unit}}}]
inputs: [{{ch: 1, name: Voice, port: stage 1, to: [Main], hears: {{singer: {hears}}}}}]
mixes:
  - {{name: Ears, kind: aux, width: mono, for: singer, device_ms: 3.5, from: {{Voice: {{tap: {tap}}}}}}}
  - {{name: Main, kind: main, width: stereo}}
outputs: [{{name: PA, from: Main, port: local out 1-2}}, {{name: Pack, from: Ears, port: local out 3}}]
chains: {{c: [{{eq: {{}}}}]}}
requests: [{{strip: Voice, chain: c, want: 9}}]
limits: {limits}
{more}
"""
    return plan_from(text, DESK, rate=rate, buffer=buffer)


# The buffer


@pytest.mark.parametrize(
    ("limits", "buffer", "why"),
    [
        # 222 + 280 = 502 frames 10.46 ms, 566 frames 11.79 ms, 694 frames 14.46 ms
        ("{ear_total_ms: 15}", 128, "the largest measured that keeps ears within the show's limits"),
        ("{ear_total_ms: 14.4}", 64, "the largest measured that keeps ears within the show's limits"),
        ("{ear_total_ms: 11.7}", 32, "the largest measured that keeps ears within the show's limits"),
        # added alone: 5.83, 7.17, 9.83 ms
        ("{ear_added_ms: 9.9}", 128, "the largest measured that keeps ears within the show's limits"),
        ("{ear_added_ms: 7.2}", 64, "the largest measured that keeps ears within the show's limits"),
        ("{ear_total_ms: 15, ear_added_ms: 6}", 32, "the largest measured that keeps ears within the show's limits"),
    ],
)
def test_an_open_buffer_is_the_largest_that_ears_accept(limits: str, buffer: int, why: str) -> None:
    """The limit decides, and the plan says how it was chosen."""
    plan = _plan(limits)
    (unit,) = plan.units
    assert (unit.buffer_frames, unit.why) == (buffer, why)
    assert "buffer-chosen" in [finding.code for finding in plan.findings]
    assert plan.line_map.loop("Voice").delay.low * 48000 == pytest.approx(16 + 200 + 2 * buffer)


@pytest.mark.parametrize("limit", ["ear_total_ms: 10.4", "ear_added_ms: 5.8"])
def test_a_loop_that_ears_accept_at_no_buffer_stays_in(limit: str) -> None:
    """502 frames in all and 280 added are the least there is: a want is refused with the figures."""
    plan = _plan(f"{{{limit}}}")
    (refusal,) = plan.allocation.refusals
    assert plan.allocation.loops == ()
    assert refusal.reason.startswith("it adds 5.83 ms for singer in Ears, and the show's limit of ")
    assert "ear-late" not in [finding.code for finding in plan.findings]


def test_without_a_limit_the_smallest_is_taken() -> None:
    """And it is said that no limit decided."""
    (unit,) = _plan().units
    assert (unit.buffer_frames, unit.why) == (32, "the smallest measured, since the show sets no limit for ears")


def test_ears_that_pass_no_loop_leave_the_choice_free() -> None:
    """The send before the insert is never late by the buffer: the largest is good."""
    assert _plan("{ear_added_ms: 1}", tap="before insert").units[0].buffer_frames == 128


@pytest.mark.parametrize("limits", ["{ear_total_ms: 16}", "{ear_total_ms: 16, ear_added_ms: 9}"])
def test_an_unknown_way_to_ears_makes_no_large_buffer_safe(limits: str) -> None:
    """Nobody knows how far the singer stands: the smallest is taken, and why, and nothing breaks."""
    (unit,) = _plan(limits, hears="{}").units
    assert unit.buffer_frames == 32
    assert unit.why == "the smallest measured, since a delay on the way to ears is unknown"


def test_what_loops_add_can_be_judged_on_an_unknown_way() -> None:
    """Only the part that loops add is limited, and that is known."""
    assert _plan("{ear_added_ms: 7.2}", hears="{}").units[0].buffer_frames == 64


def test_a_buffer_on_the_command_line_goes_before_all() -> None:
    """256 comes from the line 200 + 2·B, though the show says auto and its limit is crossed."""
    plan = _plan("{ear_total_ms: 11}", buffer=256)
    (unit,) = plan.units
    assert (unit.buffer_frames, unit.why, unit.time.basis) == (256, "", "line")
    assert unit.time.span.low * 48000 == pytest.approx(712)
    codes = [finding.code for finding in plan.findings]
    assert "ear-late" in codes
    assert "round-trip-guessed" in codes
    assert "buffer-chosen" not in codes


def test_a_buffer_that_the_show_fixes_stays() -> None:
    """Limits choose among open buffers only."""
    (unit,) = _plan("{ear_total_ms: 11}", unit=f"buffer: 128, measured: [{POINTS}]").units
    assert (unit.buffer_frames, unit.why) == (128, "")


def test_a_buffer_with_one_point_elsewhere_is_unknown_and_said() -> None:
    """Measured at 64 only, set to 128: no number anywhere on the loop, and a finding."""
    plan = _plan(unit="buffer: 128, measured: [{buffer: 64, rate: 48000, round_trip_frames: 328}]")
    assert not plan.line_map.loop("Voice").delay.known
    assert "round-trip-unknown" in [finding.code for finding in plan.findings]


def test_figures_of_another_rate_choose_the_buffer_and_are_said_to_be_such() -> None:
    """At 44.1 kHz with points at 48 kHz only: used, assumed, and a finding."""
    plan = _plan("{ear_total_ms: 20}", rate=44100)
    assert plan.units[0].time.basis == "other rate"
    assert "rate-unlike" in [finding.code for finding in plan.findings]


def test_nothing_measured_makes_no_buffer_and_no_number() -> None:
    """The plan is made, the loop's time is unknown."""
    plan = _plan("{ear_total_ms: 16}", unit="buffer: auto")
    assert plan.units[0].buffer_frames is None
    assert not plan.line_map.loop("Voice").delay.known


def test_openings_that_differ_are_said_and_stay_a_range() -> None:
    """Five openings at one buffer: 768 to 1280 frames on every time behind the loop, and no mean offered."""
    points = ", ".join(f"{{buffer: 64, rate: 48000, round_trip_frames: {n}}}" for n in (1024, 1024, 1280, 1024, 768))
    plan = _plan(unit=f"buffer: 64, measured: [{points}]")
    assert "round-trip-spread" in [finding.code for finding in plan.findings]
    times = plan.arrivals.times(plan.states[0])
    index = next(i for i, row in enumerate(plan.arrivals.rows) if row.place.name == "PA")
    assert times.high[index] - times.low[index] == pytest.approx(512 / 48000)


# States and findings


def test_states_are_all_that_can_happen_to_the_loops() -> None:
    """All IN, all OUT, each loop OUT, each group with loops OUT, each unit dead."""
    plan = _plan(more="bypass_groups: {voices: [Voice]}")
    found = [(state.name, state.kind, sorted(state.out), sorted(state.dead)) for state in plan.states]
    assert found == [
        ("all IN", "all in", [], []),
        ("all OUT", "all out", ["Voice"], []),
        ("Voice OUT", "loop out", ["Voice"], []),
        ("voices OUT", "group out", ["Voice"], []),
        ("laptop dead", "unit dead", [], ["Voice"]),
    ]


def test_a_box_that_passes_without_power_is_never_dead() -> None:
    """There is no state in which it silences anybody."""
    text = """
units: [{name: box, kind: hardware, out: local out 21, back: local in 21, delay_ms: 0, unpowered: passes}]
inputs: [{ch: 1, name: Voice, port: stage 1, to: [Main]}]
mixes: [{name: Main, kind: main, width: stereo}]
outputs: [{name: PA, from: Main, port: local out 1-2}]
requests: [{strip: Voice, unit: box, want: 9}]
"""
    assert "unit dead" not in [state.kind for state in plan_from(text, DESK).states]
    assert "box dead" in [state.name for state in plan_from(text.replace("passes", "unknown"), DESK).states]


def test_a_show_without_requests_is_planned_and_says_so() -> None:
    """No loop, no state but one, a note."""
    plan = plan_from(
        """
inputs: [{ch: 1, name: Voice, port: stage 1, to: [Main]}]
mixes: [{name: Main, kind: main, width: stereo}]
outputs: [{name: PA, from: Main, port: local out 1-2}]
""",
        DESK,
    )
    assert [state.name for state in plan.states] == ["all IN"]
    assert [finding.code for finding in plan.findings] == ["no-loops"]
    assert plan.steps == ()


def test_a_ring_is_an_error_of_the_plan_and_leaves_the_rest_planned() -> None:
    """Channel 31 carries what the box brings back and feeds the mix that goes out to it: named, without times."""
    plan = plan_from(
        """
units: [{name: box, kind: hardware, out: local out 15, back: local in 31, delay_ms: 0}]
inputs:
  - {ch: 1, name: Voice, port: stage 1, to: [Main]}
  - {ch: 31, name: Back, port: local in 31, to: [Band]}
mixes:
  - {name: Band, kind: group, width: mono, from: [Voice], to: [Main]}
  - {name: Main, kind: main, width: stereo}
outputs: [{name: PA, from: Main, port: local out 1-2}, {name: Send, from: Band, port: local out 15}]
""",
        theatre_desk(),
    )
    assert [finding.values for finding in plan.findings if finding.code == "ring"] == [
        "Back → Band → Send → box → Back"
    ]
    assert [row.route for row in plan.arrivals.rows if row.source == "Voice"] == [("Voice", "Main")]


def test_musts_that_conflict_make_no_plan() -> None:
    """The error carries the finding with the smallest set."""
    with pytest.raises(NoPlan) as raised:
        plan_from(
            """
units: [{name: box, kind: hardware, out: local out 21, back: local in 21, delay_ms: 0}]
inputs: [{ch: 1, name: A, port: stage 1, to: [Main]}, {ch: 2, name: B, port: stage 2, to: [Main]}]
mixes: [{name: Main, kind: main, width: stereo}]
outputs: [{name: PA, from: Main, port: local out 1-2}]
requests: [{strip: A, unit: box, want: must}, {strip: B, unit: box, want: must}]
""",
            DESK,
        )
    assert [finding.values for finding in raised.value.findings] == ["A, 1 wide; B, 1 wide"]


@given(st.integers(0, 10**6), st.integers(0, 10**6))
def test_the_order_of_the_file_changes_nothing_of_the_plan(seed: int, order: int) -> None:
    """Loops, refusals, settings, units, ears, steps, recovery and findings are equal, one by one."""
    desk = plain_desk(carriers=2)
    data = drawn(seed, unknowns=seed % 2 == 0)
    one = make_plan(show_of(data, desk), desk)
    other = make_plan(show_of(shuffled(data, random.Random(order)), desk), desk)
    for part in ("units", "states", "ears", "steps", "recovery"):
        assert getattr(one, part) == getattr(other, part), part
    for part in ("loops", "refusals", "settings", "spare"):
        assert getattr(one.allocation, part) == getattr(other.allocation, part), part
    assert [str(finding) for finding in one.findings] == [str(finding) for finding in other.findings]
