"""The page's application with real adapters, in a folder of its own, asked as from this machine or from another."""

import shutil
from pathlib import Path

from fastapi.testclient import TestClient

from sidetrip.web.app import create_app
from sidetrip.web.guards import TOKEN_HEADER, Guard, Viewers
from sidetrip.web.host import Host
from sidetrip.web.launch import make_host

DEMO = Path(__file__).parents[1] / "demo" / "tin-lantern" / "show.yaml"
PLACE = "127.0.0.1:8377"
TOKEN = "the token of this start"


class Asker(TestClient):
    """Asks the page; post carries the token unless told otherwise."""

    host: Host

    def tell(self, path: str, what: object, **headers: str) -> object:
        """Post JSON with the token, and return the answer."""
        return self.post(path, json=what, headers={TOKEN_HEADER: TOKEN, **headers})


def asker(folder: Path, *, show: bool = True, viewers: Viewers | None = None, address: str = "127.0.0.1") -> Asker:
    """Return who asks a page that has the demo open, or nothing yet."""
    path = None
    if show:
        path = folder / "tin-lantern"
        path.mkdir(exist_ok=True)
        if not (path / "show.yaml").exists():
            shutil.copy(DEMO, path / "show.yaml")
    host = make_host(None if path is None else str(path), str(folder))
    hosts = frozenset({PLACE, "192.168.7.2:8377"})
    app = create_app(host, Guard(hosts, TOKEN, viewers))
    made = Asker(app, base_url=f"http://{PLACE}", client=(address, 50000))
    made.host = host
    return made
