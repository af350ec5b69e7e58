"""The window: smallest that holds to largest that is accepted, each computer its own, and what to give up."""

from __future__ import annotations

import functools

import pytest

from blocklogs import configuration, pauses, quiet_log
from showtext import desk, looped
from sidetrip.hold.advice import ALLOWED_PER_SHOW, SHOW_S, Advice, UnitAdvice, advise
from sidetrip.hold.evidence import BlockLog
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.showfile.read import read_show
from smallshows import plain_desk, show_from

_EARS = (
    "[{name: Main, kind: main, width: stereo}, {name: Ears, kind: aux, width: mono, for: Vox, listens: in-ear, "
    "device_ms: 1, from: {Vox: {db: 0, tap: after insert}}}]"
)


def _laptop(more: str = "") -> str:
    points = ", ".join(f"{{buffer: {b}, rate: 48000, round_trip_frames: {203 + 2 * b}}}" for b in (32, 64, 128))
    head = "name: laptop, kind: computer, connects: card, aligns: per chain, buffer: auto"
    return f"[{{{head}, measured: [{points}]{more}}}]"


@functools.cache
def _plan(text: str) -> Plan:
    return make_plan(read_show(text, "show.yaml").show, desk())


def _show(*, limits: str = "{ear_total_ms: 14}", units: str | None = None, **more: str) -> Plan:
    return _plan(looped(units=units or _laptop(), mixes=_EARS, limits=limits, **more))


def _only(advice: Advice) -> UnitAdvice:
    (own,) = advice.units
    return own


def _codes(advice: Advice) -> list[str]:
    return sorted(finding.code for finding in advice.findings)


def _clean(hours: float, buffer: int = 64) -> BlockLog:
    return quiet_log(hours, of=configuration(buffer))


def test_the_largest_that_ears_accept_is_advised() -> None:
    """203 + 2·B frames and 14 ms for ears: 128 frames are in, 256 are not; nothing is known of whether it holds."""
    advice = advise(_show(), [])
    own = _only(advice)
    assert (own.advised, own.largest, own.smallest) == (128, 128, None)
    best = own.at(128)
    assert best is not None and best.holds == "unknown" and best.overruns is None
    late = own.at(256)
    assert late is not None and not late.accepted
    assert late.objections[0].key == "ear_total_ms"
    assert late.objections[0].seconds > late.objections[0].limit_s == pytest.approx(0.014)
    assert _codes(advice) == ["evidence-none"]


def test_hours_enough_prove_it_by_counting() -> None:
    """Ten clean hours at the buffer itself support less than one overrun in a 3 h show."""
    own = _only(advise(_show(), [_clean(10, 128)]))
    best = own.at(128)
    assert best is not None and best.holds == "proven"
    assert own.smallest == 128
    assert own.hours == 0
    assert not own.empty


def test_evidence_of_another_buffer_is_only_assumed() -> None:
    """Ten clean hours at 64 frames say something of 128, but prove it there only."""
    own = _only(advise(_show(), [_clean(10, 64)]))
    at = {buffer: own.at(buffer) for buffer in (64, 128)}
    assert at[64] is not None and at[64].holds == "proven"
    assert at[128] is not None and at[128].holds == "assumed"
    assert own.smallest == 64
    assert own.advised == 128
    assert own.hours == pytest.approx(3 * 2.9957, abs=0.01)


def test_little_evidence_says_how_much_more() -> None:
    """An hour at the buffer leaves up to nine in a show: not shown, and eight more clean hours would."""
    advice = advise(_show(), [_clean(1, 128)])
    own = _only(advice)
    best = own.at(128)
    assert best is not None and best.holds == "unknown"
    assert own.hours == pytest.approx(3 * 2.9957 - 1, abs=0.01)
    assert "not-held" in _codes(advice)
    assert "evidence-refused" in _codes(advice)


def test_evidence_of_a_larger_buffer_does_not_reach_down() -> None:
    """What was late at 1024 frames is not all that would be late at 64: nothing is claimed."""
    own = _only(advise(_show(), [_clean(20, 1024)]))
    small = own.at(64)
    assert small is not None and small.overruns is None and small.holds == "unknown"


def test_an_empty_window_names_the_limit_to_give_up() -> None:
    """Pauses of 7 ms overrun up to 512 frames, ears accept 128: the window is empty, and it says what stands against
    1024."""
    log = quiet_log(10, pauses(60, 0.007, over_s=36000), of=configuration(64))
    advice = advise(_show(), [log])
    own = _only(advice)
    assert own.empty
    assert (own.smallest, own.largest) == (1024, 128)
    assert {one.key for one in own.give_up} == {"ear_total_ms"}
    finding = next(finding for finding in advice.findings if finding.code == "window-empty")
    assert "Vox in the ears of Vox" in finding.remedy
    assert "1024" in finding.values and "128" in finding.values


def test_a_short_clean_log_empties_no_window() -> None:
    """An hour at 128 frames does not prove 128, but nothing speaks against it: more hours are asked for, no limit."""
    own = _only(advise(_show(), [_clean(1, 128), quiet_log(20, of=configuration(256), started="2026-11-21T19:30:00")]))
    assert own.smallest == 256 and own.largest == 128
    best = own.at(128)
    assert best is not None and not best.fails
    assert not own.empty and own.give_up == ()


def test_a_show_may_allow_more() -> None:
    """Sixty overruns a show at 128 frames hold where the show allows a hundred."""
    log = quiet_log(10, pauses(60, 0.007, over_s=36000), of=configuration(128))
    own = _only(advise(_show(limits="{ear_total_ms: 14, overruns_per_show: 100}"), [log]))
    assert own.allowed == 100
    assert not own.empty
    best = own.at(128)
    assert best is not None and best.holds != "unknown"


def test_where_nothing_limits_it_the_largest_is_safe() -> None:
    """A unit that reaches no ears and no picture: nobody hears it late, so take the largest."""
    own = _only(advise(_plan(looped(units=_laptop())), []))
    assert own.advised == 1024
    assert own.reach.ears == () and own.reach.pictures == ()


def test_a_picture_limits_it_too() -> None:
    """With its picture 0 ms late an encoder takes sound up to 125 ms late (ITU-R BT.1359-1), and no more."""
    outputs = "[{name: PA, from: Main, port: local out 1-2, picture_delay_ms: 0, device_ms: 100}]"
    own = _only(advise(_plan(looped(units=_laptop(), outputs=outputs)), []))
    assert own.reach.pictures == ("PA",)
    late = own.at(1024)
    assert late is not None
    assert [one.kind for one in late.objections] == ["picture"]
    assert late.objections[0].limit_s == pytest.approx(0.125)
    assert own.advised == 256


def test_an_unmeasured_computer_cannot_be_advised_for_ears() -> None:
    """Without a round trip nobody knows what ears get: no buffer is accepted, and it is said why."""
    units = "[{name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64}]"
    own = _only(advise(_show(units=units), []))
    assert own.advised is None and own.largest is None
    assert own.fixed == 64


_TWO = """
units:
  - {name: ear box, kind: computer, connects: card, aligns: per chain, load_limit: 0.3, measured: [POINTS]}
  - {name: band box, kind: computer, connects: tab, aligns: per chain, load_limit: 0.3, measured: [POINTS]}
inputs:
  - {ch: 1, name: A, port: stage 1, to: [Main]}
  - {ch: 2, name: B, port: stage 2, to: [Main]}
mixes:
  - {name: Main, kind: main, width: stereo}
  - {name: Ears, kind: aux, width: mono, for: A, listens: in-ear, device_ms: 1, from: {A: {db: 0, tap: after insert}}}
outputs: [{name: PA, from: Main, port: local out 1-2}]
chains: {c: [{eq: {load: 0.2}}]}
requests: [{strip: A, chain: c, want: 5, unit: ear box}, {strip: B, chain: c, want: 5, unit: band box}]
limits: {ear_total_ms: 14}
"""


def test_different_computers_may_want_different_buffers() -> None:
    """One computer on the way to ears, another that no ears hear: small for one, as large as can be for the other."""
    points = ", ".join(f"{{buffer: {b}, rate: 48000, round_trip_frames: {203 + 2 * b}}}" for b in (32, 64, 128))
    on = plain_desk(
        carriers=2,
        blocks="  - {feeds: aux in 1-2, choices: [jacks]}",
        more_ports="""
  - {name: tab in, direction: in, count: 8, jacks: no}
  - {name: tab out, direction: out, count: 8, jacks: no}
""",
        more_carriers="  - {send: card out 1-8, return: card in 1-8}\n  - {send: tab out 1-8, return: tab in 1-8}",
        more_connections="  - {name: tab, out: tab out, back: tab in}",
    )
    plan = make_plan(show_from(_TWO.replace("POINTS", points), on), on)
    assert {loop.strip: loop.unit for loop in plan.allocation.loops} == {"A": "ear box", "B": "band box"}
    own = {one.unit: one for one in advise(plan, []).units}
    assert own["ear box"].advised == 128
    assert own["band box"].advised == 1024


def test_the_rate_can_be_asked_for() -> None:
    """At 96 kHz the period is half as long at the same buffer, and what is not measured there is a range."""
    own = _only(advise(_show(), [], rate=96000))
    best = own.at(64)
    assert best is not None
    assert best.trip.basis == "other rate"
    assert best.trip.low_s is not None and best.trip.high_s is not None
    assert best.trip.low_s < best.trip.high_s


def test_other_rates_that_were_measured_are_told_too() -> None:
    """A unit with points at two rates is advised for the show's, and for the other beside it."""
    points = ", ".join(
        f"{{buffer: {b}, rate: {rate}, round_trip_frames: {203 + 2 * b}}}"
        for rate in (48000, 96000)
        for b in (32, 64, 128)
    )
    units = f"[{{name: laptop, kind: computer, connects: card, aligns: per chain, measured: [{points}]}}]"
    advice = advise(_show(units=units), [])
    assert [own.rate for own in advice.units] == [48000]
    assert [own.rate for own in advice.elsewhere] == [96000]
    assert (advice.elsewhere[0].largest or 0) > (advice.units[0].largest or 0)


def test_one_more_chain_is_told() -> None:
    """A chain of 20 % on top of a load of 35 %: 55 %, over a limit of a half, and pauses that held no longer do."""
    plan = _show(units=_laptop(", load_limit: 0.5"), chains="{thin: [{black box: {delay_frames: 0, load: 0.2}}]}")
    log = quiet_log(10, pauses(5, 0.0016, over_s=36000), of=configuration(128))
    own = _only(advise(plan, [log]))
    more, now = own.more, own.at(128)
    assert now is not None and now.overruns is not None and now.overruns.seen == 0
    assert more is not None and more.chain == "thin"
    assert more.share == pytest.approx(0.55)
    assert not more.fits
    assert more.overruns is not None and more.overruns.seen == 5


def test_what_is_reported_is_told_apart() -> None:
    """A driver that reports 0 frames is called impossible; what was measured is used."""
    plan = _show(units=_laptop(", reported: [{buffer: 64, rate: 48000, frames: 0}]"))
    advice = advise(plan, [])
    (claim,) = _only(advice).claims
    assert claim.impossible and claim.measured == (331, 331)
    assert "reported-impossible" in _codes(advice)


def test_a_show_without_a_length_counts_as_three_hours() -> None:
    """What is not said is assumed: 3 h, and one overrun allowed."""
    own = _only(advise(_show(), []))
    assert own.show_s == SHOW_S
    assert own.allowed == ALLOWED_PER_SHOW
    assert _only(advise(_show(length="2h"), [])).show_s == 7200
