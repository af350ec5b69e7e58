"""A take for the people who play and record it: what to mute, what to patch, who goes where."""

from __future__ import annotations

from collections.abc import Sequence

from sidetrip.dsp.testsignal import FIRST_DBFS, TestSignal
from sidetrip.prove.expect import Expected
from sidetrip.prove.patch import Repatch
from sidetrip.reports.summary import Block


def take_blocks(
    signal: TestSignal, expected: Expected, steps: Sequence[Repatch], reached: Sequence[str]
) -> tuple[Block, ...]:
    """Return the blocks in the order of the work: mute, patch, play, record, put back."""
    take = expected.take
    low, high = signal.levels_dbfs
    inserts = "IN" if take.state == "all IN" else "OUT"
    processors = "bypass every processor in the unit" if take.processors == "flat" else "leave processors as used"
    return (
        Block(
            "Before anything sounds",
            "Mute the PA at its amplifiers and take in-ears off: two people say so aloud. Wedges, foyer, stream and "
            f"recorders are told. Without the mutes it would sound from: {', '.join(reached) or 'nothing'}.",
        ),
        Block(
            "Set the desk",
            f"All loops {inserts}; {processors}; trims, EQs and gates of the strips flat, faders at 0 dB."
            + (" Re-patch for the take, and put it back afterwards:" if steps else ""),
            ("block", "becomes", "was") if steps else (),
            tuple((step.block, step.source, step.was) for step in steps),
        ),
        Block(
            "Play",
            f"{signal.frames / signal.rate_hz:.0f} s at {signal.rate_hz} Hz: each channel alone, from {FIRST_DBFS:.0f} "
            f"dBFS up, then all together at {low:.0f} and {high:.0f} dBFS. Three short noise bursts announce each "
            "channel.",
            ("channel", "enters at"),
            tuple((str(entry.number + 1), str(entry.port)) for entry in expected.entries),
        ),
        Block(
            "Record",
            "From before the test to behind its end, no track armed late."
            if take.reference is not None
            else "From before the test to behind its end. This take has no reference: delays cannot be told.",
            ("track", "port", "carries"),
            tuple(
                (
                    str(catch.track + 1),
                    str(catch.port),
                    catch.words + (", the reference" if catch.port == take.reference else ""),
                )
                for catch in sorted(expected.catches, key=lambda catch: catch.track)
            ),
        ),
    )


def take_document(signal: TestSignal, expected: Expected, steps: Sequence[Repatch], path: str) -> dict[str, object]:
    """Return the same as plain data for JSON."""
    return {
        "take": expected.take.name,
        "file": path,
        "sample_rate_hz": signal.rate_hz,
        "frames": signal.frames,
        "levels_dbfs": list(signal.levels_dbfs),
        "state": expected.take.state,
        "processors": expected.take.processors,
        "enter": [{"channel": entry.number + 1, "port": str(entry.port)} for entry in expected.entries],
        "catch": [
            {"track": catch.track + 1, "port": str(catch.port), "carries": catch.words} for catch in expected.catches
        ],
        "reference": None if expected.take.reference is None else str(expected.take.reference),
        "patch": [{"block": step.block, "becomes": step.source, "was": step.was} for step in steps],
    }


__all__ = ["take_blocks", "take_document"]
