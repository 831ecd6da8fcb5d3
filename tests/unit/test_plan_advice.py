"""What the planner says of a shoot, and when it keeps still.

Each case changes one thing in a shoot that has nothing to be said against it. The figures in the
expected words are worked out by hand beside them, or by the reference values named there.
"""

from __future__ import annotations

import re

import pytest

from belvedere.optics import ev100
from belvedere.shoot import Advice, Briefing, brief, edit_shoot, make_plan, parse_shoot

#: A small-sensor camera (pitch 2.04 µm) on the mole, at noon, with everything said.
CALM = """\
[shoot]
title = "Saltmere from the mole"

[camera]
sensor_width_mm = 7.44
image_width_px = 3648
image_height_px = 2736

[lens]
focal_length_mm = 30.5
widest_f_number = 2.8
narrowest_f_number = 8.0

[grid]
left_deg = -40.0
right_deg = 40.0
top_deg = 9.0
bottom_deg = -7.5
overlap = 0.30

[sweep]
order = "columns"
interval_s = 4.0

[exposure]
ev100 = 14.0
f_number = 4.0

[cycle]
processing_s = 0.8

[card]
free_gb = 8.0
write_mb_s = 10.0
file_mb = 4.0
"""


def _brief(**changes: dict[str, object]) -> Briefing:
    return brief(make_plan(parse_shoot(edit_shoot(CALM, changes))))  # type: ignore[arg-type]


def _said(briefing: Briefing, words: str) -> Advice:
    found = [said for said in briefing.advice if words in said.says]
    assert found, [said.says for said in briefing.advice]
    return found[0]


def _urgent(briefing: Briefing) -> list[str]:
    return [said.says for said in briefing.advice if said.severity != "note"]


def test_a_good_plan_is_not_nagged() -> None:
    assert _urgent(_brief()) == []


def test_the_gravest_comes_first() -> None:
    briefing = _brief(sweep={"interval_s": 1.0}, exposure={"f_number": 8.0})
    severities = [said.severity for said in briefing.advice]
    assert severities == sorted(severities, key=["stop", "warn", "note"].index)
    assert {"stop", "warn", "note"} <= set(severities)


def test_a_narrow_aperture_on_small_pixels_is_named_with_one_of_the_same_light() -> None:
    said = _said(_brief(exposure={"f_number": 8.0}), "diffraction eats")
    assert said.severity == "warn"
    # The other aperture and time must be the same light within rounding to third stops.
    f_number, shutter = re.match(r"f/([\d.]+) and 1/(\d+) s is the same light", said.try_).groups()  # type: ignore[union-attr]
    assert ev100(float(f_number), 1.0 / float(shutter), 100.0) == pytest.approx(14.0, abs=0.34)
    # At f/8 the cutoff (227 cycles/mm, handbook value) is below this sensor's Nyquist (245).
    assert "is down to 0%" in said.because


def test_the_rule_for_compacts_is_shown_in_figures() -> None:
    """f/5.6 on 2.083 µm: 3.61 px and 15 %, two pixels at f/3.11 (tests/reference, optics)."""
    said = _said(_brief(camera={"sensor_width_mm": 7.6}), "said to soften beyond about f/5.6")
    assert said.severity == "note"
    for figure in ("2.08 µm", "3.6 px", "is 15%", "to 15% at f/5.6", "at f/3.1"):
        assert figure in said.because


def test_an_aperture_that_the_lens_has_not() -> None:
    said = _said(_brief(exposure={"f_number": 11.0}), "is not on this lens")
    assert (said.severity, "f_number = 8" in said.try_) == ("stop", True)


def test_an_interval_shorter_than_the_cameras_cycle_loses_frames() -> None:
    # 0.1 lag + 0.8 processing + 4 MB / 10 MB/s = 1.3 s: an interval of 1.3 s loses about half.
    briefing = _brief(sweep={"interval_s": 1.3}, head={"settle_s": 0.1, "pan_speed_deg_s": 90.0})
    said = _said(briefing, "a frame goes missing in")
    assert said.severity == "stop"
    assert "practically all shoots" in said.says
    assert said.try_ == f"Set interval_s = {briefing.timing.recommended_interval_s:g} in [sweep]."
    assert _urgent(_brief(sweep={"interval_s": briefing.timing.recommended_interval_s})) == []


def test_an_interval_in_which_the_head_cannot_move() -> None:
    said = _said(_brief(sweep={"interval_s": 2.0}, head={"settle_s": 3.0}), "moves the head while")
    assert said.severity == "stop"


def test_a_card_too_small_and_numbers_that_start_again() -> None:
    briefing = _brief(card={"free_gb": 0.1, "next_file_number": 9990})
    assert _said(briefing, "The card is too small").severity == "stop"
    # Numbers 9990 to 9999 are ten frames; the eleventh is 0001.
    assert "with frame 11" in _said(briefing, "start again at 0001").says


def test_a_battery_that_ends_before_the_shoot() -> None:
    briefing = _brief(power={"head_pack_v": 7.2, "head_pack_ah": 0.005})
    said = _said(briefing, "The head's battery lasts")
    assert said.severity == "warn"
    assert "Swap it at the end of the row" in said.try_


def test_a_wish_beyond_the_lens() -> None:
    text = CALM.replace("focal_length_mm = 30.5\n", "shortest_mm = 6.1\nlongest_mm = 30.5\n")
    text += "\n[wish]\nsmallest_mm = 12.0\ndistance_m = 200.0\n"
    briefing = brief(make_plan(parse_shoot(text)))
    said = briefing.advice[0]
    assert said.severity == "stop"
    # 8 px on 12 mm at 200 m: 1.5 mm per px, f = 200,000 mm / 1.5 × 2.0395 µm = 272 mm.
    assert briefing.wish is not None
    assert briefing.wish.needs_focal_length_mm == pytest.approx(271.9, abs=0.2)
    assert not briefing.wish.reached
    # 30.5 mm reach so far: 200 m × 30.5 / 271.9.
    assert "22.4 m" in said.says + said.try_


def test_depth_that_no_single_setting_holds() -> None:
    text = CALM + (
        '\n[[regions]]\nname = "the rail"\nnearest_m = 3.0\nfarthest_m = 5.0\n'
        'top_deg = -4.0\n\n[[regions]]\nname = "the town"\nnearest_m = 300.0\nbottom_deg = -2.0\n'
    )
    briefing = brief(make_plan(parse_shoot(text)))
    assert len(briefing.focus.zones) > 1
    assert briefing.focus.zones[-1].focus_m < 10.0 < briefing.focus.zones[0].focus_m
    assert _said(briefing, "Focus changes").severity == "note"
    both = parse_shoot(text.replace("top_deg = -4.0\n", "").replace("bottom_deg = -2.0\n", ""))
    assert _said(brief(make_plan(both)), "cannot be sharp from 3 m").severity == "warn"


def test_plain_sky_and_the_dark_are_no_place_for_autofocus() -> None:
    text = CALM + '\n[[regions]]\nname = "the sky"\nkind = "sky"\nbottom_deg = 6.0\n'
    said = _said(brief(make_plan(parse_shoot(text))), "Autofocus will fail in row 1 (the sky)")
    assert said.severity == "note"


def test_what_moves_too_fast() -> None:
    text = CALM.replace("ev100 = 14.0", "ev100 = 6.0") + (
        '\n[[regions]]\nname = "boats"\nnearest_m = 50.0\nspeed_m_s = 2.0\n'
    )
    briefing = brief(make_plan(parse_shoot(text)))
    said = _said(briefing, "smears over")
    # 2 m/s at 50 m is 0.04 rad/s; focal length 14,955 px: 598 px/s; f/4 at EV 6 is 1/4 s.
    assert briefing.optics.sharpness.motion_px == pytest.approx(598.2 / 4.0, rel=0.01)
    assert said.severity == "warn"


def test_settings_against_the_light() -> None:
    said = _said(_brief(exposure={"shutter_s": 0.02, "iso": 100.0}), "too bright")
    # f/4 and EV 14 at ISO 100 ask for 1/1024 s; 1/50 s is 4.4 EV more.
    assert "4.4 EV too bright" in said.says


def test_more_contrast_than_the_camera_holds() -> None:
    ranges = {"brightest_ev100": 16.0, "darkest_ev100": 5.0, "dynamic_range_ev": 9.0}
    said = _said(_brief(exposure=ranges), "A second sweep, 2 EV longer")
    assert "spans 11.0 EV" in said.because
    assert _urgent(_brief(exposure=ranges | {"dynamic_range_ev": 12.0})) == []


def test_the_grid_speaks_up_only_where_there_is_something() -> None:
    little = _brief(grid={"overlap": 0.1})
    assert _said(little, "An overlap of 10% leaves little").severity == "warn"
    fixed = _brief(grid={"overlap": 0.5, "rows": 2, "columns": 9})
    assert "of overlap across where 50% are asked for" in _said(fixed, "The fixed columns").says
    assert _said(fixed, "The fixed rows leave")
    high = _brief(grid={"top_deg": 80.0, "bottom_deg": 0.0})
    assert "equal_columns = false" in _said(high, "frames could be saved").try_


def test_the_suns_place_is_known_only_with_place_and_start() -> None:
    said = _said(_brief(), "nothing is known of sun")
    assert "[place]" in said.says
    assert "start in [shoot]" in said.says


#: NREL's own example for the solar position algorithm (NREL/TP-560-34302, table A5): the sun at
#: azimuth 194.34°, 39.89° above the horizon.
SPA_START = "start = 2003-10-17T12:30:30-07:00"
SPA_EXAMPLE = """
[place]
latitude_deg = 39.742476
longitude_deg = -105.1786
altitude_m = 1830.14
zero_bearing_deg = 194.34
"""


def test_the_sun_in_the_picture_stops_the_plan() -> None:
    edges = {"left_deg": -4.0, "right_deg": 4.0, "top_deg": 45.0, "bottom_deg": 35.0}
    text = edit_shoot(CALM, {"grid": edges}).replace("[shoot]", f"[shoot]\n{SPA_START}")
    text += SPA_EXAMPLE
    briefing = brief(make_plan(parse_shoot(text)))
    said = briefing.advice[0]
    assert (said.severity, said.says[:26]) == ("stop", "The sun is in the picture:")
    assert briefing.light is not None
    sun = briefing.light.sun[0]
    assert sun.azimuth_deg == pytest.approx(194.340241, abs=0.001)
    cells = [briefing.plan.cells[near.cell] for near in briefing.light.sun_cells if near.in_frame]
    # A frame is 13.9° × 10.4°: the sun is within half of that of the bearing 0, elevation 39.9.
    assert cells
    for cell in cells:
        assert abs(cell.bearing_deg) < 7.0 / 0.7
        assert abs(cell.elevation_deg - 39.9) < 5.3


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"sweep": {"interval_s": 1.0}, "exposure": {"f_number": 8.0}},
        {"grid": {"overlap": 0.5, "rows": 2, "columns": 9}, "card": {"free_gb": 0.1}},
        {"lens": {"focal_length_mm": 8.0}, "wish": {"smallest_mm": 12.0, "distance_m": 200.0}},
        {"exposure": {"ev100": 0.0}},
    ],
)
def test_advice_reads_as_sentences(changes: dict[str, dict[str, object]]) -> None:
    """A sentence, a reason without its full stop, and sentences of what to do."""
    for said in _brief(**changes).advice:
        assert said.says[0].isupper()
        assert said.says.endswith(".")
        assert not said.because.endswith(".")
        assert said.try_ == "" or said.try_.endswith(".")
        assert ".." not in said.says + said.because + said.try_
