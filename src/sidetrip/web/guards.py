"""Who may ask: this machine by its own name, from its own page, with its token; others look only, by a code.

Addresses of other hosts that were made to point here do not match the names that the page was started under; requests
that other sites cause carry their origin; writing needs a token that only the page itself has been given.
"""

from __future__ import annotations

import hmac
import ipaddress
import secrets
import threading
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field

from fastapi import FastAPI, Request, Response
from fastapi.responses import JSONResponse, PlainTextResponse, RedirectResponse

TOKEN_HEADER = "x-sidetrip-token"
COOKIE = "sidetrip_look"
MAX_BODY = 1_000_000
_READS = ("GET", "HEAD")
_LETTERS = "ACDEFHJKLMNPRTUVWXY3479"
"""Letters of a code that nobody takes for one another when they are read out."""
_MOST_WRONG = 5

_HEADERS = {
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
    "media-src 'self'; connect-src 'self'; font-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
    "Cache-Control": "no-store",
}


@dataclass(slots=True)
class Viewers:
    """Those who look from elsewhere. Each code lets one browser in; then there is a new one, told to `say`."""

    say: Callable[[str], None]
    code: str = ""
    _wrong: int = 0
    _known: set[str] = field(default_factory=set)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def __post_init__(self) -> None:
        """Make the first code."""
        self._renew("Code for one who looks on")

    def _renew(self, words: str) -> None:
        self.code, self._wrong = "".join(secrets.choice(_LETTERS) for _ in range(8)), 0
        self.say(f"{words}: {self.code[:4]} {self.code[4:]}")

    def admit(self, code: str) -> str | None:
        """Return the secret of a new viewer for the right code, None for a wrong one; too many of those change it."""
        given = "".join(code.split()).upper()
        with self._lock:
            if not hmac.compare_digest(given.encode(), self.code.encode()):
                self._wrong += 1
                if self._wrong >= _MOST_WRONG:
                    self._renew(f"{_MOST_WRONG} wrong codes came; the code is now")
                return None
            key = secrets.token_urlsafe(24)
            self._known.add(key)
            self._renew("One looks on. Code for the next")
            return key

    def knows(self, key: str | None) -> bool:
        """Tell whether a browser was let in."""
        return key is not None and key in self._known


@dataclass(frozen=True, slots=True)
class Guard:
    """hosts: the names of this page with their port. token: what its own page writes with. viewers: None unshared."""

    hosts: frozenset[str]
    token: str
    viewers: Viewers | None = None

    def owner(self, request: Request) -> bool:
        """Tell whether a request comes from this machine."""
        if request.client is None:
            return False
        try:
            return ipaddress.ip_address(request.client.host.partition("%")[0]).is_loopback
        except ValueError:
            return False

    def problem(self, request: Request) -> Response | None:
        """Return the answer to a request that may not pass, None for one that may."""
        host = request.headers.get("host", "").lower()
        if host not in self.hosts:
            names = ", ".join(sorted(self.hosts))
            return refusal(403, f"This page is not served under that name. Open it as: {names}")
        origin, site = request.headers.get("origin"), request.headers.get("sec-fetch-site")
        reads = request.method in _READS
        at_home = origin is None or origin.lower() in {f"http://{name}" for name in self.hosts}
        page_itself = request.url.path == "/" and request.headers.get("sec-fetch-mode") == "navigate"
        if not at_home or (site in ("cross-site", "same-site") and not (reads and page_itself)):
            return refusal(403, "Another site asked for this. Only the page itself may")
        if request.url.path.startswith("/static/"):
            return None
        if not self.owner(request):
            return self._viewer(request)
        if not reads and not hmac.compare_digest(request.headers.get(TOKEN_HEADER, "").encode(), self.token.encode()):
            return refusal(409, "This page is from an earlier start of the program. It asks again by itself", "token")
        return None

    def _viewer(self, request: Request) -> Response | None:
        if self.viewers is None:
            return refusal(403, "This page is for this machine only. Start it with --share to let others look")
        if request.url.path == "/look":
            return None
        if not self.viewers.knows(request.cookies.get(COOKIE)):
            if request.method in _READS and "text/html" in request.headers.get("accept", ""):
                return RedirectResponse("/look", 303)
            return refusal(401, "Give the code first, at /look")
        if request.method not in _READS:
            return refusal(403, "Those who look from elsewhere change nothing. Change it at the machine itself")
        return None


def refusal(status: int, what: str, kind: str = "refused") -> JSONResponse:
    """Return the one shape in which anything is refused: what, in a sentence; findings and lines where there are."""
    return JSONResponse({"kind": kind, "what": what, "findings": [], "difference": []}, status)


def install(app: FastAPI, guard: Guard) -> None:
    """Put the guard before everything, and its headers on every answer."""

    @app.middleware("http")
    async def guarded(request: Request, further: Callable[[Request], Awaitable[Response]]) -> Response:
        """Hold a request against the guard."""
        length = request.headers.get("content-length", "0")
        if not length.isdigit() or int(length) > MAX_BODY:
            answer: Response = refusal(413, f"That is more than {MAX_BODY // 1000} kB. Send less at once")
        elif request.headers.get("transfer-encoding"):
            answer = PlainTextResponse("Send it with its length", 411)
        else:
            answer = guard.problem(request) or await further(request)
        for name, value in _HEADERS.items():
            answer.headers.setdefault(name, value)
        if guard.owner(request):  # browsers take it from this machine only, and complain elsewhere
            answer.headers.setdefault("Cross-Origin-Opener-Policy", "same-origin")
        return answer


__all__ = ["COOKIE", "TOKEN_HEADER", "Guard", "Viewers", "install", "refusal"]
