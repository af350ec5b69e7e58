"""`sidetrip desks`."""

from __future__ import annotations

from sidetrip import wiring
from sidetrip.application.use_cases import load_desk, plan
from sidetrip.cli.show import console, exit_code, findings_json, print_blocks, print_findings, print_json
from sidetrip.errors import ShowUnreadable, WithFindings
from sidetrip.findings import ordered
from sidetrip.reports.desk_answers import desk_answers
from sidetrip.reports.summary import Block


def run_changes(name: str | None, show: str, *, as_json: bool) -> int:
    """Say what changes for a show on another desk type; returns the exit code."""
    store, library = wiring.show_store(), wiring.desk_library()
    if name is None:
        console(errors=True).print(f"Which desk? Name one of: {', '.join(library.names())}")
        return 2
    from sidetrip.plan.other_desk import changes

    try:
        planned = plan(store, library, show), plan(store, library, show, desk_name=name)
    except WithFindings as error:
        findings = ordered(error.findings)
        if as_json:
            print_json(findings_json(findings))
        else:
            print_findings(findings, errors=True)
            console(errors=True).print(f"The show cannot be planned on '{name}' as it is written.")
        return 1
    here, there = (one.plan for one in planned)
    found = changes(here, there)
    if as_json:
        rows = [{"kind": own.kind, "what": own.what, "was": own.was, "becomes": own.becomes} for own in found]
        print_json({"show": here.show.show, "was": here.desk.name, "becomes": there.desk.name, "changes": rows})
    else:
        answer = f"{here.show.show}, from the {here.desk.name} to the {there.desk.name}."
        table = tuple((own.kind, own.what, own.was, own.becomes) for own in found)
        words = answer if found else f"{answer} Nothing changes."
        print_blocks([Block("What changes", words, ("kind", "what", "was", "becomes"), table)])
    return exit_code(planned[1].findings)


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
