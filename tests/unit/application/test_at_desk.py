"""A show open at the desk: read, planned, changed, undone, and never overwritten when somebody else was at it."""

import shutil
from pathlib import Path

import pytest

from sidetrip import wiring
from sidetrip.application.at_desk import OpenShow, Refused, difference
from sidetrip.application.desk_changes import make_mend, moved, set_buffer, set_want, take_answer
from sidetrip.application.desk_notes import FILE, DeskNotes, Undo

DEMO = Path(__file__).parents[3] / "demo" / "tin-lantern" / "show.yaml"


@pytest.fixture
def show(tmp_path: Path) -> OpenShow:
    """Return the demo, copied and open."""
    shutil.copy(DEMO, tmp_path / "show.yaml")
    return OpenShow(wiring.show_store(), wiring.desk_library(), str(tmp_path))


def text_of(show: OpenShow) -> str:
    """Return what the file holds."""
    return Path(show.seen().file).read_text(encoding="utf-8")


def test_a_want_changes_its_line_only_and_is_undone(show: OpenShow) -> None:
    """Drums wanted 8: one line differs; undo gives the file back byte for byte."""
    before = text_of(show)
    seen = set_want(show, show.seen().revision, ("Drums", "insert"), "8")
    assert difference(before, text_of(show)) == (
        "-  - {strip: Drums,       chain: drum squash,  want: 5}",
        "+  - {strip: Drums,       chain: drum squash,  want: 8}",
    )
    back, what = show.undo(seen.revision)
    assert what == "want of Drums"
    assert text_of(show) == before == back.text


def test_a_change_for_a_text_that_is_gone_is_refused(show: OpenShow) -> None:
    """Somebody edits the file: what the page was asked to do for the old text is not done to the new one."""
    old = show.seen().revision
    file = Path(show.seen().file)
    file.write_text(text_of(show).replace("want: 5", "want: 3"), encoding="utf-8")
    with pytest.raises(Refused, match="changed elsewhere") as refused:
        set_want(show, old, ("Drums", "insert"), "8")
    assert "+  - {strip: Drums,       chain: drum squash,  want: 3}" in refused.value.difference
    assert "want: 3" in text_of(show)


def test_undo_after_an_edit_elsewhere_shows_the_difference(show: OpenShow) -> None:
    """The edit of somebody else is not thrown away by undo, and it is named."""
    seen = set_want(show, show.seen().revision, ("Drums", "insert"), "8")
    file = Path(seen.file)
    file.write_text(text_of(show).replace("length: 2h30m", "length: 3h"), encoding="utf-8")
    with pytest.raises(Refused) as refused:
        show.undo(show.seen().revision)
    assert "+length: 3h" in refused.value.difference
    assert "length: 3h" in text_of(show)


def test_nothing_to_undo_is_said(show: OpenShow) -> None:
    """Undo in a show that the page never changed says so."""
    with pytest.raises(Refused, match="nothing to undo"):
        show.undo(show.seen().revision)


def test_a_mend_serves_or_is_refused(show: OpenShow) -> None:
    """Stream is served in one step; for Drums others wanted more would go out, so nothing is written."""
    words = "aux in 7-8 did not stay for interval music and Interval moved to stick player 1-2"
    before = text_of(show)
    with pytest.raises(Refused, match=r"Stream would go out.*Drums would still stay in"):
        make_mend(show, show.seen().revision, ("Drums", "insert"), words)
    assert text_of(show) == before
    old = show.seen().plan
    seen = make_mend(show, show.seen().revision, ("Stream", "insert"), words)
    assert moved(old, seen) == "Chorus, Stream now go out."
    with pytest.raises(Refused, match="not what would serve Chorus any more"):
        make_mend(show, seen.revision, ("Chorus", "insert"), words)


def test_buffer_and_rate_are_written_for_every_computer(show: OpenShow) -> None:
    """The unit's buffer is set where it stood as auto; the rate only where it differs."""
    before = text_of(show)
    set_buffer(show, show.seen().revision, 128, 48000)
    assert difference(before, text_of(show)) == ("-    buffer: auto", "+    buffer: 128")


def test_plans_at_other_buffers_are_kept_until_the_text_changes(show: OpenShow) -> None:
    """The slider asks twice and the plan is the same one; after a change it is made anew."""
    first = show.at(128, None)
    assert first is show.at(128, None)
    assert first is not None
    assert {unit.buffer_frames for unit in first.units} == {128, None}
    set_want(show, show.seen().revision, ("Drums", "insert"), "8")
    assert show.at(128, None) is not first


def test_what_to_dial_comes_later_and_is_that_of_the_plan(show: OpenShow) -> None:
    """The page shows the plan at once; aligned, it is what planning as a whole gives."""
    from sidetrip.plan.planner import make_plan

    seen = show.seen()
    assert not seen.aligned
    assert seen.loaded is not None
    aligned = show.align()
    assert aligned.aligned
    assert aligned.plan is not None
    whole = make_plan(seen.loaded.show, seen.loaded.desk)
    assert aligned.plan.alignment == whole.alignment
    assert aligned.plan.findings == whole.findings


def test_a_show_that_does_not_read_is_seen_with_its_findings(show: OpenShow) -> None:
    """A slip in the file takes the plan away, says the line, and the mended file has one again."""
    file = Path(show.seen().file)
    good = text_of(show)
    file.write_text(good.replace("want: 5", "want: often"), encoding="utf-8")
    seen = show.seen()
    assert seen.plan is None
    assert seen.findings[0].line is not None
    file.write_text(good, encoding="utf-8")
    assert show.seen().plan is not None


def test_a_change_after_which_nothing_reads_is_refused(show: OpenShow) -> None:
    """An edit that would break the file is not written."""
    before = text_of(show)
    with pytest.raises(Refused, match="would not read"):
        show.change(show.seen().revision, "odd", lambda seen: seen.text.replace("want: 5", "want: often"))
    assert text_of(show) == before


def test_an_answer_of_the_house_is_noted_and_a_wrong_one_refused(show: OpenShow) -> None:
    """Who said it and when stands beside it in the show; nonsense is told what could be said."""
    from sidetrip.showfile.known import every_fact

    loaded = show.seen().loaded
    assert loaded is not None
    fact = next(own for own in every_fact(loaded.show, loaded.desk) if "no" in own.answers)
    with pytest.raises(Refused, match="is no answer"):
        take_answer(show, show.seen().revision, fact.id, "banana", "house engineer", "2026-11-25")
    with pytest.raises(Refused, match="asks nothing called"):
        take_answer(show, show.seen().revision, "no such fact", "no", "house engineer", "2026-11-25")
    take_answer(show, show.seen().revision, fact.id, fact.answers[0], "house engineer", "2026-11-25")
    assert "house engineer" in text_of(show)


def test_ticks_and_undo_outlive_the_program(show: OpenShow) -> None:
    """Both lie beside the show; notes that were spoilt are as good as none, and are written anew."""
    set_want(show, show.seen().revision, ("Drums", "insert"), "8")
    show.notes.tick("a step", "18:30")
    again = OpenShow(show.store, show.library, show.path)
    assert again.notes.ticks() == {"a step": "18:30"}
    again.undo(again.seen().revision)
    again.notes.tick("a step", None)
    assert again.notes.ticks() == {}
    path = Path(show.seen().file).parent / FILE
    path.write_bytes(b"\xff not notes")
    assert again.notes.ticks() == {}
    again.notes.tick("another", "18:31")
    assert DeskNotes(show.store, show.seen().file).ticks() == {"another": "18:31"}


def test_only_so_many_changes_are_remembered(show: OpenShow) -> None:
    """Twenty changes can be undone; what is older is forgotten, so that the notes stay readable."""
    notes = show.notes
    for number in range(25):
        notes.push(Undo(f"change {number}", "a", "text" * 1000, "b"))
    undone = []
    while (last := notes.last()) is not None:
        undone.append(last.what)
        notes.pop()
    assert undone == [f"change {number}" for number in range(24, 4, -1)]
    notes.push(Undo("one", "a", "x" * 500_000, "b"))
    notes.push(Undo("two", "a", "x" * 500_000, "b"))
    assert (Path(show.seen().file).parent / FILE).stat().st_size < 1_000_000
