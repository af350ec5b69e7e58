"""Cells of a list to values: strips, ports, figures, wants; what a spreadsheet did undone where that is sure."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Literal

from sidetrip.model.ports import Ports, parse_ports
from sidetrip.showfile.listwords import as_date, formula, is_none, is_unknown, pair_in

Decimal = Literal["point", "comma"]
Mend = Callable[[str], None]
"""Called with what a cell was taken for, where that is not what stands in it."""

MINUS = "–"
"""Before a figure below zero: no formula, and in Windows-1252 too, which U+2212 is not."""
_PAIR = r"0*([0-9]{1,3})(?:\s*[-–/&+]\s*0*([0-9]{1,3}))?"
_NUMBERS = re.compile(rf"(?:ch\.?|strip|kanal|in(?:put)?)?\s*{_PAIR}", re.IGNORECASE)
_TO = re.compile(r"\s+(?:to|bis)\s+|\s*…\s*", re.IGNORECASE)
_PLAIN = re.compile(r"[-+]?(?:[0-9]+([.,][0-9]*)?|([.,][0-9]+))")
_THOUSANDS = re.compile(r"[-+]?[0-9]{1,3}(?:[ .,'’\u00a0\u202f][0-9]{3})+(?:[.,][0-9]+)?")


class CellWrong(Exception):
    """A cell that cannot be read: what is wrong with it, and what to do."""

    def __init__(self, what: str, remedy: str) -> None:
        self.what, self.remedy = what, remedy
        super().__init__(what)


def strip_numbers(text: str, mend: Mend) -> tuple[int, int]:
    """Read a strip or a pair of strips as (first, last). Raises CellWrong."""
    what, remedy = "A row has no strip number", "Write the number of the strip"
    if match := _NUMBERS.fullmatch(text.strip()):
        first = int(match[1])
        return first, int(match[2] or first)
    if found := as_date(text):
        pair = _undone(text, found, "9 & 10")
        mend(f"{pair[0]} & {pair[1]}")
        return pair
    if formula(text):
        what, remedy = "A cell is a formula", "Write the number itself"
    raise CellWrong(what, remedy)


def port_run(text: str, group: str | None, width: int, mend: Mend) -> Ports:
    """Read ports, with or without the name of their group. width: how many a single bare number means.

    group: what bare numbers count in, None where they say too little. Raises CellWrong.
    """
    word = text.strip()
    like = "Write it like 'stage 9' or 'stage 9 & 10'"
    bare = re.fullmatch(_PAIR, word)
    found = None if bare else as_date(word)
    if bare and int(bare[1]) > 0:
        first, last = int(bare[1]), int(bare[2] or int(bare[1]) + width - 1)
    elif found:
        first, last = _undone(text, found, "stage 9 & 10")
        mend(f"{group or 'ports'} {first} & {last}")
    else:
        try:
            return parse_ports(word)
        except ValueError as error:
            what = "A cell is a formula" if formula(word) else "A row names no port that can be read"
            raise CellWrong(what, like) from error
    if group is None:
        raise CellWrong("A port without the name of its group", like)
    if last < first:
        raise CellWrong("A row names no port that can be read", like)
    return Ports(group, first, last)


def _undone(text: str, found: tuple[int, int], like: str) -> tuple[int, int]:
    pair = pair_in(found)
    if pair is None:
        what = f"A spreadsheet made a date of this cell, and {found[0]} and {found[1]} are no neighbours"
        raise CellWrong(what, f"Write what was meant, like '{like}'")
    return pair


def decimal_of(cells: Iterable[str]) -> Decimal | None:
    """Return the decimal mark of a list: the only one that stands where it cannot be anything else; else None."""
    found: set[Decimal] = set()
    for cell in cells:
        for part in _TO.split(_bare(cell, "")):
            match = _PLAIN.fullmatch(part)
            tail = (match[1] or match[2] or "") if match else ""
            if tail and not _either(part):
                found.add("comma" if tail[0] == "," else "point")
    return found.pop() if len(found) == 1 else None


def figure(text: str, unit: str, decimal: Decimal | None) -> tuple[float, float] | None:
    """Read a figure as (low, high); None for one that is not known yet. Raises CellWrong."""
    if is_unknown(text):
        return None
    word = _bare(text, unit)
    parts = _TO.split(word)
    if len(parts) > 2:
        raise CellWrong("A cell is no figure", f"Write a number such as 2.5 {unit}, a range '2 to 4', or unknown")
    if as_date(word) and not _PLAIN.fullmatch(word):
        raise CellWrong("A spreadsheet made a date of this figure", f"Write it again with its unit, such as 2.5 {unit}")
    numbers = [_number(part, unit, decimal) for part in parts]
    if numbers[0] > numbers[-1]:
        raise CellWrong("A range runs from high to low", "Write it like '2 to 4'")
    return numbers[0], numbers[-1]


def _number(text: str, unit: str, decimal: Decimal | None) -> float:
    match = _PLAIN.fullmatch(text)
    if match is None:
        if _THOUSANDS.fullmatch(text):
            remedy = "Write it without marks between the thousands"
            raise CellWrong("A figure has marks between its thousands, or two kinds of them", remedy)
        what = "A cell is a formula" if formula(text) else "A cell is no figure"
        raise CellWrong(what, f"Write a number such as 2.5 {unit}, a range '2 to 4', or unknown")
    tail = match[1] or match[2] or ""
    if tail and _either(text) and decimal != ("comma" if tail[0] == "," else "point"):
        whole = text.replace(tail[0], "")
        what = f"A figure may be {text.replace(',', '.')} or {whole}"
        raise CellWrong(what, "Write it with another number of decimals, or say which mark is meant with --decimal")
    return float(text.replace(",", "."))


def _either(text: str) -> bool:
    """Tell whether a mark in a number may stand for decimals as well as for thousands."""
    return re.fullmatch(r"[-+]?[1-9][0-9]{0,2}[.,][0-9]{3}", text) is not None


def _bare(text: str, unit: str) -> str:
    """Return a figure without its unit, with a plain minus."""
    word = text.strip().replace(MINUS, "-").replace("−", "-")
    word = word[1:] if word.startswith("'") else word
    units = (unit, "ms", "hz", "lufs", "db")
    for own in units if not unit else (unit,):
        if own and word.lower().endswith(own.lower()):
            return word[: -len(own)].strip()
    return word


def figure_text(spelled: str, unit: str, decimal: Decimal) -> str:
    """Write a figure as the show spells it so that nothing takes it for a date or for thousands: with its unit.

    spelled: a number, a range like "2 to 4", or unknown. A number that would have three decimals gets a fourth.
    """
    if is_unknown(spelled):
        return "unknown"
    parts = []
    for part in _TO.split(spelled.strip()):
        clear = f"{part}0" if _either(part) else part
        shown = clear.replace(".", ",") if decimal == "comma" else clear
        parts.append(f"{MINUS}{shown[1:]}" if shown.startswith("-") else shown.removeprefix("+"))
    return f"{' to '.join(parts)} {unit}"


def want(text: str) -> int | str:
    """Read a want: must, or 1 to 9. Raises CellWrong."""
    word = text.strip().lower()
    if word in ("must", "muss"):
        return "must"
    if re.fullmatch(r"[1-9](?:[.,]0+)?", word):
        return int(word[0])
    remedy = "Write must, or 1 to 9 with 9 wanted most"
    raise CellWrong("A formula stands where a want should" if formula(word) else "A cell is no want", remedy)


__all__ = [
    "MINUS",
    "CellWrong",
    "Decimal",
    "decimal_of",
    "figure",
    "figure_text",
    "is_none",
    "port_run",
    "strip_numbers",
    "want",
]
