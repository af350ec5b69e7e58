"""What if, as blocks for the terminal and as JSON."""

from __future__ import annotations

from sidetrip.plan.planner import Plan
from sidetrip.plan.what_if import Kind, Moved, WhatIf
from sidetrip.reports.plan_docs import MovedDoc, WhatIfDoc
from sidetrip.reports.summary import Block

_MOST = 12

_KINDS: dict[Kind, tuple[str, str]] = {
    "loop": ("loop", "What loops add, ms"),
    "place": ("place", "When it arrives, ms"),
    "ears": ("mix", "What ears get, ms"),
    "meeting": ("what meets", "What is heard twice, ms"),
}


def what_if_doc(found: WhatIf) -> WhatIfDoc:
    """Return it for JSON."""
    return WhatIfDoc(
        asked=found.asked.words,
        differences=[own.words for own in found.differences],
        moved=[
            MovedDoc(kind=own.kind, name=own.name, before=own.before, after=own.after, worse=own.worse)
            for own in found.moved
        ],
        heard_twice_before=found.heard_twice[0],
        heard_twice_after=found.heard_twice[1],
    )


def what_if_blocks(plan: Plan, found: WhatIf) -> tuple[Block, ...]:
    """Return the difference in words: what another plan does otherwise, then what moves, kind by kind."""
    head = f"What if {found.asked.words}"
    told = [own.words for own in found.differences]
    placed = {loop.strip for loop in plan.allocation.loops}
    told += [
        f"{strip} has no loop in this plan: nothing changes by it" for strip in found.asked.out if strip not in placed
    ]
    if not told and not found.moved:
        return (Block(head, "Nothing is otherwise."),)
    rows = tuple((f"{words[0].upper()}{words[1:]}.",) for words in told)
    answer = "Against the plan as it stands, with all loops IN."
    blocks = [Block(head, answer, ("otherwise",) if rows else (), rows)]
    for kind, (what, heading) in _KINDS.items():
        own = [moved for moved in found.moved if moved.kind == kind]
        if own:
            blocks.append(_block(heading, what, own, found))
    return tuple(blocks)


def _block(heading: str, what: str, own: list[Moved], found: WhatIf) -> Block:
    worse = sum(moved.worse for moved in own)
    answer = f"{len(own)} {'differs' if len(own) == 1 else 'differ'}."
    if own[0].kind == "meeting":
        answer = f"{found.heard_twice[1]} causes of sound heard twice in place of {found.heard_twice[0]}."
    elif worse:
        answer += f" {worse} {'is' if worse == 1 else 'are'} beyond the show's limits then."
    left = len(own) - _MOST
    if left > 0:
        answer += f" The first {_MOST}; {left} more with --json."
    rows = tuple((moved.before, f"{moved.after}{' !' if moved.worse else ''}", moved.name) for moved in own[:_MOST])
    return Block(heading, answer, ("now", "then", what), rows)


__all__ = ["what_if_blocks", "what_if_doc"]
