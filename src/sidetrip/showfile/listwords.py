"""What people write into cells, and what spreadsheets make of it: pairs that became dates, ticks, guarded text."""

from __future__ import annotations

import re
from datetime import date, timedelta

NONE = frozenset({"", "-", "–", "—", "−", "none", "n/a", "kein", "keine", "keiner", "nichts"})
UNKNOWN = frozenset({"unknown", "tbc", "tba", "tbd", "?", "??", "unbekannt", "offen"})
DITTO = frozenset({'"', "''", "”", "“", "„", "〃", '-"-', "ditto", "dito", "do."})
_YES = frozenset(
    [
        "x",
        "y",
        "yes",
        "j",
        "ja",
        "✓",
        "✔",
        "☑",
        "●",
        "•",
        "1",
        "true",
        "wahr",
        "on",
        "an",
        "ein",
        "+48",
        "+48v",
        "48v",
        "48",
        "oui",
    ]
)
_NO = NONE | frozenset(["n", "no", "nein", "0", "false", "falsch", "off", "aus", "☐", "○", "non"])
_MARKS = '"”“„〃'

# What makes a spreadsheet compute or shift a cell. Source: OWASP, "CSV Injection" (= + - @ tab CR), wide forms added.
_SIGNS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
_LOGIC = frozenset({"true", "false", "wahr", "falsch"})
_FIGURES = re.compile(r"[.,]?[0-9][0-9 .,:;/%'’eE+\-–]*")

_MONTHS: dict[str, int] = {}
for _number, _words in enumerate(
    (
        "jan january januar jän jänner",
        "feb february februar",
        "mar march mär märz mrz maerz",
        "apr april",
        "may mai",
        "jun june juni",
        "jul july juli",
        "aug august",
        "sep sept september",
        "oct october okt oktober",
        "nov november",
        "dec december dez dezember",
    ),
    1,
):
    _MONTHS.update(dict.fromkeys(_words.split(), _number))
_NAMES = "|".join(sorted(_MONTHS, key=len, reverse=True))
_DAY_MONTH = re.compile(rf"([0-9]{{1,2}})[. \-/]*({_NAMES})\.?(?:[ \-/]*[0-9]{{2,4}})?", re.IGNORECASE)
_MONTH_DAY = re.compile(rf"({_NAMES})\.?[ \-/]*([0-9]{{1,2}})(?:,? *[0-9]{{4}})?", re.IGNORECASE)
_MONTH_ONLY = re.compile(rf"({_NAMES})\.?[ \-/]*[0-9]*", re.IGNORECASE)
_ISO = re.compile(r"[0-9]{4}-([0-9]{1,2})-([0-9]{1,2})(?:[ T]00:00(?::00(?:\.0+)?)?)?")
_WITH_YEAR = re.compile(r"([0-9]{1,2})([./\-])([0-9]{1,2})\2[0-9]{2,4}(?: 0?0:00(?::00)?)?")
_DOTTED = re.compile(r"([0-9]{1,2})\.([0-9]{1,2})\.")
_SERIAL = re.compile(r"([0-9]{5})(?:[.,]0+)?")
_SERIAL_ZERO = date(1899, 12, 30)
_SERIALS = range(36526, 73051)  # the years 2000 to 2099

_GAVE_UP = frozenset(
    [
        "#name?",
        "#ref!",
        "#value!",
        "#n/a",
        "#div/0!",
        "#num!",
        "#null!",
        "#wert!",
        "#bezug!",
        "#nv",
        "#zahl!",
        "#err",
        "#error!",
        "#spill!",
    ]
)


def yes_or_no(text: str) -> bool | None:
    """Read a tick: True, False, or None for what can be neither, such as a cross that may mean both."""
    word = text.strip().lower()
    return True if word in _YES else False if word in _NO else None


def is_none(text: str) -> bool:
    """Tell whether a cell says that there is nothing."""
    return text.strip().lower() in NONE


def is_unknown(text: str) -> bool:
    """Tell whether a cell says that it is not known yet."""
    return text.strip().lower() in UNKNOWN


def is_ditto(text: str) -> bool:
    """Tell whether a cell says "as above"."""
    word = text.strip().lower()
    return word in DITTO or (bool(word) and not word.strip(_MARKS))


def gave_up(text: str) -> bool:
    """Tell whether a spreadsheet has put an error in place of what stood here."""
    word = text.strip().lower()
    return word in _GAVE_UP or (len(word) > 3 and not word.strip("#"))


def as_date(text: str) -> tuple[int, int] | None:
    """Return the two numbers, day and month in either order, of what a spreadsheet took for a date; None for others.

    A number of five figures is read as the days since 1899-12-30 if it falls into 2000 to 2099. Source: the
    spreadsheet's own help for its date function, where 39448 is 1 January 2008.
    """
    word = " ".join(text.split())
    if match := _DAY_MONTH.fullmatch(word):
        return int(match[1]), _MONTHS[match[2].lower()]
    if match := _MONTH_DAY.fullmatch(word):
        return int(match[2]), _MONTHS[match[1].lower()]
    if match := _ISO.fullmatch(word):
        return int(match[2]), int(match[1])
    if match := _WITH_YEAR.fullmatch(word):
        return int(match[1]), int(match[3])
    if match := _DOTTED.fullmatch(word):
        return int(match[1]), int(match[2])
    match = _SERIAL.fullmatch(word)
    if match and int(match[1]) in _SERIALS:
        day = _SERIAL_ZERO + timedelta(days=int(match[1]))
        return day.day, day.month
    return None


def pair_in(numbers: tuple[int, int]) -> tuple[int, int] | None:
    """Return the pair of neighbours that was typed before it became a date, None where that is not certain."""
    low, high = sorted(numbers)
    return (low, high) if high == low + 1 else None


def guarded(text: str) -> str:
    """Return text as a cell that no spreadsheet changes: with an apostrophe before it where it needs one.

    `unguarded` gives back exactly the same text, also if it began with an apostrophe itself.
    """
    return f"'{text}" if _in_danger(text) or unguarded(text) != text else text


def unguarded(text: str) -> str:
    """Take off the apostrophe that `guarded` put before a text, and no other."""
    if not text.startswith("'"):
        return text
    marks = len(text) - len(text.lstrip("'"))
    return text[1:] if any(_in_danger(text[at:]) for at in range(1, marks + 1)) else text


def formula(text: str) -> bool:
    """Tell whether a cell begins as a formula does, blanks before it included."""
    return text.lstrip(" \u00a0").startswith(("=", "＝"))


def _in_danger(text: str) -> bool:
    """Tell whether a spreadsheet, or the reading of a list, would take this for something else than words."""
    word = text.strip(" \u00a0").lower()
    return (
        text.lstrip(" \u00a0").startswith(_SIGNS)
        or word.startswith("sep=")
        or word in _LOGIC
        or word in NONE - {""}
        or word in UNKNOWN
        or is_ditto(word)
        or gave_up(word)
        or _FIGURES.fullmatch(word) is not None
        or _MONTH_ONLY.fullmatch(word) is not None
        or as_date(word) is not None
    )
