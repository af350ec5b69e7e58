"""A proof in words: the verdict first, then what is wrong and what to do, in any width of terminal."""

from __future__ import annotations

from dataclasses import replace

import pytest

import proofs
from proofs_heard import proof_of, stand_in
from sidetrip.cli.show import print_blocks
from sidetrip.prove.proof import Proof, Row
from sidetrip.prove.remarks import REMEDIES
from sidetrip.reports.proof_words import UNBLIND, clock_words, headline, proof_blocks, reasons, remedy, signed
from sidetrip.reports.summary import Block


def block(proof: Proof, heading: str) -> Block:
    """Return the block of a heading."""
    return next(one for one in proof_blocks(proof) if one.heading == heading)


def row_of(proof: Proof, loop: str) -> tuple[str, ...]:
    """Return a loop's row of the first table."""
    return next(row for row in proof_blocks(proof)[0].rows if row[0] == loop)


@pytest.mark.parametrize(
    ("proof", "said"),
    [
        (proofs.proof(), "3 loop legs were asked: 3 pass."),
        (proofs.proof(proofs.good_leg()), "1 loop leg was asked: 1 passes."),
        (proofs.twelve(), "12 loop legs were asked: 7 pass, 1 wants a look, 4 fail."),
        (proofs.without_reference(), "4 loop legs were asked: 4 cannot be told."),
        (replace(proofs.proof(), legs=()), "No loop was asked about in this take."),
    ],
)
def test_the_first_line_is_the_verdict(proof: Proof, said: str) -> None:
    """A count of each verdict, in words, in the number that grammar asks for."""
    assert headline(proof) == said
    assert proof_blocks(proof)[0].answer == said


def test_a_loop_that_passes_is_one_row() -> None:
    """Figures with their plan, and the verdict as a word; no block of its own, no word about what passes."""
    proof = proofs.proof()
    assert row_of(proof, "Bass") == ("Bass", "7.271", "349.00", "349", "0.00", "kept", "pass")
    headings = [one.heading for one in proof_blocks(proof)]
    assert headings == ["Is it right", "How far each loop is proven", "How it was measured"]


def test_a_fault_is_told_in_three_parts() -> None:
    """What was found, the values, what to do; what passes is only counted."""
    proof = proofs.proof(proofs.quiet_look(proofs.good_leg("Choir")), proofs.good_leg("Bass", 2))
    told = block(proof, "Loop Choir")
    assert told.answer == "Due back on aux in 1, recorded from card out 1. 11 questions pass; this does not:"
    values = "measured −0.21 ± 0.01, expected 0.00 dB"
    assert told.rows == (("gain", "look", f"0.21 dB softer than sent ({values}). {REMEDIES['gain']}."),)
    assert row_of(proof, "Choir")[-1] == "look, gain: 0.21 dB softer than sent"
    assert [one.heading for one in proof_blocks(proof)].count("Loop Bass") == 0


def test_fails_stand_before_looks() -> None:
    """The worse row of a leg comes first."""
    leg = proofs.inverted(proofs.quiet_look(proofs.good_leg()))
    leg = replace(leg, rows=tuple(sorted(leg.rows, key=lambda row: row.question != "gain")))
    assert [row[1] for row in block(proofs.proof(leg), "Loop Bass").rows] == ["fail", "look"]


def test_two_swapped_returns_are_named_together() -> None:
    """What to do names both ports, whichever of the two legs one reads."""
    one, other = proofs.swapped(proofs.good_leg("Narrator", 4), proofs.good_leg("Keys", 5))
    proof = proofs.proof(one, other)
    for loop, whose in (("Narrator", "Keys"), ("Keys", "Narrator")):
        words = block(proof, f"Loop {loop}").rows[0][2]
        assert words.startswith(f"{whose} comes back here. Swap the two returns, aux in 4 and aux in 5")


def test_a_swap_between_a_mono_and_a_stereo_loop_is_one_too() -> None:
    """One side of a stereo loop and a mono loop carry each other's sound, and no third leg does."""
    left, right = proofs.stereo()
    wrong, narrator = proofs.swapped(right, proofs.good_leg("Narrator", 4))
    proof = proofs.proof(left, wrong, narrator)
    for leg in (wrong, narrator):
        assert remedy(proof, leg, leg.rows[0]).startswith("Swap the two returns, aux in 2 and aux in 4")


def test_what_to_do_about_a_wrong_return_fits_what_was_heard() -> None:
    """Nothing back names the way; crossed sides name both ports; a stray return only its own."""
    silent = proofs.silent(proofs.good_leg("Drums", 7))
    assert remedy(proofs.proof(silent), silent, silent.rows[0]) == (
        "On the way are send aux out 7, cable, unit laptop, card out 31, return aux in 7"
    )
    crossed = [
        replace(proofs.with_row(leg, "right return", "fail", "Left and right are crossed", "return"), heard="Main")
        for leg in proofs.stereo()
    ]
    assert "Swap the two sides at aux in 1 and aux in 2" in remedy(
        proofs.proof(*crossed), crossed[0], crossed[0].rows[0]
    )
    stray = proofs.swapped(proofs.good_leg("Narrator", 4), proofs.good_leg("Keys", 5))[0]
    assert "Follow the row of stops to aux in 4" in remedy(proofs.proof(stray), stray, stray.rows[0])


def test_what_is_wrong_with_many_loops_alike_is_told_once() -> None:
    """Legs whose rows say the same share a block, headed by their names; another fault has its own."""
    slipped = [
        proofs.with_row(proofs.good_leg(name, n), "dropouts", "look", "The recorder lost frames")
        for n, name in enumerate(("Bass", "Keys"), 1)
    ]
    told = [one for one in proof_blocks(proofs.proof(*slipped)) if one.heading.startswith("Loop")]
    assert [one.heading for one in told] == ["Loops all 2"]
    assert told[0].answer == "The same of each; this does not pass:"
    mixed = proofs.proof(*slipped, proofs.inverted(proofs.good_leg("Choir", 3)), proofs.good_leg("Main", 4))
    headings = [one.heading for one in proof_blocks(mixed) if one.heading.startswith("Loop")]
    assert headings == ["Loops Bass, Keys", "Loop Choir"]


def test_a_return_before_its_send_is_not_to_be_adopted() -> None:
    """A time below zero is a patch, not a figure."""
    leg = proofs.with_row(proofs.good_leg(), "delay", "fail", "It comes back earlier than it was sent", measured=-33.0)
    assert "Do not adopt it" in block(proofs.proof(leg), "Loop Bass").rows[0][2]


@pytest.mark.parametrize("question", [*REMEDIES, "a question that nobody has asked yet"])
def test_every_question_has_something_to_do(question: str) -> None:
    """No row that fails is left without a next step."""
    row = Row(question, "transfer", "fail", None, None, None, "", "It is wrong", "unit")
    leg = replace(proofs.good_leg(), rows=(row,))
    assert len(remedy(proofs.proof(leg), leg, row)) > 5


def test_a_reason_is_told_once() -> None:
    """All legs with the same reason share a row, with what would tell; loops not asked about stand last."""
    told = reasons(proofs.without_reference())
    assert told[0][:3] == ("all 4", "delay", "no reference in this take")
    assert "Catch a dry copy" in told[0][3]
    assert told[1][:2] == ("Keys and Violin", "everything")


def test_a_reason_that_hides_more_of_one_leg_says_so() -> None:
    """Each leg's questions are named where they are not the same."""
    one = proofs.blind(proofs.good_leg("Bass", 1), ["gain"], "nobody declares what it does")
    other = proofs.blind(proofs.good_leg("Keys", 2), ["gain", "response"], "nobody declares what it does")
    third = proofs.good_leg("Main", 3)
    [told] = reasons(proofs.proof(one, other, third))
    assert told == ("Bass, Keys", "gain of Bass; gain, response of Keys", "nobody declares what it does", "")


def test_a_real_take_without_reference_is_told_what_to_do() -> None:
    """The reason that a proof gives is one that these words know."""
    proof = proof_of(*stand_in(2, reference=False))
    why = {reason for *_, reason, _ in reasons(proof)}
    assert "no reference in this take" in why & UNBLIND.keys()


def test_loops_that_got_equally_far_share_a_row() -> None:
    """The four levels of proof, then whose they are."""
    rows = block(proofs.twelve(), "How far each loop is proven").rows
    assert ("pass", "fail", "cannot tell", "cannot tell", "Lamplighter") in rows
    assert ("fail", "cannot tell", "cannot tell", "cannot tell", "Narrator, Keys, Drums") in rows


@pytest.mark.parametrize(
    ("kind", "ppm", "said"),
    [
        ("one", 0.0, "ran on one clock"),
        ("two", 4.25, "4.25 ppm fast"),
        ("two", -4.25, "4.25 ppm slow"),
        ("rate", 88_000.0, "another rate than its file says"),
    ],
)
def test_the_clock_is_told(kind: str, ppm: float, said: str) -> None:
    """One clock, two of them, or a wrong rate, and what was done about it."""
    assert said in clock_words(proofs.proof(clock_kind=kind, clock_ppm=ppm))


def test_every_value_since_earlier_proofs_is_told() -> None:
    """All values and their spread, and no mean."""
    told = block(proofs.changed(), "Since earlier proofs")
    assert told.rows[0] == ("Bass", "1024.0, 1280.0, 768.0", "512.0 frames, 10.67 ms")
    assert told.answer == "1 of 2 is not constant between openings of the device: no single figure holds."
    assert "1024.0, 1280.0, 768.0" in str(told.rows)
    still = replace(proofs.changed(), changes=proofs.changed().changes[1:])
    assert block(still, "Since earlier proofs").answer == "The same at every proof of this take."


@pytest.mark.parametrize("columns", [40, 60, 80, 132])
@pytest.mark.parametrize("proof", [proofs.twelve(), proofs.awkward(), proofs.changed()], ids=["twelve", "odd", "moved"])
def test_no_width_of_terminal_cuts_anything(
    proof: Proof, columns: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """No line is wider than the terminal, and every verdict and remedy is still there, letter for letter."""
    monkeypatch.setenv("COLUMNS", str(columns))
    print_blocks(proof_blocks(proof))
    out = capsys.readouterr().out
    assert max(len(line.rstrip()) for line in out.splitlines()) <= columns
    assert "…" not in out
    letters = "".join(out.split())
    for verdict in {leg.verdict for leg in proof.legs}:
        assert "".join(verdict.split()) in letters


def test_a_verdict_fits_eighty_columns_with_ordinary_names(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Names, figures and verdicts of one leg stand on one line."""
    monkeypatch.setenv("COLUMNS", "80")
    print_blocks(proof_blocks(proofs.proof(*proofs.stereo(), proofs.good_leg("Lamplighter", 3))))
    lines = capsys.readouterr().out.splitlines()
    assert "Lamplighter  7.271     349.00  349      0.00  kept      pass" in [line.rstrip() for line in lines]


def test_figures_have_a_true_minus_and_no_minus_zero() -> None:
    """What rounds to nothing has no sign."""
    assert (signed(-0.21, 2), signed(-0.001, 2), signed(3.0, 1)) == ("−0.21", "0.00", "3.0")
