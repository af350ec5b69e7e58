"""A desk type in words: what it has, and its answers to the questions asked of any desk."""

from __future__ import annotations

from sidetrip.model.desk import FACTS, Desk
from sidetrip.reports.summary import Block


def desk_answers(desk: Desk) -> tuple[Block, ...]:
    """Return what a desk type says of itself, with the standing of each figure."""
    bypass = desk.bypass
    strips = tuple(
        (", ".join(pool.kinds), str(pool.legs), ", ".join(pool.order), "yes" if pool.insert else "no")
        for pool in desk.strips
    )
    ports = tuple(
        (group.name, group.direction, str(group.count), "jacks" if group.jacks else "no jacks") for group in desk.ports
    )
    blocks = tuple(
        (str(block.feeds), "; ".join(_choice(block.covered(c), block.feeds, c.from_) for c in block.choices))
        for block in desk.blocks
    )
    hops = tuple(
        (", ".join(hop.from_), ", ".join(hop.to), str(hop.frames), hop.frames.standing or desk.standing)
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
            ("feeds", "choices"),
            blocks,
        ),
        Block("Hops", "The desk's own delays.", ("from", "to", "frames", "standing"), hops),
        Block("Bypass", f"{keys}: {bypass.group_key_takes_inserts.answer}."),
        Block("Questions", "Answers that the house should confirm.", ("question", "answer", "standing"), answers),
    )


def _choice(covered: object, feeds: object, source: object) -> str:
    return str(source) if covered == feeds else f"{source} on {covered}"
