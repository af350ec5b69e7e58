"""The three lists of a show, inputs, outputs and requests: their columns, and their rows as the show has them."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from sidetrip.model.base import folded
from sidetrip.model.figure import bounds
from sidetrip.model.ports import Ports
from sidetrip.model.show import Input, Output, Request, Show
from sidetrip.showfile.listtable import Column
from sidetrip.showfile.listvalues import Decimal, figure_text
from sidetrip.showfile.listwords import guarded
from sidetrip.showfile.syntax import Source

Kind = Literal["strip", "name", "port", "ref", "refs", "figure", "yes", "want", "way"]
Value = None | bool | int | str | tuple[Any, ...] | Ports
"""What a cell means: None for nothing; a figure is (low, high) or "unknown"; a strip (first, last); refs are names."""

NOTHING = "none"
ROW = Column("row", ("row", "row id", "zeile"))


@dataclass(frozen=True, slots=True)
class Field:
    """A column of a list that stands for a key of the show. path: the keys inside the item. unit: of a figure."""

    column: Column
    kind: Kind
    path: tuple[str, ...]
    unit: str = ""

    @property
    def key(self) -> str:
        """The key of its column."""
        return self.column.key

    @property
    def heading(self) -> str:
        """The heading that is written."""
        word = self.column.words[0]
        return {"loudness lufs": "Loudness LUFS", "crossover hz": "Crossover Hz"}.get(word, word[:1].upper() + word[1:])


@dataclass(frozen=True, slots=True)
class Form:
    """One list. section: its key in the show. mark: what its row ids begin with. what: one row of it, in words."""

    section: str
    mark: str
    what: str
    fields: tuple[Field, ...]

    @property
    def columns(self) -> tuple[Column, ...]:
        """Its columns, the row id first."""
        return ROW, *(field.column for field in self.fields)

    @property
    def file(self) -> str:
        """The name of its file."""
        return f"{self.section}.csv"

    def row_id(self, index: int) -> str:
        """Return the id of a row by its place in the show, from 0."""
        return f"{self.mark}-{index + 1:02}"


@dataclass(frozen=True, slots=True)
class ShownRow:
    """A row as the show has it. index: its place in the show's list, from 0. values: by column."""

    index: int
    name: str
    values: Mapping[str, Value]
    spelled: Mapping[str, str]


def _field(kind: Kind, path: str, *words: str, unit: str = "", needed: bool = False, fill: bool = False) -> Field:
    keys = tuple(path.split("."))
    column = Column(keys[-1], words, needed=needed, fill=fill, exact=kind == "name")
    return Field(column, kind, keys, unit)


_NAME = ("name", "source", "input", "instrument", "label", "description", "signal", "quelle", "bezeichnung")
_PORT = ("port", "line", "jack", "socket", "patch", "stage", "stage box", "stagebox", "anschluss", "buchse", "ports")
_STRIP = ("strip", "ch", "channel", "desk ch", "desk channel", "no", "nr", "#", "number", "kanal", "nummer", "pult")
_DEVICE = ("device ms", "device", "gerät ms", "gerät", "device delay")
_DELAY = ("delay ms", "delay", "verzögerung ms", "verzögerung", "laufzeit ms")

INPUTS = Form(
    "inputs",
    "IN",
    "input",
    (
        _field("strip", "ch", *_STRIP, needed=True),
        _field("name", "name", *_NAME, needed=True),
        _field("port", "port", *_PORT),
        _field("ref", "group", "group", "bus", "subgroup", "gruppe", "subgruppe", fill=True),
        _field("refs", "to", "to", "nach", "an", "ziel"),
        _field("figure", "device_ms", *_DEVICE, unit="ms"),
        _field("figure", "delay_ms", *_DELAY, unit="ms"),
        _field("yes", "inverted", "inverted", "polarity", "ø", "invertiert", "verpolt", "polarität"),
    ),
)
OUTPUTS = Form(
    "outputs",
    "OUT",
    "output",
    (
        _field("name", "name", *_NAME, "output", "ausgang", needed=True),
        _field("ref", "from", "from", "bus", "mix", "feed", "von", "aus", "signalquelle", needed=True, fill=True),
        _field("port", "port", *_PORT, needed=True),
        _field("figure", "device_ms", *_DEVICE, unit="ms"),
        _field("figure", "delay_ms", *_DELAY, unit="ms"),
        _field("figure", "crossover_hz", "crossover hz", "crossover", "trennfrequenz hz", "trennfrequenz", unit="Hz"),
        _field("figure", "picture_delay_ms", "picture delay ms", "picture delay", "bildverzögerung ms", unit="ms"),
        _field("figure", "loudness_target_lufs", "loudness lufs", "loudness", "lautheit lufs", "lufs", unit="LUFS"),
    ),
)
REQUESTS = Form(
    "requests",
    "REQ",
    "request",
    (
        _field("ref", "strip", "strip", *_NAME, "kanal", needed=True),
        _field("want", "want", "want", "wunsch", needed=True),
        _field("ref", "chain", "chain", "kette", "kettenname", fill=True),
        _field("ref", "unit", "unit", "gerät"),
        _field("way", "way", "way", "weg"),
        _field("ref", "back_on", "back on", "zurück auf"),
        _field("port", "ports.send", "send", "send port", "hinweg"),
        _field("port", "ports.return", "return", "return port", "rückweg"),
    ),
)
FORMS: tuple[Form, ...] = (REQUESTS, OUTPUTS, INPUTS)
"""In the order in which a list of unknown kind is tried: the headings of the last are the most common."""


def shown_rows(form: Form, show: Show, source: Source) -> tuple[ShownRow, ...]:
    """Return the rows of a list in the order of the show, with their values and their figures as spelled."""
    items: Sequence[Input | Output | Request] = getattr(show, form.section)
    data = source.data.get(form.section) or ()
    return tuple(_shown(form, index, item, raw) for index, (item, raw) in enumerate(zip(items, data, strict=True)))


def _shown(form: Form, index: int, item: Input | Output | Request, raw: Mapping[str, Any]) -> ShownRow:
    values: dict[str, Value] = {}
    spelled: dict[str, str] = {}
    for field in form.fields:
        values[field.key] = _value(field, item, raw)
        if field.kind == "figure" and (figure := raw.get(field.path[0])) is not None:
            figure = figure["is"] if isinstance(figure, Mapping) else figure
            spelled[field.key] = str(getattr(figure, "written", figure)).strip()
    return ShownRow(index, item.strip if isinstance(item, Request) else item.name, values, spelled)


def _value(field: Field, item: Input | Output | Request, raw: Mapping[str, Any]) -> Value:
    if field.kind == "strip":
        assert isinstance(item, Input)
        return None if item.ch is None else (item.ch, item.ch + len(item.port) - 1)
    if field.kind == "figure":
        figure = raw.get(field.path[0])
        if figure is None:
            return None
        low, high = bounds(_plain(figure["is"] if isinstance(figure, Mapping) else figure))
        return "unknown" if low is None else (low, high)
    if isinstance(item, Request) and field.path[0] == "ports":
        if item.ports is None:
            return None
        return item.ports.send if field.path[1] == "send" else item.ports.returns
    found: Value = getattr(item, {"from": "from_"}.get(field.path[0], field.path[0]), None)
    return found


def _plain(value: Any) -> Any:
    return float(value) if isinstance(value, int | float) else value


def value_text(field: Field, value: Value, *, decimal: Decimal = "point", spelled: str | None = None) -> str:
    """Return a value as a cell, not guarded yet. spelled: how the show writes a figure, which is kept."""
    if value is None:
        return NOTHING if field.kind in ("strip", "ref", "refs") else ""
    if field.kind == "strip":
        assert isinstance(value, tuple)
        first, last = value
        return f"{first}" if first == last else f"{first} & {last}"
    if isinstance(value, Ports):
        end = "" if value.first == value.last else f" {'&' if len(value) == 2 else 'to'} {value.last}"
        return f"{value.group} {value.first}{end}"
    if field.kind == "figure":
        if spelled is None and isinstance(value, tuple):
            low, high = value
            spelled = number_text(low) if low == high else f"{number_text(low)} to {number_text(high)}"
        return figure_text(spelled or "unknown", field.unit, decimal)
    if field.kind == "refs":
        assert isinstance(value, tuple)
        return " | ".join(name.replace("\\", "\\\\").replace("|", "\\|") for name in value) or NOTHING
    if field.kind == "yes":
        return "yes" if value else "no"
    return str(value)


def cell(field: Field, value: Value, *, decimal: Decimal = "point", spelled: str | None = None) -> str:
    """Return a value as it is written into a list: no spreadsheet takes it for a date, a number or a formula."""
    text = value_text(field, value, decimal=decimal, spelled=spelled)
    if value is None or field.kind not in ("name", "ref", "refs") or value == ():
        return text
    return guarded(text)


def split_names(text: str) -> tuple[str, ...]:
    """Return the names of a cell in which they stand one behind another."""
    names, name, rest = [], "", iter(text)
    for letter in rest:
        if letter == "|":
            names.append(name)
            name = ""
        else:
            name += next(rest, "\\") if letter == "\\" else letter
    return tuple(dict.fromkeys(folded(name) for name in (*names, name) if name.strip()))


def number_text(value: float) -> str:
    """Return a number as a show writes it: the shortest that reads back as the same."""
    return str(int(value)) if value == int(value) else repr(value)


def state_of(form: Form, rows: Sequence[ShownRow]) -> str:
    """Return a short name of what a list says now; any change of a row gives another."""
    said = [[value_text(f, row.values.get(f.key)) for f in form.fields] for row in rows]
    return hashlib.sha256(json.dumps([form.section, said], ensure_ascii=False).encode()).hexdigest()[:10]
