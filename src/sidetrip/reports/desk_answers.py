"""A desk type in words: what it has, and its answers to the questions asked of any desk."""

from __future__ import annotations

from sidetrip.model.desk import FACTS, Desk, PortGroup
from sidetrip.reports.summary import Block


def desk_answers(desk: Desk) -> tuple[Block, ...]:
    """Return what a desk type says of itself, with the standing of each figure."""
    bypass = desk.bypass
    strips = tuple(
        (", ".join(pool.kinds), str(pool.legs), ", ".join(pool.order), "yes" if pool.insert else "no")
        for pool in desk.strips
    )
    ports = tuple((group.name, group.direction, str(group.count), _of_ports(group)) for group in desk.ports)
    blocks = tuple(
        (
            str(block.feeds),
            "all at once" if block.each is None else f"{block.each} at a time",
            "; ".join(_choice(block.covered(c), block.feeds, c.from_) for c in block.choices),
        )
        for block in desk.block_lines
    )
    carriers = tuple((str(carrier.send), str(carrier.returns)) for carrier in desk.carriers)
    held = tuple(
        (
            ", ".join(own.at),
            ", ".join(own.holds),
            str(own.limit_frames),
            own.external_inserts.answer,
            "unknown" if "unknown" in (own.limit_frames.standing, own.external_inserts.standing) else desk.standing,
        )
        for own in desk.compensation
    )
    hops = tuple(
        (
            ", ".join(hop.from_),
            ", ".join(hop.to),
            str(hop.frames),
            str(hop.frames if hop.frames_at_96000 is None else hop.frames_at_96000),
            hop.frames.standing or desk.standing,
        )
        for hop in desk.hops
    )
    answers = tuple(
        (
            question,
            desk.facts[key].answer if key in desk.facts else "unknown",
            (desk.facts[key].standing or desk.standing) if key in desk.facts else "unknown",
        )
        for key, question in FACTS.items()
    )
    keys = f"{bypass.key}: {bypass.presses} presses, {bypass.seconds} s; {bypass.group_keys} keys can take several"
    return (
        Block(desk.name, f"{desk.summary}. Figures are {desk.standing}: {desk.source}."),
        Block(
            "Strips",
            "Strips by kind; a stereo strip takes two.",
            ("kind", "count", "order", "insert"),
            strips,
        ),
        Block("Ports", "Ports by group.", ("group", "goes", "count", ""), ports),
        Block(
            "Blocks",
            "Sources that are chosen together; the first is the desk as delivered.",
            ("feeds", "chosen", "choices"),
            blocks,
        ),
        Block("Carriers", f"Ports that carry inserts. Stereo: {desk.stereo}.", ("send", "return"), carriers),
        Block("Hops", "The desk's own delays.", ("from", "to", "frames", "at 96 kHz", "standing"), hops),
        *_held(held),
        Block("Bypass", f"{keys}: {bypass.group_key_takes_inserts.answer}."),
        Block("Questions", "Answers that the house should confirm.", ("question", "answer", "standing"), answers),
    )


def _of_ports(group: PortGroup) -> str:
    words = ["jacks" if group.jacks else "no jacks"]
    if group.mirrors is not None:
        words.append(f"repeat {group.mirrors}")
    if group.strip is not None:
        words.append(f"also {group.strip} strips, {'open' if group.strip_open else 'closed'}")
    return ", ".join(words)


def _held(rows: tuple[tuple[str, ...], ...]) -> tuple[Block, ...]:
    if not rows:
        return ()
    words = "Copies that wait by themselves at the entrance of a mix, until the latest has come."
    return (Block("Held back", words, ("at", "held", "up to frames", "counts loops", "standing"), rows),)


def _choice(covered: object, feeds: object, source: object) -> str:
    return str(source) if covered == feeds else f"{source} on {covered}"
