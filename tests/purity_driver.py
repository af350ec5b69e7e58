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

PURE = ("units", "findings", "model", "showfile", "graph", "plan", "dsp", "prove", "rig")
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
    from sidetrip.plan import comb
    from sidetrip.plan.patching import undo_steps
    from sidetrip.plan.planner import make_plan
    from sidetrip.showfile.check_desk import check_desk
    from sidetrip.showfile.check_show import check_show
    from sidetrip.showfile.edit import set_field
    from sidetrip.showfile.read import place, read_desk, read_show
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
            make_plan(show, desk, buffer_frames=96)
            assert undo_steps(plan.steps)
            assert plan.arrivals.rows
            arrivals.times(plan.states[0])
            rows, _ = read_input_list("ch,name,port\n1,Kick,stage 1\n", "list.csv", desk)
            new_show_text("The Tin Lantern", desk.name, desk, rows)
            for take in show.takes:
                _prove(plan, take, show_text)
    set_field(show_text, ("sample_rate",), 44100)
    # ---- The body ends here. ----


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
