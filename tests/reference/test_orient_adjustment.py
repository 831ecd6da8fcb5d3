"""The adjustment against OpenCV and SciPy: projection, derivatives, and the optimum itself."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import approx_fprime, least_squares
from scipy.spatial.transform import Rotation

from belvedere.optics import LensModel
from belvedere.orient.adjust import LensPrior, RotationPrior, adjust
from belvedere.orient.moves import moved_frames
from belvedere.orient.relative import best_rotation
from belvedere.orient.ties import Ties
from belvedere.orient.transfer import lens_vector, transfer, with_lens_vector
from orient_synthetic import sweep

FloatArray = NDArray[np.float64]

LENS = LensModel(1200, 900, 1100.0, 607.0, 441.0, k1=-0.12, k2=0.03, p1=0.001, p2=-0.0005)


def two_frames() -> tuple[FloatArray, FloatArray, FloatArray]:
    first = Rotation.from_rotvec([0.05, -0.2, 0.02]).as_matrix()
    second = Rotation.from_rotvec([-0.02, 0.25, -0.03]).as_matrix()
    pixels = np.array([[700.0, 200.0], [1100.0, 450.0], [900.0, 850.0], [1190.0, 10.0]])
    return first, second, pixels


def test_transfer_projects_as_opencv_does() -> None:
    """cv2.projectPoints with the relative rotation, on rays from cv2.undistortPoints.

    The tolerance is that of our inverse distortion, which stops after twelve rounds.
    """
    first, second, pixels = two_frames()
    matrix = np.array([[1100.0, 0, 607.0], [0, 1100.0, 441.0], [0, 0, 1.0]])
    coefficients = np.array([LENS.k1, LENS.k2, LENS.p1, LENS.p2, 0.0])
    precise = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 100, 1e-12)
    ideal = cv2.undistortPoints(pixels[:, None], matrix, coefficients, criteria=precise)[:, 0]
    turn, _ = cv2.Rodrigues(second.T @ first)
    rays = np.c_[ideal, np.ones(len(ideal))]
    expected, _ = cv2.projectPoints(rays, turn, np.zeros(3), matrix, coefficients)
    count = len(pixels)
    ours = transfer(pixels, np.tile(first, (count, 1, 1)), np.tile(second.T, (count, 1, 1)), LENS)
    assert ours.pixels == pytest.approx(expected[:, 0], abs=1e-5)


@pytest.mark.parametrize("bending", [False, True])
def test_derivatives_are_those_of_differences(bending: bool) -> None:
    """scipy.optimize.approx_fprime; its forward differences are good to about 1e-4 here."""
    first, second, pixels = two_frames()
    kinds = 8 if bending else 3

    def place(moves_and_lens: FloatArray, which: str) -> FloatArray:
        moves, lens = moves_and_lens[:kinds], moves_and_lens[kinds:]
        a, b = first[None], second[None]
        if which == "first":
            a = moved_frames(a, moves[None])
        else:
            b = moved_frames(b, moves[None])
        result = transfer(
            pixels[:1],
            a,
            np.linalg.inv(b),
            with_lens_vector(LENS, lens),
        )
        return result.pixels[0]

    at = np.concatenate([np.zeros(kinds), lens_vector(LENS)])
    analytic = transfer(pixels[:1], first[None], second.T[None], LENS, bending)
    by_first = approx_fprime(at, place, 1e-7, "first")
    by_second = approx_fprime(at, place, 1e-7, "second")
    assert analytic.by_move[0] == pytest.approx(by_first[:, :kinds], rel=1e-4, abs=1e-2)
    assert -analytic.by_move[0] == pytest.approx(by_second[:, :kinds], rel=1e-4, abs=1e-2)
    assert analytic.by_lens[0] == pytest.approx(by_first[:, kinds:], rel=1e-4, abs=1e-2)


def test_the_optimum_is_that_of_scipy() -> None:
    """scipy.optimize.least_squares on the same posterior, numeric derivatives, own arithmetic.

    Cauchy's function on the length of each tie's error, Gaussian priors on rotations (rotation
    vectors in world axes) and on the lens.
    """
    shoot = sweep(2, 3, seed=5, noise_px=0.3, outliers=0.05, ties_per_pair=8)
    frames, noise = len(shoot.planned_world), 0.3
    sigma = np.radians(0.15)
    start = LensModel.ideal(1200, 900, 1480.0)
    prior = LensPrior(lens_vector(start), np.array([0.03, 12.0, 12.0, 0.2, 0.2]))
    ours = adjust(
        shoot.ties,
        shoot.true_world,
        start,
        RotationPrior(shoot.planned_world, np.full(frames, sigma)),
        prior,
        noise_px=noise,
        shared_px=0.0,
    )

    def residuals(unknown: FloatArray) -> FloatArray:
        turns = unknown[: 3 * frames].reshape(-1, 3)
        world = Rotation.from_rotvec(turns).as_matrix() @ shoot.planned_world
        vector = lens_vector(start) + unknown[3 * frames :] * prior.sigma
        lens = with_lens_vector(start, vector)
        ties = shoot.ties
        rays = lens.unproject(ties.first_px)
        seen = np.einsum("nji,njk,nk->ni", world[ties.second], world[ties.first], rays)
        error = np.linalg.norm(lens.project(seen) - ties.second_px, axis=1) / noise
        cauchy = np.sqrt(2.385**2 * np.log1p((error / 2.385) ** 2))
        return np.concatenate([cauchy, turns.ravel() / sigma, unknown[3 * frames :]])

    turns = Rotation.from_matrix(
        ours.world_from_camera @ np.swapaxes(shoot.planned_world, 1, 2)
    ).as_rotvec()
    found = np.concatenate(
        [turns.ravel(), (lens_vector(ours.lens) - lens_vector(start)) / prior.sigma]
    )
    theirs = least_squares(residuals, found, x_scale="jac")
    moved = np.abs(theirs.x - found)
    assert moved[: 3 * frames].max() * 1480.0 < 1e-3  # px; the estimate's own sigma is 0.1
    assert moved[3 * frames :].max() < 1e-3  # prior sigmas
    # and from elsewhere it finds nothing lower, slowly as it goes
    elsewhere = found + 0.05 * np.r_[np.full(3 * frames, 1 / 1480.0), np.ones(5)]
    again = least_squares(residuals, elsewhere, x_scale="jac", max_nfev=30)
    assert again.cost < 0.5 * (residuals(elsewhere) ** 2).sum()
    assert again.cost >= theirs.cost * (1 - 1e-9)


def test_best_rotation_is_scipys() -> None:
    """scipy.spatial.transform.Rotation.align_vectors, weighted."""
    random = np.random.default_rng(3)
    a = random.normal(size=(12, 3))
    turn = Rotation.random(rng=random)
    b = turn.apply(a) + random.normal(0, 0.05, a.shape)
    weights = random.uniform(0.1, 1.0, 12)
    theirs, _ = Rotation.align_vectors(b, a, weights=weights)
    assert best_rotation(a, b, weights) == pytest.approx(theirs.as_matrix(), abs=1e-12)


def test_covariance_is_that_of_repeated_shoots() -> None:
    """The stated sigma of the focal length against its scatter over 20 noisy repetitions.

    A sample's standard deviation over 20 is itself good to 16 %; Cauchy's weights cost 5 %, and
    the sigma rests on a noise that is estimated.
    """
    found, stated = [], []
    for seed in range(20):
        shoot = sweep(2, 3, seed=7, noise_seed=seed, noise_px=0.2, k1=0.0, k2=0.0)
        frames = len(shoot.true_world)
        sigma = np.full(frames, np.inf)
        sigma[0] = 1e-6
        result = adjust(
            shoot.ties,
            shoot.true_world,
            shoot.lens,
            RotationPrior(shoot.true_world, sigma),
            LensPrior(lens_vector(shoot.lens), np.array([0.1, 0.0, 0.0, 0.0, 0.0])),
            shared_px=0.0,
        )
        found.append(np.log(result.lens.focal_length_px))
        stated.append(result.lens_sigma[0])
    assert 0.55 < np.std(found) / np.mean(stated) < 1.55


def test_no_anchor_is_refused() -> None:
    shoot = sweep(1, 2)
    nowhere = RotationPrior(shoot.planned_world, np.full(2, np.inf))
    prior = LensPrior(lens_vector(shoot.lens), np.zeros(5))
    with pytest.raises(ValueError, match="no frame has a prior"):
        adjust(shoot.ties, shoot.planned_world, shoot.lens, nowhere, prior)


def test_without_ties_the_prior_stands() -> None:
    shoot = sweep(1, 2)
    none = np.empty(0, np.intp)
    empty = Ties(none, none, np.empty((0, 2)), np.empty((0, 2)))
    prior = RotationPrior(shoot.planned_world, np.full(2, 0.01))
    lens_prior = LensPrior(lens_vector(shoot.lens), np.array([0.1, 1.0, 1.0, 0.1, 0.1]))
    result = adjust(empty, shoot.true_world, shoot.lens, prior, lens_prior)
    assert result.world_from_camera == pytest.approx(shoot.planned_world, abs=1e-6)
