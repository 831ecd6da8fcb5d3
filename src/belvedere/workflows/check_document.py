"""The check's report as the JSON document that scripts may rely on (docs/check.md)."""

from __future__ import annotations

from typing import Any

from belvedere.check import CheckReport, Finding

SCHEMA = "belvedere/check/1"


def check_document(report: CheckReport) -> dict[str, Any]:
    """The document `belvedere/check/1`; its schema is docs/schema/check-1.schema.json."""
    return {
        "schema": SCHEMA,
        "verdict": report.verdict,
        "cells": [
            {
                "row": cell.row,
                "column": cell.column,
                "state": cell.state,
                "frames": list(cell.frames),
                "confidence": cell.confidence,
                "findings": [_finding(finding) for finding in cell.findings],
            }
            for cell in report.cells
        ],
        "other_frames": [{"file": o.file, "role": o.role} for o in report.other_frames],
        "findings": [_finding(finding) for finding in report.findings],
        "retakes": [
            {
                "row": stop.row,
                "column": stop.column,
                "bearing_deg": round(stop.bearing_deg, 4),
                "elevation_deg": round(stop.elevation_deg, 4),
                "columns_from_start": stop.columns_from_start,
                "rows_from_start": stop.rows_from_start,
                "why": stop.why,
            }
            for stop in report.retakes
        ],
        "seconds": report.seconds,
    }


def _finding(finding: Finding) -> dict[str, Any]:
    said: dict[str, Any] = {"kind": finding.kind, "says": finding.says}
    if finding.file:
        said["file"] = finding.file
    if finding.value is not None:
        said["value"] = finding.value
    if finding.unit:
        said["unit"] = finding.unit
    return said
