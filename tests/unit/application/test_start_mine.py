"""A first show in four steps: what was typed becomes a show that reads, checks and plans."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidetrip import wiring
from sidetrip.application.start_mine import (
    Draft,
    DraftMix,
    DraftRequest,
    keep_draft,
    make,
    read_draft,
    text_of,
    understand,
)
from sidetrip.application.use_cases import plan
from sidetrip.errors import ShowUnreadable, WouldOverwrite
from sidetrip.showfile.read import read_show

STORE, DESKS = wiring.show_store(), wiring.desk_library()
DESK = "32-strip theatre desk"
LIST = "ch\tname\tgroup\n1\tKick\tDrums\n2\tSnare\tDrums\n3\tVox\t-\n"


def draft() -> Draft:
    """Return what somebody typed."""
    return Draft(
        step=4,
        show="A first show",
        desk=DESK,
        inputs=LIST,
        mixes=[DraftMix(name="Vox ears", who="Vox", listens="in-ear", takes="Vox, Drums")],
        requests=[
            DraftRequest(strip="Main", want="must", chain="glue"),
            DraftRequest(strip="Vox", want="7", chain="lead: vocal, warm"),
            DraftRequest(strip="Kick"),
        ],
    )


def test_the_draft_becomes_a_show_that_plans(tmp_path: Path) -> None:
    """Two strips go out, the mix takes what it was given, and the draft is empty again."""
    keep_draft(STORE, str(tmp_path), draft())
    assert make(STORE, DESKS, str(tmp_path), draft()) == "a-first-show"
    planned = plan(STORE, DESKS, str(tmp_path / "a-first-show"))
    assert sorted(loop.strip for loop in planned.plan.allocation.loops) == ["Main", "Vox"]
    mix = planned.plan.show.mix("Vox ears")
    assert mix is not None
    assert (mix.for_, set(mix.from_)) == ("Vox", {"Vox", "Drums"})
    assert read_draft(STORE, str(tmp_path)) == Draft()


def test_a_show_of_that_name_is_left_alone(tmp_path: Path) -> None:
    """Making it twice is refused, and what was typed is still there."""
    make(STORE, DESKS, str(tmp_path), draft())
    keep_draft(STORE, str(tmp_path), draft())
    with pytest.raises(WouldOverwrite):
        make(STORE, DESKS, str(tmp_path), draft())
    assert read_draft(STORE, str(tmp_path)) == draft()


def test_a_name_that_nothing_carries_is_said_before_anything_is_written(tmp_path: Path) -> None:
    """A mix takes a strip that is not there: a finding, and no folder."""
    wrong = draft().model_copy(update={"mixes": [DraftMix(name="Ears", takes="Nobody")]})
    with pytest.raises(ShowUnreadable) as refused:
        make(STORE, DESKS, str(tmp_path), wrong)
    assert "Nobody" in str(refused.value)
    assert list(tmp_path.iterdir()) == []


def test_a_pasted_list_is_told_with_its_lines() -> None:
    """A title above the headings is passed over; a row without a name is named by its line."""
    found = understand(STORE, DESKS, DESK, "Our spring show\n\n" + LIST)
    assert [row.name for row in found.rows] == ["Kick", "Snare", "Vox"]
    with pytest.raises(ShowUnreadable) as refused:
        understand(STORE, DESKS, DESK, LIST + "900\tToo far\t-\n")
    assert refused.value.findings[0].line == 5
    assert understand(STORE, DESKS, DESK, "  \n").rows == ()


def test_an_empty_draft_is_an_empty_show_that_reads() -> None:
    """Only a desk: the show reads, and asks for nothing."""
    text = text_of(STORE, DESKS, Draft(desk=DESK))
    assert read_show(text, "x").show.requests == ()


@given(st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Zl", "Zp"]), min_size=1, max_size=40))
def test_any_name_reads_back_or_is_refused(name: str) -> None:
    """Whatever a mix, a chain and a show are called, the text says it as it was typed, or a finding says why not."""
    odd = draft().model_copy(
        update={
            "show": name,
            "mixes": [DraftMix(name=name, takes="Vox")],
            "requests": [DraftRequest(strip="Main", want="9", chain=name)],
        }
    )
    try:
        show = read_show(text_of(STORE, DESKS, odd), "x").show
    except ShowUnreadable:
        return
    assert show.requests[0].chain in show.chains
    assert len(show.mixes) == 3 or name.strip() in ("", "Main", "Drums")
