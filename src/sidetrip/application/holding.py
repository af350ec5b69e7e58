"""Evidence into a show's folder, and the advice on buffer and rate that comes of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sidetrip.application.evidence_ports import EvidenceFiles
from sidetrip.application.ports import DeskLibrary, ShowStore
from sidetrip.application.use_cases import Planned, load, plan
from sidetrip.errors import ShowUnreadable
from sidetrip.findings import Finding, has_errors, ordered

if TYPE_CHECKING:
    from sidetrip.hold.advice import Advice
    from sidetrip.hold.evidence import BlockLog, Tally
    from sidetrip.hold.parts import Part

EVIDENCE = "evidence"
ENDING = ".jsonl"


@dataclass(frozen=True, slots=True)
class Kept:
    """A show's evidence: per unit what adds up, all logs by their start, and what reading them found."""

    show: str
    tallies: tuple[Tally, ...]
    logs: tuple[BlockLog, ...]
    written: tuple[str, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Held:
    """The advice with the plan that it is for, and all findings about it."""

    planned: Planned
    advice: Advice
    logs: tuple[BlockLog, ...]
    findings: tuple[Finding, ...]


def keep_evidence(
    store: ShowStore, library: DeskLibrary, files: EvidenceFiles, path: str, added: Sequence[str] = ()
) -> Kept:
    """Add logs to a show's evidence in the compact form, and return all of it.

    Of several files all are read before any is written. Raises ShowUnreadable when one of them is no log, or is of a
    unit that the show has not; WouldOverwrite when one is there already.
    """
    loaded = load(store, library, path)
    folder = store.beside(loaded.source.file, EVIDENCE)
    findings, writing = _read_added(files, added, [unit.name for unit in loaded.show.units])
    written = []
    from sidetrip.hold.parts import above
    from sidetrip.hold.parts import written as text_of

    for log, parts, floor_s in writing:
        name = f"{folder}/{_name(log)}"
        kept = (above(part, floor_s) for part in parts)
        files.write(name, text_of(log.configuration, log.started, kept, floor_s, log.bin_s, complete=log.complete))
        written.append(name)
    logs, told = read_evidence(store, files, loaded.source.file)
    tallies, more = _added_up(logs)
    return Kept(loaded.show.show, tallies, logs, tuple(written), ordered((*findings, *told, *more)))


def _read_added(
    files: EvidenceFiles, added: Sequence[str], units: Sequence[str]
) -> tuple[list[Finding], list[tuple[BlockLog, tuple[Part, ...], float]]]:
    from sidetrip.hold.read_log import read_log
    from sidetrip.showfile.read import nearest

    findings: list[Finding] = []
    writing = []
    for file in added:
        with files.lines(file) as lines:
            read = read_log(lines, file)
        findings += read.findings
        if read.log is None:
            continue
        unit = read.log.configuration.unit
        if unit not in units:
            what = f"The log is of '{unit}', and the show has no unit of that name"
            findings.append(Finding("name-unknown", "evidence", what, file, nearest(unit, units), (), 1, file))
        writing.append((read.log, read.parts, read.floor_s))
    if has_errors(findings):
        raise ShowUnreadable(ordered(findings))
    return findings, writing


def _name(log: BlockLog) -> str:
    from sidetrip.naming import slug

    own = log.configuration
    when = "".join(letter for letter in log.started[:19] if letter.isdigit())
    return f"{slug(own.unit)}-{when}-{own.buffer}-{own.rate}-{own.fingerprint}{ENDING}"


def read_evidence(
    store: ShowStore, files: EvidenceFiles, show_file: str
) -> tuple[tuple[BlockLog, ...], tuple[Finding, ...]]:
    """Return every log in the evidence folder beside a show file, by its start, and what is wrong with them."""
    from sidetrip.hold.read_log import read_log

    folder = store.beside(show_file, EVIDENCE)
    logs: list[BlockLog] = []
    findings: list[Finding] = []
    for name in store.names(folder):
        if name.startswith(".") or not name.endswith((ENDING, ".csv")):
            continue
        file = f"{folder}/{name}"
        try:
            with files.lines(file) as lines:
                read = read_log(lines, file)
        except ShowUnreadable as error:
            findings += error.findings
            continue
        findings += read.findings
        if read.log is not None:
            logs.append(read.log)
    return tuple(sorted(logs, key=lambda log: (log.began, log.file))), tuple(findings)


def _added_up(logs: Sequence[BlockLog]) -> tuple[tuple[Tally, ...], tuple[Finding, ...]]:
    from sidetrip.hold.evidence import add_up

    tallies: list[Tally] = []
    findings: list[Finding] = []
    for unit in sorted({log.configuration.unit for log in logs}):
        own, told = add_up(logs, unit)
        tallies += own
        findings += told
    return tuple(tallies), tuple(findings)


def hold(
    store: ShowStore, library: DeskLibrary, files: EvidenceFiles, path: str, *, rate_hz: int | None = None
) -> Held:
    """Advise on buffer and rate. Raises ShowUnreadable, NoPlan as planning does."""
    planned = plan(store, library, path)
    logs, told = read_evidence(store, files, planned.source.file)
    from sidetrip.hold.advice import advise
    from sidetrip.showfile.read import place

    advice = advise(planned.plan, logs, rate_hz)
    return Held(planned, advice, logs, ordered((*told, *place(advice.findings, planned.source))))


__all__ = ["EVIDENCE", "Held", "Kept", "hold", "keep_evidence", "read_evidence"]
