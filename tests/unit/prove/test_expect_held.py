"""What a take should show on a desk that holds copies back by itself, added up by hand in both states."""

from __future__ import annotations

import pytest

from sidetrip.plan.planner import make_plan
from sidetrip.prove.expect import expect, time_of
from smallshows import plain_desk, show_from

SHOW = """
units:
  - {{name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64,
     measured: [{{buffer: 64, rate: 48000, round_trip_frames: 300}}]}}
inputs:
  - {{ch: 1, name: Voice, port: stage 1, to: [Main]}}
  - {{ch: 2, name: Drum, port: stage 2, group: Drums}}
mixes:
  - {{name: Drums, kind: group, width: mono, to: [Main]}}
  - {{name: Main, kind: main, width: mono}}
outputs: [{{name: PA, from: Main, port: local out 1}}]
chains: {{dry: []}}
requests: [{{strip: Drums, chain: dry, want: must}}]
takes: [{{name: all, enter: stage 1-2, catch: [{{port: local out 9, strip: Main}}], state: {state}}}]
"""


@pytest.mark.parametrize(
    ("external", "state", "voice", "drum"),
    [
        ('"no"', "all IN", 58, 374),  # 30 + 8 + 4 it waits + 16; the drum 30 + 8 + 316 + 4 + 16
        ('"yes"', "all IN", 374, 374),  # it waits 4 + 316
        ('"no"', "all OUT", 58, 58),
        ('"yes"', "all OUT", 58, 58),
    ],
)
def test_a_held_copy_is_expected_when_the_desk_lets_it_go(external: str, state: str, voice: int, drum: int) -> None:
    """The voice waits at the main for the drum group, and for its loop only where loops are counted and it is IN."""
    line = f"compensation: [{{at: main, holds: channel, limit_frames: 2048, external_inserts: {external}}}]"
    desk = plain_desk(tail=line)
    plan = make_plan(show_from(SHOW.format(state=state), desk), desk)
    expected = expect(plan, plan.show.takes[0])
    times = {str(expected.entries[way.entry].port): time_of(plan, way, flat=True) for way in expected.ways}
    frames = {port: round(span.low * 48000, 6) for port, span in times.items()}
    assert frames == {"stage 1": voice, "stage 2": drum}
