"""Serves the page: on this machine only, at a free port, and opens the browser."""

from __future__ import annotations

import gc
import secrets
import socket
import sys
import threading
import webbrowser
from collections.abc import Callable
from dataclasses import dataclass

import uvicorn

from sidetrip import wiring
from sidetrip.web.app import create_app
from sidetrip.web.guards import Guard, Viewers
from sidetrip.web.host import Host

PORT = 8377
_TRIED = 20


@dataclass(frozen=True, slots=True)
class Asked:
    """How the page is to be served. port: None for the first that is free. share: let others look."""

    show: str | None
    folder: str
    port: int | None
    share: bool
    browser: bool


def make_host(show: str | None, folder: str) -> Host:
    """Return a host with the real adapters."""
    host = Host(
        wiring.show_store(),
        wiring.desk_library(),
        wiring.clock(),
        wiring.press(),
        wiring.recordings(),
        folder,
        wiring.demo_show(),
    )
    if show is not None:
        host.open(show)
    return host


def free_socket(port: int | None, address: str) -> socket.socket:
    """Return a listening place: at this port, or at the first free one of a few, or wherever there is one.

    Raises OSError when the port that was asked for is taken.
    """
    wanted = [port] if port is not None else [*range(PORT, PORT + _TRIED), 0]
    for number, own in enumerate(wanted):
        made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            made.bind((address, own))
            return made
        except OSError:
            made.close()
            if number == len(wanted) - 1:
                raise
    raise OSError("no port is free")


def addresses() -> tuple[str, ...]:
    """Return this machine's addresses in the networks that it is in; nothing is sent to find them."""
    found = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # an address of documentation (RFC 5737): connecting sends nothing
            found.append(probe.getsockname()[0])
        except OSError:
            pass
    return tuple(address for address in found if not address.startswith("127."))


def hosts_of(port: int, *, share: bool) -> frozenset[str]:
    """Return the names under which the page may be asked for."""
    names = ["127.0.0.1", "localhost", *((*addresses(), socket.gethostname().lower()) if share else ())]
    return frozenset(f"{name}:{port}" for name in names) | (frozenset(names) if port == 80 else frozenset())


def serve(asked: Asked, say: Callable[[str], None]) -> int:
    """Serve the page until it is stopped; returns the exit code. say: prints a line."""
    try:
        place = free_socket(asked.port, "0.0.0.0" if asked.share else "127.0.0.1")
    except OSError as error:
        say(f"Port {asked.port} cannot be had: {error.strerror or error}. Give another with --port, or none.")
        return 1
    port = place.getsockname()[1]
    host = make_host(asked.show, asked.folder)
    # A full collection walks every plan that is kept, 50 ms at a time, and frees next to nothing: seldom is enough.
    gc.freeze()
    gc.set_threshold(50_000, 20, 100)
    viewers = Viewers(say) if asked.share else None
    guard = Guard(hosts_of(port, share=asked.share), secrets.token_urlsafe(24), viewers)
    address = f"http://127.0.0.1:{port}/"
    say(f"The page is at {address}   (stop it with Ctrl-C)")
    if asked.share:
        for own in addresses():
            say(f"Others look on at http://{own}:{port}/ with the code; they change nothing.")
    if asked.browser:
        threading.Timer(0.6, _open, (address,)).start()
    config = uvicorn.Config(
        create_app(host, guard), log_level="warning", access_log=False, server_header=False, proxy_headers=False
    )
    try:
        uvicorn.Server(config).run(sockets=[place])
    except KeyboardInterrupt:
        pass
    finally:
        place.close()
    say("The page has stopped. Ticks, drafts and changes are kept.")
    return 0


def _open(address: str) -> None:
    try:
        webbrowser.open(address)
    except (webbrowser.Error, OSError):  # no browser here: the address is printed
        sys.stderr.write("")


__all__ = ["PORT", "Asked", "addresses", "free_socket", "hosts_of", "make_host", "serve"]
