"""Measured figures into the show: what is written, what is left out, and that the plan then says what was measured."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import pytest
from proof_show import proof_text

from proofs_heard import proof_of
from showtext import DEMO_TEXT, codes, desk
from sidetrip.application.stand_in import rig_of
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.prove.adopt import Adopted, adopt
from sidetrip.prove.expect import Expected, expect
from sidetrip.prove.proof import LegProof, Proof
from sidetrip.rig.network import Rig, drifting, inverted, swapped
from sidetrip.showfile.check_show import check_show
from sidetrip.showfile.read import read_show

RATE = 48_000
TRUE = {"Strip 1": 500.0, "Strip 2": 612.4, "Strip 3": 331.0, "Strip 4": 331.0}
"""What each loop's unit takes by itself, in frames: two boxes, then the laptop twice."""

BY_JACKS, BY_CARD = 20 + 24, 4 + 5 + 5 + 4
"""The desk's part of a loop by its hops."""


def _text(laptop: str = "[]", box: str = "7", more: str = "") -> str:
    """Return a show that knows little of its units, of which the first box and the laptop can be told more."""
    text = proof_text(4, 1, True)
    start, end = text.index("measured: ["), text.index("inputs:")
    units = (
        f"measured: {laptop}}}\n"
        f"  - {{name: box 1, kind: hardware, out: local out 13, back: local in 29, delay_ms: {box}}}\n"
        "  - {name: box 2, kind: hardware, out: local out 14, back: local in 30, delay_ms: unknown}\n"
    )
    return text[:start] + units + more + text[end:]


def _planned(text: str) -> tuple[Plan, Expected]:
    show = read_show(text, "show.yaml").show
    assert [str(one) for one in check_show(show, desk()) if one.severity == "error"] == []
    plan = make_plan(show, desk())
    return plan, expect(plan, show.takes[0])


def _true_rig() -> Rig:
    """Return the rig as it is, whatever the show says of it."""
    plan, expected = _planned(_text())
    rig = rig_of(plan, expected, RATE)
    boxes = (
        replace(box, delay_frames=TRUE[box.name[:7]] + (BY_JACKS if number < 2 else BY_CARD))
        for number, box in enumerate(sorted(rig.boxes, key=lambda box: box.name))
    )
    named = {box.name: box for box in boxes}
    return replace(rig, boxes=tuple(named[box.name] for box in rig.boxes))


@cache
def _proof(text: str = "") -> Proof:
    plan, expected = _planned(text or _text())
    return proof_of(plan, expected, _true_rig())


def _adopted(text: str, proof: Proof | None = None) -> Adopted:
    """Return what adopting gives, once the result has been found to plan again."""
    plan, _ = _planned(text)
    done = adopt(plan, proof or _proof(), text)
    assert done.changed == (done.text != text)
    _planned(done.text)
    return done


def _new(old: str, new: str) -> list[str]:
    """Return the lines that are other ones now, or new."""
    before = old.splitlines()
    return [line.strip() for line in new.splitlines() if line not in before]


def _with_legs(proof: Proof, change: Callable[[LegProof], LegProof]) -> Proof:
    return replace(proof, legs=tuple(change(leg) for leg in proof.legs))


def _verdict(proof: Proof, loop: str, question: str, verdict: str) -> Proof:
    """Return the proof with another verdict on one question about one loop."""

    def change(leg: LegProof) -> LegProof:
        rows = tuple(
            replace(row, verdict=verdict) if row.question == question else row  # type: ignore[arg-type]
            for row in leg.rows
        )
        return replace(leg, rows=rows) if leg.loop == loop else leg

    return _with_legs(proof, change)


def _later(proof: Proof, loop: str, frames: float) -> Proof:
    def change(leg: LegProof) -> LegProof:
        assert leg.delay_s is not None
        return replace(leg, delay_s=leg.delay_s + frames / RATE) if leg.loop == loop else leg

    return _with_legs(proof, change)


def _said(done: Adopted) -> dict[str, str]:
    return {finding.where.removeprefix("units / "): f"{finding.code}: {finding.what}" for finding in done.findings}


# what is written


def test_every_unit_gets_its_time_with_its_day_and_state() -> None:
    """A point of the laptop at its buffer and rate, whole frames; both boxes in ms, the second no whole number."""
    text = _text()
    done = _adopted(text)
    assert codes(done.findings) == ["adopted"]
    day = 'standing: proven, when: "2026-11-25", state: "take all, flat"}'
    assert _new(text, done.text) == [
        "- {name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64, measured: "
        '[{buffer: 64, rate: 48000, round_trip_frames: {is: 331, standing: proven}, when: "2026-11-25", '
        'state: "take all, flat"}]}',
        f"- {{name: box 1, kind: hardware, out: local out 13, back: local in 29, delay_ms: {{is: 10.416667, {day}}}",
        f"- {{name: box 2, kind: hardware, out: local out 14, back: local in 30, delay_ms: {{is: 12.758333, {day}}}",
    ]
    assert len(done.text.splitlines()) == len(text.splitlines())
    units = _planned(done.text)[0].show.units
    point = units[0].measured[0]
    assert (point.buffer, point.rate, point.when, point.state) == (64, 48_000, "2026-11-25", "take all, flat")
    assert (point.round_trip_frames.low, point.round_trip_frames.standing) == (331.0, "proven")


@pytest.mark.parametrize(
    ("late", "frames"),
    [(0.0, "331"), (0.015, "331"), (-0.015, "331"), (0.03, "331.03"), (-0.5, "330.5"), (0.123456, "331.123")],
)
def test_frames_are_whole_when_they_nearly_are(late: float, frames: str) -> None:
    """Within a fiftieth of a frame the digital loop's whole number is written, else three decimals."""
    proof = _later(_later(_proof(), "Strip 3", late), "Strip 4", late)
    assert f"round_trip_frames: {{is: {frames}, " in _adopted(_text(), proof).text


@pytest.mark.parametrize(
    "hops", ["", "hops: [{from: insert, to: [aux out, local out], frames: 9}, {from: stage, to: channel, frames: 1}]"]
)
def test_the_plan_then_says_what_was_measured(hops: str) -> None:
    """Even where the desk's own part is wrong in the plan, each loop as a whole comes out as it was measured."""
    text = _text().replace("theatre desk}", f"theatre desk, {hops}}}" if hops else "theatre desk}")
    proof = _proof(text)
    plan, _ = _planned(_adopted(text, proof).text)
    for leg in proof.legs:
        assert leg.delay_s is not None
        span = plan.line_map.loop(leg.loop).delay
        assert span.low * RATE == pytest.approx(leg.delay_s * RATE, abs=0.01)
        assert span.high == pytest.approx(span.low)
    assert {unit.time.span.standing for unit in plan.units} == {"proven"}


def test_a_chain_that_is_bypassed_or_not_is_no_part_of_the_unit() -> None:
    """Flat, nothing of the chain is in the measured loop; as used, what it declares is taken off."""
    chained = "want: must, unit: laptop, chain: slow}"
    text = _text(more="chains: {slow: [{limiter: {lookahead_frames: 64}}]}\n").replace(
        "want: must, unit: laptop}", chained
    )
    assert "round_trip_frames: {is: 331, " in _adopted(text).text
    used = replace(_later(_later(_proof(), "Strip 3", 64), "Strip 4", 64), processors="as used")
    done = _adopted(text.replace("reference: card out 1", "reference: card out 1\n    processors: as used"), used)
    assert "round_trip_frames: {is: 331, " in done.text
    assert 'state: "take all, as used"' in done.text


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("7", '{is: 10.416667, standing: proven, when: "2026-11-25", state: "take all, flat"}'),
        ("unknown", '{is: 10.416667, standing: proven, when: "2026-11-25", state: "take all, flat"}'),
        ("2 to 4", '{is: 10.416667, standing: proven, when: "2026-11-25", state: "take all, flat"}'),
        ("{is: 3}", '{is: 10.416667, standing: proven, when: "2026-11-25", state: "take all, flat"}'),
        (
            "{standing: assumed, is: 3}",
            '{standing: proven, is: 10.416667, when: "2026-11-25", state: "take all, flat"}',
        ),
        ("{is: unknown}", '{is: 10.416667, standing: proven, when: "2026-11-25", state: "take all, flat"}'),
        (
            "{is: 3, standing: proven, when: 2026-11-20, state: shop}",
            '{is: 10.416667, standing: proven, when: "2026-11-25", state: "take all, flat"}',
        ),
        (
            "{is: 3, source: its leaflet}",
            '{is: 10.416667, source: measured, standing: proven, when: "2026-11-25", state: "take all, flat"}',
        ),
    ],
)
def test_a_box_is_written_however_its_figure_was_spelled(old: str, new: str) -> None:
    """A plain number, a range, unknown, or a figure with its standing: it becomes the measured one in its place."""
    text = _text(box=old)
    done = _adopted(text)
    assert f"delay_ms: {new}}}\n" in done.text
    assert len(_new(text, done.text)) == 3


def test_a_box_without_a_figure_gets_one() -> None:
    """A key that is not there is added at the end of the unit."""
    text = _text().replace("back: local in 29, delay_ms: 7}", "back: local in 29}")
    assert "back: local in 29, delay_ms: {is: 10.416667, " in _adopted(text).text


def test_the_demo_is_changed_in_one_line_for_each_figure() -> None:
    """The laptop's point stands below its others, the compressor's figure where it stood; comments stay."""
    plan, expected = _planned(DEMO_TEXT)
    proof = proof_of(plan, expected, rig_of(plan, expected, RATE))
    for text in (DEMO_TEXT, DEMO_TEXT.replace("\n", "\r\n")):
        done = adopt(plan, proof, text)
        assert codes(done.findings) == ["adopted"]
        before, after = text.splitlines(keepends=True), done.text.splitlines(keepends=True)
        at = next(number for number, line in enumerate(before) if "valve compressor" in line)
        assert after[:at] == before[:at]
        assert after[at].startswith("      - {buffer: 64, rate: 48000, round_trip_frames: {is: 331, standing: proven}")
        assert after[at + 1].startswith(before[at].partition("delay_ms")[0] + "delay_ms: {is: 0, standing: proven")
        assert after[at + 2 :] == before[at + 1 :]


def test_another_point_at_the_same_buffer_makes_a_range() -> None:
    """An older figure stays, and the plan then carries both, never a mean."""
    text = _text(laptop="[{buffer: 64, rate: 48000, round_trip_frames: 340, when: 2026-11-01}]")
    plan, _ = _planned(_adopted(text).text)
    span = plan.line_map.loop("Strip 3").delay
    assert span.low * RATE == pytest.approx(331 + BY_CARD)
    assert span.high * RATE == pytest.approx(340 + BY_CARD)


# nothing twice


def test_nothing_is_written_twice_on_one_day() -> None:
    """The same figures again, or but for what noise makes of them, leave the text as it is."""
    once = _adopted(_text())
    for late in (0.0, 0.004, -0.004):
        proof = _proof()
        for loop in TRUE:
            proof = _later(proof, loop, late)
        again = _adopted(once.text, proof)
        assert again.text == once.text
        assert not again.changed
        assert {finding.what for finding in again.findings} == {"The show already holds today's figure"}


def test_on_another_day_the_box_is_replaced_and_the_laptop_has_two() -> None:
    """Each opening of a computer is a figure of its own; a box has one time."""
    once = _adopted(_text()).text
    done = _adopted(once, replace(_proof(), when="2026-11-26T09:00:00+00:00"))
    assert done.changed
    units = _planned(done.text)[0].show.units
    assert [point.when for point in units[0].measured] == ["2026-11-25", "2026-11-26"]
    assert [unit.delay_ms.when for unit in units[1:] if unit.delay_ms] == ["2026-11-26", "2026-11-26"]


def test_another_time_on_the_same_day_is_written() -> None:
    """A second opening that is a frame later is no repetition."""
    once = _adopted(_text()).text
    done = _adopted(once, _later(_later(_proof(), "Strip 3", 1), "Strip 4", 1))
    points = _planned(done.text)[0].show.units[0].measured
    assert [point.round_trip_frames.low for point in points] == [331.0, 332.0]


# what is left out


def test_loops_that_disagree_give_no_figure() -> None:
    """Two loops of the laptop a frame apart: neither is right for the unit, and both are told."""
    done = _adopted(_text(), _later(_proof(), "Strip 4", 1))
    assert _said(done)["laptop"] == "not-adopted: Nothing was written for this unit: its loops do not agree on one time"
    assert [finding.values for finding in done.findings if finding.code == "not-adopted"] == ["331.00, 332.00 frames"]
    assert len(_new(_text(), done.text)) == 2


def test_what_is_wired_wrongly_inverted_or_drifting_gives_no_figure() -> None:
    """An inverted box, one on a clock of its own, and two returns exchanged: nothing is written at all."""
    plan, expected = _planned(_text())
    rig = swapped(drifting(inverted(_true_rig(), 0), 1, 50), 2, 3)
    done = _adopted(_text(), proof_of(plan, expected, rig))
    assert not done.changed
    why = "not-adopted: Nothing was written for this unit: no loop of it gave a delay that can be trusted"
    assert _said(done) == {"laptop": why, "box 1": why, "box 2": why}


@pytest.mark.parametrize(
    ("question", "verdict"),
    [
        ("right return", "fail"),
        ("right return", "look"),
        ("polarity", "fail"),
        ("clock", "cannot tell"),
        ("dropouts", "look"),
        ("response", "fail"),
        ("response", "look"),
    ],
)
def test_one_sound_loop_is_enough_and_the_other_is_not_asked(question: str, verdict: str) -> None:
    """A loop that is not in order is left out; the laptop's other loop tells the time."""
    proof = _verdict(_later(_proof(), "Strip 4", 25), "Strip 4", question, verdict)
    done = _adopted(_text(), proof)
    assert "round_trip_frames: {is: 331, " in done.text
    both = _adopted(_text(), _verdict(proof, "Strip 3", question, verdict))
    assert _said(both)["laptop"].startswith("not-adopted")


def test_without_a_reference_nothing_is_adopted() -> None:
    """There are no delays, so no figures."""
    text = _text().replace("    reference: card out 1\n", "")
    done = _adopted(text, _proof(text))
    assert not done.changed
    assert codes(done.findings) == ["not-adopted"]


def test_a_buffer_that_is_not_known_is_asked_for() -> None:
    """A round trip without its buffer means nothing."""
    text = _text().replace("buffer: 64", "buffer: auto")
    done = _adopted(text, _proof(text))
    assert _said(done)["laptop"].endswith("it is not known which buffer was set")
    assert [finding.remedy for finding in done.findings if finding.code == "not-adopted"] == ["Say it: --buffer FRAMES"]
    assert len(_new(text, done.text)) == 2


def test_a_unit_faster_than_nothing_is_no_time_or_no_figure() -> None:
    """Up to half a frame too early, the unit takes no time; beyond, the desk's part must be wrong."""
    proof = _later(_proof(), "Strip 1", -TRUE["Strip 1"] - 0.3)
    assert "delay_ms: {is: 0, standing: proven" in _adopted(_text(), proof).text
    assert _said(_adopted(_text(), _later(proof, "Strip 1", -0.4)))["box 1"].startswith("not-adopted")


def test_a_unit_without_a_loop_in_the_take_is_not_spoken_of() -> None:
    """What was not asked is neither written nor left out."""
    plan, _ = _planned(_text())
    proof = replace(_proof(), legs=tuple(leg for leg in _proof().legs if leg.unit == "box 1"))
    assert list(_said(adopt(plan, proof, _text()))) == ["box 1"]


def test_a_text_that_would_have_to_be_rewritten_is_left_alone() -> None:
    """A unit whose points are no list there gets nothing, and the reason."""
    plan, _ = _planned(_text())
    text = _text().replace("measured: []", "measured: nothing")
    done = adopt(plan, _proof(), text)
    assert _said(done)["laptop"].endswith("the show is written in a way that would have to be rewritten")
    assert len(_new(text, done.text)) == 2


def test_the_rig_of_these_tests_is_what_it_says() -> None:
    """The proof that all of this rests on gives the true times."""
    for leg in _proof().legs:
        assert leg.delay_s is not None
        by = BY_JACKS if leg.unit.startswith("box") else BY_CARD
        assert leg.delay_s * RATE == pytest.approx(TRUE[leg.loop] + by, abs=0.01)
