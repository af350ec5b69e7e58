"""Meetings in every planned state, at unknown levels, and with what is said of them."""

import math

import pytest

from catalogue.kit import L, body, frames, judged, loop, only
from showtext import findings_of, looped
from sidetrip.graph.arrivals import State
from sidetrip.plan.crossover import loss_db, octave_loss_db, off_a_cycle, sides
from sidetrip.plan.gap import Gap
from sidetrip.plan.image import image_of, shift_words
from sidetrip.plan.meeting_remarks import meeting_findings
from sidetrip.plan.tolerance import instrument_of, rating_words

VOX = "{ch: 1, name: Vox, port: stage 1, to: [Dry, Wet]}"
DRY, WET = (f"{{name: {name}, kind: group, width: mono, to: [Main]}}" for name in ("Dry", "Wet"))
BOTH = loop("Wet"), loop("Dry", 2)


# States


def test_the_worst_planned_state_is_the_one_with_the_widest_spread() -> None:
    """Blank loops of 301 frames on both: with Dry OUT 301 apart; a delay of 100 frames more on Wet makes that 401."""
    dry, wet, both = (
        State(f"{'+'.join(out)} OUT", "loop out", out=frozenset(out)) for out in (["Dry"], ["Wet"], ["Dry", "Wet"])
    )
    text = body(VOX, DRY, WET.replace("width", f"delay_ms: {100 / 48}, width"))
    one = only(judged(text, *BOTH, states=(dry, wet, both)))
    assert one.worst_state == "Dry OUT"
    assert one.gap_worst is not None and frames(one.gap_worst.typical) == L + 100
    assert one.apart_in == ("all IN", "all OUT", "Dry OUT", "Wet OUT", "Dry+Wet OUT")
    assert frames(one.gap_in.typical) == 100


def test_a_cue_in_which_one_of_two_loops_is_out_is_a_warning() -> None:
    """The show runs in a cue, so what is apart there is heard; a loop taken OUT by hand is only told."""
    cue = State("cue 12", "cue", out=frozenset(["Dry"]))
    by_hand = State("Wet OUT", "loop out", out=frozenset(["Wet"]))
    one = only(judged(body(VOX, DRY, WET), *BOTH, states=(by_hand, cue)))
    assert (one.verdict, one.cues_apart, one.apart_in) == ("together", ("cue 12",), ("Wet OUT", "cue 12"))
    (finding,) = meeting_findings((one,), groups={"both": ("Dry", "Wet")})
    assert finding.code == "heard-twice"
    assert "cue 12" in finding.what + finding.values and "same cue" in finding.remedy


def test_a_dead_unit_silences_and_moves_nothing() -> None:
    """Both ways of the voice are gone with it: no state of the dead unit is apart."""
    dead = State("laptop dead", "unit dead", dead=frozenset(["Dry", "Wet"]))
    one = only(judged(body(VOX, DRY, WET), *BOTH, states=(dead,)))
    assert one.apart_in == ()


def test_a_plan_names_the_state_and_a_bypass_group_settles_it() -> None:
    """From a show file: two looped groups of one voice are told, and are not once one key takes both OUT."""
    text = looped(
        "[{strip: Dry, chain: thin, want: 5}, {strip: Wet, chain: thin, want: 5}]",
        inputs="[{name: Vox, ch: 1, port: stage 1, to: [Dry, Wet]}]",
        mixes="[{name: Dry, kind: group, width: mono, to: [Main]}, {name: Wet, kind: group, width: mono, to: [Main]}, "
        "{name: Main, kind: main, width: stereo}]",
    )
    (found,) = [own for own in findings_of(text) if own.code == "heard-twice-out"]
    assert "Dry OUT" in found.what + found.values
    grouped = text + "bypass_groups: {voices: [Dry, Wet]}\n"
    assert "heard-twice-out" not in [own.code for own in findings_of(grouped)]


# Levels


def test_an_unknown_level_leaves_open_what_is_apart_in_time() -> None:
    """6.27 ms apart at a level that nobody knows: cannot tell, the send is named, and where the first dip would be."""
    main = "{name: Main, kind: main, width: stereo, from: {Dry: {db: 0}, Wet: {db: unknown}}}"
    groups = [own.replace(", to: [Main]", "") for own in (DRY, WET)]
    one = only(judged(body(VOX, *groups, main), loop("Wet")))
    assert (one.gap_in.verdict, one.gap_out.verdict) == ("cannot tell", "together")
    assert one.deciding == "the level of Wet to Main"
    assert "6.27 ms apart" in one.sentence
    assert one.first_null_hz == pytest.approx(79.73, abs=0.005)


# Where it is heard


@pytest.mark.parametrize(
    ("low", "high", "db", "image"),
    [
        (0.002, 0.002, 0, "one"),
        (-0.002, -0.002, 0, "two"),
        (0.0009, 0.0009, 0, ""),  # both share a place
        (0.031, 0.031, 0, ""),  # an echo
        (0.02, 0.02, 10, "two"),
        (-0.02, -0.02, -10, "one"),
        (0.002, 0.029, 0, "one"),
        (0.002, 0.04, 0, ""),
        (-0.002, 0.002, 0, ""),
        (0.02, 0.02, None, ""),
    ],
)
def test_the_first_has_the_place_unless_the_later_is_much_stronger(
    low: float, high: float, db: float | None, image: str
) -> None:
    """From 1 to 30 ms, and only where the whole range says the same."""
    assert image_of(Gap(low, high, "together"), "one", "two", db) == image


def test_a_shift_of_the_image_is_said_once() -> None:
    """Nothing where it stays or cannot be told."""
    assert shift_words("PA", "PA") == shift_words("", "PA") == shift_words("PA", "") == ""
    assert "from PA while the loops are IN, from Fill when all are OUT" in shift_words("PA", "Fill")


# Crossovers


@pytest.mark.parametrize(("ms", "off"), [(0, False), (1.5, False), (6.27, False), (11, True), (12.5, True), (25, True)])
def test_a_cycle_off_is_told_from_being_together(ms: float, off: bool) -> None:
    """At 80 Hz a cycle is 12.5 ms: within an eighth of that, one or more cycles away."""
    assert off_a_cycle(ms / 1000, 80) is off
    assert off_a_cycle(-ms / 1000, 80) is off


def test_around_the_crossover_a_cycle_costs_more_than_at_it() -> None:
    """Nothing at 80 Hz, and a hole half an octave away; nothing anywhere without a spread."""
    assert loss_db(1 / 80, 80) == pytest.approx(0, abs=1e-9)
    assert octave_loss_db(1 / 80, 80) < -2
    assert octave_loss_db(0, 80) == pytest.approx(0, abs=1e-9)
    assert loss_db(1 / 160, 80) == -math.inf


@pytest.mark.parametrize(("kind", "order"), [("linkwitz-riley", 3), ("butterworth", 0)])
def test_an_order_that_an_alignment_has_not_is_refused(kind: str, order: int) -> None:
    """The alignment, the order and what to give."""
    assert kind in ("linkwitz-riley", "butterworth")
    with pytest.raises(ValueError, match=rf"no {kind} crossover of order {order}\. Give"):
        sides("butterworth" if kind == "butterworth" else "linkwitz-riley", order, 90, 90)
    with pytest.raises(ValueError, match="Give a time"):
        loss_db(math.nan, 90)


# Ratings


@pytest.mark.parametrize(
    ("names", "instrument"),
    [
        (("singer", "Lead vocal"), "voice"),
        (("drummer",), "drums"),
        (("kick", "Bass drum"), "drums"),
        (("keys", "Piano"), "keyboard"),
        (("bass", "guitar"), None),
        (("violin",), None),
    ],
)
def test_names_tell_an_instrument_or_none(names: tuple[str, ...], instrument: str | None) -> None:
    """Where two are named, or none of the study, nothing is guessed."""
    assert instrument_of(*names) == instrument


def test_ratings_are_words_and_never_a_verdict() -> None:
    """Good, fair, below fair; an unknown delay has only the table's figures."""
    assert rating_words("drums", "in-ear", 0.008).endswith("this is good")
    assert rating_words("drums", "in-ear", 0.0081).endswith("this is fair")
    assert rating_words("drums", "in-ear", 0.025).endswith("this is below fair")
    assert rating_words("drums", "in-ear", math.inf).endswith("fair up to 24.5 ms")
    assert rating_words("violin", "in-ear", 0.001) == rating_words(None, "wedge", 0.001) == ""
