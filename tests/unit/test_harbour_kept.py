"""What the built-in scene keeps from frame to frame changes no picture, and stays within bounds."""

from __future__ import annotations

import numpy as np
import pytest

from belvedere.rehearse.harbour import HarbourScene
from belvedere.rehearse.harbour.items import Item, Spot
from belvedere.rehearse.harbour.pen import Pen
from belvedere.rehearse.harbour.sheets import Sheets
from belvedere.rehearse.harbour.stencil import Draft, Stencils

MIB = 1 << 20


def square(pen: Pen) -> None:
    """Two metres wide, half as high as its place's distance says."""
    pen.fill([(0.0, 0.0), (2.0, 0.0), (2.0, 1.0), (0.0, 1.0)], (1.0, 0.5, 0.0), grain=0.0)


def an_item(bearing_deg: float = 1.23456) -> Item:
    return Spot(bearing_deg, -0.5, 0.1).item(square, 0.0, 0.0, 2.0, 1.0)


def test_a_scene_that_has_seen_much_shows_what_a_fresh_one_shows() -> None:
    scene = HarbourScene(3)
    for at_s in (0.0, 41.0, 5.5):
        for left in (-14.0, -11.0, -9.0):
            scene.patch(left, 1.0, 90.0, 400, 260, at_s=at_s)
    scene.distance_m(np.linspace(-12, -6, 30)[None, :], np.linspace(-2, 1, 20)[:, None])
    for at_s in (0.0, 5.5, 77.0):
        window = (-12.5, 0.7, 90.0, 420, 280)
        fresh = HarbourScene(3).patch(*window, at_s=at_s)
        np.testing.assert_array_equal(scene.patch(*window, at_s=at_s), fresh)


def test_little_room_for_stencils_changes_no_picture(monkeypatch: pytest.MonkeyPatch) -> None:
    window = (-6.0, 1.0, 80.0, 400, 240)
    expected = HarbourScene(3).patch(*window)
    scene = HarbourScene(3)
    monkeypatch.setattr(scene, "_stencils", Stencils(most_bytes=20_000))
    for _ in range(2):
        np.testing.assert_array_equal(scene.patch(*window), expected)


def test_a_picture_stays_as_it_is_while_others_are_painted() -> None:
    scene = HarbourScene(3)
    held = scene.patch(-6.0, 2.0, 100.0, 500, 400)
    part, before = held[30:60, 40:90], held.copy()
    del held
    for left in (20.0, 60.0, 100.0):
        scene.patch(left, 0.0, 100.0, 500, 400)
    np.testing.assert_array_equal(part, before[30:60, 40:90])


def test_corners_lie_on_a_lattice_of_256ths_of_a_pixel() -> None:
    """By hand: 1.23456° × 100 px/° × 256 = 31 604.736; 0.1° a metre, so 2 m are 5120."""
    draft = Draft(100.0, 0.0)
    an_item().paint(draft)
    points = draft.done().points
    assert points.tolist() == [[31605, 12800], [36725, 12800], [36725, 10240], [31605, 10240]]


def test_an_item_is_drawn_once_for_a_scale() -> None:
    stencils, item = Stencils(), an_item()
    first = stencils.of(item, 100.0, 0.0)
    assert stencils.of(item, 100.0, 9.0) is first
    assert stencils.of(item, 200.0, 0.0) is not first


def test_what_looks_at_the_clock_is_drawn_for_each_moment() -> None:
    def swinging(pen: Pen) -> None:
        pen.line([(0.0, 0.0), (pen.at_s, 1.0)], 0.5, (0.0, 0.0, 0.0))

    stencils, item = Stencils(), Spot(0.0, 0.0, 0.1).item(swinging, -9.0, 0.0, 9.0, 1.0)
    now = stencils.of(item, 100.0, 2.0)
    assert stencils.of(item, 100.0, 2.0) is now
    later = stencils.of(item, 100.0, 3.0)
    assert later.points[1, 0] == 7680  # 3 m × 0.1° a metre × 100 px/° × 256


def test_stencils_keep_within_their_bounds() -> None:
    stencils, most = Stencils(most_bytes=5_000), 5_000
    items = [an_item(float(i)) for i in range(40)]
    for item in items:
        stencils.of(item, 100.0, 0.0)
        assert 0 < stencils.held_bytes <= most


def test_sheets_in_use_do_not_overlap() -> None:
    sheets = Sheets()
    one = sheets.empty((700, 1000, 3), np.float32)[5:]
    other = sheets.empty((700, 1000, 3), np.float32)
    assert not np.shares_memory(one, other)


def test_sheets_hold_what_was_lent_at_one_time() -> None:
    sheets = Sheets()
    for rows in (690, 700, 680, 710, 300, 705):
        one = sheets.empty((rows, 1000, 3), np.float32)
        other = sheets.empty((rows, 1000), np.float32)
        one[:], other[:] = 1.0, 2.0
        assert (one == 1.0).all()
        del one, other
    whole = 710 * 1000 * (3 + 1) * 4
    assert sheets.held_bytes <= 1.3 * whole + MIB
