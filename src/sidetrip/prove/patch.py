"""What has to be patched for a take, and put back behind it; and where its sound comes out."""

from __future__ import annotations

from dataclasses import dataclass

from sidetrip.findings import Finding
from sidetrip.graph.hops import Hops
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
    """Return the blocks to re-patch, in the order of the take, and what this desk cannot copy to a caught port.

    Where a port could come by several choices, those are taken that serve the most of the take, its first ports first.
    """
    findings: list[Finding] = []
    wanted: list[_Wish] = []
    for catch in expected.catches:
        fits, finding = _fits(plan, expected, catch)
        findings += [finding] if finding is not None else []
        wanted += [_Wish(catch, fits)] if fits else []
    chosen = _chosen(wanted)
    for wish in wanted:
        if not any(chosen.get(block.name) == choice for block, choice in wish.fits):
            block, choice = wish.fits[0]
            values = f"{chosen[block.name].from_} and {choice.from_}"
            what = f"The {block.name} would have to be two things at once"
            findings.append(_wrong(expected, what, values, "Catch one of them on a port of another block"))
    blocks = {block.name: block for wish in wanted for block, _ in wish.fits}
    steps = tuple(
        Repatch(name, _words(choice), was)
        for name, choice in chosen.items()
        if (was := _now(plan, blocks[name])) != _words(choice)
    )
    return steps, tuple(findings)


@dataclass(frozen=True, slots=True)
class _Wish:
    """A catch, and each (block, choice) that would bring it what it should carry."""

    catch: Catch
    fits: tuple[tuple[Block, Choice], ...]


def _chosen(wanted: list[_Wish]) -> dict[str, Choice]:
    """Return a choice for each block: all wishes served if that can be, else in order as many as can."""
    whole = _all(wanted, {})
    if whole is not None:
        return whole
    served: list[_Wish] = []
    for wish in wanted:
        if _all([*served, wish], {}) is not None:
            served.append(wish)
    return _all(served, {}) or {}


def _all(wanted: list[_Wish], chosen: dict[str, Choice]) -> dict[str, Choice] | None:
    """Return choices under which every wish is served, None when there are none."""
    if not wanted:
        return chosen
    first, rest = wanted[0], wanted[1:]
    if any(chosen.get(block.name) == choice for block, choice in first.fits):
        return _all(rest, chosen)
    for block, choice in first.fits:
        if block.name not in chosen and (found := _all(rest, {**chosen, block.name: choice})) is not None:
            return found
    return None


def _fits(plan: Plan, expected: Expected, catch: Catch) -> tuple[tuple[tuple[Block, Choice], ...], Finding | None]:
    """Return what could bring a catch what it should carry, and what is wrong when it needs a block and none can."""
    blocks = [block for block in plan.desk.blocks if block.feeds.overlaps(catch.port)]
    wanted = _wanted(plan, catch)
    if wanted is None and catch.caught.strip is None:
        return (), None  # the return of a strip that stays in
    if not blocks or wanted is None:
        start = wanted.group if wanted is not None else plan.show.kind(catch.caught.strip or "")
        if not blocks and Hops(plan.show, plan.desk)(start, catch.port.group).known:
            return (), None
        what = f"This desk's file knows no way to copy {wanted or catch.caught.strip} to {catch.port}"
        remedy = "Catch it on another port, or correct the desk's file"
        return (), _wrong(expected, what, "", remedy)
    fits = tuple(
        (block, choice)
        for block in blocks
        for choice in block.choices
        if _brings(block, choice, catch.port.each[0], wanted)
    )
    if not fits:
        what = f"This desk cannot copy {wanted} to {catch.port}"
        return (), _wrong(expected, what, "", "Catch it on another port")
    free = tuple(fit for fit in fits if not _carried(plan, *fit) or _words(fit[1]) == _now(plan, fit[0]))
    if not free:
        block, choice = fits[0]
        what, remedy = f"The {block.name} sends loops to their unit", "Catch it on a port of another block"
        values = f"{choice.from_}; {', '.join(sorted(_carried(plan, block, choice)))}"
        return (), _wrong(expected, what, values, remedy)
    return free, None


def _carried(plan: Plan, block: Block, choice: Choice) -> list[str]:
    """Return the loops whose sends a choice would touch."""
    return [loop.name for loop in plan.allocation.loops if loop.unit_in.overlaps(block.covered(choice))]


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
