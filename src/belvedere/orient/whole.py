"""The orientation of a whole shoot, with a plan or without."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from belvedere.check import Finding
from belvedere.foundation import OrientError, Progress, Steps
from belvedere.measure import FrameSource
from belvedere.optics import LensModel
from belvedere.orient.adjust import RotationPrior
from belvedere.orient.balance import Balance, balance
from belvedere.orient.gather import as_ties, free_matches, planned_matches
from belvedere.orient.head import fit_head
from belvedere.orient.match import PairMatch
from belvedere.orient.model import Orientation, OrientedFrame, PairResidual, Pointing
from belvedere.orient.moves import rotations_and_bends
from belvedere.orient.solve import Solution, lens_prior, solve
from belvedere.orient.start import (
    chained_rotations,
    components,
    focal_from_exif,
    focal_from_ties,
    straightened,
)
from belvedere.orient.ties import Ties
from belvedere.orient.walk import Pair
from belvedere.shoot import Frame

FloatArray = NDArray[np.float64]

_FOCAL_SIGMA_PLANNED = 0.03
_FOCAL_SIGMA_STATED = 0.1
_FOCAL_SIGMA_UNKNOWN = 0.5
_GAUGE_RAD = 1e-5
#: Share to which a head's motors are trusted to count.
_STEPS_KNOWN_TO = 5e-4
#: Ties of a camera that only turned agree to this; a hand that holds it travels.
_TURNED_ONLY_PX = 0.4
_BEND_SIGMA = 0.005
#: Robust spread of the ties beyond this share of the long side: the camera moved between frames.
_PARALLAX_SHARE = 1e-3


def orient(
    frames: Sequence[Frame],
    source: FrameSource,
    pointings: Sequence[Pointing] = (),
    focal_length_px: float | None = None,
    threads: int = 2,
) -> Steps[Orientation]:
    """Where every frame points, the lens they share, and their balance.

    With pointings: the frames that have one; a frame whose pictures say nothing stays where the
    head put it, and the world's axes are the head's. Without: all frames, in the order given (the
    shutter's); the horizon is levelled and the middle lies at bearing 0.

    Parameters
    ----------
    frames
        Upright, of one size.
    source
        Gives their pictures.
    pointings
        Where the head was told to look.
    focal_length_px
        From the plan; without it, from what the frames state and what the ties say.
    threads
        For decoding and matching.

    Raises
    ------
    OrientError
        Frames of several sizes, fewer than two frames, or frames that do not hold together.
    """
    by_file = {frame.file: frame for frame in frames}
    chosen = (
        [by_file[p.file] for p in pointings if p.file in by_file] if pointings else list(frames)
    )
    chosen = [frame for frame in chosen if frame.width_px > 0]
    size = _one_size(chosen)
    if pointings:
        given = {p.file: p for p in pointings}
        placed = yield from _with_head(
            chosen, source, [given[f.file] for f in chosen], focal_length_px, size, threads
        )
    else:
        files = [frame.file for frame in chosen]
        found = yield from free_matches(files, source, size, threads)
        placed = yield from _without_head(chosen, found, focal_length_px, size)
    light = yield from balance(
        [frame.settings for frame in placed.frames],
        [frame.file for frame in placed.frames],
        source,
        placed.world,
        placed.solution.adjustment.lens,
        threads,
    )
    return _orientation(placed, light)


@dataclass(frozen=True, slots=True)
class _Placed:
    """Frames with their rotations `world` (frames, 3, 3), before the balance."""

    frames: list[Frame]
    cells: list[tuple[int, int]]
    world: FloatArray
    solution: Solution
    findings: list[Finding]


def _one_size(frames: Sequence[Frame]) -> tuple[int, int]:
    if len(frames) < 2:
        raise OrientError(
            f"{len(frames)} frame{'' if len(frames) == 1 else 's'} cannot make a mosaic.",
            "Give at least two frames that overlap.",
        )
    sizes = [(frame.width_px, frame.height_px) for frame in frames]
    usual = max(set(sizes), key=sizes.count)
    for frame, size in zip(frames, sizes, strict=True):
        if size != usual:
            raise OrientError(
                f"{frame.file} is {size[0]} × {size[1]} px, the other frames are "
                f"{usual[0]} × {usual[1]} px.",
                "Assemble frames of one size; leave the others out.",
            )
    return usual


def _with_head(
    frames: list[Frame],
    source: FrameSource,
    pointings: list[Pointing],
    focal_length_px: float | None,
    size: tuple[int, int],
    threads: int,
) -> Steps[_Placed]:
    focal = focal_length_px or focal_from_exif([f.settings for f in frames], *size)
    if focal is None:
        raise OrientError(
            "The focal length is not known.", "Give it in the shoot file, under [lens]."
        )
    lens = LensModel.ideal(*size, focal)
    planned = np.stack([p.camera_from_world.T for p in pointings])
    sigma = np.radians([p.sigma_deg for p in pointings])
    files = [f.file for f in frames]
    matches = yield from planned_matches(files, source, planned, sigma, lens, threads)
    if _largest(len(frames), as_ties(matches)) < 0.5 * len(frames):
        # a head that looked elsewhere, or a scene without detail: the pictures tell which
        found = yield from free_matches(files, source, size, threads)
        if _largest(len(frames), as_ties(found)) >= 0.5 * len(frames):
            placed = yield from _without_head(frames, found, focal_length_px, size)
            return _despite_head(placed, frames, pointings)
    ties = as_ties(matches)
    prior = lens_prior(lens, _FOCAL_SIGMA_PLANNED)
    yield Progress("adjustment", 0, 2, "rounds")
    solution = solve(ties, planned, lens, RotationPrior(planned, sigma), prior)
    yield Progress("adjustment", 1, 2, "rounds")
    tied = _tied(len(frames), solution)
    head = fit_head(
        planned,
        solution.adjustment.world_from_camera,
        tied,
        float(np.median(sigma)),
        max(float(solution.adjustment.lens_sigma[0]), _STEPS_KNOWN_TO),
    )
    start = np.where(
        tied[:, None, None], solution.adjustment.world_from_camera, head.world_from_camera
    )
    solution = solve(
        solution.ties,
        start,
        solution.adjustment.lens,
        RotationPrior(head.world_from_camera, np.full(len(frames), head.sigma_rad)),
        prior,
    )
    yield Progress("adjustment", 2, 2, "rounds")
    findings = _held_by_the_head(frames, tied, solution)
    cells = [(p.row, p.column) for p in pointings]
    world = solution.adjustment.world_from_camera
    return _Placed(frames, cells, world, solution, findings + _parallax(solution, size))


def _largest(frames: int, ties: Ties) -> int:
    """How many frames the largest connected part has."""
    return int(np.bincount(components(frames, ties)).max())


def _despite_head(placed: _Placed, frames: list[Frame], pointings: list[Pointing]) -> _Placed:
    """Frames oriented from their pictures alone, on the cells they were planned for."""
    cells = {f.file: (p.row, p.column) for f, p in zip(frames, pointings, strict=True)}
    finding = Finding(
        "head",
        "The pictures overlap otherwise than the head's pointings say; "
        "they are assembled from the pictures alone.",
    )
    return replace(
        placed,
        cells=[cells[frame.file] for frame in placed.frames],
        findings=[finding, *placed.findings],
    )


def _without_head(
    frames: list[Frame],
    matches: dict[Pair, PairMatch],
    focal_length_px: float | None,
    size: tuple[int, int],
) -> Steps[_Placed]:
    ties = as_ties(matches)
    frames, ties, findings = _connected(frames, ties)
    yield Progress("adjustment", 0, 1, "rounds")
    stated = focal_length_px or focal_from_exif([f.settings for f in frames], *size)
    focal = focal_from_ties(ties, *size, stated)
    lens = LensModel.ideal(*size, focal)
    start, root = chained_rotations(len(frames), ties, lens)
    sigma = np.full(len(frames), np.inf)
    sigma[root] = _GAUGE_RAD
    spread = _FOCAL_SIGMA_STATED if focal == stated else _FOCAL_SIGMA_UNKNOWN
    prior = lens_prior(lens, spread)
    solution = solve(ties, start, lens, RotationPrior(start, sigma), prior)
    findings += _parallax(solution, size)
    if solution.adjustment.noise_px > _TURNED_ONLY_PX:
        turned = solution.adjustment
        bendable = RotationPrior(turned.world_from_camera, sigma, _BEND_SIGMA)
        solution = solve(ties, turned.world_from_camera, lens, bendable, prior)
    # pairs may have been doubted meanwhile
    _connected(frames, solution.ties)
    yield Progress("adjustment", 1, 1, "rounds")
    world = straightened(solution.adjustment.world_from_camera)
    return _Placed(frames, [(0, 0)] * len(frames), world, solution, findings)


def _connected(frames: list[Frame], ties: Ties) -> tuple[list[Frame], Ties, list[Finding]]:
    """The frames that hold together; a frame alone is left out with a finding.

    Raises OrientError where several groups of frames have nothing in common.
    """
    labels = components(len(frames), ties)
    counts = np.bincount(labels)
    largest = int(counts.argmax())
    if counts[largest] < 2 or (counts > 1).sum() > 1:
        apart = [f.file for f, label in zip(frames, labels, strict=True) if label != largest]
        raise OrientError(
            f"These frames overlap none of the others: {_named(apart)}."
            if counts[largest] > 1
            else "No two frames overlap.",
            "Leave them out, add the frames between, or give a shoot file.",
        )
    keep = labels == largest
    if keep.all():
        return frames, ties, []
    number = np.cumsum(keep) - 1
    findings = [
        Finding("unconnected", f"{frame.file} overlaps no other frame; it is left out.", frame.file)
        for frame, ok in zip(frames, keep, strict=True)
        if not ok
    ]
    kept = [frame for frame, ok in zip(frames, keep, strict=True) if ok]
    renumbered = Ties(number[ties.first], number[ties.second], ties.first_px, ties.second_px)
    return kept, renumbered, findings


def _named(files: Sequence[str]) -> str:
    if len(files) <= 6:
        return ", ".join(files)
    return f"{', '.join(files[:5])} and {len(files) - 5} more"


def _tied(frames: int, solution: Solution) -> NDArray[np.bool_]:
    """Which frames have at least three sound ties."""
    inlier = solution.adjustment.sound()
    ends = np.concatenate([solution.ties.first[inlier], solution.ties.second[inlier]])
    return np.asarray(np.bincount(ends, minlength=frames) >= 3, np.bool_)


def _held_by_the_head(
    frames: Sequence[Frame], tied: NDArray[np.bool_], solution: Solution
) -> list[Finding]:
    """Frames that no tie holds to the rest: alone, or a few that fit each other only."""
    part = components(len(frames), solution.ties.only(solution.adjustment.sound()))
    whole = np.bincount(part[tied]).argmax() if tied.any() else -1
    says = {
        False: "shows nothing that its neighbours show",
        True: "fits a neighbour or two, and neither shows anything of the rest",
    }
    return [
        Finding(
            "pointing", f"{frame.file} {says[ok]}; it lies where the head pointed it.", frame.file
        )
        for frame, ok, group in zip(frames, tied.tolist(), part, strict=True)
        if not ok or group != whole
    ]


def _parallax(solution: Solution, size: tuple[int, int]) -> list[Finding]:
    noise = solution.adjustment.noise_px
    if noise <= _PARALLAX_SHARE * max(size):
        return []
    return [
        Finding(
            "parallax",
            f"Parallax: the frames fit only to {noise:.1f} px, as when the camera moves between "
            "them; near things may show double. Turn the camera about the lens' entrance pupil.",
            value=noise,
            unit="px",
        )
    ]


def _orientation(placed: _Placed, light: Balance) -> Orientation:
    adjustment, ties = placed.solution.adjustment, placed.solution.ties
    inlier = adjustment.inliers()
    squared = (adjustment.errors_px**2).sum(axis=1)
    starts = ties.pair_starts()
    pairs = []
    for begin, end in zip(starts, [*starts[1:], len(ties)], strict=True):
        good = inlier[begin:end]
        rms = float(np.sqrt(squared[begin:end][good].mean())) if good.any() else float("nan")
        pairs.append(
            PairResidual(
                placed.frames[ties.first[begin]].file,
                placed.frames[ties.second[begin]].file,
                int(end - begin),
                int(good.sum()),
                rms,
            )
        )
    rotations, stretches = rotations_and_bends(placed.world)
    bends = np.linalg.inv(stretches)
    oriented = tuple(
        OrientedFrame(frame.file, rotation.T.copy(), gain, row, column, bend)
        for frame, rotation, bend, gain, (row, column) in zip(
            placed.frames, rotations, bends, light.gains, placed.cells, strict=True
        )
    )
    return Orientation(
        lens=adjustment.lens,
        frames=oriented,
        residual_px_rms=float(np.sqrt(squared[inlier].mean())) if inlier.any() else 0.0,
        tie_points=len(ties),
        falloff=light.falloff,
        held=placed.solution.held,
        pairs=tuple(pairs),
        findings=tuple(placed.findings),
    )
