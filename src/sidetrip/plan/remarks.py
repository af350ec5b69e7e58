"""What a plan says aloud of its units, its meetings and its keys."""

from __future__ import annotations

from dataclasses import dataclass

from sidetrip.findings import Finding
from sidetrip.graph.arrivals import Arrivals
from sidetrip.graph.round_trip import UnitTime
from sidetrip.model.desk import Desk
from sidetrip.model.show import Show
from sidetrip.plan.compare import Compared
from sidetrip.plan.meeting_remarks import meeting_findings, nearly_findings, remedy_for
from sidetrip.plan.recovery import Recovery, group_label


@dataclass(frozen=True, slots=True)
class UnitPlan:
    """A unit as planned.

    buffer_frames: None for hardware. why: how an open buffer was chosen, empty if it was given.
    """

    name: str
    buffer_frames: int | None
    time: UnitTime
    why: str


def unit_findings(show: Show, units: tuple[UnitPlan, ...], used: set[str]) -> list[Finding]:
    """Say which round trips are guessed, unknown, uneven or not constant, and which buffer was chosen."""
    found = []
    names = [unit.name for unit in show.units]
    for planned in units:
        unit = show.unit(planned.name)
        assert unit is not None
        if unit.name not in used:
            continue
        where, path = f"units / {unit.name}", ("units", names.index(unit.name))
        at = (
            f"buffer {planned.buffer_frames} at {show.sample_rate} Hz"
            if planned.buffer_frames
            else f"{show.sample_rate} Hz"
        )
        measured = ", ".join(str(buffer) for buffer in sorted({point.buffer for point in unit.measured})) or "none"
        if planned.why and planned.buffer_frames is not None:
            values = f"{planned.buffer_frames} frames"
            found.append(
                Finding(
                    "buffer-chosen",
                    where,
                    f"The buffer was left open and is {planned.why}",
                    values,
                    "Write the number to fix it",
                    path,
                )
            )
        if planned.time.basis == "line":
            remedy = f"Measure the round trip at {at}"
            found.append(
                Finding(
                    "round-trip-guessed",
                    where,
                    f"The round trip at {at} comes from a line through other buffers",
                    f"measured: {measured}",
                    remedy,
                    path,
                )
            )
        if planned.time.basis == "other rate":
            rates = ", ".join(str(rate) for rate in sorted({point.rate for point in unit.measured}))
            remedy = "Measure at this rate; not everything in a round trip is counted in frames"
            found.append(
                Finding(
                    "rate-unlike",
                    where,
                    f"Frames measured at {rates} Hz are used at {show.sample_rate} Hz",
                    "",
                    remedy,
                    path,
                )
            )
        if not planned.time.span.known:
            key = "delay_ms" if unit.kind == "hardware" else "measured"
            remedy = f"Measure the round trip and add it under '{key}'"
            found.append(
                Finding(
                    "round-trip-unknown",
                    where,
                    f"The round trip at {at} is unknown",
                    f"measured at buffers: {measured}",
                    remedy,
                    path,
                )
            )
        if planned.time.uneven:
            values = f"off the line by up to {planned.time.residual_frames:.1f} frames"
            found.append(
                Finding(
                    "round-trip-uneven",
                    where,
                    "The round trips do not grow evenly with the buffer",
                    values,
                    "Something unmodelled is in the path: measure again",
                    path,
                )
            )
        if planned.time.spread_frames > 0:
            values = f"{planned.time.spread_frames:g} frames apart"
            found.append(
                Finding(
                    "round-trip-spread",
                    where,
                    "The round trip is not constant between openings",
                    values,
                    "Do not mix this unit with a dry copy of the same sound",
                    path,
                )
            )
        if unit.kind == "computer" and unit.aligns == "unknown":
            remedy = "Put a long chain on one loop and see whether the others get later; write all or per chain"
            found.append(
                Finding(
                    "aligns-unknown",
                    where,
                    "It is unknown whether the unit delays every chain to its slowest",
                    "",
                    remedy,
                    path,
                )
            )
    return found


def group_findings(show: Show, desk: Desk, rescue: Recovery) -> list[Finding]:
    """Say which bypass groups with loops in them get no key of this desk."""
    out = {press.strip for press in rescue.presses}
    labels = {key.label for key in rescue.keys}
    values = f"{desk.bypass.group_keys} keys; takes inserts: {desk.bypass.group_key_takes_inserts.answer}"
    remedy = "Press its strips one by one, or drop the group"
    what = "No single key of this desk takes the group OUT"
    return [
        Finding("group-key-missing", f"bypass_groups / {name}", what, values, remedy, ("bypass_groups", name))
        for name, members in sorted(show.bypass_groups.items())
        if out & set(members) and group_label(name) not in labels
    ]


def cut_findings(arrivals: Arrivals, compared: Compared) -> list[Finding]:
    """Say where there were more paths or pairs than are followed, so that silence does not pass for an answer."""
    found = []
    remedy = "Look over double assignments and mixes that feed each other; they multiply the ways"
    if not arrivals.complete:
        what, values = "There are more paths than are followed", f"{len(arrivals.rows):,} were followed"
        found.append(Finding("paths-cut", "line map", what, values, remedy))
    if compared.left_out:
        what = "Some sources reach a place by more ways than are compared; the quietest ways were left out"
        values = f"{compared.left_out:,} arrivals left out, at most {compared.most} of one source compared at one place"
        found.append(Finding("paths-cut", "line map", what, values, remedy))
    return found + nearly_findings(compared)


def filled_in_findings(show: Show) -> list[Finding]:
    """Say which figures were not given and what stands in for them."""
    found = []
    quiet = [f"{item.name} of {source}" for item in show.inputs for source, own in item.hears.items() if own.db is None]
    quiet += [
        f"{own.name} of {name}" for own in show.listeners for name, heard in own.hears.items() if heard.db is None
    ]
    if quiet:
        values = _some(sorted(quiet))
        remedy = "Give db beside the distance where one is louder than the other; it decides what is heard twice"
        found.append(Finding("filled-in", "hears", "Levels that are not given are taken as 0 dB", values, remedy))
    fed = {output.from_ for output in show.outputs}
    bare = sorted(mix.name for mix in show.mixes if mix.for_ is not None and mix.name not in fed)
    if bare:
        remedy = "Add the output that feeds them, with its port"
        what = "Ears without an output are reached by the desk's first kind of output jack"
        found.append(Finding("filled-in", "mixes", what, _some(bare), remedy))
    return found


def _some(names: list[str], most: int = 6) -> str:
    return ", ".join(names[:most]) + (f" and {len(names) - most} more" if len(names) > most else "")


__all__ = [
    "UnitPlan",
    "cut_findings",
    "filled_in_findings",
    "group_findings",
    "meeting_findings",
    "remedy_for",
    "unit_findings",
]
