"""The page as an application: its templates, its guard, its answers. `launch` serves it."""

from __future__ import annotations

from pathlib import Path

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import FileResponse, JSONResponse
from fastapi.staticfiles import StaticFiles
from starlette.exceptions import HTTPException

from sidetrip.application.at_desk import Refused
from sidetrip.errors import NoPlan, ShowChanged, SidetripError, WithFindings
from sidetrip.findings import Finding
from sidetrip.web import answer_routes, change_routes, first_routes, job_routes, page_routes
from sidetrip.web.guards import Guard, install, refusal
from sidetrip.web.host import Host
from sidetrip.web.render import Renderer
from sidetrip.web.views.who import finding_doc

HERE = Path(__file__).parent


def create_app(host: Host, guard: Guard) -> FastAPI:
    """Return the application. It holds nothing that is not in `host`, and lets nobody in whom `guard` does not."""
    app = FastAPI(
        title="sidetrip", docs_url=None, redoc_url=None, openapi_url="/api/shape", summary="What the page asks for."
    )
    app.state.host, app.state.guard, app.state.render = host, guard, Renderer(HERE / "templates")
    install(app, guard)
    app.mount("/static", StaticFiles(directory=HERE / "static"), name="static")
    for routes in (page_routes, answer_routes, change_routes, job_routes, first_routes):
        app.include_router(routes.router)

    @app.get("/favicon.ico", include_in_schema=False)
    def favicon() -> FileResponse:
        """Return the sign of the page."""
        return FileResponse(HERE / "static" / "sign.svg", media_type="image/svg+xml")

    _answer_errors(app)
    return app


def _answer_errors(app: FastAPI) -> None:
    """Give every error one shape: what, in a sentence, with findings and differing lines where there are any."""

    def told(status: int, what: str, findings: list[Finding], difference: tuple[str, ...] = ()) -> JSONResponse:
        body = {"kind": "refused", "what": what, "findings": [finding_doc(own) for own in findings[:40]]}
        return JSONResponse({**body, "difference": list(difference[:80])}, status)

    @app.exception_handler(Refused)
    async def refused(request: Request, error: Refused) -> Response:
        return told(409, error.what, list(error.findings), error.difference)

    @app.exception_handler(WithFindings)
    async def unreadable(request: Request, error: WithFindings) -> Response:
        first = error.findings[0] if error.findings else None
        what = "That cannot be" if first is None else f"{first.what}: {first.values}. {first.remedy}"
        return told(409 if isinstance(error, NoPlan) else 422, what, list(error.findings))

    @app.exception_handler(ShowChanged)
    async def changed(request: Request, error: ShowChanged) -> Response:
        return told(409, "A file was changed elsewhere just now. Look at it again, then decide", [])

    @app.exception_handler(SidetripError)
    async def other(request: Request, error: SidetripError) -> Response:
        return told(409, str(error), [])

    @app.exception_handler(RequestValidationError)
    async def malformed(request: Request, error: RequestValidationError) -> Response:
        where = "; ".join(
            f"{' / '.join(str(part) for part in one['loc'])}: {one['msg']}"[:200] for one in error.errors()[:5]
        )
        return refusal(422, f"That is not how the page asks: {where}", "malformed")

    @app.exception_handler(HTTPException)
    async def missing(request: Request, error: HTTPException) -> Response:
        return refusal(error.status_code, str(error.detail))


__all__ = ["create_app"]
