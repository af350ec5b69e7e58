"""Templates to HTML: everything that comes from a file is escaped, pictures of our own are not."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from fastapi.responses import HTMLResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined


class Renderer:
    """Renders the templates of a folder. A name that a template lacks is an error, not a gap."""

    def __init__(self, folder: Path) -> None:
        """folder: with the templates."""
        self._templates = Environment(
            loader=FileSystemLoader(folder),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
            auto_reload=False,
        )

    def text(self, name: str, **values: Any) -> str:
        """Return a template with its values."""
        return self._templates.get_template(name).render(**values)

    def page(self, name: str, status: int = 200, **values: Any) -> HTMLResponse:
        """Return a template as an answer."""
        return HTMLResponse(self.text(name, **values), status)


__all__ = ["Renderer"]
