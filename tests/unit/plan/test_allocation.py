"""Who goes out: strict wants, pairs, kept ports, the fewest ports lost, one answer, true reasons."""

import random

import pytest

from sidetrip.errors import NoPlan
from sidetrip.model.desk import Desk
from sidetrip.plan.assign import Allocation, allocate
from smallshows import plain_desk, show_from, theatre_desk

NESTED = """
  - feeds: aux in 1-{n}
    choices: [jacks{inner}, {{from: card in 1-{n}, covers: aux in 1-{n}}}]
  - {{feeds: card out 1-{n}, choices: [stage 1-{n}, aux out 1-{n}]}}
"""
ASK = {"mono": 1, "stereo": 2}


def nested_desk(carriers: int, *inner: int) -> Desk:
    """Return a desk whose return block can also bring back only its first ports."""
    choices = "".join(f", {{from: card in 1-{n}, covers: aux in 1-{n}}}" for n in inner)
    return plain_desk(carriers=carriers, blocks=NESTED.format(n=carriers, inner=choices))


def direct_desk(carriers: int) -> Desk:
    """Return a desk whose inserts run over the channels of the card themselves, each free for itself."""
    direct = f"  - {{send: card out 1-{carriers}, return: card in 1-{carriers}}}"
    return plain_desk(carriers=1, blocks="  - {feeds: aux in 1, choices: [jacks]}", more_carriers=direct)


def strips(*wishes: str, keep: str = "", unit: str = "", shuffle: int | None = None) -> str:
    """Write a show out of lines like "Voice mono 9" or "Keys stereo must 0.3", load at the end."""
    lines = [line.split() for line in wishes]
    places = {name: 2 * index + 1 for index, (name, *_) in enumerate(lines)}
    if shuffle is not None:
        random.Random(shuffle).shuffle(lines)
    inputs, requests, chains = [], [], set()
    for name, width, want, *load in lines:
        ch = places[name]
        port = f"stage {ch}" if width == "mono" else f"stage {ch}-{ch + 1}"
        own = load[0] if load else "0"
        chains.add(own)
        inputs.append(f"  - {{ch: {ch}, name: {name}, port: {port}, to: [Main]}}")
        requests.append(f"  - {{strip: {name}, chain: c{own}, want: {want}}}")
    return "\n".join(
        [
            f"units: [{{name: laptop, kind: computer, connects: card, aligns: per chain{unit}}}]",
            "inputs:",
            *inputs,
            "mixes: [{name: Main, kind: main, width: stereo}]",
            "outputs: [{name: PA, from: Main, port: local out 1-2}]",
            "chains: {" + ", ".join(f"c{own}: [{{eq: {{load: {own}}}}}]" for own in sorted(chains)) + "}",
            "requests:",
            *requests,
            f"keep: [{keep}]",
        ]
    )


def sheet(found: Allocation) -> dict[str, str]:
    """Return the return ports of each strip that goes out."""
    return {loop.strip: str(loop.returns) for loop in found.loops}


def _allocate(text: str, desk: Desk) -> Allocation:
    return allocate(show_from(text, desk), desk)


# Strict wants


def test_one_nine_is_never_traded_for_nine_eights() -> None:
    """The load has room for the one or for the nine."""
    wishes = ["Nine mono 9 0.9", *(f"Eight{n} mono 8 0.1" for n in range(9))]
    found = _allocate(strips(*wishes, unit=", load_limit: 0.9"), plain_desk(carriers=12))
    assert sheet(found) == {"Nine": "aux in 1"}
    assert len(found.refusals) == 9


def test_an_eight_decides_only_among_what_serves_the_nines() -> None:
    """Of two ways to serve the nine, the one that leaves room for the eight is taken, then the seven's turn comes."""
    wishes = ["A stereo 9", "B mono 8", "C stereo 7", "D mono 6"]
    found = _allocate(strips(*wishes), plain_desk(carriers=4))
    assert sheet(found) == {"A": "aux in 1-2", "B": "aux in 3", "D": "aux in 4"}


def test_a_must_goes_before_any_want() -> None:
    """One port: the must has it, the nine stays in and the refusal says beside whom."""
    found = _allocate(strips("Nine mono 9", "Must mono must"), plain_desk(carriers=1))
    assert sheet(found) == {"Must": "aux in 1"}
    (refusal,) = found.refusals
    assert refusal.reason == "a port is needed out and back, and none is left beside aux in 1 Must"


# Ports and pairs


def test_a_kept_port_costs_its_pair() -> None:
    """Six ports, the second kept, three pairs wanted: two fit, on 3-4 and 5-6, and the third hears why."""
    keep = "{ports: card in 2, for: playback}"
    found = _allocate(strips("A stereo 5", "B stereo 5", "C stereo 5", keep=keep), direct_desk(6))
    assert sheet(found) == {"A": "card in 3-4", "B": "card in 5-6"}
    (refusal,) = found.refusals
    assert refusal.strip == "C"
    assert refusal.reason.startswith("an odd-even pair of ports is needed out and back")
    assert refusal.would_fit_if[0] == "card in 2 did not stay for playback"
    assert "it were mono" in refusal.would_fit_if


def test_two_pairs_and_a_mono_beside_a_kept_port_have_one_answer() -> None:
    """The mono takes the odd port left of the broken pair, the pairs 3-4 and 5-6."""
    keep = "{ports: card in 2, for: playback}"
    found = _allocate(strips("Mono mono 5", "Left stereo 5", "Right stereo 5", keep=keep), direct_desk(6))
    assert sheet(found) == {"Mono": "card in 1", "Left": "card in 3-4", "Right": "card in 5-6"}
    assert found.refusals == ()


def test_pairs_sit_on_odd_and_even_with_monos_around_them() -> None:
    """A mono never takes the first of a pair that a stereo loop needs."""
    wishes = ["A mono 9", "B stereo 5", "C mono 9", "D stereo 5"]
    found = _allocate(strips(*wishes), plain_desk(carriers=6))
    assert sheet(found) == {"B": "aux in 1-2", "D": "aux in 3-4", "A": "aux in 5", "C": "aux in 6"}
    assert all(loop.send.odd_even and loop.unit_in.odd_even for loop in found.loops if loop.legs == 2)


@pytest.mark.parametrize(("asked", "lost"), [(1, 2), (2, 2), (3, 4), (4, 4), (5, 8)])
def test_no_more_jacks_are_lost_than_needed(asked: int, lost: int) -> None:
    """Of the nested choices 1-2, 1-4 and 1-8 the smallest that carries all is taken."""
    found = _allocate(strips(*(f"S{n} mono 5" for n in range(asked))), nested_desk(8, 2, 4))
    assert len(found.loops) == asked
    assert [len(setting.lost) for setting in found.settings if setting.jacks] == [lost]


def test_a_want_is_worth_any_number_of_jacks() -> None:
    """A want of 1 opens the whole block."""
    found = _allocate(strips(*(f"S{n} mono 9" for n in range(4)), "Last mono 1"), nested_desk(8, 2, 4))
    assert len(found.loops) == 5


def test_nobody_asks_and_nothing_changes() -> None:
    """Without requests no block is touched and nothing is spare that was not before."""
    text = "units: [{name: laptop, kind: computer, connects: card}]"
    found = _allocate(text, plain_desk())
    assert (found.loops, found.refusals, found.settings, found.spare) == ((), (), (), ())


def test_ports_open_to_the_unit_and_unused_are_spare() -> None:
    """Four ports brought back, three used."""
    found = _allocate(strips("A stereo 5", "B mono 5"), nested_desk(8, 2, 4))
    assert found.spare == ("aux in 4",)


# The published small case


WORKED = """
units: [{{name: computer, kind: computer, connects: card, aligns: per chain, buffer: 64,
  measured: [{{buffer: 64, rate: 48000, round_trip_frames: 301}}]}}]
inputs:
  - {{ch: 1, name: Lead vocal, port: stage 1, to: [Main]}}
  - {{ch: 2, name: Kick, port: stage 2, group: Drums}}
{playback}
mixes:
  - {{name: Drums, kind: group, width: stereo, to: [Main]}}
  - {{name: Main, kind: main, width: stereo}}
outputs: [{{name: PA, from: Main, port: local out 1-2}}]
chains: {{c: [{{eq: {{}}}}]}}
requests:
  - {{strip: Drums, chain: c, want: 5}}
  - {{strip: Main, chain: c, want: must}}
  - {{strip: Lead vocal, chain: c, want: 9}}
keep: [{keep}]
"""


def test_the_published_case_of_eight_loop_ports() -> None:
    """Playback needs aux in 7-8, which leaves 1-4: main on 1-2, lead vocal on 3, 4 spare, drums stay in.

    Common practice, no source: choices of none, 1-2, 1-4 or 1-8 on a block of eight ports that carry inserts.
    """
    playback = "  - {name: Playback, port: aux in 7-8, to: [Main]}"
    text = WORKED.format(playback=playback, keep="{ports: aux in 7-8, for: playback}")
    found = _allocate(text, theatre_desk())
    assert sheet(found) == {"Main": "aux in 1-2", "Lead vocal": "aux in 3"}
    assert found.spare == ("aux in 4",)
    (refusal,) = found.refusals
    assert refusal.strip == "Drums"
    assert any(change.startswith("aux in 7-8 did not stay for playback") for change in refusal.would_fit_if)
    assert [str(setting.lost) for setting in found.settings if setting.jacks] == ["aux in 1-4"]


def test_the_published_case_with_playback_moved_away() -> None:
    """All three fit in five of the eight ports."""
    found = _allocate(WORKED.format(playback="", keep=""), theatre_desk())
    assert sheet(found) == {"Main": "aux in 1-2", "Drums": "aux in 3-4", "Lead vocal": "aux in 5"}
    assert found.refusals == ()


# One answer


def test_ten_runs_give_one_sheet() -> None:
    """Twelve carriers, ten equal mono wants, ten runs with the lists in ten orders: one and the same sheet."""
    desk = plain_desk(carriers=12)
    wishes = [f"Strip{n} mono 5" for n in range(10)]
    runs = [_allocate(strips(*wishes, shuffle=run), desk) for run in range(10)]
    assert runs == [runs[0]] * 10
    assert sheet(runs[0]) == {f"Strip{n}": f"aux in {n + 1}" for n in range(10)}


def test_equal_wants_go_by_name_and_it_is_said() -> None:
    """Two of three fit: the first two names, and a finding that says so."""
    found = _allocate(strips("C mono 5", "A mono 5", "B mono 5"), plain_desk(carriers=2))
    assert sheet(found) == {"A": "aux in 1", "B": "aux in 2"}
    ties = [finding.values for finding in found.findings if finding.code == "tie"]
    assert ties == ["want 5: out A, B; in C"]


def test_what_the_load_decided_is_no_tie() -> None:
    """The heavy chain cannot run in place of the light one, whatever its name."""
    text = strips("Heavy mono 5 0.5", "Light mono 5 0.1", unit=", load_limit: 0.2")
    found = _allocate(text, plain_desk())
    assert sheet(found) == {"Light": "aux in 1"}
    assert [finding.code for finding in found.findings] == ["request-refused"]


def test_a_mono_and_a_pair_that_compete_for_the_last_ports_are_a_tie() -> None:
    """Either could go out: the name decided though their widths differ."""
    found = _allocate(strips("A mono 5", "B stereo 5"), plain_desk(carriers=2))
    assert sheet(found) == {"A": "aux in 1"}
    assert "tie" in [finding.code for finding in found.findings]


# Musts that conflict


def test_three_musts_for_two_pairs_name_all_three() -> None:
    """None of the three is to blame alone; a kept port whose freeing would help is named with them."""
    desk = direct_desk(6)
    keep = "{ports: card in 2, for: playback}"
    text = strips("A stereo must", "B stereo must", "C stereo must", "D mono must", keep=keep)
    with pytest.raises(NoPlan) as raised:
        _allocate(text, desk)
    (finding,) = raised.value.findings
    assert finding.values == "A, 2 wide; B, 2 wide; C, 2 wide"
    assert finding.what.endswith("they could, if card in 2 did not stay for playback")


def test_a_must_that_nothing_can_serve_is_named_alone() -> None:
    """A return strip has no insert point; other musts are not dragged in."""
    desk = plain_desk(more_ports="  - {name: tape in, direction: in, count: 2, jacks: yes, strip: return}")
    text = strips("A mono must").replace("mixes:", "  - {name: Tape, port: tape in 1, to: [Main]}\nmixes:")
    text = text.replace("keep:", "  - {strip: Tape, chain: c0, want: must}\nkeep:")
    with pytest.raises(NoPlan) as raised:
        _allocate(text, desk)
    assert [finding.what for finding in raised.value.findings] == [
        "'Tape' must go out, but a return strip of this desk has no insert point"
    ]


def test_the_load_can_be_what_musts_conflict_over() -> None:
    """Two chains of 0.3 on a unit of 0.5; a third that is light is not named."""
    text = strips("A mono must 0.3", "B mono must 0.3", "C mono must 0.1", unit=", load_limit: 0.5")
    with pytest.raises(NoPlan) as raised:
        _allocate(text, plain_desk())
    (finding,) = raised.value.findings
    assert finding.values == "A, 1 wide; B, 1 wide"
