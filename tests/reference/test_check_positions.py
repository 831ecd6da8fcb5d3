"""Where frames lie, from displacements that OpenCV projects: knocks, slips, wrong matches."""

from __future__ import annotations

import cv2
import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from belvedere.check import Geometry, Positions, find_positions, judge_positions
from belvedere.check.moves import Moves, Spreads
from belvedere.check.pointing import Pairs, displacement_px, solve_pointing
from belvedere.foundation import finish
from belvedere.measure import Peak
from belvedere.shoot import Plan
from check_synthetic import HEIGHT, WIDTH, frames_of, plan_of
from check_synthetic import Shot as Taken

FloatArray = NDArray[np.float64]
SPREAD_PX = 2.0


def seen_by_opencv(rotations: FloatArray, first: int, second: int, focal_px: float) -> FloatArray:
    """cv2.projectPoints on the direction midway between two cameras: where it moves (2,)."""
    middle = rotations[first, 2] + rotations[second, 2]
    camera = np.diag([focal_px, focal_px, 1.0])
    images = [
        cv2.projectPoints(middle[None], cv2.Rodrigues(rotations[t])[0], np.zeros(3), camera, None)[
            0
        ].ravel()
        for t in (first, second)
    ]
    return np.asarray(images[1] - images[0], dtype=np.float64)


def turned(planned: FloatArray, turns_deg: FloatArray) -> FloatArray:
    """True rotations: each camera turned about world axes."""
    return np.asarray(planned @ Rotation.from_rotvec(np.radians(turns_deg)).as_matrix())


class Pictures:
    """Sightings without pixels: what overlaps is seen where OpenCV projects it."""

    shrink = 1

    def __init__(self, moves: Moves, rotations: FloatArray, blind: frozenset[int]) -> None:
        self._moves, self._rotations, self._blind = moves, rotations, blind

    def small(self, index: int) -> NDArray[np.uint8]:
        # Waves painted on the sphere: hard detail everywhere, that lies where the camera looks.
        y, x = np.mgrid[:HEIGHT, :WIDTH].astype(np.float64)
        rays = np.stack([x - WIDTH / 2.0, y - HEIGHT / 2.0, x * 0.0 + self._moves.focal_px], -1)
        world = rays @ self._rotations[index]
        bearing = np.arctan2(world[..., 0], world[..., 2])
        tilt = np.arctan2(world[..., 1], np.hypot(world[..., 0], world[..., 2]))
        waves = np.sin(bearing * self._moves.focal_px / 3.0) * np.sin(
            tilt * self._moves.focal_px / 3.0
        )
        level = 0.0 if index in self._blind else 100.0
        return np.asarray(128.0 + level * waves).astype(np.uint8)

    def peak(self, first: int, second: int) -> Peak:
        shift = seen_by_opencv(self._rotations, first, second, self._moves.focal_px)
        left = 1.0 - np.abs(shift) / [WIDTH, HEIGHT]
        if (left < 0.05).any() or left.prod() < 0.04 or {first, second} & self._blind:
            return Peak(0.0, 0.0, 2.0)
        return Peak(float(shift[0]), float(shift[1]), 40.0)

    def peak_near(
        self, first: int, second: int, expected: tuple[float, float], reach_px: float
    ) -> Peak:
        peak = self.peak(first, second)
        off = np.hypot(peak.dx_px - expected[0], peak.dy_px - expected[1])
        return peak if off <= reach_px else Peak(*expected, 1.0)


class Placed:
    """As much of a placing as positions need: every frame on its cell."""

    def __init__(self, plan: Plan) -> None:
        self.moves = Moves.of_plan(plan)
        self.cell = np.arange(len(plan.cells))
        self.frames = tuple(frames_of([Taken(k, 3.0 * k) for k in range(len(plan.cells))]))
        self.spreads = Spreads(SPREAD_PX, SPREAD_PX)


def looked_at(
    plan: Plan, turns_deg: FloatArray, blind: frozenset[int] = frozenset()
) -> tuple[Positions, Geometry, FloatArray]:
    placed = Placed(plan)
    true = turned(placed.moves.rotations, turns_deg)
    pictures = Pictures(placed.moves, true, blind)
    positions = finish(find_positions(placed, pictures))  # type: ignore[arg-type]
    return positions, judge_positions(plan, placed, positions), true  # type: ignore[arg-type]


def errors_deg(found: FloatArray, true: FloatArray) -> FloatArray:
    """Angles between the axes of found and true cameras, a common rotation taken away."""
    aligned, *_ = Rotation.align_vectors(true[:, 2], found[:, 2])
    cosine = np.einsum("ni,ni->n", aligned.apply(found[:, 2]), true[:, 2])
    return np.asarray(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


@given(st.integers(0, 10_000))
@settings(max_examples=25, deadline=None)
def test_displacements_are_those_of_opencv(seed: int) -> None:
    rng = np.random.default_rng(seed)
    rotations = Rotation.from_rotvec(rng.normal(0.0, 0.1, (6, 3))).as_matrix()
    first, second = np.triu_indices(6, 1)
    ours = displacement_px(rotations, first, second, 800.0)
    theirs = [
        seen_by_opencv(rotations, int(a), int(b), 800.0) for a, b in zip(first, second, strict=True)
    ]
    np.testing.assert_allclose(ours, theirs, atol=1e-6)


@given(
    seed=st.integers(0, 10_000),
    when=st.integers(2, 22),
    knock_deg=st.floats(0.0, 6.0),
    wrong=st.floats(0.0, 0.15),
)
@settings(max_examples=25, deadline=None)
def test_rotations_are_found_in_spite_of_a_knock_and_wrong_matches(
    seed: int, when: int, knock_deg: float, wrong: float
) -> None:
    rng = np.random.default_rng(seed)
    plan = plan_of(4, 6)
    moves = Moves.of_plan(plan)
    turns = rng.normal(0.0, 0.02, (24, 3))
    axis = rng.normal(size=3)
    turns[when:] += knock_deg * axis / np.linalg.norm(axis)
    true = turned(moves.rotations, turns)
    ends = [
        (a, b)
        for a in range(24)
        for b in range(a + 1, 24)
        if moves.share(seen_by_opencv(true, a, b, moves.focal_px)) > 0.03
    ]
    shifts = np.array([seen_by_opencv(true, a, b, moves.focal_px) for a, b in ends])
    shifts += rng.normal(0.0, 0.5, shifts.shape)
    mistaken = rng.random(len(ends)) < wrong
    shifts[mistaken] = rng.uniform(-WIDTH, WIDTH, (mistaken.sum(), 2))
    across = [a < when <= b and not bad for (a, b), bad in zip(ends, mistaken, strict=True)]
    # A jump costs as much as two pairs: with few across it, it may as well be a mistake.
    assume(sum(across) >= 6)
    pairs = Pairs(np.array(ends), shifts, np.ones(len(ends)))
    found = solve_pointing(moves.rotations, moves.focal_px, pairs, SPREAD_PX)
    px_deg = np.degrees(1.0 / moves.focal_px)
    assert np.median(errors_deg(found.rotations, true)) < 1.0 * px_deg
    assert errors_deg(found.rotations, true).max() < 4.0 * px_deg


def test_a_steady_sweep_has_nothing_to_say() -> None:
    rng = np.random.default_rng(4)
    _, geometry, _ = looked_at(plan_of(5, 8), rng.normal(0.0, 0.03, (40, 3)))
    assert geometry == Geometry()


def test_a_tilted_base_is_no_knock() -> None:
    """The same turn for all frames: the tripod stands askew, as most do."""
    positions, geometry, _ = looked_at(plan_of(5, 8), np.tile([1.2, 0.0, 0.9], (40, 1)))
    assert geometry == Geometry()
    assert np.abs(positions.turn_rad).max() < 1e-6


def test_a_knock_is_told_with_its_size_and_its_holes_are_cells_to_shoot_again() -> None:
    """The view drops by most of a frame after the second row: a band between them is nowhere."""
    plan = plan_of(4, 6)
    turns = np.zeros((24, 3))
    # About the world's x axis, which points right: positive turns tip the view up or down.
    turns[12:, 0] = -0.6 * plan.row_step_deg
    positions, geometry, true = looked_at(plan, turns)
    assert errors_deg(positions.rotations, true).max() < 0.05
    (moved,) = geometry.shoot_findings
    assert moved.kind == "moved"
    assert moved.value is not None
    assert abs(moved.value - 0.6 * plan.row_step_deg) < 0.1
    assert "PIC_0412.JPG and PIC_0413.JPG" in moved.says
    # By hand: seen from where the head stands at the end, rows 1 and 2 lie 0.6 of a step too high
    # or too low. A step is 0.7 of a frame, so 0.6 x 0.7 = 0.42 > 0.3 of overlap: a hole of 0.12.
    cells = {
        (plan.cells[k].row, plan.cells[k].column)
        for k, frame in enumerate(frames_of([Taken(k, 3.0 * k) for k in range(24)]))
        if frame.file in {finding.file for finding in geometry.findings}
    }
    rows = {row for row, _ in cells}
    assert rows in ({2}, {1}, {1, 2}, {2, 3})
    assert {column for _, column in cells} == set(range(1, 7))
    assert {finding.kind for finding in geometry.findings} == {"missing"}


def test_a_small_knock_loses_nothing_and_is_told_all_the_same() -> None:
    plan = plan_of(4, 6)
    turns = np.zeros((24, 3))
    turns[9:, 1] = 0.1 * 0.7 * plan.horizontal_fov_deg
    _, geometry, _ = looked_at(plan, turns)
    assert not geometry.findings
    (moved,) = geometry.shoot_findings
    assert "nothing is lost" in moved.says


def test_a_knock_too_far_to_measure_is_never_called_good() -> None:
    """Two frames' height: nothing before joins anything after."""
    plan = plan_of(4, 6)
    turns = np.zeros((24, 3))
    turns[12:, 0] = 3.0 * plan.row_step_deg * np.sign(plan.cells[-1].elevation_deg)
    _, geometry, _ = looked_at(plan, turns)
    assert {finding.kind for finding in geometry.findings} <= {"unsure", "missing"}
    assert len(geometry.findings) >= 6
    assert [finding.kind for finding in geometry.shoot_findings] == ["moved"]


def test_plain_frames_do_not_hide_a_knock_between_them() -> None:
    """The two frames around the knock show plain sky; the others tell of it."""
    plan = plan_of(4, 6)
    turns = np.zeros((24, 3))
    turns[14:, 1] = 0.5 * 0.7 * plan.horizontal_fov_deg
    positions, geometry, _ = looked_at(plan, turns, blind=frozenset({13, 14}))
    assert any(finding.kind == "moved" for finding in geometry.shoot_findings)
    change = np.degrees(np.linalg.norm(positions.turn_rad[20] - positions.turn_rad[5]))
    assert abs(change - 0.5 * 0.7 * plan.horizontal_fov_deg) < 0.1
