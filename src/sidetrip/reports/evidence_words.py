"""The evidence of a show as words and as JSON: which hours add up, and which no longer do."""

from __future__ import annotations

from typing import Any

from sidetrip.application.holding import Kept
from sidetrip.hold.evidence import BlockLog
from sidetrip.reports.hold_words import length_words, tally_words
from sidetrip.reports.summary import Block


def evidence_blocks(kept: Kept) -> list[Block]:
    """Return the blocks for a terminal."""
    if not kept.logs:
        how = "Log block times under the full load of the show, and add them: sidetrip evidence SHOW --add FILE"
        return [Block(f"{kept.show}: evidence", f"None yet. {how}.", (), ())]
    counting = {id(log) for tally in kept.tallies for log in tally.logs}
    rows = tuple(_row(log, id(log) in counting) for log in kept.logs)
    answer = " ".join(tally_words(tally) for tally in kept.tallies)
    head = ("started", "unit", "frames", "Hz", "logged", "late blocks", "missed", "counts", "file")
    return [Block(f"{kept.show}: evidence", answer, head, rows)]


def _row(log: BlockLog, counting: bool) -> tuple[str, ...]:
    own = log.configuration
    return (
        log.started,
        own.unit,
        str(own.buffer),
        str(own.rate),
        length_words(log.logged_s),
        str(len(log.late_at)),
        str(int(log.missed.sum())),
        "yes" if counting else "no",
        log.file,
    )


def evidence_document(kept: Kept) -> dict[str, Any]:
    """Return the evidence for JSON."""
    counting = {id(log) for tally in kept.tallies for log in tally.logs}
    return {
        "show": kept.show,
        "tallies": [
            {
                **configuration_document(tally.logs[0]),
                "logs": len(tally.logs),
                "blocks": tally.blocks,
                "logged_s": tally.logged_s,
            }
            for tally in kept.tallies
        ],
        "logs": [
            {
                **configuration_document(log),
                "started": log.started,
                "blocks": log.blocks,
                "logged_s": log.logged_s,
                "late": len(log.late_at),
                "missed": int(log.missed.sum()),
                "complete": log.complete,
                "counts": id(log) in counting,
                "file": log.file,
            }
            for log in kept.logs
        ],
        "written": list(kept.written),
    }


def configuration_document(log: BlockLog) -> dict[str, Any]:
    """Return what a log is of, for JSON."""
    own = log.configuration
    return {
        "unit": own.unit,
        "buffer": own.buffer,
        "rate_hz": own.rate,
        "system": own.system,
        "driver": own.driver,
        "session": own.session,
        "fingerprint": own.fingerprint,
    }


__all__ = ["configuration_document", "evidence_blocks", "evidence_document"]
