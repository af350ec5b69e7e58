"""What has to be patched for a take, and put back behind it; and where its sound comes out."""

from __future__ import annotations

from dataclasses import dataclass

from sidetrip.findings import Finding
from sidetrip.model.desk import Block, Choice
from sidetrip.model.ports import Port, Ports
from sidetrip.plan.planner import Plan
from sidetrip.plan.ways import current_choice
from sidetrip.prove.expect import Catch, Expected


@dataclass(frozen=True, slots=True)
class Repatch:
    """One block that takes another source for the take. was: to be put back afterwards."""

    block: str
    source: str
    was: str


def patch_for(plan: Plan, expected: Expected) -> tuple[tuple[Repatch, ...], tuple[Finding, ...]]:
    """Return the blocks to re-patch, in the order of the take, and what this desk cannot copy to a caught port."""
    chosen: dict[str, tuple[Block, Choice]] = {}
    findings: list[Finding] = []
    for catch in expected.catches:
        wanted = _wanted(plan, catch)
        blocks = [block for block in plan.desk.blocks if block.feeds.overlaps(catch.port)]
        if wanted is None or not blocks:
            continue
        fits = [
            (block, choice)
            for block in blocks
            for choice in block.choices
            if _brings(block, choice, catch.port.each[0], wanted)
        ]
        if not fits:
            findings.append(
                _wrong(expected, f"This desk cannot copy {wanted} to {catch.port}", "", "Catch it on another port")
            )
            continue
        block, choice = next((fit for fit in fits if chosen.get(fit[0].name) == fit), fits[0])
        carried = [loop.name for loop in plan.allocation.loops if loop.unit_in.overlaps(block.covered(choice))]
        if carried and _words(choice) != _now(plan, block):
            what, remedy = f"The {block.name} sends loops to their unit", "Catch it on a port of another block"
            findings.append(_wrong(expected, what, f"{choice.from_}; {', '.join(sorted(carried))}", remedy))
            continue
        before = chosen.get(block.name)
        if before is not None and before[1] != choice:
            values = f"{before[1].from_} and {choice.from_}"
            what = f"The {block.name} would have to be two things at once"
            findings.append(_wrong(expected, what, values, "Catch one of them on a port of another block"))
            continue
        chosen[block.name] = block, choice
    steps = tuple(
        Repatch(name, _words(choice), was)
        for name, (block, choice) in chosen.items()
        if (was := _now(plan, block)) != _words(choice)
    )
    return steps, tuple(findings)


def reached(plan: Plan, expected: Expected) -> tuple[str, ...]:
    """Return every output that the test sounds from while the take is played, sorted."""
    entered = {item.name for item in plan.show.inputs for entry in expected.entries if item.port.overlaps(entry.port)}
    return tuple(
        sorted(
            {
                row.place.name
                for row in plan.arrivals.rows
                if row.microphone in entered and row.place.kind in ("output", "ear")
            }
        )
    )


def _wanted(plan: Plan, catch: Catch) -> Port | None:
    """Return the input port that a caught port should copy, None for a copy of a strip."""
    if catch.caught.dry is not None:
        return catch.caught.dry.each[catch.leg]
    if catch.caught.return_ is None:
        return None
    loop = next((one for one in plan.allocation.loops if one.strip == catch.caught.return_), None)
    return loop.returns.each[catch.leg] if loop is not None and catch.leg < len(loop.returns) else None


def _brings(block: Block, choice: Choice, port: Port, wanted: Port) -> bool:
    covered, source = block.covered(choice), choice.from_
    if not isinstance(source, Ports) or source.group != wanted.group or covered.group != port.group:
        return False
    if not covered.first <= port.number <= covered.last:
        return False
    return source.first + port.number - covered.first == wanted.number <= source.last


def _now(plan: Plan, block: Block) -> str:
    """Return what a block has as source by the plan, or else as the show finds it."""
    for setting in plan.allocation.settings:
        if setting.block == block.name:
            return setting.becomes
    return _words(block.choices[current_choice(block, plan.show, plan.desk)])


def _words(choice: Choice) -> str:
    """Return a choice as the plan's settings say it."""
    return str(choice.from_) + (f" on {choice.covers}" if choice.covers else "")


def _wrong(expected: Expected, what: str, values: str, remedy: str) -> Finding:
    return Finding("take-wrong", f"takes / {expected.take.name}", what, values, remedy)


__all__ = ["Repatch", "patch_for", "reached"]
