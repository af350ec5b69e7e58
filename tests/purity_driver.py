"""Runs the pure packages under an audit hook and writes down whatever of the machine they touch.

A program of its own (`python purity_driver.py`, the texts as JSON on standard input), because an audit hook
can never be taken off again. `test_purity.py` starts it and judges its answer.
"""

import json
import sys
from collections.abc import Callable
from pathlib import Path
from types import FrameType
from typing import Any, TypedDict

PURE = ("units", "findings", "model", "showfile", "graph", "plan", "dsp", "prove", "hold", "rig")
"""The packages and modules of sidetrip that are held to it."""

_WATCHED = frozenset({"open", "subprocess.Popen", "ctypes.dlopen", "mmap.__new__", "time.sleep"})
_WATCHED_FAMILIES = ("os", "socket", "sqlite3", "_thread", "shutil", "tempfile", "glob", "urllib")


class Answer(TypedDict):
    """What was touched under the hook, and which of the PURE ran at all."""

    touched: list[str]
    reached: list[str]


def exercise(show_text: str, desk_texts: dict[str, str]) -> None:
    """Take a show through every public function of the pure packages that a show can reach.

    desk_texts: the text of each desk file by its file name.
    """
    # ---- The body starts here. Imports stand inside: the first round warms them, the second is watched. ----
    from sidetrip import units
    from sidetrip.findings import has_errors, ordered
    from sidetrip.graph.air import air_delay_s, speed_of_sound, speed_of_sound_humid
    from sidetrip.graph.arrivals import find_arrivals
    from sidetrip.graph.build import build
    from sidetrip.graph.rings import ring_words
    from sidetrip.graph.round_trip import measured_buffers, unit_time
    from sidetrip.model.house import Scene
    from sidetrip.model.side_chain import SideChain
    from sidetrip.plan import comb, crossover, tolerance
    from sidetrip.plan.alignment import aligned_show
    from sidetrip.plan.delay_order import delay_order_findings
    from sidetrip.plan.lags import find_lags, lag_findings
    from sidetrip.plan.mending import mends
    from sidetrip.plan.other_desk import changes
    from sidetrip.plan.patching import undo_steps, undo_ticks
    from sidetrip.plan.planner import make_plan
    from sidetrip.plan.recordings import find_recordings, find_replays, recording_findings, replay_findings
    from sidetrip.plan.repatch import change_findings, desk_findings, repatch
    from sidetrip.plan.scenes import audit_scenes
    from sidetrip.plan.side_chains import find_side_chains, side_chain_findings
    from sidetrip.showfile.check_desk import check_desk
    from sidetrip.showfile.check_show import check_show
    from sidetrip.showfile.edit import set_field
    from sidetrip.showfile.read import place, read_desk, read_show
    from sidetrip.showfile.rewrite import rewritten
    from sidetrip.showfile.start import show_text as new_show_text
    from sidetrip.showfile.tables import read_input_list

    units.whole_frames(units.seconds_from_frames(331, 48000), 48000)
    units.period_s(64, 48000)
    units.seconds_from_ms(units.ms_from_seconds(0.5))
    units.db_from_gain(units.gain_from_db(-6))
    units.power_sum_db([-3, -6])
    units.amplitude_sum_db([-3, -6])
    units.dbu_from_volts(units.volts_from_dbu(4))
    units.dbv_from_dbu(units.dbu_from_dbv(-10))
    units.dbu_from_dbfs(units.dbfs_from_dbu(4, 22), 22)
    units.dbfs_from_rms(0.5)

    comb.null_hz(0.001)
    comb.peak_hz(0.001)
    comb.magnitude_db(1000, 0.001, -6)
    comb.level_difference_for_ripple(comb.ripple(-10).ripple_db)
    comb.whole_frame_residue(0.00101, 48000)
    crossover.loss_db(0.0125, 80)
    crossover.octave_loss_db(0.0125, 80)
    tolerance.rating_words(tolerance.instrument_of("Lead vocal"), "in-ear", 0.004)

    speed_of_sound(22)
    speed_of_sound_humid(22, 50)
    air_delay_s(12, 22)

    reading = read_show(show_text, "show.yaml")
    show = reading.show
    for name, text in sorted(desk_texts.items()):
        desk = read_desk(text, name)
        findings = [*check_desk(desk), *check_show(show, desk)]
        has_errors(ordered(place(findings, reading.source)))
        if desk.name == show.desk.type:
            for unit in show.units:
                measured_buffers(unit, show.sample_rate)
            times = {unit.name: unit_time(unit, None, show.sample_rate) for unit in show.units}
            line_map = build(show, desk, (), times)
            arrivals = find_arrivals(line_map)
            assert not [ring_words(ring) for ring in line_map.rings]
            plan = make_plan(show, desk)
            played = show.model_copy(
                update={
                    "plays_together": {"act": ("Lamplighter", "Keys")},
                    "side_chains": (SideChain(strip="Band", by="Lamplighter"),),
                    "recorded_together": {"album": ("PA", "Encoder")},
                    "replays": {"Lamplighter": "PA"},
                }
            )
            assert lag_findings(find_lags(played, plan.line_map))
            side_chain_findings(find_side_chains(played, desk, plan.line_map))
            assert recording_findings(played, find_recordings(played, plan.line_map))
            assert replay_findings(played, find_replays(played, plan.line_map))
            delay_order_findings(played, desk, plan.line_map)
            assert aligned_show(show, desk, plan.alignment).outputs
            make_plan(show, desk, buffer_frames=96, like=plan)
            for refusal in plan.allocation.refusals[:1]:
                for mend in mends(show, desk, plan.allocation, (refusal.strip, refusal.way)):
                    assert mend.show is None or rewritten(show_text, show, mend.show)
            assert undo_steps(plan.steps)
            assert undo_ticks(plan.patching.found, plan.steps)[-1] == plan.patching.found
            fewer = make_plan(show.model_copy(update={"requests": show.requests[:2]}), desk)
            assert not desk_findings(plan, fewer)
            assert not change_findings(show, repatch(plan, fewer))
            scene = Scene(name="Act 2", recalls=("inserts",))
            assert audit_scenes(show.model_copy(update={"scenes": (scene,)}), desk, plan.patching)
            assert plan.arrivals.rows
            arrivals.times(plan.states[0])
            _lists(show, desk, reading.source)
            rows, _ = read_input_list("ch,name,port\n1,Kick,stage 1\n", "list.csv", desk)
            new_show_text("The Tin Lantern", desk.name, desk, rows)
            _hold(plan)
            for take in show.takes:
                _prove(plan, take, show_text)
            assert changes(plan, plan) == ()
            _answer(plan, show_text)
            _two_desks(show, desk)
            _stands_in(show, desk)
        if desk.compensation:
            _held_back(desk)
    set_field(show_text, ("sample_rate",), 44100)
    # ---- The body ends here. ----


def _stands_in(show: Any, desk: Any) -> None:
    """Let a second computer on the card take over from the first, by each switch."""
    from sidetrip.graph.arrivals import with_times
    from sidetrip.plan.hand_over import hand_over_findings, hand_overs
    from sidetrip.plan.planner import make_plan
    from sidetrip.plan.stand_in import idle, no_load, no_room, stands_of, without_stands
    from sidetrip.plan.take_over import check_take_overs, with_stand_in
    from sidetrip.showfile.check_stand_in import check_stand_in, stand_in_pair

    first = next(unit for unit in show.units if unit.kind == "computer")
    for switch in ("by strip", "by block", "by box"):
        spare = first.model_copy(update={"name": "spare", "stands_in_for": first.name, "switch": switch})
        two = show.model_copy(update={"units": (*show.units, spare)})
        assert list(check_stand_in(two, desk)) and stand_in_pair(two, first, spare)
        (stand,) = stands_of(two)
        assert idle(two) == {"spare"} and without_stands(two) == show
        no_room(stand, 2)
        no_load(stand)
    plan = make_plan(two, desk)
    loops, taken = plan.allocation.loops, plan.allocation.take_overs
    assert len(with_stand_in(loops, taken, stand)) == len(loops)
    assert not list(check_take_overs(two, loops, taken))
    changes = hand_overs(two, desk, loops, taken, plan.line_map, {"spare": plan.line_map})
    assert not hand_over_findings(two, changes)
    with_times(plan.arrivals, plan.line_map).times(plan.states[-1])


def _two_desks(show: Any, desk: Any) -> None:
    """Put every ear of the show on another desk of the same type, and take one strip there by a tie."""
    from sidetrip.graph.second_desk import one_clock
    from sidetrip.model.show import Send
    from sidetrip.model.split import OtherDesk
    from sidetrip.plan.planner import make_plan
    from sidetrip.plan.two_desks import loops_in_ears, other_mixes, two_desk_findings
    from sidetrip.showfile.check_two_desks import check_two_desks

    other = OtherDesk(name="monitors", type=desk.name, split="shared").with_type(desk)
    tie = {"Lamplighter": Send(tie="after insert")}
    ears = [mix for mix in show.mixes if mix.for_ is not None]
    away = {mix.name: mix.model_copy(update={"desk": "monitors", "from_": tie}) for mix in ears}
    update = {
        "other_desks": (other,),
        "mixes": tuple(away.get(mix.name, mix) for mix in show.mixes),
        "outputs": tuple(output for output in show.outputs if output.from_ not in away),
    }
    two = show.model_copy(update=update)
    list(check_two_desks(two, desk))
    plan = make_plan(two, desk)
    assert one_clock(two, other)
    assert other_mixes(two, plan.allocation.loops, plan.arrivals)
    assert loops_in_ears(plan.arrivals)
    two_desk_findings(two, plan.allocation.loops, plan.arrivals)


def _answer(plan: Any, show_text: str) -> None:
    """Ask who else could go out, why each strip does or does not, and what the house must say; take an answer."""
    from sidetrip.plan.answers import Answers
    from sidetrip.plan.price import price_list
    from sidetrip.plan.unknowns import branches, questions
    from sidetrip.plan.why import why
    from sidetrip.showfile.known import answered, every_fact
    from sidetrip.showfile.question_list import Answer, question_list, read_answers, with_answers
    from sidetrip.showfile.read import read_show

    answers = Answers.of(plan.show, plan.desk)
    assert answers is not None
    assert answers.runner_up() is not None
    assert answers.nearest_flips(1) == answers.flips()[:1]
    assert price_list(plan.show, plan.desk)
    assert all(why(plan.show, plan.desk, request.strip) for request in plan.show.requests[:3])
    asked = questions(branches(plan))
    question_list((own.fact.id, own.fact.question, own.why) for own in asked)
    facts = {fact.id: fact for fact in every_fact(plan.show, plan.desk)}
    text = "question id,answer,by whom,date\none key,no,owner,2026-11-20\n"
    taken, _ = read_answers(text, "list.csv", facts)
    known = with_answers(show_text, (*taken, Answer("stereo pairs", "any pair", "owner", "2026-11-20", 3)))
    assert answered(read_show(known, "show.yaml").show, plan.desk)[2] == ()


def _held_back(desk: Any) -> None:
    """Plan a loop on a desk that holds copies back by itself, in every state."""
    from sidetrip.plan.planner import make_plan
    from sidetrip.showfile.read import read_show

    text = f"""sidetrip: 1
show: waits
sample_rate: 48000
desk: {{type: {desk.name}}}
units: [{{name: rack, kind: computer, connects: {desk.connections[0].name}, buffer: 64}}]
inputs: [{{ch: 1, name: A, port: stage 1, to: [Main]}}, {{ch: 2, name: B, port: stage 2, group: G}}]
mixes: [{{name: G, kind: group, width: mono, to: [Main]}}, {{name: Main, kind: main, width: stereo}}]
outputs: [{{name: PA, from: Main, port: local out 1-2}}]
chains: {{thin: [{{eq: {{}}}}]}}
requests: [{{strip: B, chain: thin, want: 5}}]
"""
    plan = make_plan(read_show(text, "show.yaml").show, desk)
    assert plan.line_map.holding is not None
    assert [plan.arrivals.held_longer(state) is not None for state in plan.states]


def _lists(show: Any, desk: Any, source: Any) -> None:
    """Read each list of a show with one row changed, and write what it changes into the text."""
    from sidetrip.showfile.listdiff import apply, compare
    from sidetrip.showfile.listforms import FORMS, cell, shown_rows, state_of
    from sidetrip.showfile.listmemory import Memory, memory_text, own_changes, read_memory, remember
    from sidetrip.showfile.listread import find_list, read_list, stamp_cells

    for form in FORMS:
        rows = shown_rows(form, show, source)
        state = state_of(form, rows)
        lines = [
            stamp_cells(form, "show", state, "point"),
            [field.heading for field in form.fields],
            *([cell(field, row.values.get(field.key)) for field in form.fields] for row in rows),
        ]
        text = "\n".join("\t".join(line) for line in lines) + "\n"
        read = read_list(find_list(text.encode(), "list.csv"), rows, desk, ids={}, names={})
        diff = compare(read, rows, source)
        apply(source.text, diff.edits, source.file)
        own_changes(read, Memory().of(form.section), rows)
        states = {one.section: state for one in FORMS}
        read_memory(memory_text(remember(Memory(), read, rows, states, states)), "kept")


def _hold(plan: Any) -> None:
    """Read a log in both forms, add it up, and advise on the buffer."""
    from sidetrip.hold.advice import advise
    from sidetrip.hold.checklist import check_list
    from sidetrip.hold.counts import clean_hours_for_count, clean_hours_for_risk, largest_chance
    from sidetrip.hold.parts import bin_of, written
    from sidetrip.hold.read_log import read_log
    from sidetrip.hold.round_trip import rate_parts

    own = next(unit for unit in plan.units if unit.buffer_frames)
    said = {"unit": own.name, "system": "s", "driver": "d", "session": "x", "buffer": own.buffer_frames, "rate": 48000}
    head = [f"# {key}: {value}" for key, value in {**said, "started": "2026-11-20T19:30:00"}.items()]
    rows = [f"{10 + number % 7 + (700 + number if number % 50 == 0 else 0)},400,0" for number in range(5000)]
    read = read_log([*head, "lateness_us,work_us,missed", *rows], "log.csv")
    assert read.log is not None
    log = read.log
    lines = written(log.configuration, log.started, read.parts, read.floor_s, bin_of(log.configuration), complete=True)
    again = read_log(lines, "log.jsonl").log
    assert again is not None
    advice = advise(plan, [again])
    assert advice.units
    check_list(advice.units[0])
    rate_parts(advice.units[0].fits)
    largest_chance(2, 100)
    clean_hours_for_count(3, 1)
    clean_hours_for_risk(3, 0.01)


def _prove(plan: Any, take: Any, show_text: str) -> None:
    """Play a take whose loops are all cables, and prove it."""
    import numpy as np

    from sidetrip.dsp.testsignal import TestSignal, from_chunk, usual_levels_dbfs
    from sidetrip.dsp.tones import make_tones
    from sidetrip.prove.adopt import adopt
    from sidetrip.prove.expect import expect
    from sidetrip.prove.measure import measure
    from sidetrip.prove.patch import patch_for, reached
    from sidetrip.prove.remarks import proof_findings
    from sidetrip.prove.verdict import prove
    from sidetrip.rig.network import Catch, Feed, Recorder, Rig
    from sidetrip.rig.run import run

    expected = expect(plan, take)
    patch_for(plan, expected)
    reached(plan, expected)
    entries = len(expected.entries)
    signal = TestSignal(make_tones(entries, 48000, period_frames=4096), usual_levels_dbfs(entries), 3, "test")
    signal = from_chunk(signal.chunk())
    feeds = {way.catch: (Feed(("entry", way.entry)),) for way in expected.ways}
    catches = tuple(Catch(str(catch.number), feeds[catch.number], -100.0) for catch in expected.catches)
    recorded = run(Rig(48000, entries, (), catches, Recorder(48000, ppm=20)), np.concatenate(list(signal.blocks())), 1)
    samples = recorded.samples

    class Reader:
        rate_hz, frames = recorded.rate_hz, len(samples)

        def read(self, start: int, stop: int, tracks: Any = None) -> Any:
            return samples[start:stop] if tracks is None else samples[start:stop, list(tracks)]

    captured = measure(Reader(), signal, range(len(catches)), 0)
    proof = prove(plan, expected, captured, when="2026-11-25T12:00:00")  # type: ignore[arg-type]
    assert proof.legs
    assert proof_findings(proof)
    adopt(plan, proof, show_text)


def touched_by(run: Callable[[], object]) -> list[str]:
    """Run under the hook and return what was touched, each once, like "open('show.yaml') in read.py:12"."""
    armed = True
    touched: dict[str, None] = {}

    def watch(event: str, arguments: tuple[Any, ...]) -> None:
        nonlocal armed
        if not armed or not (event in _WATCHED or event.split(".", maxsplit=1)[0] in _WATCHED_FAMILIES):
            return
        armed = False  # writing it down must not be written down
        frame = sys._getframe(1)
        what = ", ".join(repr(argument) for argument in arguments)
        touched[f"{event}({what[:200]}) in {Path(frame.f_code.co_filename).name}:{frame.f_lineno}"] = None
        armed = True

    sys.addaudithook(watch)
    try:
        run()
    finally:
        armed = False
    return list(touched)


def reached_by(run: Callable[[], object]) -> list[str]:
    """Run and return which of the PURE had a function called: a check that runs nothing proves nothing."""
    modules: set[str] = set()

    def note(frame: FrameType, event: str, _: object) -> None:
        # The body of a module or of a class is called too, at import: neither is a function.
        if event == "call" and frame.f_code.co_flags & 1:
            modules.add(str(frame.f_globals.get("__name__")))

    sys.setprofile(note)
    try:
        run()
    finally:
        sys.setprofile(None)
    return [name for name in PURE if any(f"{module}.".startswith(f"sidetrip.{name}.") for module in modules)]


def main() -> None:
    """Exercise twice: unwatched, so that late imports (scipy) are done with, then under the hook."""
    texts = json.load(sys.stdin)
    exercise(texts["show"], texts["desks"])
    # Profiled apart, before the hook: with it, the profiler's own work would be under watch as well.
    reached = reached_by(lambda: exercise(texts["show"], texts["desks"]))
    touched = touched_by(lambda: exercise(texts["show"], texts["desks"]))
    json.dump(Answer(touched=touched, reached=reached), sys.stdout)


if __name__ == "__main__":
    main()
