"""`sidetrip desks`."""

from __future__ import annotations

from sidetrip import wiring
from sidetrip.application.use_cases import load_desk
from sidetrip.cli.show import findings_json, print_blocks, print_findings, print_json
from sidetrip.errors import ShowUnreadable
from sidetrip.reports.desk_answers import desk_answers
from sidetrip.reports.summary import Block


def run_desks(name: str | None, *, as_json: bool) -> int:
    """List desk types or show one; returns the exit code."""
    store, library = wiring.show_store(), wiring.desk_library()
    try:
        names = library.names() if name is None else (name,)
        desks = [load_desk(store, library, own) for own in names]
    except ShowUnreadable as error:
        if as_json:
            print_json(findings_json(error.findings))
        else:
            print_findings(error.findings, errors=True)
        return 1
    if as_json:
        print_json({"desks": [desk.model_dump(mode="json", by_alias=True, exclude_none=True) for desk in desks]})
    elif name is not None:
        print_blocks(desk_answers(desks[0]))
    else:
        rows = tuple((desk.name, desk.standing, desk.summary) for desk in desks)
        answer = "Use one by its name, or copy its file and make it yours: desk: {type: my-desk.yaml}"
        print_blocks([Block("Desk types", answer, ("name", "standing", "what it is"), rows)])
    return 0
