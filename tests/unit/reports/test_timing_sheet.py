"""The timing sheet's data: loops itemised, arrivals condensed, ears against limits, what is heard twice."""

from pathlib import Path

import pytest

from sidetrip.plan.planner import Plan, make_plan
from sidetrip.reports.heard import heard_at, together
from sidetrip.reports.sheet import Stamp
from sidetrip.reports.timing_sheet import timing_sheet
from sidetrip.showfile.read import read_desk, read_show

ROOT = Path(__file__).parents[3]
SHOW = (ROOT / "demo" / "tin-lantern" / "show.yaml").read_text("utf-8")
DESK = (ROOT / "src" / "sidetrip" / "desks" / "32-strip-theatre.yaml").read_text("utf-8")
STAMP = Stamp("The Tin Lantern", "7c1e4a9", "2026-11-25 18:42", "32-strip theatre desk", "show.yaml")
UNTOLD = "{black box: {name: bus colour, load: 0.05}}"


def planned(show: str = SHOW) -> Plan:
    """Plan a show on the theatre desk."""
    return make_plan(read_show(show, "show.yaml").show, read_desk(DESK, "desk.yaml"))


@pytest.fixture(scope="module")
def plan() -> Plan:
    """The demo show's plan."""
    return planned()


@pytest.fixture(scope="module")
def unsure() -> Plan:
    """The demo show with a processor in the main loop that does not say how late it is."""
    return planned(SHOW.replace("{black box: {name: bus colour, delay_frames: 48, load: 0.05}}", UNTOLD))


def test_loops_are_added_up(plan: Plan) -> None:
    """Parts are itemised in frames and ms with their standing, and the total is as weak as its weakest part."""
    loops = {loop["name"]: loop for loop in timing_sheet(plan, STAMP).data["loops"]}
    assert set(loops) == {time.loop for time in plan.line_map.loops}
    parts = [(part["label"], part["frames"], part["ms"], part["standing"]) for part in loops["Main"]["parts"]]
    assert ("laptop, round trip", "331", "6.90", "proven") in parts
    assert ("insert to card out 25 & 26", "9", "0.19", "assumed") in parts
    total = loops["Main"]["total"]
    assert (total["frames"], total["ms"], total["standing"]) == ("397", "8.27", "assumed")


def test_arrivals_are_condensed(plan: Plan) -> None:
    """Each place has few rows, which together stand for every source that arrives there."""
    places = timing_sheet(plan, STAMP).data["places"]
    heard = heard_at(plan)
    assert [(place["name"], place["kind"]) for place in places] == list(heard)
    assert sum(len(place["groups"]) for place in places) < 60
    for own in heard.values():
        grouped = [one for group in together(own) for one in group]
        assert sorted(one.source for one in grouped) == sorted(one.source for one in own)
        assert len({one.source for one in own}) == len(own)


def test_out_is_earlier_by_the_loops(plan: Plan) -> None:
    """What passes loops comes earlier with them OUT by just their times; the rest stays."""
    delays = {time.loop: time.delay.low for time in plan.line_map.loops}
    for own in heard_at(plan).values():
        for one in own:
            assert one.in_s[0] - one.out_s[0] == pytest.approx(sum(delays[loop] for loop in one.loops))


def test_the_loudest_way_counts(plan: Plan) -> None:
    """The snare is listed in the drummer's mix by its own microphone; its ears are judged by a later copy 6 dB down."""
    own = {one.source: one for one in heard_at(plan)["Band ears", "ear"]}
    snare = next(delay for delay in plan.ears if (delay.mix, delay.source) == ("Band ears", "snare"))
    assert own["snare"].in_s[1] < snare.in_s
    overheads = next(
        row
        for row in plan.arrivals.rows
        if (row.place.name, row.source, row.microphone) == ("Band ears", "snare", "Overheads")
    )
    assert overheads.base.high == pytest.approx(snare.in_s)


def test_ears_are_held_against_limits(plan: Plan) -> None:
    """A performer's own sound is judged where it is known, otherwise the latest of the mix."""
    rows = {row["mix"]: row for row in timing_sheet(plan, STAMP).data["ears"]}
    assert (rows["Lamp ears"]["which"], rows["Lamp ears"]["in_limit"]) == ("own", "within 16 by 8.10")
    assert (rows["Band ears"]["source"], rows["Band ears"]["added_limit"]) == ("lamplighter", "within 8 by 0.73")
    late = planned(SHOW.replace("{ear_total_ms: 16, ear_added_ms: 8}", "{ear_total_ms: 1}").replace("auto", "64"))
    rows = {row["mix"]: row for row in timing_sheet(late, STAMP).data["ears"]}
    assert rows["Lamp ears"]["in_limit"] == "over 1 by 6.90"
    assert rows["Lamp ears"]["added_limit"] == "no limit given"


def test_heard_twice_comes_worst_first(plan: Plan) -> None:
    """What is apart is listed in the plan's order with both states; what is together is only counted."""
    data = timing_sheet(plan, STAMP).data
    worst = [meeting for meeting in plan.meetings if meeting.verdict in ("apart", "cannot tell")]
    assert [meeting["sentence"] for meeting in data["meetings"]] == [meeting.sentence for meeting in worst]
    assert (data["meetings"][0]["in"], data["meetings"][0]["out"]) == (
        {"verdict": "apart", "ms": "8.29", "frames": "398"},
        {"verdict": "together", "ms": "0.02", "frames": "1"},
    )
    assert f"together {len(plan.meetings) - len(worst)}" in data["lead"]
    assert "OUT makes everything behind a loop earlier" in data["lead"]


def test_what_cannot_be_told_names_the_figure(unsure: Plan) -> None:
    """A delay that is not known is called unknown, takes no place on the axis, and is named where it decides."""
    data = timing_sheet(unsure, STAMP).data
    (main,) = (loop for loop in data["loops"] if loop["name"] == "Main")
    assert (main["total"]["ms"], main["total"]["standing"]) == ("unknown", "unknown")
    untold = [meeting for meeting in data["meetings"] if meeting["verdict"] == "cannot tell"]
    assert untold
    assert all(meeting["deciding"] for meeting in untold)
    groups = [group for place in data["places"] for group in place["groups"] if "Main" in group["loops"].split(", ")]
    assert groups
    assert all(group["in"] == "unknown" and group["in_bar"] is None for group in groups)


def test_the_spreadsheet_has_every_row(plan: Plan) -> None:
    """All sources at all places, all ears and all meetings are in the rows, whatever paper leaves out."""
    sheet = timing_sheet(plan, STAMP)
    first = [str(row[0]) for row in sheet.csv_rows]
    assert sum(part.startswith("arrival") for part in first) == sum(len(own) for own in heard_at(plan).values())
    assert first.count("ears") == len(plan.ears)
    assert sum(part.startswith("heard twice") for part in first) == len(plan.meetings)
    assert {len(row) for row in sheet.csv_rows} == {len(sheet.csv_header)}


def test_recordings_that_are_mixed_with_each_other_have_a_table_in_frames() -> None:
    """The encoder's mix and the PA: how many frames each is behind the earliest, on paper and in the spreadsheet."""
    plan = planned(SHOW + "recorded_together: {album: [PA, Encoder]}\n")
    sheet = timing_sheet(plan, STAMP)
    (table,) = sheet.data["recordings"]
    assert table["name"] == "album"
    assert (table["tracks"][0]["in"], table["tracks"][0]["out"]) == ("0", "0")
    rows = [row for row in sheet.csv_rows if row[0] == "recording"]
    assert len(rows) == len(table["tracks"])
    assert {row[1] for row in rows} == {"PA", "Encoder"}
    behind = {track["loops"]: float(track["in"]) - float(track["out"]) for track in table["tracks"]}
    delays = {time.loop: time.delay.low * 48000 for time in plan.line_map.loops}
    least = min(sum(delays[loop] for loop in loops.split(", ") if loop in delays) for loops in behind)
    for loops, frames_later in behind.items():
        passed = sum(delays[loop] for loop in loops.split(", ") if loop in delays)
        assert frames_later == pytest.approx(passed - least, abs=0.06), loops
