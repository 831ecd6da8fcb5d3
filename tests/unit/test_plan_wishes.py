"""Wishes: what is refused, what is said, and that what is said to do does."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from belvedere.foundation import PlanError
from belvedere.shoot import Camera, GridWish, Lens, Plan, Shoot, Sweep, make_plan
from belvedere.shoot.conditions import Wish
from belvedere.shoot.wishes import (
    flat_subject_says,
    focal_length_for,
    nearest_that_would_do,
    out_of_reach,
    settable_focal_length,
    wish_facts,
    wish_kind,
)

CAMERA = Camera(36.0, 24.0, 6000, 4000)
LETTERS = Wish(smallest_mm=12.0, distance_m=60.0)


def _plan(focal_mm: float, half_width_deg: float = 20.0, half_height_deg: float = 5.0) -> Plan:
    grid = GridWish(half_height_deg, -half_height_deg, -half_width_deg, half_width_deg, 0.3, 0.3)
    return make_plan(Shoot("The quay of Saltmere", CAMERA, Lens(focal_mm), grid, Sweep()))


REFUSED = [
    (Wish(), ["does not say", "mm_per_px", "gigapixels"]),
    (Wish(distance_m=60.0), ["does not say"]),
    (Wish(smallest_mm=12.0), ["smallest_mm", "needs a distance", "distance_m"]),
    (Wish(mm_per_px=0.1), ["mm_per_px", "needs a distance"]),
    (Wish(print_width_mm=900.0), ["print_width_mm", "dpi", "viewing_distance_m"]),
    (
        Wish(print_width_mm=900.0, dpi=300.0, viewing_distance_m=2.0),
        ["dpi and viewing_distance_m", "300 dpi", "44 dpi"],
    ),
    (Wish(gigapixels=1.0, mm_per_px=0.1, distance_m=3.0), ["2 kinds", "mm_per_px and gigapixels"]),
    (Wish(gigapixels=1.0, dpi=300.0), ["dpi", "no meaning beside gigapixels"]),
    (Wish(gigapixels=1.0, distance_m=3.0), ["distance_m", "no meaning beside gigapixels"]),
    (Wish(smallest_mm=12.0, distance_m=60.0, dpi=300.0), ["dpi", "no meaning beside smallest_mm"]),
]


@pytest.mark.parametrize(("wish", "names"), REFUSED)
def test_what_is_no_wish_is_refused_in_a_sentence(wish: Wish, names: list[str]) -> None:
    with pytest.raises(PlanError) as refused:
        focal_length_for(wish, CAMERA, 40.0, 10.0)
    for name in names:
        assert name in str(refused.value)


def test_the_plan_says_what_it_reaches_in_the_unit_of_the_wish() -> None:
    """By hand: 300 mm are 50,000 px; at 60 m a pixel covers 1.2 mm, so 12 mm lie on 10 px."""
    facts = wish_facts(LETTERS, _plan(300.0))
    assert facts.reached
    assert facts.needs_focal_length_mm == pytest.approx(240.0)
    assert facts.says == "details of 12 mm at 60 m on 8 px"
    assert facts.reaches == "12 mm at 60 m lie on 10 px, in the centre of a frame"
    short = wish_facts(LETTERS, _plan(200.0))
    assert not short.reached
    assert "lie on 6.67 px" in short.reaches


def test_other_wishes_in_their_own_unit() -> None:
    """By hand, for 300 mm = 50,000 px and a view of 40° × 10°: 34,907 × 8,727 px."""
    plan = _plan(300.0)
    scale = wish_facts(Wish(mm_per_px=0.1, distance_m=5.0), plan)
    assert (scale.reached, scale.reaches[:24]) == (True, "0.1 mm per pixel at 5 m,")
    gigapixels = wish_facts(Wish(gigapixels=0.5), plan)
    assert (gigapixels.reached, gigapixels.reaches) == (False, "0.305 gigapixels")
    # 34,907 px over 3 m are 295.5 dpi.
    printed = wish_facts(Wish(print_width_mm=3000.0, dpi=300.0), plan)
    assert not printed.reached
    assert printed.reaches.startswith("296 dpi at 3,000 mm")


def test_a_marked_focal_length_may_be_a_hair_short() -> None:
    """What is engraved on a lens is rounded: within one per cent a wish counts as reached."""
    assert wish_facts(LETTERS, _plan(238.0)).reached
    assert not wish_facts(LETTERS, _plan(237.0)).reached


def test_a_lens_that_is_too_short_gets_the_nearest_that_would_do() -> None:
    """By hand: 180 of 240 mm is three quarters: 45 m, or 16 mm."""
    zoom = Lens(180.0, shortest_mm=70.0, longest_mm=180.0)
    advice = out_of_reach(LETTERS, CAMERA, zoom, 40.0, 10.0)
    assert advice is not None
    assert advice.severity == "stop"
    assert "240 mm" in advice.because
    assert "180 mm" in advice.because
    assert "go to 45 m, or be content with details of 16 mm" in advice.try_


def test_a_lens_that_is_too_long_does_but_costs_frames() -> None:
    zoom = Lens(400.0, shortest_mm=300.0, longest_mm=600.0)
    advice = out_of_reach(LETTERS, CAMERA, zoom, 40.0, 10.0)
    assert advice is not None
    assert advice.severity == "note"
    assert "from 75 m away" in advice.try_


def test_nothing_is_said_within_the_zoom_range() -> None:
    assert out_of_reach(LETTERS, CAMERA, Lens(100.0, 70.0, 300.0), 40.0, 10.0) is None
    assert out_of_reach(LETTERS, CAMERA, Lens(100.0), 40.0, 10.0) is None
    assert settable_focal_length(240.0, Lens(100.0, 70.0, 300.0)) == 240.0
    assert settable_focal_length(240.0, Lens(100.0, 70.0, 200.0)) == 200.0
    assert settable_focal_length(24.0, Lens(100.0, 70.0, 200.0)) == 70.0


def test_gigapixels_may_be_had_from_a_wider_view() -> None:
    """By hand: half the focal length makes a quarter of the pixels, and needs four times the
    width."""
    wish = Wish(gigapixels=1.0)
    focal_mm = focal_length_for(wish, CAMERA, 40.0, 10.0)
    says = nearest_that_would_do(wish, CAMERA, focal_mm / 2.0, 40.0, 10.0)
    assert says == "it makes 0.25 gigapixels of this view; a view 160° wide would make them all"
    assert "wide" not in nearest_that_would_do(wish, CAMERA, focal_mm / 4.0, 40.0, 10.0)


def test_a_flat_wall_is_farther_away_at_its_sides() -> None:
    """By hand: at 60° off the middle of a wall cos is a half: twice as far, twice the height and
    four times the width on a pixel."""
    says = flat_subject_says(Wish(mm_per_px=1.0, distance_m=60.0), _plan(300.0, 60.0))
    for words in ("±60°", "120 m", "2.4 mm of height", "4.8 mm of width", "1.2 mm in the middle"):
        assert words in says
    assert flat_subject_says(Wish(mm_per_px=1.0, distance_m=60.0), _plan(300.0, 10.0)) == ""
    assert flat_subject_says(Wish(gigapixels=1.0), _plan(300.0, 60.0)) == ""


def _wishes() -> st.SearchStrategy[Wish]:
    size = st.floats(0.05, 500.0)
    distance = st.floats(0.5, 20_000.0)
    return st.one_of(
        st.builds(lambda mm, d: Wish(mm_per_px=mm, distance_m=d), size, distance),
        st.builds(
            lambda mm, d, px: Wish(smallest_mm=mm, distance_m=d, pixels_on_it=px),
            size,
            distance,
            st.floats(2.0, 40.0),
        ),
        st.builds(
            lambda w, dpi: Wish(print_width_mm=w, dpi=dpi),
            st.floats(100.0, 20_000.0),
            st.floats(10.0, 600.0),
        ),
        st.builds(
            lambda w, d: Wish(print_width_mm=w, viewing_distance_m=d),
            st.floats(100.0, 20_000.0),
            st.floats(0.1, 50.0),
        ),
        st.builds(lambda g: Wish(gigapixels=g), st.floats(0.01, 1000.0)),
    )


@given(_wishes(), st.floats(5.0, 360.0), st.floats(2.0, 170.0))
def test_a_plan_at_the_wished_focal_length_reaches_the_wish_and_no_more(
    wish: Wish, width_deg: float, height_deg: float
) -> None:
    """The inverse, measured on a plan that has that focal length (its grid apart)."""
    focal_mm = focal_length_for(wish, CAMERA, width_deg, height_deg)
    plan = _at(_plan(300.0), focal_mm, width_deg, height_deg)
    facts = wish_facts(wish, plan)
    assert facts.reached
    assert facts.needs_focal_length_mm == pytest.approx(focal_mm, rel=1e-12)
    assert not wish_facts(wish, _at(plan, focal_mm * 0.98, width_deg, height_deg)).reached
    kind = wish_kind(wish)
    # What the mosaic would measure, by definition of the wish.
    width_px = plan.scale_px_per_deg * width_deg
    if kind == "gigapixels":
        assert width_px * plan.scale_px_per_deg * height_deg / 1e9 == pytest.approx(wish.gigapixels)
    elif wish.dpi is not None and wish.print_width_mm is not None:
        assert width_px / (wish.print_width_mm / 25.4) == pytest.approx(wish.dpi)


def _at(plan: Plan, focal_mm: float, width_deg: float, height_deg: float) -> Plan:
    """The plan as if it had another focal length and edges: only what wishes look at."""
    grid = replace(
        plan.shoot.grid,
        left_deg=-width_deg / 2.0,
        right_deg=width_deg / 2.0,
        top_deg=height_deg / 2.0,
        bottom_deg=-height_deg / 2.0,
    )
    focal_px = focal_mm / 0.006
    return replace(
        plan,
        shoot=replace(plan.shoot, grid=grid),
        focal_length_px=focal_px,
        scale_px_per_deg=focal_px * 0.017453292519943295,
    )


_NUMBER = r"([\d,.]+)"


@given(_wishes(), st.floats(0.02, 5.0))
def test_what_is_said_to_do_does(wish: Wish, share: float) -> None:
    """Each figure of the advice, put in place of the wish's own, is reached with that lens."""
    needed_mm = focal_length_for(wish, CAMERA, 60.0, 20.0)
    focal_mm = needed_mm * share
    says = nearest_that_would_do(wish, CAMERA, focal_mm, 60.0, 20.0)
    eased = []
    for pattern, key in (
        (rf"(?:go to|from) {_NUMBER} m", "distance_m"),
        (rf"{_NUMBER} mm per pixel", "mm_per_px"),
        (rf"details of {_NUMBER} mm", "smallest_mm"),
        (rf"print it {_NUMBER} mm", "print_width_mm"),
        (rf"at {_NUMBER} dpi", "dpi"),
        (rf"looked at from {_NUMBER} m", "viewing_distance_m"),
        (rf"makes {_NUMBER} gigapixels", "gigapixels"),
    ):
        found = re.search(pattern, says)
        if found and not (key == "distance_m" and wish.distance_m is None):
            value = float(found.group(1).replace(",", ""))
            if value > 0.0:
                eased.append(replace(wish, **{key: value}))
    assert eased
    for other in eased:
        assert focal_length_for(other, CAMERA, 60.0, 20.0) <= focal_mm * (1.0 + 1e-6)
