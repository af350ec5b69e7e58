"""What is patched for a take and put back behind it, and where the test sounds meanwhile."""

from __future__ import annotations

import pytest

from showtext import DEMO_TEXT, DESK_TEXT, codes, desk_with, small
from sidetrip.findings import Finding
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.prove.expect import Expected, expect
from sidetrip.prove.patch import Repatch, patch_for, reached
from sidetrip.showfile.check_show import check_show
from sidetrip.showfile.read import read_desk, read_show

_TAKE = DEMO_TEXT.index("  - name: loops\n")
_PROBE = DEMO_TEXT.index("probe:")


def _expected(text: str, desk_text: str = DESK_TEXT) -> tuple[Plan, Expected]:
    show, desk = read_show(text, "show.yaml").show, read_desk(desk_text, "desk.yaml")
    assert [str(one) for one in check_show(show, desk) if one.severity == "error"] == []
    plan = make_plan(show, desk)
    return plan, expect(plan, show.takes[0])


def _demo(catch: str, enter: str = "[stage 7-8, stage 17]", desk_text: str = DESK_TEXT) -> tuple[Plan, Expected]:
    """Return the demo with another take."""
    take = f"  - {{name: other, enter: {enter}, catch: [{catch}]}}\n\n"
    return _expected(DEMO_TEXT[:_TAKE] + take + DEMO_TEXT[_PROBE:], desk_text)


def _patched(catch: str, desk_text: str = DESK_TEXT) -> tuple[list[tuple[str, str, str]], tuple[Finding, ...]]:
    steps, findings = patch_for(*_demo(catch, desk_text=desk_text))
    assert codes(findings) in ([], ["take-wrong"])
    assert {finding.where for finding in findings} <= {"takes / other"}
    return [(step.block, step.source, step.was) for step in steps], findings


def test_the_demo_patches_two_blocks_and_puts_them_back() -> None:
    """The valve compressor's return comes by local in 25-32, the laptop's by aux in 1-8; the dry copies stay."""
    assert patch_for(*_expected(DEMO_TEXT)) == (
        (
            Repatch("source of card out 9-16", "local in 25-32", was="stage 9-16"),
            Repatch("source of card out 17-24", "aux in 1-8", was="stage 17-24"),
        ),
        (),
    )


def test_what_is_patched_so_already_is_no_step() -> None:
    """Dry copies come over as the desk is delivered."""
    assert _patched("{port: card out 7-8, dry: stage 7-8}, {port: card out 17, dry: stage 17}") == ([], ())


def test_each_block_is_named_once_in_the_order_of_the_take() -> None:
    """Two returns of one block are one step; steps follow the take, not the desk."""
    catch = (
        "{port: card out 19, return: Lamplighter}, {port: card out 1-2, return: Main}, "
        "{port: card out 20, return: Narrator}"
    )
    steps, findings = _patched(catch)
    assert findings == ()
    assert steps == [
        ("source of card out 17-24", "aux in 1-8", "stage 17-24"),
        ("source of card out 1-8", "aux in 1-8", "stage 1-8"),
    ]


def test_a_port_that_the_desk_cannot_copy_there_is_named() -> None:
    """Returns and inputs come over eight at a time, each at its own place: elsewhere they cannot be caught."""
    steps, findings = _patched("{port: card out 18, return: Lamplighter}, {port: card out 1, dry: stage 17}")
    assert steps == []
    assert [finding.what for finding in findings] == [
        "This desk cannot copy aux in 3 to card out 18",
        "This desk cannot copy stage 17 to card out 1",
    ]


def test_a_block_that_is_wanted_twice_is_named_with_both_sources() -> None:
    """One block has one source at a time: the first of the take gets it, the other is told."""
    steps, (finding,) = _patched("{port: card out 19, return: Lamplighter}, {port: card out 17, dry: stage 17}")
    assert steps == [("source of card out 17-24", "aux in 1-8", "stage 17-24")]
    assert (finding.what, finding.values) == (
        "The source of card out 17-24 would have to be two things at once",
        "aux in 1-8 and stage 17-24",
    )


@pytest.mark.parametrize("catch", ["{port: card out 27, return: Lamplighter}", "{port: card out 31, return: Bass}"])
def test_the_block_that_sends_the_loops_is_not_taken_from_them(catch: str) -> None:
    """The card's last eight carry the sends of the laptop's loops: patched otherwise, nothing would come back."""
    more = desk_with("aux out 1-8, aux in 1-8]}\n\ncarriers", "aux out 1-8, aux in 1-8, local in 25-32]}\n\ncarriers")
    steps, (finding,) = _patched(catch, more)
    assert steps == []
    assert finding.what == "The source of card out 25-32 sends loops to their unit"
    assert finding.values.endswith("; Lamplighter, Main, Narrator")


def test_a_part_of_a_block_is_patched_and_named_as_that() -> None:
    """A choice that covers four of the eight says which."""
    part = desk_with(
        "{feeds: card out 17-24, choices: [stage 17-24,",
        "{feeds: card out 17-24, choices: [stage 17-24, {from: aux in 1-4, covers: card out 17-20},",
    )
    steps, findings = _patched("{port: card out 19, return: Lamplighter}", part)
    assert findings == ()
    assert steps == [("source of card out 17-24", "aux in 1-4 on card out 17-20", "stage 17-24")]


def test_a_source_that_suits_both_is_taken_for_both() -> None:
    """Where a port could come by two choices, the one that a neighbour needs already goes before."""
    part = desk_with(
        "{feeds: card out 17-24, choices: [stage 17-24,",
        "{feeds: card out 17-24, choices: [stage 17-24, {from: aux in 1-4, covers: card out 17-20},",
    )
    catch = "{port: card out 23-24, dry: aux in 7-8}, {port: card out 19, return: Lamplighter}"
    steps, findings = patch_for(*_demo(catch, "[aux in 7-8, stage 17]", part))
    assert findings == ()
    assert [step.source for step in steps] == ["aux in 1-8"]


def test_copies_of_strips_and_returns_of_none_need_no_patch_of_inputs() -> None:
    """A strip's copy is no input that a block could bring, and a strip that stays in has no return to bring."""
    catch = "{port: two-track 1-2, strip: Main}, {port: card out 1, return: Snare}"
    assert _patched(catch) == ([], ())


@pytest.mark.parametrize("port", ["local out 13", "card out 9"])
def test_a_copy_of_a_strip_that_the_desk_does_not_make_is_named(port: str) -> None:
    """Neither by a block's choice nor by a hop of the desk's file: nothing would be caught there."""
    steps, (finding,) = _patched(f"{{port: {port}, strip: Bass}}")
    assert steps == []
    assert finding.what == f"This desk's file knows no way to copy Bass to {port}"


def test_a_choice_that_serves_the_whole_take_goes_before_the_first_that_fits() -> None:
    """Part of a block would do for the first catch alone; only the whole block serves the second too."""
    part = desk_with(
        "{feeds: card out 17-24, choices: [stage 17-24,",
        "{feeds: card out 17-24, choices: [stage 17-24, {from: aux in 1-4, covers: card out 17-20},",
    )
    catch = "{port: card out 19, return: Lamplighter}, {port: card out 23-24, dry: aux in 7-8}"
    steps, findings = patch_for(*_demo(catch, "[aux in 7-8, stage 17]", part))
    assert findings == ()
    assert [step.source for step in steps] == ["aux in 1-8"]


# where it sounds


def test_the_demo_sounds_nearly_everywhere() -> None:
    """Overheads, bass and two voices reach every loudspeaker, the encoder and both pairs of ears."""
    assert reached(*_expected(DEMO_TEXT)) == (
        "Band ears",
        "Band packs",
        "Encoder",
        "Foyer PA",
        "Lamp ears",
        "Lamp pack",
        "Lip fills",
        "PA",
        "Sub stack",
    )


def test_only_what_the_entered_strips_reach_is_named() -> None:
    """The sound cues reach no foyer, an input that leads nowhere reaches nothing, and loops make no difference."""
    catch = "{port: two-track 1-2, strip: Main}"
    assert reached(*_demo(catch, "local in 25-26")) == (
        "Band ears",
        "Band packs",
        "Encoder",
        "Lip fills",
        "PA",
        "Sub stack",
    )
    assert reached(*_demo(catch, "aux in 7-8")) == ("Foyer PA",)
    inputs = "[{name: Vox, ch: 1, port: stage 1}, {name: Keys, ch: 3, port: stage 3-4, to: [Main]}]"
    text = small(inputs=inputs, takes="[{name: a, enter: stage 1, catch: [{port: card out 1, dry: stage 1}]}]")
    assert reached(*_expected(text)) == ()
