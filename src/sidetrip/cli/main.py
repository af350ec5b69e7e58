"""`sidetrip`: the commands, each loaded when it is called."""

from __future__ import annotations

from typing import Annotated, Literal

import typer

app = typer.Typer(
    name="sidetrip",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    help="Plan the trips that a live desk's audio makes out to outboard and back: who goes out, how late everything "
    "arrives, how to patch and undo it, and what to press if it fails.",
    epilog="Software advises; the person at the desk decides.",
)

Json = Annotated[bool, typer.Option("--json", help="Print strict JSON in place of words.")]
Show = Annotated[str, typer.Argument(help="A show folder, or its show file.", metavar="SHOW")]


@app.command()
def new(
    folder: Annotated[str, typer.Argument(help="The folder to make.", metavar="FOLDER")],
    desk: Annotated[str, typer.Option("--desk", help="A desk type; see: sidetrip desks.", metavar="TYPE")],
    inputs: Annotated[
        str | None,
        typer.Option("--inputs", help="An input list: CSV with headings ch, name, port, group.", metavar="LIST"),
    ] = None,
) -> None:
    """Start a show folder, from an input list if there is one."""
    from sidetrip.cli.new import run_new

    raise typer.Exit(run_new(folder, desk, inputs))


@app.command()
def check(show: Show, as_json: Json = False) -> None:
    """Check a show file: every mistake with its line, and what to do."""
    from sidetrip.cli.check import run_check

    raise typer.Exit(run_check(show, as_json=as_json))


@app.command()
def plan(
    show: Show,
    as_json: Json = False,
    paper: Annotated[
        str | None, typer.Option("--paper", help="Write the sheets into this folder.", metavar="FOLDER")
    ] = None,
    buffer: Annotated[
        int | None,
        typer.Option("--buffer", min=1, max=65536, help="Buffer of every computer, in frames.", metavar="FRAMES"),
    ] = None,
    rate: Annotated[
        int | None, typer.Option("--rate", min=8000, max=768000, help="Sample rate in Hz.", metavar="HZ")
    ] = None,
    draw: Annotated[
        str | None, typer.Option("--draw", help="Draw its pictures into this folder, as SVG.", metavar="FOLDER")
    ] = None,
    ink: Annotated[
        Literal["page", "dim", "print"], typer.Option("--ink", help="Colours of the pictures: page, dim or print.")
    ] = "page",
    out: Annotated[
        list[str] | None,
        typer.Option("--out", help="What if this strip's loop is OUT; may be given again.", metavar="STRIP"),
    ] = None,
    without: Annotated[
        list[str] | None,
        typer.Option("--without", help="What if this unit is not there; may be given again.", metavar="UNIT"),
    ] = None,
    cue: Annotated[float | None, typer.Option("--cue", min=0, help="What if this cue is on.", metavar="NUMBER")] = None,
    temperature: Annotated[
        float | None,
        typer.Option("--temperature", min=-20, max=50, help="What if the air is that warm.", metavar="CELSIUS"),
    ] = None,
) -> None:
    """Plan a show: who goes out, what it costs, how late, how to patch and undo it, what to press if it fails.

    With another buffer, rate, state or set of units: first how that differs from the plan as it stands.
    """
    from sidetrip.cli.plan import run_plan
    from sidetrip.plan.asked import Asked

    asked = Asked(tuple(out or ()), cue, tuple(without or ()), buffer, rate, temperature)
    raise typer.Exit(run_plan(show, as_json=as_json, paper=paper, draw=draw, ink=ink, asked=asked))


@app.command()
def page(
    show: Annotated[
        str | None, typer.Argument(help="A show folder; without one, the first page.", metavar="[SHOW]")
    ] = None,
    folder: Annotated[
        str | None, typer.Option("--folder", help="Where shows are kept; else beside SHOW, or here.", metavar="FOLDER")
    ] = None,
    port: Annotated[
        int | None,
        typer.Option("--port", min=1, max=65535, help="The port; else the first free one.", metavar="NUMBER"),
    ] = None,
    share: Annotated[
        bool, typer.Option("--share", help="Let others in this network look, each by a code; they change nothing.")
    ] = False,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open the browser.")] = True,
) -> None:
    """Open the page: the plan on a screen at the desk, without internet, for this machine only."""
    from sidetrip.cli.page import run_page

    raise typer.Exit(run_page(show, folder, port=port, share=share, browser=browser))


Take = Annotated[str | None, typer.Argument(help="A take of the show; may be left out if it has one.", metavar="TAKE")]
Buffer = Annotated[
    int | None,
    typer.Option("--buffer", min=1, max=65536, help="Buffer of every computer, in frames.", metavar="FRAMES"),
]


@app.command()
def why(
    show: Show,
    strip: Annotated[str, typer.Argument(help="A strip or an output, by its name.", metavar="STRIP")],
    as_json: Json = False,
) -> None:
    """Say why a strip goes out, and on these ports, or why it stays in and what would serve it."""
    from sidetrip.cli.why import run_why

    raise typer.Exit(run_why(show, strip, as_json=as_json))


@app.command()
def hear(
    show: Show,
    words: Annotated[str, typer.Argument(help="A source and a place, as kick@PA.", metavar="SOURCE@PLACE")],
    file: Annotated[
        str | None,
        typer.Option("--file", help="A recording; else a phrase of the program's own.", metavar="FILE"),
    ] = None,
    out: Annotated[
        str | None, typer.Option("--out", help="Write the files into this folder.", metavar="FOLDER")
    ] = None,
    seconds: Annotated[
        float, typer.Option("--seconds", min=0.5, max=600, help="How much of the recording.", metavar="SECONDS")
    ] = 30.0,
    as_json: Json = False,
) -> None:
    """Listen to a source at a place: all ways that it takes there added up, IN, OUT and dialled, equally loud."""
    from sidetrip.cli.hear import run_hear

    raise typer.Exit(run_hear(show, words, file=file, out=out, seconds=seconds, as_json=as_json))


@app.command()
def questions(
    show: Show,
    out: Annotated[
        str | None, typer.Option("--out", help="Write the questions into this CSV file.", metavar="FILE")
    ] = None,
    answers: Annotated[
        str | None, typer.Option("--answers", help="A list that came back with answers.", metavar="FILE")
    ] = None,
    write: Annotated[bool, typer.Option("--write", help="Put the answers into the show.")] = False,
    as_json: Json = False,
) -> None:
    """List what the house must be asked because the plan hangs on it, and take the answers."""
    from sidetrip.cli.questions import run_questions

    raise typer.Exit(run_questions(show, out, answers, write=write, as_json=as_json))


@app.command()
def signal(
    show: Show,
    take: Take = None,
    out: Annotated[
        str | None,
        typer.Option("--out", help="The file to make; else it is kept in the show's proofs.", metavar="FILE"),
    ] = None,
    as_json: Json = False,
) -> None:
    """Make the test signal of a take, and say what to patch, what to mute and where it will sound."""
    from sidetrip.cli.signal import run_signal

    raise typer.Exit(run_signal(show, take, out, as_json=as_json))


@app.command()
def prove(
    show: Show,
    recording: Annotated[
        list[str],
        typer.Option("--recording", help="A recorded file, or a folder of tracks; may be given again.", metavar="FILE"),
    ],
    take: Annotated[str | None, typer.Option("--take", help="Which take it is of.", metavar="TAKE")] = None,
    signal: Annotated[
        str | None,
        typer.Option("--signal", help="The test signal that was played; else the one kept in proofs.", metavar="FILE"),
    ] = None,
    buffer: Buffer = None,
    adopt: Annotated[
        bool, typer.Option("--adopt", help="Write measured figures into the show, and plan again.")
    ] = False,
    keep: Annotated[bool, typer.Option("--keep/--no-keep", help="Keep the proof in the show's proofs.")] = True,
    paper: Annotated[
        str | None, typer.Option("--paper", help="Write the proof sheet into this folder.", metavar="FOLDER")
    ] = None,
    as_json: Json = False,
) -> None:
    """Prove a take from its recording: pass, look, fail or cannot tell, loop by loop, and why."""
    from sidetrip.cli.prove import run_prove

    raise typer.Exit(
        run_prove(show, recording, take, signal, buffer=buffer, adopt=adopt, keep=keep, paper=paper, as_json=as_json)
    )


@app.command(name="stand-in")
def stand_in(
    show: Show,
    take: Take = None,
    out: Annotated[str | None, typer.Option("--out", help="The recording to make.", metavar="FILE")] = None,
    fault: Annotated[
        list[str] | None,
        typer.Option("--fault", help="Break it: a fault, or 'fault: loop'; may be given again.", metavar="FAULT"),
    ] = None,
    seed: Annotated[int, typer.Option("--seed", help="Another seed, other noise.", metavar="NUMBER")] = 1,
) -> None:
    """Record a take on a stand-in for desk and units, to practise on or to try what a fault looks like."""
    from sidetrip.cli.stand_in import run_stand_in

    raise typer.Exit(run_stand_in(show, take, out, fault or [], seed))


@app.command()
def evidence(
    show: Show,
    add: Annotated[
        list[str] | None,
        typer.Option("--add", help="A log of block times to add; may be given again.", metavar="FILE"),
    ] = None,
    as_json: Json = False,
) -> None:
    """Keep logs of block times with a show, and say which hours of them still count."""
    from sidetrip.cli.evidence import run_evidence

    raise typer.Exit(run_evidence(show, add or [], as_json=as_json))


@app.command()
def hold(
    show: Show,
    as_json: Json = False,
    paper: Annotated[
        str | None, typer.Option("--paper", help="Write the computer sheet into this folder.", metavar="FOLDER")
    ] = None,
    rate: Annotated[
        int | None, typer.Option("--rate", min=8000, max=768000, help="Sample rate in Hz.", metavar="HZ")
    ] = None,
    here: Annotated[
        bool, typer.Option("--here", help="This is the computer: tick what it can say of itself. Reads only.")
    ] = False,
) -> None:
    """Say which buffer and rate to set, how sure that is, and what would make it surer."""
    from sidetrip.cli.hold import run_hold

    raise typer.Exit(run_hold(show, as_json=as_json, paper=paper, rate=rate, here=here))


@app.command()
def lists(
    show: Show,
    more: Annotated[
        list[str] | None, typer.Argument(help="More files for --read.", metavar="FILE", show_default=False)
    ] = None,
    read: Annotated[
        list[str] | None,
        typer.Option("--read", help="An edited list; says what it would change. May be given again.", metavar="FILE"),
    ] = None,
    write: Annotated[
        bool, typer.Option("--write", help="With --read: write the changes into the show, the old one kept beside it.")
    ] = False,
    out: Annotated[
        str | None,
        typer.Option("--out", help="Write the lists into this folder; else into the show's lists.", metavar="FOLDER"),
    ] = None,
    order: Annotated[str, typer.Option("--order", help="desk: by strip; stage: by port.", metavar="ORDER")] = "desk",
    separator: Annotated[
        str, typer.Option("--separator", help="Between cells: comma, semicolon or tab.", metavar="NAME")
    ] = "comma",
    decimal: Annotated[
        str | None,
        typer.Option("--decimal", help="Mark in figures, point or comma; reading finds it out.", metavar="NAME"),
    ] = None,
    as_json: Json = False,
) -> None:
    """Write the input, output and request list for a spreadsheet, or read edited ones back into the show."""
    from sidetrip.cli.lists import run_lists

    files = [*(read or []), *(more or [])]
    code = run_lists(show, files, out, order, separator, decimal, read=bool(read), write=write, as_json=as_json)
    raise typer.Exit(code)


@app.command()
def change(
    show: Show,
    from_show: Annotated[
        str, typer.Option("--from", help="The show whose patch is on the desk now.", metavar="OTHER_SHOW")
    ],
    as_json: Json = False,
) -> None:
    """Say how to get from another show's patch to this one's: the fewest steps, safe to stop after any."""
    from sidetrip.cli.change import run_change

    raise typer.Exit(run_change(show, from_show, as_json=as_json))


@app.command()
def desks(
    name: Annotated[str | None, typer.Argument(help="One desk type, by name or file.", metavar="TYPE")] = None,
    show: Annotated[
        str | None,
        typer.Option("--for", help="Say what changes for this show if it is planned on that desk.", metavar="SHOW"),
    ] = None,
    as_json: Json = False,
) -> None:
    """List the desk types, or show one with all its figures and how far each can be trusted.

    With --for, plan a show on it and say what changes.
    """
    from sidetrip.cli.desks import run_changes, run_desks

    raise typer.Exit(run_desks(name, as_json=as_json) if show is None else run_changes(name, show, as_json=as_json))


def run() -> None:
    """Enter here from the shell."""
    app()
