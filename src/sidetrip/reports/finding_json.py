"""A finding as JSON, in the plan and in the answer of `sidetrip check`."""

from __future__ import annotations

from sidetrip.findings import Finding
from sidetrip.reports.plan_docs import FindingDoc


def finding_doc(finding: Finding) -> FindingDoc:
    """Return a finding for JSON."""
    return FindingDoc(
        code=finding.code,
        severity=finding.severity.value,
        where=finding.where,
        what=finding.what,
        values=finding.values,
        remedy=finding.remedy,
    )
