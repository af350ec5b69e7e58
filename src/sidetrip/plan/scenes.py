"""Scenes held against a plan: what recalling one would change of the patch, what that does, and what to keep out.

The desk after a recall is a tick like any other, so what it does is read from its line map. Each change is also tried
alone: it shows which of them does it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from sidetrip.findings import Finding
from sidetrip.graph.linemap import LineMap
from sidetrip.model.desk import Desk
from sidetrip.model.house import Scene
from sidetrip.model.ports import parse_ports
from sidetrip.model.show import Show
from sidetrip.plan.patching import Patching, bare_map
from sidetrip.plan.safe import Carried, Hazard, carried, hazards
from sidetrip.plan.tick import Difference, Item, Tick, Value, as_found, differences, usual
from sidetrip.plan.tick_map import tick_map
from sidetrip.plan.tick_words import item_words, value_words
from sidetrip.plan.wires import Wires
from sidetrip.showfile.check_scenes import block_of, choice_of

Verdict = Literal["feeds back", "silence", "loop OUT", "changes the patch", "leaves the patch alone"]

_OF_GROUP = {
    "inserts": frozenset({"insert", "in"}),
    "sources": frozenset({"block", "turn", "copy"}),
    "strips": frozenset({"strip", "back"}),
    "outputs": frozenset({"turn"}),
}


@dataclass(frozen=True, slots=True)
class SceneChange:
    """One item that a scene would set otherwise. does: what that alone would do, in words."""

    item: str
    planned: str
    recalled: str
    does: str


@dataclass(frozen=True, slots=True)
class SceneAudit:
    """One scene.

    does: what all its changes together would do, in words. out: the loops that it takes OUT. keep_out: what to exclude
    from its recall, in words.
    """

    scene: str
    verdict: Verdict
    changes: tuple[SceneChange, ...]
    does: str
    out: tuple[str, ...]
    keep_out: tuple[str, ...]


def audit_scenes(show: Show, desk: Desk, patching: Patching) -> tuple[SceneAudit, ...]:
    """Hold every scene of a show against its patch, in the order of their names; none when nothing is patched."""
    if not show.scenes or not patching.steps:
        return ()
    back_on = [item.name for item in patching.done.values if item.kind == "back"]
    base, wires = bare_map(show, desk), Wires(show, desk, back_on)
    found = carried(tick_map(base, wires, patching.found), wires)
    worker = _Auditor(show, desk, patching, base, wires, found)
    return tuple(worker.audit(scene) for scene in sorted(show.scenes, key=lambda scene: scene.name))


class _Auditor:
    def __init__(self, show: Show, desk: Desk, patching: Patching, base: LineMap, wires: Wires, found: Carried) -> None:
        self.show, self.desk, self.patching = show, desk, patching
        self.base, self.wires, self.found = base, wires, found
        self.before = set(self._hazards(patching.done))

    def _hazards(self, tick: Tick) -> tuple[Hazard, ...]:
        return hazards(self.base, self.wires, self.found, tick)

    def audit(self, scene: Scene) -> SceneAudit:
        done = self.patching.done
        after = done.having(recalled(self.show, self.desk, self.patching, scene))
        changed = differences(done, after)
        new = sorted(set(self._hazards(after)) - self.before)
        out = tuple(sorted(_in(done) - _in(after)))
        changes = tuple(self._change(own) for own in changed)
        return SceneAudit(scene.name, _verdict(new, out, changed), changes, _does(new, out), out, _keep_out(changed))

    def _change(self, own: Difference) -> SceneChange:
        alone = self.patching.done.having([(own.item, own.left)])
        new = sorted(set(self._hazards(alone)) - self.before)
        does = _does(new, tuple(sorted(_in(self.patching.done) - _in(alone))))
        if own.item.kind == "strip" and not own.left and not new:
            does = "a return is heard beside its loop"
        words = [value_words(self.desk, own.item, value) for value in (own.found, own.left)]
        return SceneChange(item_words(self.desk, own.item), words[0], words[1], does or "nothing that is heard")


def recalled(show: Show, desk: Desk, patching: Patching, scene: Scene) -> list[tuple[Item, Value]]:
    """Return what a scene sets: what it recalls as it was stored, before the patch, and then what is known of it."""
    as_was: set[str] = set(scene.recalls) if not scene.as_planned else set()
    as_was |= set(scene.sets.as_found)
    kinds = frozenset().union(*(_OF_GROUP[key] for key in as_was))
    found = as_found(show, desk)
    sets: list[tuple[Item, Value]] = [(item, found.value(item)) for item in patching.done.values if item.kind in kinds]
    return [*sets, *_known(desk, scene)]


def _known(desk: Desk, scene: Scene) -> Iterator[tuple[Item, Value]]:
    sets = scene.sets
    for name, state in sets.inserts.items():
        yield Item("in", name), state == "in"
        if state == "none":
            yield Item("insert", name), None
    for feeds, source in sets.sources.items():
        index = block_of(desk, feeds)
        choice = choice_of(desk.blocks[index], source) if index is not None else None
        if index is not None and choice is not None:
            yield Item("block", feeds, index), choice
    for words, opened in sets.strips.items():
        for strip in parse_ports(words).each:
            yield Item("strip", strip.group, strip.number), opened == "shut"
    for name in sets.outputs:
        yield Item("turn", name), usual(Item("turn", name))


def _in(tick: Tick) -> set[str]:
    return {item.name for item in tick.values if item.kind in ("in", "turn", "back")}


def _verdict(new: list[Hazard], out: tuple[str, ...], changed: tuple[Difference, ...]) -> Verdict:
    if any(hazard.kind == "ring" for hazard in new):
        return "feeds back"
    if new:
        return "silence"
    if out:
        return "loop OUT"
    return "changes the patch" if changed else "leaves the patch alone"


def _does(new: list[Hazard], out: tuple[str, ...]) -> str:
    """Say what hazards do: rings, then what falls silent, then what is lost, then what goes OUT."""
    rings = [hazard.at for hazard in new if hazard.kind == "ring"]
    silent = [hazard.at for hazard in new if hazard.kind == "silent output"]
    dead = [hazard.at for hazard in new if hazard.kind == "dead return"]
    lost: dict[str, list[str]] = {}
    for hazard in new:
        if hazard.kind == "lost":
            lost.setdefault(hazard.what, []).append(hazard.at)
    parts = [f"feeds back through {_some(rings)}"] if rings else []
    parts += [f"{_some(dead)} IN with nothing coming back"] if dead else []
    parts += [f"{_some(silent)} falls silent" if len(silent) == 1 else f"{_some(silent)} fall silent"] if silent else []
    if lost:
        places = sorted({at for own in lost.values() for at in own})
        parts.append(f"{_few(sorted(lost), 'inputs')} missing at {_few(places, 'outputs')}")
    parts += [f"OUT: {_some(list(out))}"] if out else []
    return "; ".join(parts)


def _keep_out(changed: tuple[Difference, ...]) -> tuple[str, ...]:
    """Return what to exclude from a recall, one entry a kind: inserts, sources, strips, outputs."""
    inserts = sorted({own.item.name for own in changed if own.item.kind in ("in", "insert")})
    outputs = sorted({own.item.name for own in changed if own.item.kind in ("turn", "copy")})
    sources = [own.item.name for own in changed if own.item.kind == "block"]
    strips = [f"{own.item.name} {own.item.number}" for own in changed if own.item.kind == "strip"]
    opened = [own.item.name for own in changed if own.item.kind == "back"]
    return tuple(
        f"{what} {', '.join(names)}"
        for what, names in (
            ("inserts of", inserts),
            ("sources of", [*sources, *outputs]),
            ("mutes and assigns of", [*strips, *opened]),
        )
        if names
    )


def _few(names: list[str], what: str) -> str:
    return ", ".join(names) if len(names) < 3 else f"{len(names)} {what}"


def _some(names: list[str], most: int = 4) -> str:
    return ", ".join(names[:most]) + (f" and {len(names) - most} more" if len(names) > most else "")


def scene_findings(show: Show, audits: tuple[SceneAudit, ...]) -> list[Finding]:
    """Say which scenes would change the patch, what that does, and what to exclude from their recall."""
    codes: dict[Verdict, str] = {
        "feeds back": "scene-ring",
        "silence": "scene-silence",
        "loop OUT": "scene-out",
        "changes the patch": "scene-out",
    }
    words = {
        "scene-ring": "Recalling this scene would close a ring",
        "scene-silence": "Recalling this scene would leave something dead",
        "scene-out": "Recalling this scene would change what the plan set",
    }
    names = [scene.name for scene in show.scenes]
    found = []
    for own in audits:
        code = codes.get(own.verdict)
        if code is not None:
            remedy = f"Exclude from its recall: {'; '.join(own.keep_out)}"
            values = own.does or _some([f"{change.item}: {change.recalled}" for change in own.changes])
            path = ("scenes", names.index(own.scene))
            found.append(Finding(code, f"scenes / {own.scene}", words[code], values, remedy, path))
    return found


__all__ = ["SceneAudit", "SceneChange", "audit_scenes", "recalled", "scene_findings"]
