"""Worked shows, answered as they were by hand: the same choice, the reason of who stays in, and what flips it."""

from __future__ import annotations

from sidetrip.graph.linemap import PlacedLoop
from sidetrip.plan.answers import Answers
from sidetrip.plan.assign import Allocation, allocate
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.plan.reasons import Refusal
from smallshows import show_from, theatre_desk
from workedshows import CHAPEL, CLUB, EIGHT_PORTS, MUSICAL, SINGER, SUNDAY

DESK = theatre_desk()
RECORDER = "{ports: card out 1-24, for: recorder}"
MUSIC = "  - {name: Walk-in music, port: aux in 7-8, to: [Main]}"
WET = "{Lead vocal: {db: 0, tap: after insert}}"
DRY_STRIP = (
    "  - {ch: 2, name: Lead dry, port: stage 2, to: [Lead ears], device_ms: 3.0, hears: {singer: {m: 0}}}",
    "{Lead dry: {db: 0, tap: after insert}}",
)


def _found(text: str) -> Allocation:
    return allocate(show_from(text, DESK), DESK)


def _answers(text: str) -> Answers:
    found = Answers.of(show_from(text, DESK), DESK)
    assert found is not None
    return found


def _plan(text: str) -> Plan:
    return make_plan(show_from(text, DESK), DESK)


def _sheet(loops: tuple[PlacedLoop, ...]) -> dict[str, str]:
    return {loop.name: str(loop.returns) for loop in loops}


def _refusal(found: Allocation, strip: str) -> Refusal:
    (refusal,) = [refusal for refusal in found.refusals if refusal.strip == strip]
    return refusal


# Eight loop ports, two of them with playback


def test_main_and_voice_go_out_and_the_drums_keep_the_desks_compressor() -> None:
    """Playback on jacks 7-8 rules out the choice of all eight: main on 1-2, voice on 3, 4 spare, drums in."""
    found = _found(EIGHT_PORTS)
    assert _sheet(found.loops) == {"Main": "aux in 1-2", "Lead vocal": "aux in 3"}
    assert found.spare == ("aux in 4",)
    assert _refusal(found, "Drums").reason == (
        "an odd-even pair of ports is needed out and back, and none is left beside aux in 1-2 Main, aux in 3 Lead vocal"
    )


def test_the_main_falls_when_it_is_wanted_no_more_than_the_drums() -> None:
    """Nobody drilled the bypass of the main: wanted like the drums, it stays in; the next best says the same."""
    answers = _answers(EIGHT_PORTS)
    flip = next(flip for flip in answers.flips() if flip.strip == "Main")
    assert (flip.at, flip.instead.goes_out, flip.instead.stays_in) == (5, ("Drums (5)",), ("Main (8)",))
    runner_up = answers.runner_up()
    assert runner_up is not None
    assert (runner_up.goes_out, runner_up.stays_in) == (("Drums (5)",), ("Main (8)",))
    lowered = EIGHT_PORTS.replace("strip: Main, chain: c, want: 8", "strip: Main, chain: c, want: 4")
    assert set(_sheet(_found(lowered).loops)) == {"Lead vocal", "Drums"}


def test_with_playback_elsewhere_all_three_go_out() -> None:
    """The refusal names the move, and the show with it made serves all three in five of eight ports."""
    change = _refusal(_found(EIGHT_PORTS), "Drums").would_fit_if[0]
    assert change == "aux in 7-8 did not stay for playback and Playback moved to stick player 1-2"
    moved = EIGHT_PORTS.replace("port: aux in 7-8, to", "port: stick player 1-2, to")
    moved = moved.replace("{ports: aux in 7-8, for: playback}", "")
    found = _found(moved)
    assert _sheet(found.loops) == {"Main": "aux in 1-2", "Drums": "aux in 3-4", "Lead vocal": "aux in 5"}
    assert found.refusals == ()


# A chapel with a recorder on the same card


def _chapel(keep: str = RECORDER, music: str = "", way: str = "") -> str:
    return CHAPEL % {"keep": keep, "music": music, "way": way}


def test_the_stream_and_three_microphones_go_out_beside_the_recorder() -> None:
    """Stream on 1-2, lectern 3, headsets 4 and 5, 6 to 8 spare; sends on card out 25-32, tracks on 1-24."""
    found = _found(_chapel())
    assert _sheet(found.loops) == {
        "Stream": "aux in 1-2",
        "Lectern": "aux in 3",
        "Headset A": "aux in 4",
        "Headset B": "aux in 5",
    }
    assert found.spare == ("aux in 6", "aux in 7", "aux in 8")
    sends = {port.number for loop in found.loops for port in loop.unit_in.each}
    assert sends <= set(range(25, 33))
    assert found.refusals == ()


def test_twenty_eight_tracks_leave_no_block_for_the_sends() -> None:
    """No loop at all; the cheapest change is to drop the recorder to 24 tracks, the other is to go in-line."""
    found = _found(_chapel("{ports: card out 1-28, for: recorder}"))
    assert found.loops == ()
    for refusal in found.refusals:
        assert refusal.reason == "no free ports lead to laptop and back beside what stays for recorder"
        assert "card out 25-28 did not stay for recorder" in refusal.would_fit_if
    assert "it went in-line, with all of its block" in _refusal(found, "Lectern").would_fit_if
    assert "it went in-line, with all of its block" not in _refusal(found, "Stream").would_fit_if


def test_in_line_needs_no_jacks_but_takes_a_routing_page() -> None:
    """With 28 tracks three microphones can go in-line, the stream cannot; in one press none can."""
    keep = "{ports: card out 1-28, for: recorder}"
    found = _found(_chapel(keep, way=", way: in-line"))
    assert {loop.name: loop.way for loop in found.loops} == dict.fromkeys(
        ("Lectern", "Headset A", "Headset B"), "in-line"
    )
    found = _found(_chapel(keep, way=", way: in-line, one_press: yes"))
    assert found.loops == ()
    assert "this desk takes 4 presses" in _refusal(found, "Lectern").reason


def test_walk_in_music_moves_to_the_player() -> None:
    """On the jacks it costs headset B its loop, and the plan says where it could go; there, nobody stays in."""
    found = _found(_chapel(music=MUSIC))
    assert [refusal.strip for refusal in found.refusals] == ["Headset B"]
    assert "Walk-in music moved to stick player 1-2" in found.refusals[0].would_fit_if
    moved = MUSIC.replace("aux in 7-8", "stick player 1-2")
    assert _found(_chapel(music=moved)).refusals == ()


# A singer on in-ears


def _singer(wireless: float, pack: float, dry: str = "", sends: str = WET) -> str:
    return SINGER % {"wireless": wireless, "pack": pack, "dry": dry, "sends": sends}


def test_a_loop_on_the_singers_own_way_to_his_ears_is_refused() -> None:
    """Wireless or wired, the loop alone is too much; taken dry, it is none of the ears' business."""
    for wireless, pack in ((3.0, 3.5), (0.0, 0.3)):
        found = _found(_singer(wireless, pack))
        assert found.loops == ()
        (refusal,) = found.refusals
        assert refusal.reason.startswith("it adds 6.65 ms for singer in Lead ears, and the show's limit of 6 ms added")
        assert refusal.would_fit_if[0] == "Lead ears took it before insert"


def test_a_dry_strip_for_the_ears_lets_the_voice_go_out() -> None:
    """One strip more and no port: the house gets the loop, and loops add nothing to what the singer hears."""
    plan = _plan(_singer(3.0, 3.5, *DRY_STRIP))
    assert _sheet(plan.allocation.loops) == {"Lead vocal": "aux in 1"}
    (own,) = [delay for delay in plan.ears if delay.own]
    assert own.added_s == 0
    assert 7.0e-3 < own.in_s < 9.0e-3, "about 3.0 wireless, 1.2 desk and 3.5 pack"
    assert "ear-late" not in {finding.code for finding in plan.findings}


# Whole shows


def test_the_chapel_on_a_sunday() -> None:
    """Stream on 1-2, headsets on 3 and 4, jacks 5-8 live, sends on card out 25-28, and no want flips it."""
    plan = _plan(SUNDAY)
    found = plan.allocation
    assert _sheet(found.loops) == {"Stream": "aux in 1-2", "Headset 1": "aux in 3", "Headset 2": "aux in 4"}
    assert [str(setting.lost) for setting in found.settings if setting.jacks] == ["aux in 1-4"]
    assert {port.number for loop in found.loops for port in loop.unit_in.each} == {25, 26, 27, 28}
    assert (found.refusals, _answers(SUNDAY).flips()) == ((), ())


GROUP = "{strip: Voices, chain: c, want: 9}"
LEADS = [f"{{strip: Lead {n}, chain: c, want: 5}}" for n in (1, 2)]


def test_the_musical_sends_its_vocal_group_and_not_its_leads() -> None:
    """Two ports: the group takes both. That leads alone comb by spill is in the wants, and flips at equal ones."""
    text = MUSICAL % ", ".join([GROUP, *LEADS])
    found = _found(text)
    assert _sheet(found.loops) == {"Voices": "aux in 1-2"}
    assert {refusal.strip for refusal in found.refusals} == {"Lead 1", "Lead 2"}
    flip = next(flip for flip in _answers(text).flips() if flip.strip == "Voices")
    assert (flip.at, flip.instead.goes_out) == (5, ("Lead 1 (5)", "Lead 2 (5)"))


def test_a_lead_goes_out_with_whoever_hears_it_or_not_at_all_where_wants_are_equal() -> None:
    """Two ports, three equal wants: the leads that hear each other go together, whatever the chorus is called."""
    chorus = "{strip: Chorus 1, chain: c, want: 5}"
    assert set(_sheet(_found(MUSICAL % ", ".join([chorus, *LEADS])).loops)) == {"Lead 1", "Lead 2"}


def _club(tracks: str) -> str:
    return CLUB % tracks


def test_the_club_band_gives_up_jacks_that_its_tracks_do_not_need() -> None:
    """Tracks from the stage box: main, voice and drums go out in five of eight ports, and the ears hear a dry strip."""
    plan = _plan(_club("{ch: 7, name: Tracks, port: stage 7-8, to: [Main]}"))
    assert _sheet(plan.allocation.loops) == {"Main": "aux in 1-2", "Drums": "aux in 3-4", "Lead vocal": "aux in 5"}
    assert plan.allocation.spare == ("aux in 6", "aux in 7", "aux in 8")
    assert [delay.added_s for delay in plan.ears if delay.own] == [0]


def test_the_club_band_with_tracks_on_the_jacks_leaves_the_drums_in() -> None:
    """The same with tracks on aux in 7-8: four ports, drums in, and the move of the tracks is named."""
    found = _found(_club("{name: Tracks, port: aux in 7-8, to: [Main]}"))
    assert set(_sheet(found.loops)) == {"Main", "Lead vocal"}
    refusal = _refusal(found, "Drums")
    assert refusal.would_fit_if[0].startswith("Tracks moved to ")
