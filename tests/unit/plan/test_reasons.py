"""Who goes out and why in worked cases, written out as shows of our own; and each kind of change by itself.

The numbers of the cases (ports, blocks, tracks, milliseconds) are common practice, no source.
"""

from dataclasses import replace

import pytest

from sidetrip.errors import NoPlan
from sidetrip.model.desk import Desk
from sidetrip.plan.allocation import build_program, solve
from sidetrip.plan.answers import Answers
from sidetrip.plan.assign import Allocation, allocate
from sidetrip.plan.options import find_options
from sidetrip.plan.reasons import Explainer, Refusal
from sidetrip.plan.ways import survey
from smallshows import plain_desk, show_from, theatre_desk

LAPTOP = """
units: [{name: laptop, kind: computer, connects: card, aligns: per chain, buffer: 64,
  measured: [{buffer: 64, rate: 48000, round_trip_frames: 301}]}]
"""
CHAINS = "chains: {c: [{eq: {}}]}\n"


def _sheet(found: Allocation) -> dict[str, str]:
    return {loop.strip: str(loop.returns) for loop in found.loops}


def _refusal(found: Allocation, strip: str) -> Refusal:
    (refusal,) = [refusal for refusal in found.refusals if refusal.strip == strip]
    return refusal


def _answers(text: str, desk: Desk) -> Answers:
    found = Answers.of(show_from(text, desk), desk)
    assert found is not None
    return found


def _flips(text: str, desk: Desk) -> dict[str, int]:
    return {flip.strip: flip.at for flip in _answers(text, desk).flips()}


# Eight ports, playback on the last two


EIGHT = f"""{LAPTOP}
inputs:
  - {{ch: 1, name: Lamplighter, port: stage 1, to: [Main]}}
  - {{ch: 2, name: Kick, port: stage 2, group: Drums}}
  - {{name: Playback, port: aux in 7-8, to: [Main]}}
mixes:
  - {{name: Drums, kind: group, width: stereo, to: [Main]}}
  - {{name: Main, kind: main, width: stereo}}
outputs: [{{name: PA, from: Main, port: local out 1-2}}]
{CHAINS}
requests:
  - {{strip: Main, chain: c, want: 7}}
  - {{strip: Lamplighter, chain: c, want: 9}}
  - {{strip: Drums, chain: c, want: 3}}
keep: [{{ports: aux in 7-8, for: playback}}]
"""


def test_eight_ports_with_playback_on_the_last_two() -> None:
    """Main on 1-2, the voice on 3, 4 spare; the drums hear that playback could move, and where to."""
    show, desk = show_from(EIGHT, theatre_desk()), theatre_desk()
    found = allocate(show, desk)
    assert _sheet(found) == {"Main": "aux in 1-2", "Lamplighter": "aux in 3"}
    assert found.spare == ("aux in 4",)
    drums = _refusal(found, "Drums")
    assert drums.reason.startswith("an odd-even pair of ports is needed out and back")
    assert drums.would_fit_if == (
        "aux in 7-8 did not stay for playback and Playback moved to stick player 1-2",
        "it were mono",
        "'Main' stayed in",
        "'Lamplighter' stayed in",
    )


def test_eight_ports_the_next_best_is_the_drums_in_place_of_the_main() -> None:
    """Voice and drums is the runner-up; it wins when the main is wanted no more than the drums, or they as much.

    The voice flips too: wanted no more than the drums, it leaves its port to them.
    """
    answers = _answers(EIGHT, theatre_desk())
    other = answers.runner_up()
    assert other is not None
    assert (other.goes_out, other.stays_in, other.ports) == (("Drums (3)",), ("Main (7)",), 0)
    assert _flips(EIGHT, theatre_desk()) == {"Main": 3, "Drums": 7, "Lamplighter": 3}


def test_eight_ports_with_playback_moved_as_said_all_three_go_out() -> None:
    """The change goes into the text as it was named."""
    text = EIGHT.replace("port: aux in 7-8", "port: stick player 1-2").replace("{ports: aux in 7-8, for: playback}", "")
    found = allocate(show_from(text, theatre_desk()), theatre_desk())
    assert _sheet(found).keys() == {"Main", "Lamplighter", "Drums"}


# A chapel: three speech microphones, a stream, a recorder of 24 tracks on the same card


CHAPEL = f"""{LAPTOP}
inputs:
  - {{ch: 1, name: Lectern, port: stage 1, to: [Main]}}
  - {{ch: 2, name: Headset A, port: stage 2, to: [Main]}}
  - {{ch: 3, name: Headset B, port: stage 3, to: [Main]}}
{{music}}
mixes:
  - {{{{name: Main, kind: main, width: stereo}}}}
  - {{{{name: Stream, kind: matrix, width: stereo, from: [Main]}}}}
outputs:
  - {{{{name: PA, from: Main, port: local out 1-2}}}}
  - {{{{name: Encoder, from: Stream, port: local out 7-8}}}}
chains: {{{{c: [{{{{eq: {{{{}}}}}}}}]}}}}
requests:
  - {{{{strip: Stream, chain: c, want: 9}}}}
  - {{{{strip: Lectern, chain: c, want: 8}}}}
  - {{{{strip: Headset A, chain: c, want: 7}}}}
  - {{{{strip: Headset B, chain: c, want: 6}}}}
keep: [{{{{ports: card out 1-{{tracks}}, for: recorder}}}}{{kept}}]
"""


def _chapel(*, tracks: int = 24, music: bool = False) -> str:
    text = CHAPEL.replace("{{", "{").replace("}}", "}")
    line = "  - {name: Walk-in, port: aux in 7-8, to: [Main]}" if music else ""
    kept = ", {ports: aux in 7-8, for: walk-in music}" if music else ""
    return text.replace("{music}", line).replace("{tracks}", str(tracks)).replace("{kept}", kept)


def test_a_chapel_with_twenty_four_tracks_has_room_for_all_loops() -> None:
    """The stream on 1-2, lectern 3, headsets 4 and 5, 6 to 8 spare; the recorder keeps 1-24."""
    found = allocate(show_from(_chapel(), theatre_desk()), theatre_desk())
    ports = {"Stream": "aux in 1-2", "Lectern": "aux in 3", "Headset A": "aux in 4", "Headset B": "aux in 5"}
    assert _sheet(found) == ports
    assert found.spare == ("aux in 6", "aux in 7", "aux in 8")
    assert [str(setting.lost) for setting in found.settings if not setting.jacks] == ["card out 25-32"]


def test_a_chapel_with_twenty_eight_tracks_hears_which_of_them_are_in_the_way() -> None:
    """The block of the sends no longer fits and nobody goes out: four tracks fewer serve, or a block of eight less.

    A microphone would go in-line too, with the whole block that it sits in.
    """
    found = allocate(show_from(_chapel(tracks=28), theatre_desk()), theatre_desk())
    assert found.loops == ()
    parts = [f"card out {run} did not stay for recorder" for run in ("25-28", "1-8", "9-16", "17-24")]
    assert _refusal(found, "Stream").would_fit_if == tuple(parts)
    assert _refusal(found, "Lectern").would_fit_if == ("it went in-line, with all of its block", *parts)


def test_a_chapel_with_walk_in_music_on_the_jacks_sends_it_to_the_stick_player() -> None:
    """Four ports are left for five legs: the least wanted stays in, and the music has somewhere else to play from."""
    found = allocate(show_from(_chapel(music=True), theatre_desk()), theatre_desk())
    assert set(_sheet(found)) == {"Stream", "Lectern", "Headset A"}
    in_line, *changes = _refusal(found, "Headset B").would_fit_if
    assert in_line == "it went in-line, with all of its block"
    assert changes[0] == "aux in 7-8 did not stay for walk-in music and Walk-in moved to stick player 1-2"
    assert changes[1:] == ["'Headset A' stayed in", "'Lectern' stayed in", "'Stream' stayed in"]


# A singer with ears on the same desk


def _singer(*, double: bool = False, tap: str = "before fader") -> str:
    dry = "  - {ch: 2, name: Lead dry, port: stage 2, device_ms: 3}" if double else ""
    ears = "Lead dry: {db: 0}" if double else f"Lead: {{db: 0, tap: {tap}}}"
    return f"""{LAPTOP}
inputs:
  - {{ch: 1, name: Lead, port: stage 1, device_ms: 3, to: [Main]}}
{dry}
mixes:
  - {{name: Ears, kind: aux, width: mono, for: singer, listens: in-ear, device_ms: 3.5, from: {{{ears}}}}}
  - {{name: Main, kind: main, width: stereo}}
outputs: [{{name: PA, from: Main, port: local out 1-2}}, {{name: Pack, from: Ears, port: local out 9}}]
{CHAINS}
requests: [{{strip: Lead, chain: c, want: 9}}]
limits: {{ear_total_ms: 12}}
"""


def test_a_singers_ears_keep_the_voice_in_until_they_take_it_dry() -> None:
    """The loop makes the ears later than 12 ms: the strip stays in, and another tap of the ears would serve it."""
    found = allocate(show_from(_singer(), theatre_desk()), theatre_desk())
    refusal = _refusal(found, "Lead")
    assert "Ears" in refusal.reason
    assert "ms" in refusal.reason
    assert "Ears took it before insert" in refusal.would_fit_if


@pytest.mark.parametrize("text", [_singer(double=True), _singer(tap="before insert")])
def test_a_singer_patched_twice_or_tapped_dry_goes_out(text: str) -> None:
    """A second strip for the ears, or the tap that was named: the voice has its loop."""
    found = allocate(show_from(text, theatre_desk()), theatre_desk())
    assert set(_sheet(found)) == {"Lead"}


# Whole shows: only who goes out


def test_a_chapel_with_a_stream_keeps_its_playback_jacks() -> None:
    """The stream on 1-2, headsets on 3 and 4, jacks 5 to 8 live, tracks 1-24 the recorder's."""
    text = f"""{LAPTOP}
inputs:
  - {{ch: 2, name: Headset 1, port: stage 2, to: [Main]}}
  - {{ch: 3, name: Headset 2, port: stage 3, to: [Main]}}
  - {{name: Playback, port: aux in 5-6, to: [Main]}}
  - {{name: Video, port: aux in 7-8, to: [Main]}}
mixes: [{{name: Main, kind: main, width: stereo}}, {{name: Stream, kind: matrix, width: stereo, from: [Main]}}]
outputs: [{{name: PA, from: Main, port: local out 1-2}}, {{name: Encoder, from: Stream, port: local out 7-8}}]
{CHAINS}
requests:
  - {{strip: Stream, chain: c, want: 9}}
  - {{strip: Headset 1, chain: c, want: 8}}
  - {{strip: Headset 2, chain: c, want: 8}}
keep: [{{ports: card out 1-24, for: recorder}}]
"""
    found = allocate(show_from(text, theatre_desk()), theatre_desk())
    assert _sheet(found) == {"Stream": "aux in 1-2", "Headset 1": "aux in 3", "Headset 2": "aux in 4"}
    assert [str(setting.lost) for setting in found.settings if setting.jacks] == ["aux in 1-4"]


def test_a_musical_sends_its_voices_as_one_group() -> None:
    """The stereo group of the voices goes out whole, at the price of two jacks, and no lead has a loop of its own."""
    leads = "\n".join(f"  - {{ch: {n}, name: Role {n}, port: stage {n}, group: Voices}}" for n in range(1, 25))
    text = f"""{LAPTOP}
inputs:
{leads}
mixes: [{{name: Voices, kind: group, width: stereo, to: [Main]}}, {{name: Main, kind: main, width: stereo}}]
outputs: [{{name: PA, from: Main, port: local out 1-2}}]
{CHAINS}
requests: [{{strip: Voices, chain: c, want: 9}}]
"""
    found = allocate(show_from(text, theatre_desk()), theatre_desk())
    assert _sheet(found) == {"Voices": "aux in 1-2"}
    assert [str(setting.lost) for setting in found.settings if setting.jacks] == ["aux in 1-2"]


def test_a_club_band_gives_up_its_jacks_for_all_three() -> None:
    """Main, drums and lead go out: the tracks come from the stage box, so that the jacks are free to give up."""
    text = EIGHT.replace("port: aux in 7-8", "ch: 31, port: stage 31-32").replace(
        "{ports: aux in 7-8, for: playback}", ""
    )
    found = allocate(show_from(text, theatre_desk()), theatre_desk())
    assert set(_sheet(found)) == {"Main", "Lamplighter", "Drums"}
    assert found.refusals == ()


# Single changes


FOUR = """
units: [{{name: laptop, kind: computer, connects: card, aligns: per chain}}]
inputs:
  - {{ch: 1, name: A, port: stage 1, to: [Main]}}
  - {{ch: 2, name: B, port: stage 2, to: [Main]}}
  - {{ch: 3, name: Keys, port: stage 3-4, to: [Main]}}
mixes: [{{name: Main, kind: main, width: stereo}}]
outputs: [{{name: PA, from: Main, port: local out 1-2}}]
chains: {{c: [{{eq: {{}}}}]}}
requests:
  - {{strip: A, chain: c, want: 9{pin}}}
  - {{strip: Keys, chain: c, want: 5}}
  - {{strip: B, chain: c, want: 8{other}}}
"""


def test_a_pin_that_stands_in_the_way_is_named() -> None:
    """Two pins break both pairs; either left open would serve the stereo strip."""
    pins = {
        "pin": ", ports: {send: aux out 1, return: aux in 1}",
        "other": ", ports: {send: aux out 3, return: aux in 3}",
    }
    desk = plain_desk(carriers=4)
    changes = _refusal(allocate(show_from(FOUR.format(**pins), desk), desk), "Keys").would_fit_if
    assert "'A' could take other ports than aux in 1" in changes
    assert "'B' could take other ports than aux in 3" in changes
    left = FOUR.format(pin="", other=pins["other"])
    assert "Keys" in _sheet(allocate(show_from(left, desk), desk))


def test_a_pin_of_its_own_is_named() -> None:
    """Its ports are taken by a higher want; any other would do."""
    pin = ", ports: {send: aux out 1, return: aux in 1}"
    desk = plain_desk(carriers=4)
    found = allocate(show_from(FOUR.format(pin=pin, other=pin), desk), desk)
    assert _refusal(found, "B").would_fit_if[0] == "its ports were left open"


def test_an_input_without_any_other_place_is_said_to_have_none() -> None:
    """Every channel of the desk is taken and no return strip is free: the input would have to go."""
    channels = "\n".join(f"  - {{ch: {n}, name: In {n}, port: stage {n}, to: [Main]}}" for n in range(1, 33))
    first, second = (
        "  - {ch: 1, name: Lamplighter, port: stage 1, to: [Main]}\n",
        "  - {ch: 2, name: Kick, port: stage 2",
    )
    assert first + second in EIGHT
    text = EIGHT.replace(first + second + ", group: Drums}", channels.replace("In 1,", "Lamplighter,"))
    text = text.replace("{name: Playback", "{name: Stick, port: stick player 1-2, to: [Main]}\n  - {name: Playback")
    found = allocate(show_from(text, theatre_desk()), theatre_desk())
    assert _refusal(found, "Drums").would_fit_if[0] == (
        "aux in 7-8 did not stay for playback and Playback moved off aux in 7-8 (no port that it could take is free)"
    )


def test_two_changes_together_are_named_where_one_is_not_enough() -> None:
    """A pair of ports holds two single loops, and each of them alone would leave half of it: mono in one's place."""
    desk = plain_desk(carriers=2)
    refusal = _refusal(allocate(show_from(FOUR.format(pin="", other=""), desk), desk), "Keys")
    assert refusal.would_fit_if == ()
    assert set(refusal.pair) == {"it were mono", "'B' stayed in"}
    assert refusal.words.startswith("No single change serves it; it would go out if ")


def test_what_a_protected_path_passes_is_served_by_nothing() -> None:
    """Talkback feeds the main: no port, no pair and nobody's staying in helps, and it is said how much was tried."""
    text = EIGHT.replace("want: 3}", "want: 3}\nnever: [Lamplighter]")
    found = allocate(show_from(text, theatre_desk()), theatre_desk())
    refusal = _refusal(found, "Main")
    assert refusal.would_fit_if == ()
    assert refusal.pair == ()
    assert refusal.words == f"None of {refusal.tried} changes tried, single and in pairs, would serve it: leave it in"


def test_musts_that_conflict_hear_where_an_input_could_go() -> None:
    """All three must go out: the playback stands in the way, and there is a place for it."""
    text = EIGHT.replace("want: 7", "want: must").replace("want: 9", "want: must").replace("want: 3", "want: must")
    with pytest.raises(NoPlan) as caught:
        allocate(show_from(text, theatre_desk()), theatre_desk())
    assert "Playback moved to stick player 1-2" in caught.value.findings[0].what


def test_one_refusal_explained_alone_is_as_among_all() -> None:
    """Asked for one strip only, the same is said as when everybody is explained."""
    desk = plain_desk(carriers=4)
    lines = "\n".join(f"  - {{strip: In {n}, chain: c, want: {1 + n % 9}}}" for n in range(1, 13))
    inputs = "\n".join(
        f"  - {{ch: {2 * n - 1}, name: In {n}, port: stage {2 * n - 1}{f'-{2 * n}' if n % 3 == 0 else ''}, to: [Main]}}"
        for n in range(1, 13)
    )
    head = FOUR.format(pin="", other="").partition("inputs:")[0]
    text = f"{head}inputs:\n{inputs}\nmixes: [{{name: Main, kind: main, width: stereo}}]\n"
    text += f"outputs: [{{name: PA, from: Main, port: local out 1-2}}]\n{CHAINS}requests:\n{lines}\n"
    show = show_from(text, desk)
    ground = survey(show, desk)
    options = find_options(show, desk, ground)
    choice = solve(build_program(show, desk, ground, options), options, ground, desk)
    assert choice is not None
    found = allocate(show, desk)
    for refusal in found.refusals:
        request = show.request(refusal.strip)
        assert request is not None
        alone = Explainer(show, desk, ground, options, choice, found.loops, request).explain(request)
        assert replace(alone, tried=0) == replace(refusal, tried=0)
