"""Rules about the house that every plan is held against: clocks, scenes, alerts, protection, paths never to pass."""

from __future__ import annotations

from collections.abc import Iterator

from sidetrip.findings import Finding
from sidetrip.graph.linemap import PlacedLoop
from sidetrip.model.desk import Desk
from sidetrip.model.house import Accepted
from sidetrip.model.show import Show
from sidetrip.plan.invariants_words import about
from sidetrip.plan.meeting import Meeting
from sidetrip.plan.protect import never_passed
from sidetrip.showfile.check_strips import is_voice_alarm


def check_house_side(show: Show, desk: Desk, loops: tuple[PlacedLoop, ...]) -> list[Finding]:
    """Return every rule about clocks, scenes, alerts and protection that these loops break."""
    return [
        *_clocks(show),
        *_scenes(show, loops),
        *_system_sounds(show, loops),
        *_protection(show, loops),
        *_protected(show, desk, loops),
    ]


# Clocks


def _clocks(show: Show) -> Iterator[Finding]:
    """One leader, everything at its rate, and a rate converter has a name."""
    clock = show.clock
    if clock is None:
        return
    for index, device in enumerate(clock.devices):
        where, path = f"clock / {device.name}", ("clock", "devices", index)
        if not clock.led(device) and device.converter is None:
            remedy = f"Let it follow {clock.leader}, or name the rate converter between: {{converter: ...}}"
            what = f"{device.name} does not follow {clock.leader}: there are two clocks"
            yield Finding("clock-leaders", where, what, f"it follows {device.follows}", remedy, path)
        rate = device.rate or show.sample_rate
        if rate != show.sample_rate and device.converter is None:
            values = f"{rate} Hz, the show runs at {show.sample_rate} Hz"
            remedy = "Set it to the show's rate, or name the rate converter between: {converter: ...}"
            yield Finding("clock-rate", where, f"{device.name} runs at another rate", values, remedy, path)


# Scenes and alerts


def _scenes(show: Show, loops: tuple[PlacedLoop, ...]) -> Iterator[Finding]:
    """Inserts and sources are outside recall, or stored as planned in every scene."""
    if not loops:
        return
    names = ", ".join(loop.name for loop in loops)
    for index, scene in enumerate(show.scenes):
        if scene.recalls and not scene.as_planned:
            values = f"recalls {' and '.join(scene.recalls)}; loops {names}"
            remedy = "Take them out of the scene's scope, or store them as planned and write 'as_planned: yes'"
            what = "Recalling this scene would change a loop"
            yield Finding("scene-recalls", f"scenes / {scene.name}", what, values, remedy, ("scenes", index))


def _system_sounds(show: Show, loops: tuple[PlacedLoop, ...]) -> Iterator[Finding]:
    """No computer that carries loops sounds its own alerts on the card."""
    for index, unit in enumerate(show.units):
        mine = [loop.name for loop in loops if loop.unit == unit.name]
        if unit.kind == "computer" and unit.system_sound == "card" and mine:
            values = f"loops {', '.join(mine)}"
            remedy = "Give the computer's own sounds another device or switch them off: one alert would reach the PA"
            what = f"The alerts of {unit.name} come out of the card"
            yield Finding("system-sound", f"units / {unit.name}", what, values, remedy, ("units", index))


# What must not hang on a loop


def _protection(show: Show, loops: tuple[PlacedLoop, ...]) -> Iterator[Finding]:
    """Nothing that keeps from feedback, or spares ears and loudspeakers, lives in a loop alone.

    A limiter on the way to somebody's ears spares them, whether it says so or not.
    """
    for loop in loops:
        request = next((own for own in show.requests if (own.strip, own.way) == (loop.strip, loop.way)), None)
        if loop.chain is None or (request is not None and request.substitute is not None):
            continue
        for processor in show.chains.get(loop.chain, ()):
            spares = processor.protects or ("ears" if processor.kind == "limiter" and _to_ears(show, loop) else None)
            if spares is not None:
                against = "keeps from feedback" if spares == "feedback" else f"spares {spares}"
                what = f"The {processor.kind} that {against} lives in this loop alone"
                remedy = "Set one on the desk too and name it in the request: {substitute: ...}"
                values = f"chain {loop.chain}: gone when the loop is OUT or {loop.unit} is dead"
                yield about(show, "safety-in-loop", loop.strip, what, values, remedy)


def _to_ears(show: Show, loop: PlacedLoop) -> bool:
    output = show.output(loop.strip) if loop.way == "output" else None
    mix = show.mix(output.from_ if output is not None else loop.strip)
    return mix is not None and mix.for_ is not None


def _protected(show: Show, desk: Desk, loops: tuple[PlacedLoop, ...]) -> Iterator[Finding]:
    passed = never_passed(show, desk, ((loop.strip, loop.way) for loop in loops))
    for loop in loops:
        name = passed.get((loop.strip, loop.way))
        if name is not None:
            alarm = is_voice_alarm(name)
            remedy = "Take the loop off this strip, or the path out of this mix"
            what = f"'{name}' would pass this loop"
            yield about(show, "voice-alarm-loop" if alarm else "never-passes", loop.strip, what, "", remedy)


# What was accepted by name


def accepted_by(accept: tuple[Accepted, ...], meeting: Meeting) -> str | None:
    """Return who accepts a meeting, None where nobody does for all its places and all its loops."""
    names: list[str] = []
    for place in meeting.places:
        by = [own.by for own in accept if own.at == place and set(meeting.loops) <= set(own.loops)]
        if not by or not meeting.loops:
            return None
        names += by
    return ", ".join(dict.fromkeys(names))
