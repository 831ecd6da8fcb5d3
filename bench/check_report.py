"""The bench's figures out of its results: as text, as Markdown and as a reliability diagram."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

from check_score import CONFIDENCE_EDGES

TRUE_KINDS = (
    "good",
    "missing",
    "corrupt",
    "soft",
    "shaken",
    "soft or shaken",
    "exposure",
    "colour",
    "hole",
    "either",
    "blurred, no detail",
)
SAID_KINDS = ("good", "missing", "corrupt", "soft", "shaken", "exposure", "colour", "unsure")
#: Rows of the matrix that must be named with the right kind.
_FAULTS = ("missing", "corrupt", "soft", "shaken", "soft or shaken", "exposure", "colour", "hole")
#: What is asked of the check.
LEAST_NAMED, MOST_ACCUSED, MOST_UNSURE, LEAST_PLACED = 0.995, 0.0005, 0.01, 0.999

Figures = dict[str, Any]


def figures_of(scores: Sequence[dict[str, Any]]) -> Figures:
    """The figures that are asked for, from the results of all shoots."""
    matrix: dict[str, Counter[str]] = {}
    for one in scores:
        for true, row in one["matrix"].items():
            matrix.setdefault(true, Counter()).update(row)
    faulty = sum(sum(matrix.get(kind, {}).values()) for kind in _FAULTS)
    named = sum(_named(kind, matrix.get(kind, Counter())) for kind in _FAULTS)
    good = sum(matrix.get("good", {}).values())
    accused = good - matrix.get("good", Counter())["good"] - matrix.get("good", Counter())["unsure"]
    shoots = len(scores)
    exact = sum(not one["misplaced"] and not one["trouble"] for one in scores)
    figures: Figures = {
        "shoots": shoots,
        "seeds": sorted({one["seed"] for one in scores}),
        "states_of_the_code": len({one["code"] for one in scores}),
        "cells": sum(one["case"]["cells"] for one in scores),
        "frames": sum(one["frames"] for one in scores),
        "faulty_shoots": sum(one["faulty"] for one in scores),
        "faulty_called_complete": sum(one["wrongly_complete"] for one in scores),
        "faulty_cells": faulty,
        "faulty_cells_named": named,
        "good_cells": good,
        "good_cells_accused": accused,
        "shoots_unsure": sum(one["verdict"] == "unsure" for one in scores),
        "shoots_with_an_unsure_cell": sum(one["unsure_cells"] > 0 for one in scores),
        "shoots_placed_exactly": exact,
        "troubles": sum(bool(one["trouble"]) for one in scores),
        "check_s_per_frame": round(
            sum(one["check_s"] for one in scores) / max(1, sum(one["frames"] for one in scores)), 4
        ),
        "matrix": {true: dict(row) for true, row in matrix.items()},
        "reliability": _reliability(scores),
        "causes": dict(
            Counter(f"{f['what']} [{f['cause']}]" for o in scores for f in o["failures"])
        ),
    }
    figures["holds"] = _holds(figures)
    return figures


def _named(kind: str, row: Counter[str]) -> int:
    if kind == "soft or shaken":
        return row["soft"] + row["shaken"]
    return row["named"] if kind == "hole" else row[kind]


def _holds(figures: Figures) -> bool:
    return bool(
        figures["faulty_called_complete"] == 0
        and figures["troubles"] == 0
        and figures["faulty_cells_named"] >= LEAST_NAMED * figures["faulty_cells"]
        and figures["good_cells_accused"] <= MOST_ACCUSED * figures["good_cells"]
        and figures["shoots_unsure"] <= MOST_UNSURE * figures["shoots"]
        and figures["shoots_placed_exactly"] >= LEAST_PLACED * figures["shoots"]
    )


def _reliability(scores: Sequence[dict[str, Any]]) -> list[dict[str, float]]:
    """For each bin of confidence: frames, the mean confidence, the share at their true cell."""
    rows = []
    for place, (low, high) in enumerate(pairwise(CONFIDENCE_EDGES)):
        bins = [one["confidence"][place] for one in scores if one["confidence"]]
        count, right, total = (sum(one[i] for one in bins) for i in range(3))
        if count:
            rows.append(
                {
                    "from": low,
                    "to": high,
                    "frames": int(count),
                    "confidence": total / count,
                    "right": right / count,
                }
            )
    return rows


def _targets(figures: Figures) -> list[tuple[str, str, str]]:
    """What is asked, what was asked for, what was found."""
    shoots = figures["shoots"]
    return [
        (
            "faulty shoots called complete",
            "none",
            f"{figures['faulty_called_complete']} of {figures['faulty_shoots']}",
        ),
        (
            "faulty cells with detail named with the right kind",
            f"≥ {LEAST_NAMED:.1%}",
            _share(figures["faulty_cells_named"], figures["faulty_cells"], 2),
        ),
        (
            "good cells accused",
            f"≤ {MOST_ACCUSED:.2%}",
            _share(figures["good_cells_accused"], figures["good_cells"], 3),
        ),
        (
            "shoots with the verdict `unsure`",
            f"≤ {MOST_UNSURE:.0%}",
            _share(figures["shoots_unsure"], shoots, 1),
        ),
        (
            "shoots with every frame at its true cell",
            f"≥ {LEAST_PLACED:.1%}",
            _share(figures["shoots_placed_exactly"], shoots, 1),
        ),
    ]


def _share(part: int, whole: int, digits: int) -> str:
    return f"{part} of {whole} ({100.0 * part / max(1, whole):.{digits}f} %)"


def text(figures: Figures, scores: Sequence[dict[str, Any]]) -> str:
    """The whole table for a terminal, with every failure."""
    lines = [
        f"{figures['shoots']} shoots, {figures['cells']} cells, {figures['frames']} frames; seeds "
        f"{', '.join(map(str, figures['seeds']))}; {figures['states_of_the_code']} states of the "
        f"code; {figures['check_s_per_frame']:.3f} s a frame to check",
        "",
    ]
    lines += [f"  {what:<52}{asked:>9}  {found}" for what, asked, found in _targets(figures)]
    lines += ["", "true \\ said        " + "".join(f"{kind:>10}" for kind in _columns(figures))]
    for true in (kind for kind in TRUE_KINDS if kind in figures["matrix"]):
        row = figures["matrix"][true]
        lines.append(f"{true:<19}" + "".join(f"{row.get(k, 0):>10}" for k in _columns(figures)))
    lines += ["", "confidence of placement, and how often it is right"]
    lines += [
        f"  {row['from']:.3f} to {row['to']:.3f}  {row['frames']:7d} frames, "
        f"said {row['confidence']:.4f}, right {row['right']:.4f}"
        for row in figures["reliability"]
    ]
    lines += ["", "failures by cause"]
    lines += [
        f"  {count:5d}  {cause}"
        for cause, count in sorted(figures["causes"].items(), key=lambda item: -item[1])
    ]
    lines += ["", "every failure"]
    for one in sorted(scores, key=lambda one: (one["seed"], one["number"])):
        lines += [
            f"  --only {one['number']} --seed {one['seed']} ({one['scene']}): {line}"
            for line in failure_lines(one)
        ]
    return "\n".join(lines)


def failure_lines(score: dict[str, Any]) -> list[str]:
    """A shoot's failures, one line for each kind: how many, and the first of them."""
    kinds: dict[str, list[str]] = {}
    for failure in score["failures"]:
        says = failure["says"].strip().splitlines()[-1]
        kinds.setdefault(f"{failure['what']} [{failure['cause']}]", []).append(says)
    return [
        f"{len(says)} × {kind}: {says[0]}" if len(says) > 1 else f"{kind}: {says[0]}"
        for kind, says in kinds.items()
    ]


def _columns(figures: Figures) -> list[str]:
    said = {kind for row in figures["matrix"].values() for kind in row}
    return [*SAID_KINDS, *sorted(said - set(SAID_KINDS))]


def markdown(figures: Figures) -> str:
    """Targets, confusion matrix and reliability as Markdown tables."""
    lines = [
        f"{figures['shoots']} shoots, {figures['cells']:,} cells, {figures['frames']:,} frames.",
        "",
        "| | asked | found |",
        "|---|---|---|",
        *(f"| {what} | {asked} | {found} |" for what, asked, found in _targets(figures)),
        "",
        "True kind (rows) against what was said (columns), in cells:",
        "",
        "| | " + " | ".join(_columns(figures)) + " |",
        "|---|" + "---:|" * len(_columns(figures)),
    ]
    for true in (kind for kind in TRUE_KINDS if kind in figures["matrix"]):
        row = figures["matrix"][true]
        cells = " | ".join(str(row.get(kind, 0) or "·") for kind in _columns(figures))
        lines.append(f"| {true} | {cells} |")
    lines += [
        "",
        "| confidence of placement | frames | said, mean | right |",
        "|---|---:|---:|---:|",
    ]
    lines += [
        f"| {row['from']:g} to {row['to']:g} | {row['frames']:,} | {row['confidence']:.2%} | "
        f"{row['right']:.2%} |"
        for row in figures["reliability"]
    ]
    return "\n".join(lines) + "\n"


def reliability_svg(figures: Figures) -> str:
    """Confidence said against the share that is right, on scales of doubt (1 − p), as SVG."""
    size, margin = 420, 60

    def at(probability: float) -> float:
        doubt = max(1.0 - probability, 1e-5)
        return margin + (size - 2 * margin) * (-math.log10(doubt)) / 5.0

    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size} {size}" '
        f'font-family="sans-serif" font-size="11">',
        f'<rect width="{size}" height="{size}" fill="white"/>',
        f'<line x1="{at(0):.1f}" y1="{size - at(0):.1f}" x2="{at(1):.1f}" y2="{size - at(1):.1f}" '
        f'stroke="grey" stroke-dasharray="4 3"/>',
    ]
    for tick in (0.0, 0.9, 0.99, 0.999, 0.9999):
        place = at(tick)
        parts.append(
            f'<text x="{place:.1f}" y="{size - margin + 18}" text-anchor="middle">{tick:g}</text>'
        )
        parts.append(
            f'<text x="{margin - 8}" y="{size - place + 4:.1f}" text-anchor="end">{tick:g}</text>'
        )
    for row in figures["reliability"]:
        radius = 2.0 + math.log10(row["frames"] + 1.0)
        parts.append(
            f'<circle cx="{at(row["confidence"]):.1f}" cy="{size - at(row["right"]):.1f}" '
            f'r="{radius:.1f}" fill="black"><title>{row["frames"]} frames</title></circle>'
        )
    parts.append(
        f'<text x="{size / 2}" y="{size - 16}" text-anchor="middle">confidence said</text>'
    )
    parts.append(
        f'<text x="16" y="{size / 2}" text-anchor="middle" '
        f'transform="rotate(-90 16 {size / 2})">share that is right</text>'
    )
    return "\n".join([*parts, "</svg>"]) + "\n"
