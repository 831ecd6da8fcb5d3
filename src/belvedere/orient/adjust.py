"""Rotations and lens from tie points: robust adjustment on the sphere.

The most probable rotations and lens given the ties, the head's pointings and what is known of
the lens: Levenberg–Marquardt (D. W. Marquardt, 1963) on normal equations that hold one 3 × 3
block per pair of frames, with the few lens parameters eliminated by their Schur complement. Ties
are weighed by the Cauchy function, whose scale follows the residuals (P. J. Huber, "Robust
Statistics", 1981; constant for 95 % efficiency).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.linalg import splu

from belvedere.optics import LensModel
from belvedere.orient.moves import (
    bend_sizes,
    moved_frames,
    rotations_and_bends,
    turn_slopes,
    turns_between,
)
from belvedere.orient.ties import Ties
from belvedere.orient.transfer import (
    LENS_PARAMETERS,
    expected_pixels,
    folds,
    lens_vector,
    transfer,
    with_lens_vector,
)

FloatArray = NDArray[np.float64]
IndexArray = NDArray[np.intp]

_CAUCHY = 2.385
_MEDIAN_OF_RAYLEIGH = 1.1774  # median length of a plane error of unit sigma: sqrt(2 ln 2)
_LEAST_NOISE_PX = 0.03
#: What the ties of one pair have in common (resampling, aberrations) and no number of them
#: averages out.
SHARED_ERROR_PX = 0.015
#: A tie on soft detail is still a tie when it is so far off.
_SOUND_PX = 1.5
_NOISE_ROUNDS = 15
_FEW_STEPS = 3
_MANY_STEPS = 50


@dataclass(frozen=True, slots=True)
class RotationPrior:
    """What is believed of the frames before any tie.

    `world_from_camera` (frames, 3, 3) rotations; `sigma_rad` (frames,), inf where nothing is
    known. `bend_sigma`: how much a frame may be bent, as a share; 0 for a camera on a head.
    """

    world_from_camera: FloatArray
    sigma_rad: FloatArray
    bend_sigma: float = 0.0


@dataclass(frozen=True, slots=True)
class LensPrior:
    """Mean and sigma (5,) of `LENS_PARAMETERS`; a sigma of 0 holds one where the start has it."""

    mean: FloatArray
    sigma: FloatArray


@dataclass(frozen=True, slots=True)
class Adjustment:
    """The result: frames (frames, 3, 3), lens, and how well they fit.

    `world_from_camera` are rotations unless the prior lets frames bend (see `moves`).
    `errors_px` (n, 2): expected minus measured pixel of each tie in its second frame, nan behind
    it. `noise_px` is the robust sigma of one coordinate of them. `lens_sigma` (5,): posterior
    sigma of `LENS_PARAMETERS`, 0 where held.
    """

    world_from_camera: FloatArray
    lens: LensModel
    errors_px: FloatArray
    noise_px: float
    lens_sigma: FloatArray

    def inliers(self) -> NDArray[np.bool_]:
        """Ties within three sigma in both coordinates together (99 % of good ones)."""
        return self.within(3.035 * self.noise_px)

    def within(self, limit_px: float) -> NDArray[np.bool_]:
        """Ties that fit to `limit_px`."""
        size = np.linalg.norm(self.errors_px, axis=1)
        return np.asarray(np.nan_to_num(size, nan=np.inf) <= limit_px, np.bool_)

    def sound(self) -> NDArray[np.bool_]:
        """Ties that show the right place, if not all as sharply as the best."""
        return self.within(max(3.035 * self.noise_px, _SOUND_PX))


@dataclass(frozen=True, slots=True)
class _State:
    world: FloatArray
    lens: LensModel

    def from_world(self) -> FloatArray:
        """(frames, 3, 3) `camera_from_world`."""
        return np.asarray(np.linalg.inv(self.world), np.float64)


@dataclass(frozen=True, slots=True)
class _Problem:
    """What stays the same during an adjustment."""

    ties: Ties
    rotation_prior: RotationPrior
    lens_prior: LensPrior
    shared_px: float

    def free(self) -> IndexArray:
        return np.flatnonzero(self.lens_prior.sigma > 0)

    def noise(self, state: _State) -> float:
        """Robust sigma of one coordinate of the ties' errors, mindful of what was fitted."""
        size = np.linalg.norm(_errors(self.ties, state), axis=1)
        size = size[np.isfinite(size)]
        if len(size) == 0:
            return 1.0
        kinds = 8 if self.rotation_prior.bend_sigma > 0 else 3
        equations, unknown = 2 * len(size), kinds * (len(state.world) - 1) + len(self.free())
        fitted = np.sqrt(equations / max(equations - unknown, 0.25 * equations))
        return max(float(np.median(size)) / _MEDIAN_OF_RAYLEIGH * float(fitted), _LEAST_NOISE_PX)

    def trust(self, noise: float) -> FloatArray:
        """Share (n,) of each tie's weight that is left when a pair's shared error is counted."""
        counts = np.diff([*self.ties.pair_starts(), len(self.ties)])
        alone = noise**2 / np.maximum(counts, 1)
        trust: FloatArray = np.repeat(alone / (alone + self.shared_px**2), counts)
        return trust


def adjust(
    ties: Ties,
    start: FloatArray,
    lens: LensModel,
    rotation_prior: RotationPrior,
    lens_prior: LensPrior,
    noise_px: float | None = None,
    shared_px: float = SHARED_ERROR_PX,
) -> Adjustment:
    """Find the most probable rotations and lens.

    Parameters
    ----------
    ties
        At least one per frame for which the prior knows nothing.
    start
        (frames, 3, 3) `world_from_camera` to begin with.
    lens
        To begin with; its tangential terms and k3 stay.
    rotation_prior
        At least one frame must have a finite sigma, or the whole could turn freely.
    lens_prior
        See `LensPrior`.
    noise_px
        The ties' sigma per coordinate; estimated from the residuals when None.
    shared_px
        Sigma of the error that the ties of a pair share.
    """
    if not np.isfinite(rotation_prior.sigma_rad).any():
        raise ValueError("no frame has a prior: the whole could turn freely")
    problem = _Problem(ties, rotation_prior, lens_prior, shared_px)
    state = _State(start.copy(), lens)
    if noise_px is None:
        noise_px = max(problem.noise(state), 1.0)
        for _ in range(_NOISE_ROUNDS):
            state = _minimise(problem, state, noise_px, _FEW_STEPS)
            before, noise_px = noise_px, problem.noise(state)
            if abs(noise_px - before) < 0.01 * before:
                break
    state = _minimise(problem, state, noise_px)
    return _report(problem, state, noise_px)


def _errors(ties: Ties, state: _State) -> FloatArray:
    expected = expected_pixels(
        ties.first_px,
        state.world[ties.first],
        state.from_world()[ties.second],
        state.lens,
    )
    return expected - ties.second_px


def _cost(problem: _Problem, state: _State, noise: float) -> float:
    """Twice the negative log of the posterior, up to a constant; inf for an impossible lens."""
    if folds(state.lens):
        return float("inf")
    squared = (_errors(problem.ties, state) ** 2).sum(axis=1) / noise**2
    # a tie behind its frame counts as one that is far off
    squared = np.nan_to_num(squared, nan=1e6)
    rho = _CAUCHY**2 * np.log1p(squared / _CAUCHY**2)
    data = float(problem.trust(noise) @ rho)
    prior = problem.rotation_prior
    known = np.isfinite(prior.sigma_rad)
    turns = turns_between(prior.world_from_camera[known], state.world[known])
    frames = float(((turns / prior.sigma_rad[known, None]) ** 2).sum())
    if prior.bend_sigma > 0:
        frames += float(((bend_sizes(state.world) / prior.bend_sigma) ** 2).sum())
    free = problem.free()
    offset = (lens_vector(state.lens) - problem.lens_prior.mean)[free]
    lens = float(((offset / problem.lens_prior.sigma[free]) ** 2).sum())
    return data + frames + lens


def _minimise(problem: _Problem, state: _State, noise: float, steps: int = _MANY_STEPS) -> _State:
    damping = 1e-6
    cost = _cost(problem, state, noise)
    for _ in range(steps):
        normal = _normal_equations(problem, state, noise)
        improved = False
        while damping < 1e6:
            stepped = _stepped(state, normal, damping, problem.free())
            new_cost = _cost(problem, stepped[0], noise) if stepped else float("inf")
            if stepped and new_cost <= cost:
                candidate, step_px = stepped
                improved = True
                break
            damping *= 10.0
        if not improved:
            return state
        gain, cost, state = cost - new_cost, new_cost, candidate
        damping = max(damping * 0.1, 1e-9)
        if step_px < 1e-5 or gain < 1e-9 * max(cost, 1.0):
            return state
    return state


@dataclass(frozen=True, slots=True)
class _Normal:
    """Blocks of the normal equations: moves of the frames, lens, and between them."""

    moves: sparse.csc_matrix
    cross: FloatArray
    lens: FloatArray
    moves_right: FloatArray
    lens_right: FloatArray


def _normal_equations(problem: _Problem, state: _State, noise: float) -> _Normal:
    ties, free = problem.ties, problem.free()
    rotation_prior, lens_prior = problem.rotation_prior, problem.lens_prior
    bending = rotation_prior.bend_sigma > 0
    frames, kinds = len(state.world), 8 if bending else 3
    moved = transfer(
        ties.first_px,
        state.world[ties.first],
        state.from_world()[ties.second],
        state.lens,
        bending,
    )
    errors = np.nan_to_num(moved.pixels - ties.second_px)
    weight = problem.trust(noise) / (noise**2 + (errors**2).sum(axis=1) / _CAUCHY**2)
    by_move, by_lens = moved.by_move, moved.by_lens[:, :, free]
    starts = ties.pair_starts()
    turned = np.swapaxes(by_move * weight[:, None, None], 1, 2)
    block = _per_pair(turned @ by_move, starts)
    to_lens = _per_pair(turned @ by_lens, starts)
    right = -_per_pair((turned @ errors[:, :, None])[:, :, 0], starts)
    i, j = ties.first[starts], ties.second[starts]

    diagonal, moves_right = _prior_blocks(rotation_prior, state.world, kinds)
    cross = np.zeros((frames, kinds, len(free)))
    for index, sign in ((i, 1.0), (j, -1.0)):
        np.add.at(diagonal, index, block)
        np.add.at(moves_right, index, sign * right)
        np.add.at(cross, index, sign * to_lens)

    flat = by_lens.reshape(2 * len(ties), len(free))
    weighted = flat * np.repeat(weight, 2)[:, None]
    lens_block = weighted.T @ flat
    lens_right = -weighted.T @ errors.ravel()
    lens_precision = 1.0 / lens_prior.sigma[free] ** 2
    lens_block[np.diag_indices(len(free))] += lens_precision
    lens_right -= lens_precision * (lens_vector(state.lens) - lens_prior.mean)[free]
    return _Normal(
        _assemble(diagonal, block, i, j),
        cross.reshape(kinds * frames, len(free)),
        lens_block,
        moves_right.ravel(),
        lens_right,
    )


def _prior_blocks(
    prior: RotationPrior, world: FloatArray, kinds: int
) -> tuple[FloatArray, FloatArray]:
    """What the prior adds to the frames' blocks (frames, kinds, kinds) and right sides."""
    diagonal = np.zeros((len(world), kinds, kinds))
    right = np.zeros((len(world), kinds))
    known = np.flatnonzero(np.isfinite(prior.sigma_rad))
    turns = turns_between(prior.world_from_camera[known], world[known])
    slopes = np.swapaxes(turn_slopes(turns), 1, 2) / prior.sigma_rad[known, None, None]
    diagonal[known, :3, :3] = slopes @ np.swapaxes(slopes, 1, 2)
    right[known, :3] = -(slopes @ turns[:, :, None])[:, :, 0] / prior.sigma_rad[known, None]
    if kinds > 3:
        # bends stay small, so that their slope by a move is the move itself
        diagonal[:, range(3, kinds), range(3, kinds)] = 1.0 / prior.bend_sigma**2
        right[:, 3:] = -bend_sizes(world) / prior.bend_sigma**2
    return diagonal, right


def _per_pair(values: FloatArray, starts: IndexArray) -> FloatArray:
    if len(starts) == 0:
        return values[:0]
    sums: FloatArray = np.add.reduceat(values, starts, axis=0)
    return sums


def _assemble(
    diagonal: FloatArray, block: FloatArray, i: IndexArray, j: IndexArray
) -> sparse.csc_matrix:
    frames = np.arange(len(diagonal))
    blocks = np.concatenate([diagonal, -block, -block])
    rows = np.concatenate([frames, i, j])
    columns = np.concatenate([frames, j, i])
    kinds = diagonal.shape[1]
    offset = np.arange(kinds)
    row = (kinds * rows[:, None, None] + offset[None, :, None]).repeat(kinds, axis=2)
    column = (kinds * columns[:, None, None] + offset[None, None, :]).repeat(kinds, axis=1)
    size = kinds * len(diagonal)
    return sparse.csc_matrix((blocks.ravel(), (row.ravel(), column.ravel())), shape=(size, size))


def _stepped(
    state: _State, normal: _Normal, damping: float, free: IndexArray
) -> tuple[_State, float] | None:
    """The state after one damped step, and the step's size in px; None where there is no step."""
    solver = splu(
        normal.moves + damping * sparse.diags(normal.moves.diagonal() + 1e-12, format="csc"),
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )
    right = np.column_stack([normal.moves_right, normal.cross])
    solved = solver.solve(right)
    lens_step: FloatArray = np.zeros(0)
    if len(free):
        lens_block = normal.lens + damping * np.diag(np.diag(normal.lens))
        lens_step = np.asarray(
            np.linalg.solve(
                lens_block - normal.cross.T @ solved[:, 1:],
                normal.lens_right - normal.cross.T @ solved[:, 0],
            ),
            np.float64,
        )
    moves = (solved[:, 0] - solved[:, 1:] @ lens_step).reshape(len(state.world), -1)
    if not (np.isfinite(moves).all() and np.isfinite(lens_step).all()) or np.abs(moves).max() > 1:
        return None
    step = np.zeros(len(LENS_PARAMETERS))
    step[free] = lens_step
    step[0] = np.clip(step[0], -0.3, 0.3)
    lens = with_lens_vector(state.lens, lens_vector(state.lens) + step)
    step_px = lens.focal_length_px * max(float(np.abs(moves).max()), abs(float(step[0])))
    return _State(moved_frames(state.world, moves), lens), step_px


def _report(problem: _Problem, state: _State, noise: float) -> Adjustment:
    free = problem.free()
    sigma = np.zeros(len(LENS_PARAMETERS))
    if len(free):
        normal = _normal_equations(problem, state, noise)
        solver = splu(normal.moves + 1e-12 * sparse.eye(normal.moves.shape[0], format="csc"))
        schur = normal.lens - normal.cross.T @ solver.solve(normal.cross)
        sigma[free] = np.sqrt(np.maximum(np.diag(np.linalg.inv(schur)), 0.0))
    # many small turns leave the matrices a hair off rotations: bring them back
    rotations, bends = rotations_and_bends(state.world)
    world = rotations @ bends if problem.rotation_prior.bend_sigma > 0 else rotations
    return Adjustment(world, state.lens, _errors(problem.ties, state), noise, sigma)
