"""Scenes held against a patch: what recalling one would change, what that does, and what to exclude."""

from __future__ import annotations

import pytest

from showtext import DEMO_TEXT, codes, desk, findings_of, only
from sidetrip.plan.planner import Plan, make_plan
from sidetrip.plan.scenes import SceneAudit
from sidetrip.showfile.read import read_show

ALL_OUT = ("Bass", "Lamplighter", "Main", "Narrator")


def _audit(scene: str) -> SceneAudit:
    (audit,) = _plan(f"{{name: Act 2, {scene}}}").scenes
    return audit


def _plan(*scenes: str) -> Plan:
    text = f"{DEMO_TEXT}\nscenes: [{', '.join(scenes)}]\n"
    return make_plan(read_show(text, "show.yaml").show, desk())


def test_a_scene_that_takes_a_loop_out_says_so() -> None:
    """By hand: the main's insert OUT is a loop OUT, nothing is silent, and its insert is what to exclude."""
    audit = _audit("sets: {inserts: {Main: out}}")
    assert (audit.verdict, audit.out, audit.does, audit.keep_out) == (
        "loop OUT",
        ("Main",),
        "OUT: Main",
        ("inserts of Main",),
    )


def test_a_scene_from_before_the_patch_takes_every_loop_out() -> None:
    """Inserts and sources as they were stored: no insert is left, so nothing hangs on a dead return."""
    audit = _audit("recalls: [inserts, sources]")
    assert (audit.verdict, audit.out) == ("loop OUT", ALL_OUT)
    assert audit.keep_out == (
        "inserts of Bass, Lamplighter, Main, Narrator",
        "sources of aux in 1-8, card out 25-32",
    )


def test_a_source_alone_is_silence() -> None:
    """The aux inputs back on their jacks under inserts that are IN: all three laptop loops are dead, the PA silent."""
    audit = _audit("sets: {sources: {aux in 1-8: jacks}}")
    assert audit.verdict == "silence"
    assert "Lamplighter, Main, Narrator IN with nothing coming back" in audit.does
    assert "Lip fills, PA fall silent" in audit.does
    assert [change.item for change in audit.changes] == ["source of aux in 1-8"]
    assert (audit.changes[0].planned, audit.changes[0].recalled) == ("card in 25-28 on aux in 1-4", "jacks")


def test_a_return_strip_of_the_main_feeds_back_and_that_of_a_voice_is_heard_twice() -> None:
    """Each change is tried alone, so the sheet can say which of them does it."""
    audit = _audit("sets: {strips: {return 1-3: open}}")
    assert audit.verdict == "feeds back"
    assert [(change.item, change.does) for change in audit.changes] == [
        ("return strip 1", "feeds back through return strip 1"),
        ("return strip 2", "feeds back through return strip 2"),
        ("return strip 3", "a return is heard beside its loop"),
    ]
    assert audit.keep_out == ("mutes and assigns of return 1, return 2, return 3",)


def test_an_insert_in_where_nothing_is_assigned_is_silence() -> None:
    """A scene that takes the drums' insert IN, which this plan does not use: nothing comes back there."""
    audit = _audit("sets: {inserts: {Drums: in}}")
    assert audit.verdict == "silence" and "Drums IN with nothing coming back" in audit.does


@pytest.mark.parametrize(
    "scene",
    [
        "recalls: []",
        "recalls: [inserts, sources], as_planned: yes",
        "sets: {inserts: {Main: in}, strips: {return 1: shut}, sources: {card out 25-32: aux out 1-8}}",
        "sets: {strips: {return 7: open}}",
    ],
)
def test_a_scene_that_sets_what_is_set_leaves_the_patch_alone(scene: str) -> None:
    """Nothing recalled, the plan itself recalled, or a strip that no loop uses: nothing to exclude, nothing found."""
    plan = _plan(f"{{name: Act 2, {scene}}}")
    (audit,) = plan.scenes
    assert (audit.verdict, audit.changes, audit.keep_out) == ("leaves the patch alone", (), ())
    assert not [finding for finding in plan.findings if finding.code.startswith("scene")]


def test_scenes_come_by_name_and_only_with_a_patch() -> None:
    """Their order in the file changes nothing; without a loop there is nothing to hold them against."""
    names = [audit.scene for audit in _plan("{name: B}", "{name: A}").scenes]
    assert names == ["A", "B"]
    quiet = DEMO_TEXT[: DEMO_TEXT.index("requests:")] + DEMO_TEXT[DEMO_TEXT.index("keep:") : DEMO_TEXT.index("takes:")]
    show = read_show(f"{quiet}\nscenes: [{{name: A, recalls: [inserts]}}]\n", "show.yaml").show
    assert make_plan(show, desk()).scenes == ()


@pytest.mark.parametrize(
    ("scene", "code"),
    [
        ("sets: {strips: {return 1: open}}", "scene-ring"),
        ("sets: {as_found: sources}", "scene-silence"),
        ("sets: {as_found: [inserts]}", "scene-out"),
        ("sets: {strips: {channel 31: open}}", "scene-out"),
    ],
)
def test_what_a_scene_would_do_is_a_finding_with_its_place(scene: str, code: str) -> None:
    """A code for each consequence, the scene's line, and what to exclude."""
    text = f"{DEMO_TEXT}\nscenes:\n  - {{name: Act 2, {scene}}}\n"
    finding = only(findings_of(text), code)
    assert finding.line == text.count("\n")
    assert finding.remedy.startswith("Exclude from its recall: ")


@pytest.mark.parametrize(
    ("sets", "code"),
    [
        ("{inserts: {Mane: out}}", "name-unknown"),
        ("{outputs: {PB: its mix}}", "name-unknown"),
        ("{sources: {aux in 1-9: jacks}}", "name-unknown"),
        ("{sources: {aux in 1-8: card in 1-8}}", "name-unknown"),
        ("{strips: {somewhere: open}}", "value-wrong"),
        ("{strips: {return 33: open}}", "strip-missing"),
        ("{strips: {channel 1: open}}", "value-wrong"),
        ("{inserts: {Main: off}}", "value-wrong"),
        ("{faders: {Main: up}}", "key-unknown"),
    ],
)
def test_a_scene_that_cannot_be_is_found_with_its_line(sets: str, code: str) -> None:
    """Names, blocks, sources and strips that are not there, and words that mean nothing."""
    text = f"{DEMO_TEXT}\nscenes:\n  - {{name: Act 2, sets: {sets}}}\n"
    found = findings_of(text)
    assert code in codes(found), [str(finding) for finding in found]
    assert only([own for own in found if own.severity == "error"], code).line == text.count("\n")
