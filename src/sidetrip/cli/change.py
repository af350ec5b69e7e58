"""`sidetrip change`."""

from __future__ import annotations

from sidetrip import wiring
from sidetrip.application.use_cases import plan
from sidetrip.cli.show import console, exit_code, print_blocks, print_findings, print_json
from sidetrip.errors import WithFindings
from sidetrip.findings import ordered


def run_change(show: str, from_show: str, *, as_json: bool) -> int:
    """Print the steps from one show's patch to another's; returns the exit code."""
    try:
        one = plan(wiring.show_store(), wiring.desk_library(), from_show)
        other = plan(wiring.show_store(), wiring.desk_library(), show)
    except WithFindings as error:
        findings = ordered(error.findings)
        if as_json:
            from sidetrip.reports.change_words import change_doc

            print_json(change_doc(None, None, None, findings))
        else:
            print_findings(findings, errors=True)
            console(errors=True).print("There is no plan for one of the two shows, so no way between them.")
        return 1
    from sidetrip.plan.repatch import change_findings, desk_findings, repatch
    from sidetrip.reports.change_words import change_blocks, change_doc

    findings = ordered(desk_findings(one.plan, other.plan))
    change = None
    if not findings:
        change = repatch(one.plan, other.plan)
        findings = ordered(change_findings(other.plan.show, change))
    if as_json:
        print_json(change_doc(one.plan, other.plan, change, findings))
        return exit_code(findings)
    if change is not None:
        console().print(f"From {one.plan.show.show} to {other.plan.show.show}, on a {other.plan.desk.name}\n")
        print_blocks(change_blocks(change))
    print_findings(findings, errors=change is None)
    return exit_code(findings)
