"""The bytes of a list to text: which characters it is written in, and what is no list at all."""

from __future__ import annotations

from sidetrip.errors import ShowUnreadable
from sidetrip.findings import Finding
from sidetrip.showfile.limits import MAX_BYTES

_UTF8_MARK = b"\xef\xbb\xbf"
_CSV = "Save the sheet as CSV in the spreadsheet and give that file"
_STARTS: tuple[tuple[bytes, str, str], ...] = (
    (b"PK\x03\x04", "a workbook or another packed file, such as .xlsx or .ods", _CSV),
    (b"\xd0\xcf\x11\xe0", "a workbook of an old kind, such as .xls", _CSV),
    (b"%PDF", "a PDF", "Ask for the sheet as CSV"),
    (b"\x89PNG", "a picture", "Ask for the sheet as CSV"),
    (b"\xff\xd8\xff", "a picture", "Ask for the sheet as CSV"),
    (b"RIFF", "a recording", "Give the list"),
)


def decode_list(data: bytes, file: str) -> tuple[str, tuple[Finding, ...]]:
    """Return the text of a list without its mark, and a finding if its characters had to be guessed.

    Read are UTF-8 and UTF-16 with and without their marks and, if it is neither, Windows-1252, which is said.
    Raises ShowUnreadable: over 1 MB, empty, a workbook or another binary file.
    """
    if len(data) > MAX_BYTES:
        values = f"{len(data):,} bytes, at most {MAX_BYTES:,}"
        raise _refused("file-too-large", "The file is too large to be a list", values, "Give the list alone", file)
    for start, kind, remedy in _STARTS:
        if data.startswith(start):
            raise _refused("file-unreadable", "This is no text with separators", f"it is {kind}", remedy, file)
    if not data.removeprefix(_UTF8_MARK).strip(b"\0 \t\r\n"):
        raise _refused("file-empty", "The file is empty", f"{len(data)} bytes", "Save the list anew", file)
    wide = _wide(data)
    if wide:
        try:
            return data.decode(wide).removeprefix("\ufeff"), ()
        except UnicodeDecodeError as error:
            what, values = "The file begins as UTF-16 and does not go on so", f"byte {error.start + 1}"
            raise _refused("file-unreadable", what, values, "Save it as CSV, UTF-8", file) from error
    if b"\0" in data:
        values = f"byte {data.index(0) + 1} is 0x00"
        raise _refused("file-unreadable", "The file is binary, not text", values, _CSV, file)
    try:
        return data.decode("utf-8").removeprefix("\ufeff"), ()
    except UnicodeDecodeError as wrong:
        return _western(data, wrong, file)


def _wide(data: bytes) -> str:
    """Return the name of the UTF-16 that this is, by its mark or because every other byte is zero; or nothing."""
    if data.startswith(b"\xff\xfe"):
        return "utf-16-le"
    if data.startswith(b"\xfe\xff"):
        return "utf-16-be"
    if len(data) % 2 or len(data) < 4:
        return ""
    even, odd = data[0::2].count(0), data[1::2].count(0)
    half = len(data) // 2
    if odd > 0.7 * half and not even:
        return "utf-16-le"
    return "utf-16-be" if even > 0.7 * half and not odd else ""


def _western(data: bytes, wrong: UnicodeDecodeError, file: str) -> tuple[str, tuple[Finding, ...]]:
    line = data[: wrong.start].count(b"\n") + 1
    try:
        text = data.decode("cp1252")
    except UnicodeDecodeError as error:
        values = f"byte {error.start + 1} is 0x{data[error.start]:02x}"
        what, remedy = "The file is neither UTF-8 nor Windows-1252", "Save it as CSV, UTF-8"
        raise _refused("file-unreadable", what, values, remedy, file, data[: error.start].count(b"\n") + 1) from error
    around = text[max(wrong.start - 8, 0) : wrong.start + 8].splitlines()
    shown = next((part for part in around if any(ord(letter) > 127 for letter in part)), "")
    what, remedy = "The list is not UTF-8 and was read as Windows-1252", "Look at the letters with accents"
    return text, (Finding("table-mended", "list", what, f"first in '{shown.strip()}'", remedy, (), line, file),)


def _refused(code: str, what: str, values: str, remedy: str, file: str, line: int | None = 1) -> ShowUnreadable:
    return ShowUnreadable([Finding(code, "list", what, values, remedy, (), line, file)])
