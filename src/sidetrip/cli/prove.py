"""`sidetrip prove`."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from sidetrip import wiring
from sidetrip.application.proving import Proved, prove_take
from sidetrip.cli.progress import Progress
from sidetrip.cli.show import console, print_blocks, print_findings
from sidetrip.errors import ShowChanged, WithFindings, WouldOverwrite
from sidetrip.findings import Finding, ordered


def run_prove(
    show: str,
    recording: Sequence[str],
    take: str | None,
    signal: str | None,
    *,
    buffer: int | None,
    adopt: bool,
    keep: bool,
    paper: str | None,
    as_json: bool,
) -> int:
    """Prove a take and say what was found. Returns 0, 1 when a loop fails or nothing could be proven."""
    texts = wiring.proof_texts()
    try:
        with Progress() as progress:
            proved = prove_take(
                wiring.show_store(),
                wiring.desk_library(),
                wiring.recordings(),
                wiring.clock(),
                texts,
                show,
                recording,
                name=take,
                signal_file=signal,
                buffer_frames=buffer,
                adopting=adopt,
                keeping=keep,
                progress=progress,
            )
    except WithFindings as error:
        findings = ordered(error.findings)
        if as_json:
            sys.stdout.write(texts.write(None, findings) + "\n")
        else:
            print_findings(findings, errors=True)
            console(errors=True).print("Nothing was proven; nothing was written.")
        return 1
    except (ShowChanged, WouldOverwrite) as error:
        console(errors=True).print(str(error))
        return 1
    findings, written = proved.findings, proved.kept
    if paper is not None:
        try:
            more, noted = _print_sheet(proved, paper)
        except (WouldOverwrite, WithFindings) as error:
            console(errors=True).print(str(error))
            return 1
        written, findings = (*written, *more), ordered((*findings, *noted))
    if as_json:
        sys.stdout.write(texts.write(proved.proof, findings) + "\n")
    else:
        _say(proved, findings, written)
    return int(proved.proof.verdict == "fail")


_SAID = ("proof-failed", "proof-look", "proof-blind", "proof-changed")
"""Findings that the blocks have already said."""


def _say(proved: Proved, findings: tuple[Finding, ...], written: tuple[str, ...]) -> None:
    from sidetrip.reports.proof_words import proof_blocks

    out = console()
    proof = proved.proof
    out.print(f"{proof.show}, take {proof.take}, {proof.state}, processors {proof.processors}\n")
    print_blocks(proof_blocks(proof))
    rest = [finding for finding in findings if finding.code not in _SAID]
    if rest:
        out.print(f"Findings: {len(rest)}")
        print_findings(rest)
        out.print()
    if proved.after is not None:
        _say_replanned(proved)
    for path in written:
        out.print(f"wrote {path}")


def _say_replanned(proved: Proved) -> None:
    from sidetrip.reports.adoption import adoption_block

    assert proved.after is not None
    print_blocks([adoption_block(proved.before.plan, proved.after.plan)])


def _print_sheet(proved: Proved, folder: str) -> tuple[tuple[str, ...], tuple[Finding, ...]]:
    from sidetrip.reports.proof_printing import print_proof

    return print_proof(wiring.show_store(), wiring.press(), wiring.clock(), proved, folder)
