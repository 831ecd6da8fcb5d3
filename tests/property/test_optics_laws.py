"""Laws that hold for any lens: pairs of inverses, what grows with what, what lies between."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from belvedere.optics import (
    airy_diameter_um,
    defocus_blur_mm,
    diffraction_mtf,
    ev100,
    ev100_of_illuminance,
    ev100_of_luminance,
    f_number_between,
    f_number_for,
    f_number_where_airy_spans,
    f_number_where_mtf_falls_to,
    focus_between_m,
    hyperfocal_m,
    illuminance_lx,
    iso_for,
    largest_offset_mm,
    luminance_cd_m2,
    mtf_at_nyquist,
    near_far_m,
    nearest_nominal_f_number,
    nominal_f_numbers,
    parallax_px,
    shake_px,
    sharpness_budget,
    shutter_s_for,
    shutter_s_for_motion,
    shutter_s_for_shake,
    subject_motion_px,
    subject_rate_deg_s,
    sweet_spot_f_number,
)

focals_mm = st.floats(4.0, 1200.0)
stops = st.floats(1.0, 45.0)
circles_mm = st.floats(0.001, 0.05)
distances_m = st.floats(2.5, 20_000.0)
pitches_um = st.floats(0.8, 12.0)
times_s = st.floats(1e-5, 300.0)
isos = st.floats(25.0, 1e5)
focals_px = st.floats(500.0, 200_000.0)


@given(distances_m, focals_mm, stops, circles_mm)
def test_the_focus_lies_between_near_and_far_and_there_the_blur_is_the_circle(
    focus: float, focal: float, stop: float, circle: float
) -> None:
    near, far = near_far_m(focus, focal, stop, circle)
    assert 0.0 < near < focus < far
    assert defocus_blur_mm(near, focus, focal, stop) == pytest.approx(circle, rel=1e-6)
    if math.isinf(far):
        assert focus >= hyperfocal_m(focal, stop, circle)
        assert defocus_blur_mm(math.inf, focus, focal, stop) <= circle * (1.0 + 1e-9)
    else:
        assert defocus_blur_mm(far, focus, focal, stop) == pytest.approx(circle, rel=1e-6)


@given(distances_m, st.one_of(distances_m, st.just(math.inf)), focals_mm, stops)
def test_between_two_distances_the_blur_is_shared_and_smaller_inside(
    one: float, other: float, focal: float, stop: float
) -> None:
    near, far = sorted((one, other))
    assume(far > near * 1.001)
    focus = focus_between_m(near, far)
    assert near < focus < far
    edge = defocus_blur_mm(near, focus, focal, stop)
    assert defocus_blur_mm(far, focus, focal, stop) == pytest.approx(edge, rel=1e-6)
    assert defocus_blur_mm(0.5 * (near + focus), focus, focal, stop) < edge


@given(distances_m, distances_m, focals_mm, circles_mm)
def test_the_widest_aperture_that_holds_both_just_holds_both(
    one: float, other: float, focal: float, circle: float
) -> None:
    near, far = sorted((one, other))
    assume(far > near * 1.001)
    stop = f_number_between(near, far, focal, circle)
    held_near, held_far = near_far_m(focus_between_m(near, far), focal, stop, circle)
    assert held_near == pytest.approx(near, rel=1e-6)
    # Near the hyperfocal distance the far limit runs away; its inverse is what is held.
    assert 1.0 / held_far == pytest.approx(1.0 / far, rel=1e-6, abs=1e-9)


@given(distances_m, focals_mm, stops, circles_mm, st.floats(1.05, 4.0))
def test_closing_down_deepens(
    focus: float, focal: float, stop: float, circle: float, by: float
) -> None:
    near, far = near_far_m(focus, focal, stop, circle)
    closed_near, closed_far = near_far_m(focus, focal, stop * by, circle)
    assert closed_near < near
    assert closed_far > far or math.isinf(far)


@given(st.floats(0.001, 0.999), pitches_um, st.floats(400.0, 700.0))
def test_contrast_at_nyquist_and_back(mtf: float, pitch: float, wavelength: float) -> None:
    stop = f_number_where_mtf_falls_to(mtf, pitch, wavelength)
    assert mtf_at_nyquist(stop, pitch, wavelength) == pytest.approx(mtf, abs=1e-9)


@given(st.floats(0.5, 20.0), pitches_um)
def test_airy_disc_and_back(pixels: float, pitch: float) -> None:
    stop = f_number_where_airy_spans(pixels, pitch)
    assert airy_diameter_um(stop) == pytest.approx(pixels * pitch, rel=1e-12)


@given(st.floats(1.0, 400.0), stops, st.floats(1.01, 3.0))
def test_contrast_falls_with_fineness_and_with_the_f_number(
    per_mm: float, stop: float, by: float
) -> None:
    here = diffraction_mtf(per_mm, stop)
    assert 0.0 <= here < 1.0
    finer, closed = diffraction_mtf(per_mm * by, stop), diffraction_mtf(per_mm, stop * by)
    assert finer == pytest.approx(closed, abs=1e-12)  # only λ N times the fineness counts
    assert finer < here or here == finer == 0.0


@given(pitches_um, st.sampled_from(nominal_f_numbers(1.0, 8.0)), st.sampled_from([11.0, 22.0]))
def test_the_sweet_spot_is_a_mark_the_lens_has(
    pitch: float, widest: float, narrowest: float
) -> None:
    chosen = sweet_spot_f_number(pitch, widest, narrowest)
    assert chosen in nominal_f_numbers(widest, narrowest)
    free = sweet_spot_f_number(pitch)
    # The lens only ever asks for more closing than the sensor, by a stop from wide open at most.
    one_stop_down = nearest_nominal_f_number(widest * math.sqrt(2.0))
    assert min(free, narrowest) <= chosen <= max(free, one_stop_down)


@given(stops, times_s, isos)
def test_exposure_is_solved_for_each_of_its_parts(stop: float, time: float, iso: float) -> None:
    light = ev100(stop, time, iso)
    assert shutter_s_for(light, stop, iso) == pytest.approx(time, rel=1e-9)
    assert iso_for(light, stop, time) == pytest.approx(iso, rel=1e-9)
    assert f_number_for(light, time, iso) == pytest.approx(stop, rel=1e-9)


@given(st.floats(-8.0, 20.0))
def test_light_in_candelas_and_lux_and_back(ev: float) -> None:
    assert ev100_of_luminance(luminance_cd_m2(ev)) == pytest.approx(ev, abs=1e-9)
    assert ev100_of_illuminance(illuminance_lx(ev)) == pytest.approx(ev, abs=1e-9)
    assert luminance_cd_m2(ev + 1.0) == pytest.approx(2.0 * luminance_cd_m2(ev))


@given(st.floats(0.1, 5.0), st.floats(0.01, 40.0), distances_m, focals_px)
def test_the_longest_exposure_moves_a_subject_by_what_is_allowed(
    allowed: float, speed: float, distance: float, focal: float
) -> None:
    time = shutter_s_for_motion(allowed, subject_rate_deg_s(speed, distance), focal)
    assert subject_motion_px(speed, distance, time, focal) == pytest.approx(allowed, rel=1e-9)


@given(st.floats(0.1, 5.0), st.floats(0.1, 200.0), st.floats(0.5, 50.0), focals_px)
def test_the_longest_exposure_keeps_a_shake_within_what_is_allowed(
    allowed: float, amplitude: float, rate: float, focal: float
) -> None:
    time = shutter_s_for_shake(allowed, amplitude, rate, focal)
    if math.isinf(time):
        assert shake_px(amplitude, rate, 1000.0, focal) <= allowed * (1.0 + 1e-9)
    else:
        assert shake_px(amplitude, rate, time, focal) == pytest.approx(allowed, rel=1e-6)


@given(
    stops,
    pitches_um,
    st.floats(0.0, 0.1),
    st.lists(st.floats(0.0, 20.0), max_size=3),
    st.floats(0.0, 5.0),
)
def test_together_is_worse_than_the_worst_share_and_better_than_their_sum(
    stop: float, pitch: float, blur: float, motions: list[float], more: float
) -> None:
    budget = sharpness_budget(stop, pitch, defocus_blur_mm=blur, motions_px=motions)
    shares = (budget.diffraction_px, budget.defocus_px, budget.motion_px, budget.pixel_px)
    assert max(shares) * (1.0 - 1e-12) <= budget.combined_px <= sum(shares) * (1.0 + 1e-12)
    worse = sharpness_budget(stop, pitch, defocus_blur_mm=blur, motions_px=[*motions, more])
    assert worse.combined_px >= budget.combined_px * (1.0 - 1e-12)


@given(
    st.floats(0.5, 100.0),
    st.one_of(st.floats(0.5, 5000.0), st.just(math.inf)),
    st.floats(0.2, 60.0),
    focals_px,
    st.floats(0.1, 2.0),
)
def test_the_largest_offset_and_its_parallax(
    near: float, far: float, step: float, focal: float, allowed: float
) -> None:
    assume(far > near * 1.01)
    offset = largest_offset_mm(near, far, step, focal, allowed)
    assert offset > 0.0
    assume(offset < 900.0 * near)  # else the lens would stand beyond the near point
    assert parallax_px(offset, near, far, step, focal) == pytest.approx(allowed, rel=1e-6)
    assert parallax_px(0.5 * offset, near, far, step, focal) < allowed
    assert parallax_px(-offset, near, far, step, focal) < allowed
