"""The station *assemble*: a card in, one seamless mosaic out."""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from belvedere.check import CellReport, State, Verdict
from belvedere.compose import (
    Composed,
    Layout,
    Making,
    ProjectionName,
    compose,
    crop_to_covered,
    make_layout,
)
from belvedere.foundation import Steps, StoreError
from belvedere.imagefiles import (
    DiskScratch,
    FolderSource,
    Packing,
    TiffSink,
    read_card,
    require_one_size,
)
from belvedere.measure import FrameSource
from belvedere.orient import Orientation
from belvedere.shoot import Frame, Plan
from belvedere.store import atomic_path, ensure_writable, write_json
from belvedere.workflows.check import examine_card
from belvedere.workflows.orient import orient_card
from belvedere.workflows.orientation_file import save_orientation

SCHEMA = "belvedere/assemble/1"


@dataclass(frozen=True, slots=True)
class Wish:
    """What the mosaic shall be like."""

    projection: ProjectionName = "equirectangular"
    scale_px_per_deg: float | None = None
    crop: bool = False
    packing: Packing = "jpeg"
    quality: int = 92


@dataclass(frozen=True, slots=True)
class Outputs:
    """What shall be written where: the mosaic, and on request its report and orientation."""

    mosaic: Path
    report: Path | None = None
    orientation: Path | None = None

    def ensure_writable(self, card: Path) -> None:
        """Refuse before any work what could not be written after it, or not onto a card."""
        for path in (self.mosaic, self.report, self.orientation):
            if path is None:
                continue
            if path.resolve().is_relative_to(card.resolve()):
                raise StoreError(
                    f"{path} would lie among the frames in {card}, which are never written to.",
                    "Choose a place outside of that folder.",
                )
            ensure_writable(path)


@dataclass(frozen=True, slots=True)
class Hole:
    """A planned cell without a frame in the mosaic, and why."""

    row: int
    column: int
    says: str


@dataclass(frozen=True, slots=True)
class Doubt:
    """A cell that is in the mosaic though the check found something wrong with it."""

    row: int
    column: int
    state: State
    says: str


@dataclass(frozen=True, slots=True)
class Material:
    """What there is to assemble: the frames, where to see them, and the plan if there is one.

    `cells` are what the check says of each, the frame in charge first; `verdict` is the check's.
    """

    frames: tuple[Frame, ...]
    source: FrameSource
    title: str = ""
    plan: Plan | None = None
    cells: tuple[CellReport, ...] = ()
    verdict: Verdict | None = None


@dataclass(frozen=True, slots=True)
class Assembly:
    """What came of it."""

    out: Path
    title: str
    orientation: Orientation
    layout: Layout
    composed: Composed
    verdict: Verdict | None
    holes: tuple[Hole, ...]
    doubts: tuple[Doubt, ...]
    left_out: tuple[str, ...]
    seconds: float
    orient_seconds: float
    peak_rss_mb: float

    @property
    def input_mp(self) -> float:
        """Megapixels of all frames used."""
        lens = self.orientation.lens
        return len(self.orientation.frames) * lens.width_px * lens.height_px / 1e6

    @property
    def output_mp(self) -> float:
        """Megapixels of the mosaic."""
        return self.layout.width_px * self.layout.height_px / 1e6


def assemble(
    card: Path, outputs: Outputs, wish: Wish, shoot_file: Path | None = None
) -> Steps[Assembly]:
    """Assemble the frames of `card` into one mosaic.

    With a shoot file: the frames in charge of its cells, retakes included. Without: every frame,
    from the pictures and what they state alone.

    Raises
    ------
    CardError, PlanError
        Where card or shoot file cannot be used.
    OrientError
        Where the frames do not make one picture.
    StoreError
        Where a result cannot be written.
    """
    started = time.monotonic()
    outputs.ensure_writable(card)
    material = yield from _material(card, shoot_file)
    orientation = yield from orient_card(
        material.frames, material.source, material.plan, material.cells
    )
    oriented = time.monotonic()
    layout = make_layout(orientation, wish.projection, wish.scale_px_per_deg)
    if wish.crop:
        layout = crop_to_covered(orientation, layout)
    composed = yield from _written(outputs.mosaic, material, orientation, layout, wish)
    used = {frame.file for frame in orientation.frames}
    assembly = Assembly(
        outputs.mosaic,
        material.title,
        orientation,
        layout,
        composed,
        material.verdict,
        holes(material.cells, used),
        doubts(material.cells, used),
        tuple(frame.file for frame in material.frames if frame.file not in used),
        time.monotonic() - started,
        oriented - started,
        peak_rss_mb(),
    )
    if outputs.orientation is not None:
        save_orientation(outputs.orientation, orientation)
    if outputs.report is not None:
        write_json(outputs.report, assembly_document(assembly))
    return assembly


def _material(card: Path, shoot_file: Path | None) -> Steps[Material]:
    """The frames to take: those of the cells, or all of a folder; none that is damaged."""
    if shoot_file is None:
        frames = yield from read_card(card)
        require_one_size(frames)
        return Material(tuple(f for f in frames if not f.damage), FolderSource(card))
    checked = yield from examine_card(card, shoot_file)
    plan = checked.require_plan()
    damaged = {frame.file for frame in checked.frames if frame.damage}
    cells = tuple(
        replace(cell, frames=tuple(f for f in cell.frames if f not in damaged))
        for cell in checked.report.cells
    )
    return Material(
        tuple(frame for frame in checked.frames if not frame.damage),
        checked.source,
        plan.shoot.title,
        plan,
        cells,
        checked.report.verdict,
    )


def _written(
    out: Path, material: Material, orientation: Orientation, layout: Layout, wish: Wish
) -> Steps[Composed]:
    """Compose into a file that is there whole or not at all; the scratch is on the same disk."""
    files = tuple(frame.file for frame in orientation.frames)
    making = Making(doubtful=frozenset(_doubtful(material.cells)))
    with (
        DiskScratch(out.parent) as scratch,
        atomic_path(out) as partial,
        TiffSink(partial, material.title, files, wish.packing, wish.quality) as sink,
    ):
        composed = yield from compose(orientation, material.source, layout, sink, scratch, making)
        sink.finish()
    return composed


def _doubtful(cells: Sequence[CellReport]) -> Iterator[str]:
    """Frames that their neighbours should cover as far as they reach."""
    for cell in cells:
        if cell.state not in ("good", "unsure"):
            yield from cell.frames[:1]


def holes(cells: Sequence[CellReport], used: set[str]) -> tuple[Hole, ...]:
    """The cells that no frame in the mosaic stands for."""
    return tuple(
        Hole(cell.row, cell.column, _why(cell))
        for cell in cells
        if not cell.frames or cell.frames[0] not in used
    )


def doubts(cells: Sequence[CellReport], used: set[str]) -> tuple[Doubt, ...]:
    """The cells that stand in the mosaic as they are, though a retake would be better."""
    return tuple(
        Doubt(cell.row, cell.column, cell.state, _why(cell))
        for cell in cells
        if cell.state != "good" and cell.frames and cell.frames[0] in used
    )


def _why(cell: CellReport) -> str:
    return cell.findings[0].says if cell.findings else "no frame belongs to it"


def peak_rss_mb() -> float:
    """The most memory this process has held so far, in MiB."""
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (1024.0 * 1024.0) if sys.platform == "darwin" else peak / 1024.0


def assembly_document(assembly: Assembly) -> dict[str, Any]:
    """The report as docs/schema/assemble-1.schema.json describes it."""
    orientation, layout = assembly.orientation, assembly.layout
    return {
        "schema": SCHEMA,
        "title": assembly.title,
        "mosaic": str(assembly.out),
        "frames": len(orientation.frames),
        "files": [frame.file for frame in orientation.frames],
        "left_out": list(assembly.left_out),
        "verdict": assembly.verdict,
        "holes": [asdict(hole) for hole in assembly.holes],
        "doubts": [asdict(doubt) for doubt in assembly.doubts],
        "residual_px_rms": orientation.residual_px_rms,
        "tie_points": orientation.tie_points,
        "pairs": [
            {
                "files": [pair.file_a, pair.file_b],
                "tie_points": pair.tie_points,
                "inliers": pair.inliers,
                "residual_px_rms": pair.residual_px_rms if pair.inliers else None,
            }
            for pair in orientation.pairs
        ],
        "lens": asdict(orientation.lens),
        "layout": asdict(layout),
        "levels": assembly.composed.levels,
        "covered_share": assembly.composed.covered_share,
        "findings": [asdict(finding) for finding in orientation.findings],
        "input_mp": assembly.input_mp,
        "output_mp": assembly.output_mp,
        "seconds": assembly.seconds,
        "orient_seconds": assembly.orient_seconds,
        "peak_rss_mb": assembly.peak_rss_mb,
    }
