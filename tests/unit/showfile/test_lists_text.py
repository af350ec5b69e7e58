"""The bytes of a list: every usual encoding reads the same, what is no list is refused by name."""

from __future__ import annotations

import pytest

from showtext import only
from sidetrip.errors import ShowUnreadable
from sidetrip.findings import Finding
from sidetrip.showfile.limits import MAX_BYTES
from sidetrip.showfile.listtext import decode_list

TEXT = "Kanal;Name\r\n1;Bühne Süd\r\n2;Café\r\n"


def _refused(data: bytes) -> Finding:
    with pytest.raises(ShowUnreadable) as caught:
        decode_list(data, "list.csv")
    (finding,) = caught.value.findings
    assert (finding.file, finding.line) == ("list.csv", 1)
    return finding


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_usual_encodings_read_alike(encoding: str) -> None:
    """UTF-8 and UTF-16 with and without a mark, and Windows-1252; only the last is a guess and said so."""
    text, findings = decode_list(TEXT.encode(encoding), "list.csv")
    assert text == TEXT
    if encoding == "cp1252":
        found = only(findings, "table-mended")
        assert ("Windows-1252" in found.what, "Bühne" in found.values, found.line) == (True, True, 2)
    else:
        assert findings == ()


def test_utf16_with_its_mark_the_other_way_round() -> None:
    """A big-endian file with its mark is read too."""
    assert decode_list(b"\xfe\xff" + TEXT.encode("utf-16-be"), "list.csv")[0] == TEXT


@pytest.mark.parametrize(
    ("data", "code", "part"),
    [
        (b"", "file-empty", "0 bytes"),
        (b"\xef\xbb\xbf\r\n \r\n", "file-empty", "bytes"),
        (b"PK\x03\x04rest", "file-unreadable", ".xlsx"),
        (b"\xd0\xcf\x11\xe0rest", "file-unreadable", ".xls"),
        (b"%PDF-1.7", "file-unreadable", "PDF"),
        (b"RIFF\x00\x00\x00\x00WAVE", "file-unreadable", "recording"),
        (b"ch;name\x00\x01\x02\r\n", "file-unreadable", "byte 8 is 0x00"),
        (b"\xff\xfea\x00b", "file-unreadable", "byte 5"),
        (b"ch;na\x81me\r\n", "file-unreadable", "byte 6 is 0x81"),
        (b"x" * (MAX_BYTES + 1), "file-too-large", "1,000,001 bytes"),
    ],
)
def test_what_is_no_list_is_refused(data: bytes, code: str, part: str) -> None:
    """Empty, binary and huge files, workbooks and pictures are refused with what they are."""
    found = _refused(data)
    assert (found.code, part in found.values) == (code, True), found


def test_a_workbook_says_what_to_do() -> None:
    """Workbooks are out of scope; the remedy is to save the sheet as CSV."""
    assert "as CSV" in _refused(b"PK\x03\x04" + b"\0" * 40).remedy
