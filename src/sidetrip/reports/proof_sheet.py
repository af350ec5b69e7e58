"""The proof sheet: one row of stops for each loop, every question with its figures, what could not be told, and why."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from sidetrip.prove.limits import (
    ANALOGUE,
    CROSSTALK,
    DIGITAL,
    DRIFT_PPM,
    DYNAMICS_DB,
    IN_MINUS_OUT,
    SIDES_DELAY,
    SIDES_GAIN,
    WRONG_RETURN,
    Limits,
)
from sidetrip.prove.proof import LEVELS, LegProof, Level, Proof, Row
from sidetrip.reports.draw.palette import PRINT
from sidetrip.reports.draw.stops import ON_SHEETS, stops_svg
from sidetrip.reports.proof_words import (
    clock_words,
    headline,
    ms_words,
    planned_words,
    reasons,
    reference_words,
    remedy,
    sentence,
    signed,
    wrong_rows,
)
from sidetrip.reports.sheet import Cell, Sheet, Stamp, make_sheet

_HEADER = (
    *("loop", "side", "question", "level", "verdict", "measured", "planned", "error", "unit", "passes within"),
    *("because", "what to do", "when"),
)
_CAUTION = "One take proves what it heard: a device opened again, another buffer, chain or plug wants another take."

_WIDTH_PX = 760
_HIGHEST_PX = 980
"""What fits below the head of a page, at the width of the text."""

_MOST_LEGS = 5
_DECIMALS = {"dBFS": 1, "": 0}
_IN_DB = ("right return", "other loops", "gain", "dynamics", "response", "distortion", "twice", "leak with OUT")
_UNITS = {**dict.fromkeys(_IN_DB, "dB"), "delay": "frames", "clock": "ppm", "idle noise": "dBFS"}
"""Of questions whose rows have a unit only when something was measured."""


@dataclass(frozen=True, slots=True)
class _Kind:
    """A kind of unit with its limits."""

    name: str
    limits: Limits


_COMPUTER, _HARDWARE = _Kind("computer", DIGITAL), _Kind("hardware", ANALOGUE)


def proof_sheet(proof: Proof, stamp: Stamp) -> Sheet:
    """Return the sheet of one proof."""
    data: dict[str, Any] = {
        "errors": [],
        "lead": headline(proof),
        "facts": _facts(proof),
        "pictures": _pictures(proof.legs),
        "bad": _bad(proof),
        "tables": [_table(proof, legs) for legs in _shared(proof.legs)],
        "blind": _blind(proof),
        "changes": [
            {
                "loop": change.loop,
                "since": change.when[0][:10],
                "values": ", ".join(signed(delay * proof.rate_hz, 1) for delay in change.delays_s),
                "spread": f"{change.spread_s * proof.rate_hz:.1f}",
            }
            for change in proof.changes
            if len(change.delays_s) > 1
        ],
        "caution": _CAUTION,
    }
    sheet = make_sheet("proof-sheet", "Proof", stamp, data, _HEADER, _rows(proof))
    return replace(sheet, template="proof-sheet.typ")


def _bad(proof: Proof) -> list[dict[str, str]]:
    """Return what does not pass; legs that say the same share a row."""
    alike: dict[tuple[str, str, str], list[str]] = {}
    for leg in proof.legs:
        for row in wrong_rows(leg):
            alike.setdefault((row.question, row.verdict, sentence(proof, leg, row)), []).append(leg.name)
    return [
        {"name": ", ".join(names), "question": question, "verdict": verdict, "sentence": told}
        for (question, verdict, told), names in alike.items()
    ]


def _blind(proof: Proof) -> list[dict[str, str]]:
    """Return what could not be told and why; where one thing to do would tell it all of the same legs, in one row."""
    alike: dict[tuple[str, str, str], list[tuple[str, str]]] = {}
    for names, questions, why, do in reasons(proof):
        alike.setdefault((names, do, "" if do else why), []).append((questions, why))
    out = []
    for (names, do, _), told in alike.items():
        whys = "; ".join(why for _, why in told)
        because = f"{whys[:1].upper()}{whys[1:]}.{f' {do}.' if do else ''}"
        out.append({"name": names, "question": ", ".join(questions for questions, _ in told), "because": because})
    return out


def _facts(proof: Proof) -> list[str]:
    """Return what the take was, a line each: the take with its recording, and how it was measured."""
    buffers = [f"{unit} at {frames} frames" for unit, frames in proof.buffers if frames is not None]
    files = [path.replace("\\", "/").rstrip("/").rpartition("/")[2] for path in proof.recording]
    recording = f"Recording {', '.join(files)}, " if files else ""
    buffered = "".join(f", {one}" for one in buffers)
    return [
        f"Take {proof.take}, {proof.state}, processors {proof.processors}, {proof.when[:16].replace('T', ' ')}. "
        f"{recording}{proof.tested_s:.0f} s of test at {proof.rate_hz} Hz{buffered}.",
        f"{clock_words(proof)} {reference_words(proof)}",
    ]


def _pictures(legs: Sequence[LegProof]) -> list[str]:
    """Return the rows of stops, as many pictures as it takes so that each fits a page."""
    pictures: list[str] = []
    rest = list(legs)
    while rest:
        most = len(rest)
        while _height(picture := stops_svg(rest[:most], PRINT, _WIDTH_PX, ON_SHEETS)) > _HIGHEST_PX and most > 1:
            most -= 1
        pictures.append(picture)
        rest = rest[most:]
    return pictures


def _height(picture: str) -> int:
    found = re.search(r' height="(\d+)"', picture)
    assert found is not None
    return int(found[1])


def _shared(legs: Sequence[LegProof]) -> Iterator[Sequence[LegProof]]:
    """Share legs out to tables that are about equally wide."""
    tables = math.ceil(len(legs) / _MOST_LEGS)
    each = math.ceil(len(legs) / tables) if tables else 1
    for first in range(0, len(legs), each):
        yield legs[first : first + each]


# The table: a column for each leg, a row for each question


def _table(proof: Proof, legs: Sequence[LegProof]) -> dict[str, Any]:
    of = {leg.name: _kind(proof, leg) for leg in legs}
    kinds = [kind for kind in (_COMPUTER, _HARDWARE) if kind in of.values()]
    return {
        "legs": [leg.name for leg in legs],
        "limits": ["passes within"] if len(kinds) == 1 else [f"within, {kind.name}" for kind in kinds],
        "rows": [row for level in LEVELS for row in _level(proof, legs, kinds, level)],
    }


def _kind(proof: Proof, leg: LegProof) -> _Kind:
    return _HARDWARE if (leg.unit, None) in proof.buffers else _COMPUTER


def _level(proof: Proof, legs: Sequence[LegProof], kinds: Sequence[_Kind], level: Level) -> Iterator[dict[str, Any]]:
    """Yield a level's verdicts, then those of its questions; endurance and escape are one question each."""
    yield _line(level, [""] * len(kinds), [_cell("", leg.level_verdict(level)) for leg in legs], level=True)
    questions = dict.fromkeys(row.question for leg in legs for row in leg.rows if row.level == level)
    for question in () if level in questions else questions:
        asked = [leg.row(question) for leg in legs]
        unit = next((row.unit for row in asked if row is not None and row.unit), _UNITS.get(question, ""))
        label = f"{question}, {unit}" if unit else question
        yield _line(label, [_limit(question, kind.limits) for kind in kinds], [_measured(row) for row in asked])
        if question == "delay":
            cells = [planned_words(leg, proof.rate_hz) for leg in legs]
            yield _line("planned", [""] * len(kinds), [_cell(words) for words in cells])
            if any(leg.delay_s is not None for leg in legs):
                yield _line("measured in ms", [""] * len(kinds), [_cell(ms_words(leg)) for leg in legs])
        elif any(row is not None and row.unit and row.expected for row in asked):
            planned = ["" if row is None or row.expected is None else signed(row.expected, 2) for row in asked]
            yield _line("planned", [""] * len(kinds), [_cell(words) for words in planned])


def _line(label: str, limits: Sequence[str], cells: Sequence[dict[str, Any]], *, level: bool = False) -> dict[str, Any]:
    return {"label": label, "limits": list(limits), "cells": list(cells), "level": level}


def _cell(figure: str, verdict: str = "") -> dict[str, Any]:
    return {"figure": figure, "verdict": verdict, "loud": verdict in ("fail", "look")}


def _measured(row: Row | None) -> dict[str, Any]:
    if row is None:
        return _cell("")
    if row.measured is None or row.question == "polarity":
        return _cell("", row.verdict)
    return _cell(signed(row.measured, _DECIMALS.get(row.unit, 2)), row.verdict)


def _limit(question: str, limits: Limits) -> str:
    """Return up to what a question passes, in its unit."""
    sizes = {
        "delay": limits.delay,
        "gain": limits.gain,
        "response": limits.response,
        "dynamics": DYNAMICS_DB,
        "clock": DRIFT_PPM,
        "sides": SIDES_DELAY,
        "sides level": SIDES_GAIN,
        "IN less OUT": IN_MINUS_OUT,
    }
    levels = {
        "right return": WRONG_RETURN,
        "other loops": CROSSTALK,
        "leak with OUT": CROSSTALK,
        "twice": CROSSTALK,
        "distortion": limits.distortion,
        "idle noise": limits.idle,
    }
    if question in sizes:
        return f"± {sizes[question].good:g}"
    if question in levels:
        return f"≤ {signed(levels[question].good, 0)}"
    return {"polarity": "kept", "dropouts": "none", "dry path": "heard"}.get(question, "")


def _rows(proof: Proof) -> Iterator[tuple[Cell, ...]]:
    for leg in proof.legs:
        limits = _kind(proof, leg).limits
        for row in leg.rows:
            figures = (row.measured, row.expected, row.error)
            yield (
                *(leg.loop, leg.side, row.question, row.level, row.verdict),
                *("" if value is None or not math.isfinite(value) else round(value, 6) + 0.0 for value in figures),
                *(row.unit, _limit(row.question, limits), row.because),
                remedy(proof, leg, row) if row.verdict in ("fail", "look") else "",
                proof.when,
            )


__all__ = ["proof_sheet"]
