"""The check's report as the JSON document that scripts may rely on (docs/check.md)."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from belvedere.check import CheckReport, Finding, RetakeLight, RetakeStop, RetakeTour
from belvedere.shoot import Settings

SCHEMA = "belvedere/check/1"


def check_document(report: CheckReport) -> dict[str, Any]:
    """The document `belvedere/check/1`; its schema is docs/schema/check-1.schema.json."""
    document: dict[str, Any] = {
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
        "retakes": [_stop(stop) for stop in report.retakes],
        "seconds": report.seconds,
    }
    if report.retake_tour is not None:
        document["retake_tour"] = _tour(report.retake_tour)
    return document


def _stop(stop: RetakeStop) -> dict[str, Any]:
    said: dict[str, Any] = {
        "row": stop.row,
        "column": stop.column,
        "bearing_deg": round(stop.bearing_deg, 4),
        "elevation_deg": round(stop.elevation_deg, 4),
        "columns_from_start": stop.columns_from_start,
        "rows_from_start": stop.rows_from_start,
        "columns_from_before": stop.columns_from_before,
        "rows_from_before": stop.rows_from_before,
        "pan_deg": round(stop.pan_deg, 4),
        "tilt_deg": round(stop.tilt_deg, 4),
        "why": stop.why,
        "settings": _settings(stop.settings),
    }
    if stop.columns_from_before is None:
        del said["columns_from_before"]
    return said


def _tour(tour: RetakeTour) -> dict[str, Any]:
    said: dict[str, Any] = {
        "start": {"row": tour.start_row, "column": tour.start_column},
        "seconds": tour.seconds,
        "moves_s": tour.moves_s,
        "settings": _settings(tour.settings),
    }
    if tour.light is not None:
        said["light"] = _light(tour.light)
    return said


def _light(light: RetakeLight) -> dict[str, Any]:
    said: dict[str, Any] = {
        "allows": light.allows,
        "says": light.says,
        "begin": light.begin.isoformat(timespec="seconds"),
        "end": light.end.isoformat(timespec="seconds"),
        "change_ev": light.change_ev,
    }
    if light.shadows_turned_deg is not None:
        said["shadows_turned_deg"] = light.shadows_turned_deg
    if light.sunset is not None:
        said["sunset"] = light.sunset.isoformat(timespec="seconds")
    return said


def _settings(settings: Settings) -> dict[str, Any]:
    """What is known of the settings; keys are those of the frames, with their units."""
    return {name: value for name, value in asdict(settings).items() if value is not None}


def _finding(finding: Finding) -> dict[str, Any]:
    said: dict[str, Any] = {"kind": finding.kind, "says": finding.says}
    if finding.file:
        said["file"] = finding.file
    if finding.value is not None:
        said["value"] = finding.value
    if finding.unit:
        said["unit"] = finding.unit
    return said
