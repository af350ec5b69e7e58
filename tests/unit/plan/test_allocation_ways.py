"""Ways out other than any port of the card: pins, boxes on jacks, outputs, protected paths."""

import pytest

from sidetrip.errors import NoPlan
from sidetrip.model.desk import Desk
from sidetrip.plan.assign import Allocation, allocate
from smallshows import plain_desk, show_from

DESK = plain_desk(carriers=6)
SHOW = """
units:
  - {{name: laptop, kind: computer, connects: card, aligns: per chain{unit}}}
  - {{name: box, kind: hardware, out: local out 21-22, back: local in 21-22, delay_ms: 1}}
inputs:
  - {{ch: 1, name: Voice, port: stage 1, to: [Main]}}
  - {{ch: 2, name: Bass, port: stage 2, to: [Main]}}
  - {{ch: 3, name: Keys, port: stage 3-4, to: [Main]}}
  - {{ch: 5, name: Click, port: stage 5, to: [Ears]}}
mixes:
  - {{name: Ears, kind: aux, width: mono}}
  - {{name: Main, kind: main, width: stereo}}
outputs:
  - {{name: PA, from: Main, port: local out 1-2}}
  - {{name: Side, from: Main, port: local out 3-4}}
  - {{name: Pack, from: Ears, port: local out 5}}
chains: {{c: [{{eq: {{}}}}]}}
requests:
{requests}
{more}
"""


def _show(*requests: str, more: str = "", unit: str = "") -> str:
    lines = "\n".join(f"  - {{{request}}}" for request in requests)
    return SHOW.format(requests=lines, more=more, unit=unit)


def _allocate(*requests: str, more: str = "", unit: str = "", desk: Desk = DESK) -> Allocation:
    return allocate(show_from(_show(*requests, more=more, unit=unit), desk), desk)


def _sheet(found: Allocation) -> dict[str, str]:
    return {loop.name: str(loop.returns) for loop in found.loops}


def _pin(ports: str) -> str:
    return f"ports: {{send: aux out {ports}, return: aux in {ports}}}"


# Pins


def test_a_pin_is_taken_at_its_word_and_others_go_around_it() -> None:
    """Voice on 3, the pair on 1-2, the bass beside the pin on 4."""
    found = _allocate(
        f"strip: Voice, chain: c, want: 5, {_pin('3')}",
        "strip: Bass, chain: c, want: 9",
        "strip: Keys, chain: c, want: 9",
    )
    assert _sheet(found) == {"Voice": "aux in 3", "Keys": "aux in 1-2", "Bass": "aux in 4"}


def test_the_ports_of_a_pin_that_stays_in_are_free() -> None:
    """Two ports, a pair that must and a single pinned to one of them: the pair has both."""
    desk = plain_desk(carriers=2)
    found = _allocate(f"strip: Voice, chain: c, want: 5, {_pin('1')}", "strip: Keys, chain: c, want: must", desk=desk)
    assert _sheet(found) == {"Keys": "aux in 1-2"}
    assert found.refusals[0].strip == "Voice"


def test_a_pin_of_two_ports_leaves_none_for_a_single() -> None:
    """Two ports with a pinned pair on them: the single stays in beside it."""
    desk = plain_desk(carriers=2)
    found = _allocate(f"strip: Keys, chain: c, want: 5, {_pin('1-2')}", "strip: Bass, chain: c, want: 4", desk=desk)
    assert _sheet(found) == {"Keys": "aux in 1-2"}


def test_two_pins_on_one_port_are_served_by_want() -> None:
    """The higher want has the port, the other is refused."""
    found = _allocate(f"strip: Voice, chain: c, want: 5, {_pin('3')}", f"strip: Bass, chain: c, want: 6, {_pin('3')}")
    assert _sheet(found) == {"Bass": "aux in 3"}


@pytest.mark.parametrize(("strip", "ports"), [("Keys", "2-3"), ("Keys", "3"), ("Voice", "3-4")])
def test_a_pin_that_is_no_place_for_its_strip_is_refused(strip: str, ports: str) -> None:
    """A pair across odd-even, half a pair, or a pair for a mono strip: it stays in and hears why."""
    found = _allocate(f"strip: {strip}, chain: c, want: 9, {_pin(ports)}")
    assert found.loops == ()
    shape = "an odd-even pair" if strip == "Keys" else "one port"
    assert (
        found.refusals[0].reason == f"its ports (send aux out {ports}, return aux in {ports}) are not {shape} each way"
    )


def test_a_pin_whose_ports_do_not_belong_together_is_refused() -> None:
    """Send 1 never comes back on return 2."""
    ports = "ports: {send: aux out 1, return: aux in 2}"
    found = _allocate(f"strip: Voice, chain: c, want: 9, {ports}")
    assert found.loops == ()
    assert "no way to laptop and back" in found.refusals[0].reason


# Hardware


def test_a_box_serves_one() -> None:
    """Two that name it: the higher want has it, on its own jacks and not on the card's."""
    found = _allocate("strip: Voice, unit: box, want: 5", "strip: Bass, unit: box, want: 6")
    (loop,) = found.loops
    assert (loop.strip, loop.unit, str(loop.send), str(loop.returns)) == ("Bass", "box", "local out 21", "local in 21")
    assert loop.unit_in == loop.send
    assert found.refusals[0].would_fit_if == ("'Bass' stayed in",)
    assert found.settings == ()


def test_nobody_is_sent_to_a_box_without_naming_it() -> None:
    """A chain needs a computer: without one the request stays in."""
    text = _show("strip: Voice, chain: c, want: 5").replace(
        "kind: computer, connects: card", "kind: computer, connects: card"
    )
    text = "\n".join(line for line in text.splitlines() if "name: laptop" not in line)
    found = allocate(show_from(text, DESK), DESK)
    assert found.refusals[0].reason == "the show has no computer that could run its chain; name a unit"


def test_a_jack_of_the_box_that_is_in_use_keeps_it_from_serving() -> None:
    """Its return is kept: a pair no longer fits; giving up the keep would serve it, or one leg of it."""
    keep = "keep: [{ports: local in 22, for: talkback}]"
    found = _allocate("strip: Keys, unit: box, want: 5", more=keep)
    assert found.loops == ()
    assert found.refusals[0].would_fit_if == ("local in 22 did not stay for talkback", "it were mono")


# Outputs


def test_an_output_goes_through_the_box_that_it_names() -> None:
    """Both channels, on the jacks of the box, without any insert port."""
    (loop,) = _allocate("strip: PA, way: output, unit: box, want: 9").loops
    assert (loop.way, loop.legs, str(loop.unit_in), str(loop.unit_out)) == (
        "output",
        2,
        "local out 21-22",
        "local in 21-22",
    )


def test_a_box_stands_behind_one_output_or_on_one_insert() -> None:
    """Two outputs and a strip want it: the highest want has it alone."""
    found = _allocate(
        "strip: PA, way: output, unit: box, want: 4",
        "strip: Side, way: output, unit: box, want: 5",
        "strip: Voice, unit: box, want: 3",
    )
    assert _sheet(found) == {"Side": "local in 21-22"}
    assert {refusal.strip for refusal in found.refusals} == {"PA", "Voice"}


def test_a_computer_on_jacks_stands_behind_one_output_too() -> None:
    """Its jacks are those of one output: no second output and no insert shares them."""
    text = _show(
        "strip: PA, way: output, unit: box, want: 4",
        "strip: Side, way: output, unit: box, want: 5",
        "strip: Voice, unit: box, chain: c, want: 3",
    ).replace("name: box, kind: hardware", "name: box, kind: computer")
    found = allocate(show_from(text.replace(", delay_ms: 1", ""), DESK), DESK)
    assert _sheet(found) == {"Side": "local in 21-22"}


@pytest.mark.parametrize(
    ("more", "reason"),
    [
        ("keep: [{ports: local in 22, for: talkback}]", "local in 22 for talkback"),
        ("keep: [{ports: local out 21, for: wedge}]", "local out 21 for wedge"),
    ],
)
def test_an_output_never_takes_a_kept_jack(more: str, reason: str) -> None:
    """What must stay stays, and the refusal says what is in the way."""
    found = _allocate("strip: PA, way: output, unit: box, want: 9", more=more)
    assert found.loops == ()
    assert found.refusals[0].reason == f"the ports to box and back are in use or must stay: {reason}"
    assert len(found.refusals[0].would_fit_if) == 1


def test_an_output_keeps_its_jacks_from_being_turned_to_the_card() -> None:
    """A box on aux in 1-2 behind the PA: the block of those jacks stays, so nobody else comes back from the card."""
    text = _show("strip: PA, way: output, unit: box, want: 9", "strip: Voice, chain: c, want: 8")
    text = text.replace("out: local out 21-22, back: local in 21-22", "out: aux out 1-2, back: aux in 1-2")
    found = allocate(show_from(text, DESK), DESK)
    assert _sheet(found) == {"PA": "aux in 1-2"}
    assert found.settings == ()


def test_an_output_of_another_width_than_the_box_stays_in() -> None:
    """One output jack and a box of two."""
    found = _allocate("strip: Pack, way: output, unit: box, want: 9")
    assert found.refusals[0].reason == "this desk cannot bring it to box and back on the way to the loudspeaker"


# Paths that never go out


NEVER = "never: [Click]"


@pytest.mark.parametrize(
    "request_", ["strip: Click, chain: c", "strip: Ears, chain: c", "strip: Pack, way: output, unit: box"]
)
def test_what_a_protected_path_passes_never_goes_out(request_: str) -> None:
    """The click's own strip, the mix it is in, and the output of that mix."""
    found = _allocate(f"{request_}, want: 9", more=NEVER)
    assert found.loops == ()
    assert found.refusals[0].reason == "Click passes it, and must never pass a loop"
    assert found.refusals[0].would_fit_if == ()
    assert [finding.code for finding in found.findings] == ["never-passes"]


def test_a_must_on_a_protected_path_makes_no_plan() -> None:
    """The finding names the strip and the path."""
    with pytest.raises(NoPlan) as raised:
        _allocate("strip: Ears, chain: c, want: must", more=NEVER)
    assert "'Ears' must go out, but Click passes it" in str(raised.value)


def test_what_a_protected_path_does_not_pass_goes_out() -> None:
    """A send before the insert of its mix's sibling harms nobody: only what the click passes is protected."""
    assert len(_allocate("strip: Main, chain: c, want: 9", more=NEVER).loops) == 1
