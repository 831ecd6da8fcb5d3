"""Turns and bends of frames, for any frame."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.linalg import polar
from scipy.spatial.transform import Rotation

from belvedere.orient.moves import (
    bend_sizes,
    moved_frames,
    moved_vectors,
    rotations_and_bends,
    turn_slopes,
    turns_between,
)
from belvedere.orient.start import straightened

FloatArray = NDArray[np.float64]

angle = st.floats(-3.0, 3.0)
vector = st.tuples(angle, angle, angle).map(np.array)
small = st.floats(-0.02, 0.02)
bends = st.tuples(small, small, small, small, small).map(np.array)


def frame(turn: FloatArray) -> FloatArray:
    return np.asarray(Rotation.from_rotvec(turn).as_matrix()[None])


@given(vector, bends)
def test_taken_apart_as_scipy_does(turn: FloatArray, bend: FloatArray) -> None:
    """scipy.linalg.polar: M = U P with P symmetric."""
    bent = moved_frames(frame(turn), np.r_[np.zeros(3), bend][None])
    rotation, stretch = polar(bent[0])
    rotations, stretches = rotations_and_bends(bent)
    assert rotations[0] == pytest.approx(rotation, abs=1e-9)
    assert stretches[0] == pytest.approx(stretch, abs=1e-9)
    assert np.linalg.det(stretches[0]) == pytest.approx(1.0)
    assert bend_sizes(bent)[0] == pytest.approx(bend, abs=1e-9)


@given(vector, st.tuples(small, small, small).map(np.array))
def test_a_turn_is_the_turn_between(turn: FloatArray, more: FloatArray) -> None:
    moved = moved_frames(frame(turn), more[None])
    assert turns_between(frame(turn), moved)[0] == pytest.approx(more, abs=1e-9)


@given(vector.filter(lambda v: np.linalg.norm(v) < 2.5), st.tuples(small, small, small))
def test_turn_slopes_predict_a_small_turn(turn: FloatArray, more: tuple[float, ...]) -> None:
    """SciPy composes the rotations; second order in the small turn is left."""
    step = np.array(more) * 1e-3
    after = (Rotation.from_rotvec(step) * Rotation.from_rotvec(turn)).as_rotvec()
    predicted = turn + turn_slopes(turn[None])[0] @ step
    assert after == pytest.approx(predicted, abs=1e-7)


@given(vector, vector, st.integers(0, 7))
def test_moved_vectors_are_slopes(turn: FloatArray, ray: FloatArray, which: int) -> None:
    step = np.zeros((1, 8))
    step[0, which] = 1e-6
    before, after = frame(turn)[0] @ ray, moved_frames(frame(turn), step)[0] @ ray
    slope = moved_vectors(before[None], bending=True)[0, :, which]
    assert (after - before) / 1e-6 == pytest.approx(slope, abs=1e-4)


@given(vector, st.lists(st.tuples(small, small, small), min_size=2, max_size=6))
def test_straightening_turns_all_frames_together(
    turn: FloatArray, wobbles: list[tuple[float, ...]]
) -> None:
    frames = Rotation.from_rotvec(10 * np.array(wobbles)).as_matrix() @ frame(turn)
    level = straightened(frames)
    before = np.swapaxes(frames[:-1], 1, 2) @ frames[1:]
    after = np.swapaxes(level[:-1], 1, 2) @ level[1:]
    assert after == pytest.approx(before, abs=1e-9)
    assert np.linalg.det(level) == pytest.approx(1.0)
    # once level, it stays
    assert straightened(level) == pytest.approx(level, abs=1e-6)
