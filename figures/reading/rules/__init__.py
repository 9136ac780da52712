"""The piping rules: one function each, gathered here and run on every plant."""

from __future__ import annotations

from typing import TYPE_CHECKING

from figures.reading.record import SEVERITIES, Finding, Reading

if TYPE_CHECKING:
    from figures.reading.classify import Survey


def judge(found: Survey, reading: Reading) -> tuple[Finding, ...]:
    """Every finding, sorted by severity, then by rule, then by parts."""
    findings: list[Finding] = []
    return tuple(sorted(findings, key=lambda f: (SEVERITIES.index(f.severity), f.rule, f.parts)))
