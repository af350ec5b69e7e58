"""YAML text to plain data that remembers where each value stands.

The parser's events are read directly, so that sizes, depth, anchors and repeated keys are refused with their lines
before anything is built, and so that scalars keep their spelling: `010` is 10, `NO` and `off` are text.
"""

from __future__ import annotations

import math
import re
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from sidetrip.errors import ShowUnreadable
from sidetrip.findings import Finding
from sidetrip.model.base import WrittenFloat, WrittenInt, folded
from sidetrip.showfile.limits import MAX_BYTES, too_large

MAX_DEPTH = 20

Path = tuple[str | int, ...]

_INT = re.compile(r"[-+]?[0-9]{1,18}")
_FLOAT = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]{1,3})?")
_NULL = {"", "~", "null", "Null", "NULL"}
_LINE_END = re.compile(r"\r\n|\n|\r")
_ESCAPE = re.compile(r"\\U([0-9A-Fa-f]{8})")
_LAST_CHARACTER = 0x10FFFF
_FORBIDDEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff\ufffe\uffff]")


@dataclass(frozen=True, slots=True)
class Place:
    """Where a value stands: 1-based line, character span in the text, and whether it is a plain scalar or flow."""

    line: int
    start: int
    end: int
    scalar: bool
    flow: bool


@dataclass(slots=True)
class Source:
    """A parsed text: the data, and the place of every key and value."""

    text: str
    file: str
    data: Any = None
    values: dict[Path, Place] = field(default_factory=dict)
    keys: dict[Path, Place] = field(default_factory=dict)
    starts: list[int] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        self.starts = [0, *(end.end() for end in _LINE_END.finditer(self.text))]

    def line_at(self, index: int) -> int:
        """Return the line, as editors count, of a character in the text."""
        return bisect_right(self.starts, index)

    def line(self, path: Path) -> int | None:
        """Return the line of the value at this path, or of the nearest thing around it.

        A name in the path finds itself in a list of names too.
        """
        here, known = self.data, Path()
        for part in path:
            if isinstance(here, tuple) and isinstance(part, str):
                words = [getattr(item, "written", item) for item in here]
                names = [folded(word) if isinstance(word, str) else word for word in words]
                step: str | int = names.index(part) if part in names else part
            else:
                step = part
            if (*known, step) not in self.values:
                break
            known, here = (*known, step), here[step]
        place = self.keys.get(known) or self.values.get(known)
        return None if place is None else place.line


def forbidden(text: str) -> str:
    """Return the first character that no show may hold, written U+....; empty when there is none."""
    match = _FORBIDDEN.search(text)
    return f"U+{ord(match[0]):04X}" if match else ""


@lru_cache(maxsize=4)
def parse(text: str, file: str) -> Source:
    """Parse one YAML document; the last few are kept, because an edit looks at a text again and again.

    Nobody changes what comes out. Raises ShowUnreadable with findings that carry file and line: too large, empty,
    broken, tabs, anchors, tags, nesting over 20 levels, keys that stand twice.
    """
    size = len(text.encode("utf-8", "surrogatepass"))
    if size > MAX_BYTES:
        raise ShowUnreadable([too_large(size, file)])
    source = Source(text, file)
    problems: list[Finding] = []
    try:
        _build(source, problems)
    except _Refused as refused:
        problems.append(refused.finding)
    if problems:
        raise ShowUnreadable(problems)
    if source.data is None:
        raise ShowUnreadable([_problem(source, "file-empty", "The file holds nothing but comments or space", "", 1)])
    return source


class _Refused(Exception):
    def __init__(self, finding: Finding) -> None:
        self.finding = finding
        super().__init__(str(finding))


_REMEDIES = {
    "control": "Type the line anew; the character came in with a copy or a conversion",
    "yaml-tab": "Replace the tab by spaces; most editors can show tabs",
    "yaml-anchor": "Write the value out where it is needed; put a name that begins with & * or ! in quotes",
    "start": "Put what begins with this character in quotes",
    "yaml-deep": "Write the show flatter; no show needs this depth",
    "yaml-broken": "Mend this line or the one before it; brackets, quotes and colons are the usual culprits",
    "file-empty": "Start one with: sidetrip new FOLDER --desk TYPE",
}


def _problem(source: Source, code: str, what: str, values: str, line: int, remedy: str = "") -> Finding:
    shown = values if len(values) <= _SHOWN else f"{values[:_SHOWN]}..."
    return Finding(code, f"line {line}", what, shown, _REMEDIES[remedy or code], line=line, file=source.file)


def _control(source: Source, values: str, line: int) -> _Refused:
    return _Refused(_problem(source, "yaml-broken", "A character that no show may hold", values, line, "control"))


_SHOWN = 200
_OPENERS = ("a flow mapping", "a flow sequence", "a quoted scalar", "a simple key")
"""What the parser was in when the mistake is more likely where that began."""


def _events(source: Source) -> Iterator[Any]:
    from ruamel.yaml import YAML
    from ruamel.yaml.error import MarkedYAMLError, YAMLError

    class PlainYAML(YAML):
        def official_plug_ins(self) -> list[str]:
            """Look for no plug-ins: that would read a folder on each parse."""
            return []

    try:
        yield from PlainYAML(typ="safe", pure=True).parse(source.text)
    except MarkedYAMLError as error:
        raise _Refused(_broken(source, error)) from error
    except YAMLError as error:  # a character that cannot be printed; nothing else is without a mark
        at = getattr(error, "position", 0)
        raise _control(source, forbidden(source.text[at : at + 1]), source.line_at(at)) from error
    except (ValueError, OverflowError) as error:  # a number in an escape or a directive that is beyond all bounds
        beyond = (match.start() for match in _ESCAPE.finditer(source.text) if int(match[1], 16) > _LAST_CHARACTER)
        line = source.line_at(next(beyond, max(source.text.find("%YAML"), 0)))
        raise _Refused(_problem(source, "yaml-broken", "The text is not valid YAML", str(error), line)) from error


def _broken(source: Source, error: Any) -> Finding:
    """Make the finding for text that is no YAML, at the line where mending is likely."""
    mark = error.problem_mark or error.context_mark
    line = noticed = source.line_at(mark.index) if mark else 1
    if mark and source.text[mark.index : mark.index + 1] == "\t":
        return _problem(source, "yaml-tab", "A tab stands where only spaces may", "", line)
    words = " ".join(filter(None, (error.context, error.problem))).replace("\n", " ")
    if error.context_mark and str(error.context).endswith(_OPENERS):
        line = source.line_at(error.context_mark.index)
    if line != noticed:
        words += f"; noticed in line {noticed}"
    remedy = "start" if "cannot start any token" in words else ""
    return _problem(source, "yaml-broken", "The text is not valid YAML", words, line, remedy)


def _build(source: Source, problems: list[Finding]) -> None:
    stack: list[_Open] = []
    documents = 0
    for event in _events(source):
        kind = type(event).__name__
        line = source.line_at(event.start_mark.index)
        if kind == "DocumentStartEvent":
            documents += 1
            if documents > 1:
                raise _Refused(_problem(source, "yaml-broken", "A second document begins", "---", line))
        if kind == "AliasEvent" or getattr(event, "anchor", None):
            raise _Refused(_problem(source, "yaml-anchor", "An anchor or alias", str(event.anchor), line))
        if getattr(event, "tag", None):
            raise _Refused(_problem(source, "yaml-anchor", "A tag", str(event.tag), line))
        if kind == "ScalarEvent":
            if character := forbidden(event.value):
                raise _control(source, character, line)
            _close(source, problems, stack, _scalar(event), _place(source, event, event, scalar=True, flow=False))
        elif kind in ("MappingStartEvent", "SequenceStartEvent"):
            stack.append(_Open(event, kind == "MappingStartEvent", _next_path(stack)))
            if len(stack) > MAX_DEPTH:
                raise _Refused(_problem(source, "yaml-deep", "Nesting is too deep", f"over {MAX_DEPTH}", line))
        elif kind in ("MappingEndEvent", "SequenceEndEvent"):
            done = stack.pop()
            value: Any = done.mapping if done.is_mapping else tuple(done.items)
            place = _place(source, done.event, event, scalar=False, flow=bool(done.event.flow_style))
            _close(source, problems, stack, value, place)


@dataclass(slots=True)
class _Open:
    event: Any
    is_mapping: bool
    path: Path
    items: list[Any] = field(default_factory=list)
    mapping: dict[str, Any] = field(default_factory=dict)
    key: str | None = None
    key_place: Place | None = None


def _next_path(stack: list[_Open]) -> Path:
    if not stack:
        return ()
    top = stack[-1]
    return (*top.path, top.key if top.is_mapping else len(top.items))  # type: ignore[arg-type]  # a key is set


def _close(source: Source, problems: list[Finding], stack: list[_Open], value: Any, place: Place) -> None:
    if not stack:
        source.data = value
        source.values[()] = place
        return
    top = stack[-1]
    if not top.is_mapping:
        source.values[(*top.path, len(top.items))] = place
        top.items.append(value)
        return
    if top.key is None:
        if isinstance(value, dict | tuple):
            raise _Refused(_problem(source, "yaml-broken", "A key must be a word", "", place.line))
        top.key = folded(str(getattr(value, "written", "" if value is None else value)))
        if not top.key:
            raise _Refused(_problem(source, "yaml-broken", "There is no key before the colon", "", place.line))
        top.key_place = place
        return
    path = (*top.path, top.key)
    assert top.key_place is not None
    if top.key in top.mapping:
        first = source.keys[path].line
        problems.append(
            Finding(
                "key-twice",
                ".".join(str(part) for part in path),
                f"The key '{top.key}' stands twice",
                f"lines {first} and {top.key_place.line}",
                "Keep one of the two; nobody can know which was meant",
                path,
                top.key_place.line,
                source.file,
            )
        )
    else:
        source.keys[path] = top.key_place
        source.values[path] = place
        top.mapping[top.key] = value
    top.key = None


def _place(source: Source, start: Any, end: Any, *, scalar: bool, flow: bool) -> Place:
    at = start.start_mark.index
    return Place(source.line_at(at), at, end.end_mark.index, scalar, flow)


def _scalar(event: Any) -> Any:
    text: str = event.value
    if event.style:  # quoted or block text is text
        return text
    if text in _NULL:
        return None
    if _INT.fullmatch(text):
        whole = WrittenInt(text)
        whole.written = text
        return whole
    if _FLOAT.fullmatch(text) and math.isfinite(float(text)):
        decimal = WrittenFloat(text)
        decimal.written = text
        return decimal
    return text
