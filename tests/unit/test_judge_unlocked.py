"""Exposure and white balance left on automatic: the fewest frames to repeat."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from belvedere.check.judge_unlocked import (
    accuse_unlocked_colour,
    accuse_unlocked_exposure,
    colour_was_unlocked,
    exposure_was_unlocked,
    one_light,
)
from belvedere.shoot import Frame, Settings

#: Thirds of a stop, as dials and automatic exposure have them (common practice).
_THIRD = 1.0 / 3.0


def frames(times_s: list[float], mode: str | None = None) -> list[Frame]:
    return [
        Frame(
            f"PIC_{n:04d}.JPG",
            "",
            0,
            1200,
            800,
            settings=Settings(exposure_time_s=time, f_number=8.0, iso=100.0, exposure_mode=mode),
        )
        for n, time in enumerate(times_s)
    ]


def thirds(clicks: list[int], mode: str | None = None) -> list[Frame]:
    """Frames so many thirds of a stop brighter than 1/500 s."""
    return frames([2.0 ** (click * _THIRD) / 500 for click in clicks], mode)


def test_a_camera_that_says_so_was_on_automatic() -> None:
    assert exposure_was_unlocked(thirds([0, 0, 0, 1, 0, 0, 0, 0], "auto"))
    assert not exposure_was_unlocked(thirds([0, 0, 0, 1, 0, 0, 0, 0], "manual"))
    assert not exposure_was_unlocked(thirds([0] * 8, "auto"))


def test_thirds_of_a_stop_up_and_down_are_automatic_though_few_values() -> None:
    assert exposure_was_unlocked(thirds([0, 1, 0, -1, -1, 2, 0, 1, 0, 0, -1, 0]))


def test_a_few_frames_that_differ_are_faults_and_not_an_automatic() -> None:
    assert not exposure_was_unlocked(thirds([0, 0, 2, 0, 0, 0, 0, -3, 0, 0, 0, 0, 0]))
    assert not exposure_was_unlocked(thirds([0] * 9 + [2] * 5))


def test_an_automatic_white_balance_with_nothing_to_do_lost_nothing() -> None:
    auto = [
        Frame(f"PIC_{n:04d}.JPG", "", 0, 1200, 800, settings=Settings(white_balance="auto"))
        for n in range(9)
    ]
    assert not colour_was_unlocked(auto, np.zeros(9, dtype=np.intp))
    assert colour_was_unlocked(auto, np.array([0, 1, 0, 0, 2, 2, 0, 0, 0]))


def test_the_fewest_frames_are_named_in_thirds_of_a_stop() -> None:
    clicks = [0, 1, 0, 1, 0, -2, 0, 1, 3, 0, 1, -1]
    shoot = thirds(clicks, "auto")
    value_ev = np.array(clicks)[:, None] * _THIRD
    stated = -value_ev[:, 0]
    found = accuse_unlocked_exposure(shoot, np.arange(12), value_ev, stated)
    assert [one.file for one in found] == ["PIC_0005.JPG", "PIC_0008.JPG", "PIC_0011.JPG"]
    assert found[0].says.startswith("darker than the 9 frames that are alike: 1/794 s f/8 ISO 100")
    assert found[1].says.startswith("brighter")


def test_an_exposure_that_follows_the_dusk_evenly_asks_for_no_repeats() -> None:
    value_ev = np.linspace(0.0, 1.4, 15)[:, None]
    shoot = frames([1 / 500] * 15, "auto")
    assert accuse_unlocked_exposure(shoot, np.arange(15), value_ev, -value_ev[:, 0]) == []


def test_colours_are_kept_round_their_densest_place() -> None:
    ab = np.array([[0.0, 0.0], [0.5, 0.5], [9.0, 0.0], [0.0, 1.0], [0.0, -14.0], [1.0, 0.0]])
    shoot = frames([1 / 500] * 6)
    found, (remark,) = accuse_unlocked_colour(shoot, np.arange(6), ab)
    assert [one.file for one in found] == ["PIC_0002.JPG", "PIC_0004.JPG"]
    assert found[0].says == "more magenta than the 4 frames that are alike"
    assert found[1].says == "cooler than the 4 frames that are alike"
    assert "lock it and repeat the cells that are named" in remark.says


@given(
    values=st.lists(st.floats(-2.0, 2.0), min_size=1, max_size=25),
    radius=st.floats(0.05, 0.6),
)
def test_no_window_holds_more_than_the_one_that_is_kept(values: list[float], radius: float) -> None:
    """Against counting the values in every window that begins at one of them."""
    value = np.array(values)
    kept, middle = one_light(value[:, None], radius)
    most = max(int(((value >= low) & (value <= low + 2.0 * radius)).sum()) for low in values)
    assert abs(int(kept.sum()) - most) <= int(np.isclose(np.ptp(value[kept]), 2 * radius))
    assert (np.abs(value[kept] - middle[0]) <= radius).all()
