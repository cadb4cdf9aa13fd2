"""One bench record, two plans: the assessment of a partner whose own plan is another one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from .assessment import Assessment, CheckResult, Finding


def with_shared_bench(
    own_plan: Assessment, bench_plan: Assessment, bench: Assessment
) -> Assessment:
    """The partner's own plan, judged with what was done and weighed after the shared plan.

    ``own_plan`` and ``bench_plan`` are the assessments of the two plans without readings,
    ``bench`` that of the shared plan with the readings. Order, extraction and layers come from
    the own plan, the yield and the diagnosis from the record; drying is the own plan's, less what
    the record lost beyond the shared plan.
    """
    checks = tuple(_check(c, bench_plan, bench) for c in own_plan.checks)
    return replace(own_plan, checks=checks, readings=bench.readings, diagnosis=bench.diagnosis)


def _named(checks: Iterable[CheckResult], name: str) -> CheckResult | None:
    return next((c for c in checks if c.name == name), None)


def _check(own: CheckResult, bench_plan: Assessment, bench: Assessment) -> CheckResult:
    planned = _named(bench_plan.checks, own.name)
    found = _named(bench.checks, own.name)
    if planned is None or found is None or own.name not in ("yield", "drying"):
        return own
    if own.name == "yield":
        return found
    score = max(0.0, own.score - (planned.score - found.score))
    added = tuple(f for f in found.findings if not _is_among(f, planned.findings))
    return replace(
        own,
        score=score,
        points=score * own.out_of,
        findings=(*own.findings, *added),
        note=found.note or own.note,
    )


def _is_among(finding: Finding, others: Iterable[Finding]) -> bool:
    return any((f.code, f.step) == (finding.code, finding.step) for f in others)
