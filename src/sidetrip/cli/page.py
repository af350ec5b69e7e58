"""`sidetrip page`."""

from __future__ import annotations

from pathlib import Path

from sidetrip.cli.show import console


def run_page(show: str | None, folder: str | None, *, port: int | None, share: bool, browser: bool) -> int:
    """Serve the page; returns the exit code when it is stopped."""
    try:
        from sidetrip.web.launch import Asked, serve
    except ModuleNotFoundError as error:
        console(errors=True).print(f"The page needs '{error.name}', which is not installed. Run: make setup")
        return 1
    if show is not None and not Path(show).exists():
        console(errors=True).print(f"There is no show at {show}. Give a show folder, or none for the first page.")
        return 1
    where = folder or (str(Path(show).resolve().parent) if show is not None and Path(show).is_dir() else ".")

    def say(line: str) -> None:
        console().print(line, highlight=False)

    return serve(Asked(show, where, port, share, browser), say)
