"""What scenes are said to set, held against the show and its desk: strips, blocks and sources that exist."""

from __future__ import annotations

from collections.abc import Iterator

from sidetrip.findings import Finding
from sidetrip.model.desk import Block, Desk
from sidetrip.model.ports import parse_ports
from sidetrip.model.scene import SceneSets
from sidetrip.model.show import Show
from sidetrip.showfile.check_strips import strip_legs, unknown
from sidetrip.showfile.read import nearest


def choice_of(block: Block, words: str) -> int | None:
    """Return the choice of a block that these words name: `jacks`, or ports, with `on ...` for a part of the block."""
    own = [str(choice.from_) + (f" on {choice.covers}" if choice.covers else "") for choice in block.choices]
    plain = [str(choice.from_) for choice in block.choices]
    return next((names.index(words) for names in (own, plain) if words in names), None)


def block_of(desk: Desk, words: str) -> int | None:
    """Return the index of the block that these ports name, None for no block of the desk."""
    return next((index for index, block in enumerate(desk.blocks) if str(block.feeds) == words), None)


def check_scenes(show: Show, desk: Desk) -> Iterator[Finding]:
    """Find strips, blocks, sources and outputs in scenes that the show or its desk does not have."""
    for index, scene in enumerate(show.scenes):
        where = f"scenes / {scene.name}"
        path = ("scenes", index, "sets")
        yield from _names(show, scene.sets, where, path)
        yield from _sources(desk, scene.sets, where, path)
        yield from _strips(show, desk, scene.sets, where, path)


_Path = tuple[str | int, ...]


def _names(show: Show, sets: SceneSets, where: str, path: _Path) -> Iterator[Finding]:
    outputs = tuple(output.name for output in show.outputs)
    for key, kind, own, names in (
        ("inserts", "strip", tuple(sets.inserts), show.strips()),
        ("outputs", "output", tuple(sets.outputs), outputs),
    ):
        for name in own:
            if name not in names:
                yield unknown((*path, key, name), where, kind, name, names)


def _sources(desk: Desk, sets: SceneSets, where: str, path: _Path) -> Iterator[Finding]:
    for feeds, source in sets.sources.items():
        index = block_of(desk, feeds)
        own = (*path, "sources", feeds)
        if index is None:
            yield unknown(own, where, "block", feeds, [str(block.feeds) for block in desk.blocks])
        elif choice_of(desk.blocks[index], source) is None:
            choices = [str(choice.from_) for choice in desk.blocks[index].choices]
            what = f"The block {feeds} cannot take this source"
            yield Finding("name-unknown", where, what, source, nearest(source, choices), own)


def _strips(show: Show, desk: Desk, sets: SceneSets, where: str, path: _Path) -> Iterator[Finding]:
    played = {
        leg: item.name for item in show.inputs if (legs := strip_legs(item, desk)) is not None for leg in legs.each
    }
    for words in sets.strips:
        own = (*path, "strips", words)
        try:
            strips = parse_ports(words)
        except ValueError:
            remedy = "Write the kind of strip and its number, like 'return 1-2'"
            yield Finding("value-wrong", where, "This names no strips by number", words, remedy, own)
            continue
        pool = desk.pool(strips.group)
        if pool is None or strips.last > pool.legs:
            values = f"{words}, the desk has {pool.legs if pool is not None else 0}"
            yield Finding("strip-missing", where, "The desk has no such strip", values, "Choose another strip", own)
        for name in sorted({played[strip] for strip in strips.each if strip in played}):
            what = f"'{name}' sits on this strip: it is open as long as the show has it"
            yield Finding("value-wrong", where, what, words, "Leave it out, or name a strip without an input", own)
