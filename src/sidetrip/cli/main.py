"""`sidetrip`: the commands, each loaded when it is called."""

from __future__ import annotations

from typing import Annotated

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
) -> None:
    """Plan a show: who goes out, what it costs, how late, how to patch and undo it, what to press if it fails."""
    from sidetrip.cli.plan import run_plan

    raise typer.Exit(run_plan(show, as_json=as_json, paper=paper, buffer=buffer, rate=rate))


@app.command()
def desks(
    name: Annotated[str | None, typer.Argument(help="One desk type, by name or file.", metavar="TYPE")] = None,
    as_json: Json = False,
) -> None:
    """List the desk types, or show one with all its figures and how far each can be trusted."""
    from sidetrip.cli.desks import run_desks

    raise typer.Exit(run_desks(name, as_json=as_json))


def run() -> None:
    """Enter here from the shell."""
    app()
