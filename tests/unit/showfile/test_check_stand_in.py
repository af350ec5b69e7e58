"""Units that stand in for others, as a show says them: who cannot, and what takes both down at once."""

from __future__ import annotations

from itertools import permutations

import pytest

from sidetrip.errors import ShowUnreadable
from sidetrip.findings import Finding
from sidetrip.showfile.check_show import check_show
from sidetrip.showfile.check_stand_in import check_stand_in, clock_through
from sidetrip.showfile.read import read_show
from stand_in_shows import LAPTOP, spare, stand_in_show, two_sockets

_HEAD = "sidetrip: 1\nshow: small\nsample_rate: 48000\ndesk: {type: small.yaml}\n"


def _found(*units: str, requests: tuple[str, ...] = (), clock: str = "desk", whole: bool = False) -> list[Finding]:
    """Return what is found of a show with these units: by this check alone, or by all of them."""
    show = read_show(_HEAD + stand_in_show(*units, requests=requests, clock=clock), "show.yaml").show
    desk = two_sockets()
    return check_show(show, desk) if whole else list(check_stand_in(show, desk))


def _codes(found: list[Finding]) -> list[str]:
    return [finding.code for finding in found]


def _unit(name: str, stands_in_for: str = "", socket: str = "tab") -> str:
    more = f", stands_in_for: {stands_in_for}" if stands_in_for else ""
    return f"{{name: {name}, kind: computer, connects: {socket}{more}}}"


def test_a_unit_on_a_socket_and_a_clock_of_its_own_is_clean() -> None:
    """Nothing is found, in any order of the units, and the switch is by strip if it is left out."""
    assert _found() == []
    assert _found(spare(), LAPTOP) == []
    assert _found(LAPTOP, _unit("spare", "laptop")) == []


def test_an_unknown_unit_is_named_with_the_nearest() -> None:
    """A slip of the pen gives the name that it comes near, not the unit itself."""
    (finding,) = _found(LAPTOP, _unit("spare", "labtop"))
    assert finding.code == "name-unknown" and "'labtop'" in finding.what and "laptop" in finding.remedy
    assert finding.path == ("units", 1, "stands_in_for")


def test_a_unit_cannot_stand_in_for_itself() -> None:
    """Told once, as that and not as a circle."""
    (finding,) = _found(LAPTOP, _unit("spare", "spare"))
    assert (finding.code, finding.what) == ("stand-in-wrong", "A unit cannot stand in for itself")


@pytest.mark.parametrize("order", list(permutations(("ape", "bee", "cat"))))
def test_units_in_a_circle_are_told_in_any_order(order: tuple[str, ...]) -> None:
    """Three for each other: each of them is named."""
    following = {"ape": "bee", "bee": "cat", "cat": "ape"}
    found = _found(*(_unit(name, following[name]) for name in order))
    assert sorted(finding.where for finding in found) == ["units / ape", "units / bee", "units / cat"]
    assert {finding.what for finding in found} == {"Units stand in for each other in a circle"}


def test_a_stand_in_for_a_stand_in_is_told() -> None:
    """One failure is planned for: the second one has nobody."""
    (finding,) = _found(LAPTOP, _unit("spare", "laptop"), _unit("third", "spare", "card"))
    assert (finding.code, finding.where) == ("stand-in-wrong", "units / third")
    assert "stands in itself, for 'laptop'" in finding.what


def test_two_for_one_are_told() -> None:
    """The later name is told, wherever it stands in the file."""
    for units in permutations((LAPTOP, _unit("first", "laptop"), _unit("second", "laptop"))):
        (finding,) = _found(*units)
        assert (finding.where, finding.values) == ("units / second", "first, second")


def test_a_box_stands_in_for_nobody() -> None:
    """Neither a box for a computer nor a computer for a box."""
    box = "{name: box, kind: hardware, out: local out 21, back: local in 21, delay_ms: 0, unpowered: passes}"
    for units in ((LAPTOP, box.replace("}", ", stands_in_for: laptop}")), (box, _unit("spare", "box"))):
        (finding,) = _found(*units)
        assert (finding.code, finding.what) == ("stand-in-wrong", "Only a computer can stand in for a computer")


@pytest.mark.parametrize("key", ["switch: by box", "switch_seconds: 12"])
def test_a_switch_to_nobody_is_told(key: str) -> None:
    """A key without the unit it is about says nothing."""
    (finding,) = _found(LAPTOP, _unit("spare").replace("}", f", {key}}}"))
    assert finding.code == "value-wrong" and finding.path == ("units", 1, key.partition(":")[0])


def test_one_socket_for_both_is_let_through_and_told() -> None:
    """Two units on one socket are no longer two writers where one stands in; what takes both down is said."""
    found = _found(LAPTOP, spare("by box", "card"), whole=True)
    assert _codes(found) == ["stand-in-shares"]
    assert "hangs on the socket of 'laptop'" in found[0].what
    assert "port-two-writers" in _codes(_found(LAPTOP, _unit("spare", "", "card"), whole=True))


def test_a_clock_that_comes_from_the_unit_that_dies_is_told() -> None:
    """The leader itself, or whatever follows it in a row; a desk that leads is none of it."""
    (finding,) = _found(clock="laptop")
    assert finding.code == "stand-in-shares" and "has its clock from 'laptop'" in finding.what
    row = "desk, devices: [{name: spare, follows: hub}, {name: hub, follows: laptop}]"
    assert _codes(_found(clock=row)) == ["stand-in-shares"]
    assert _found(clock="desk, devices: [{name: spare, follows: itself}]") == []


def test_clocks_that_follow_each_other_are_followed_once() -> None:
    """A circle of clocks ends."""
    text = _HEAD + stand_in_show(clock="desk, devices: [{name: spare, follows: hub}, {name: hub, follows: spare}]")
    show = read_show(text, "show.yaml").show
    assert clock_through(show, "spare", "hub") and not clock_through(show, "spare", "laptop")


def test_loops_of_its_own_add_up_and_are_told() -> None:
    """Named are the strips and the limit of its load, or that it has none."""
    asked = ("{strip: A, unit: spare, chain: c, want: 5}", "{strip: B, chain: c, want: 4}")
    (finding,) = _found(requests=asked)
    assert (finding.code, finding.values) == ("stand-in-busy", "A; no load_limit")
    (limited,) = _found(LAPTOP, spare(more=", load_limit: 0.5"), requests=asked)
    assert limited.values == "A; load_limit 0.5"


def test_a_block_that_would_take_its_own_loops_along_is_refused() -> None:
    """By block on one socket, with a loop of its own: the block would turn that too."""
    asked = ("{strip: A, unit: spare, chain: c, want: 5}",)
    (finding,) = _found(LAPTOP, spare("by block", "card"), requests=asked)
    assert finding.code == "stand-in-wrong" and finding.values == "A"


@pytest.mark.parametrize("value", ["by hand", "strip", "5"])
def test_only_three_switches_are_known(value: str) -> None:
    """Any other word is told with its line and with the three that are."""
    with pytest.raises(ShowUnreadable) as raised:
        read_show(_HEAD + stand_in_show(LAPTOP, spare(value)), "show.yaml")
    (finding,) = raised.value.findings
    assert (finding.code, finding.line) == ("value-wrong", 9)
    assert "by strip" in finding.remedy
