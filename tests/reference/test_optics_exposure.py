"""Exposure arithmetic, the light-value table and the marks on the dials, by value."""

from __future__ import annotations

import math
import tomllib

import pytest

from belvedere.foundation import PlanError
from belvedere.optics import (
    LIGHT_CONDITIONS,
    apex_av,
    apex_bv,
    apex_ev,
    apex_sv,
    apex_tv,
    ev100,
    ev100_of,
    ev100_of_illuminance,
    ev100_of_luminance,
    f_number_for,
    f_number_words,
    illuminance_lx,
    iso_for,
    luminance_cd_m2,
    nearest_nominal_f_number,
    nearest_nominal_iso,
    nearest_nominal_shutter_s,
    nominal_f_numbers,
    shutter_s_for,
    shutter_words,
)

#: N, t, S; Av, Tv, Sv, Ev, Bv, EV100, luminance (K = 12.5). After Exif 2.3, annex C (APEX), from
#: memory; marks are taken as they stand (f/5.6 is not 2^2.5).
APEX = [
    (16.0, 1 / 100, 100.0, 8.0, 6.6439, 5.0, 14.6439, 9.6439, 14.6439, 3200.0),
    (16.0, 1 / 125, 100.0, 8.0, 6.9658, 5.0, 14.9658, 9.9658, 14.9658, 4000.0),
    (8.0, 1 / 125, 100.0, 6.0, 6.9658, 5.0, 12.9658, 7.9658, 12.9658, 1000.0),
    (11.0, 1 / 250, 100.0, 6.9189, 7.9658, 5.0, 14.8846, 9.8846, 14.8846, 3781.25),
    (5.6, 1 / 60, 400.0, 4.9709, 5.9069, 7.0, 10.8777, 3.8777, 8.8777, 58.80),
    (1.0, 1.0, 100.0, 0.0, 0.0, 5.0, 0.0, -5.0, 0.0, 0.125),
    (2.8, 30.0, 100.0, 2.9709, -4.9069, 5.0, -1.9360, -6.9360, -1.9360, 0.0327),
]


@pytest.mark.parametrize(
    ("stop", "time", "iso", "av", "tv", "sv", "ev", "bv", "at_100", "luminance"), APEX
)
def test_apex_by_value(
    stop: float,
    time: float,
    iso: float,
    av: float,
    tv: float,
    sv: float,
    ev: float,
    bv: float,
    at_100: float,
    luminance: float,
) -> None:
    assert apex_av(stop) == pytest.approx(av, abs=6e-5)
    assert apex_tv(time) == pytest.approx(tv, abs=6e-5)
    assert apex_sv(iso) == pytest.approx(sv, abs=6e-5)
    assert apex_ev(stop, time) == pytest.approx(ev, abs=6e-5)
    assert apex_bv(stop, time, iso) == pytest.approx(bv, abs=6e-5)
    assert ev100(stop, time, iso) == pytest.approx(at_100, abs=6e-5)
    assert luminance_cd_m2(ev100(stop, time, iso)) == pytest.approx(
        luminance, rel=1.6e-3
    )  # printed to three figures


#: Av, Tv and Sv of marks, after the tables of Exif 2.3, annex C, from memory: whole numbers.
APEX_AV = {1.0: 0, 1.4: 1, 2.0: 2, 2.8: 3, 4.0: 4, 5.6: 5, 8.0: 6, 11.0: 7, 16.0: 8, 22.0: 9}
APEX_TV = {30.0: -5, 15.0: -4, 8.0: -3, 4.0: -2, 2.0: -1, 1.0: 0, 1 / 2: 1, 1 / 4: 2, 1 / 8: 3}
APEX_TV |= {1 / 15: 4, 1 / 30: 5, 1 / 60: 6, 1 / 125: 7, 1 / 250: 8, 1 / 500: 9, 1 / 1000: 10}
APEX_SV = {50.0: 4, 100.0: 5, 200.0: 6, 400.0: 7, 800.0: 8}


def test_marks_are_the_whole_numbers_of_apex_to_a_tenth() -> None:
    for marks, value in ((APEX_AV, apex_av), (APEX_TV, apex_tv), (APEX_SV, apex_sv)):
        for mark, whole in marks.items():
            assert value(mark) == pytest.approx(whole, abs=0.1)


def test_sunny_sixteen() -> None:
    """The trade's rule: in full sun f/16 and one over the ISO speed; the table says EV 15."""
    for iso in (50.0, 100.0, 400.0):
        assert ev100(16.0, 1.0 / iso, iso) == pytest.approx(ev100_of("sunny"), abs=0.5)
        assert nearest_nominal_shutter_s(shutter_s_for(14.64, 16.0, iso)) == 1.0 / iso
    assert f_number_for(15.0, 1 / 128, 100.0) == pytest.approx(16.0)
    assert iso_for(15.0, 16.0, 1 / 512) == pytest.approx(400.0)


def test_the_same_light_by_other_settings() -> None:
    """f/11 and 1/15 s is f/5.6 and 1/60 s: two stops each way, by the marks of every dial."""
    shutter_s = shutter_s_for(ev100(11.0, 1 / 15, 100.0), 5.6, 100.0)
    assert shutter_s == pytest.approx(1 / 58, rel=0.02)
    assert nearest_nominal_shutter_s(shutter_s) == 1 / 60


#: EV100, luminance for K = 12.5 and illuminance for C = 250, as encyclopedias print the table.
LIGHT = [
    (-4.0, 0.008, 0.156),
    (0.0, 0.125, 2.5),
    (5.0, 4.0, 80.0),
    (10.0, 128.0, 2560.0),
    (12.0, 512.0, 10240.0),
    (14.0, 2048.0, 40960.0),
]


@pytest.mark.parametrize(("ev", "luminance", "illuminance"), LIGHT)
def test_luminance_and_illuminance_by_value(
    ev: float, luminance: float, illuminance: float
) -> None:
    # -4 is printed to three decimals.
    assert luminance_cd_m2(ev) == pytest.approx(luminance, abs=5e-4)
    assert illuminance_lx(ev) == pytest.approx(illuminance, abs=5e-4)
    assert ev100_of_luminance(luminance) == pytest.approx(ev, abs=0.05)
    assert ev100_of_illuminance(illuminance) == pytest.approx(ev, abs=0.01)


def test_the_other_meter_constant_in_use() -> None:
    """Makers of meters use K = 12.5 and 14 (ISO 2720:1974 allows 10.6 to 13.4): 0.163 EV."""
    apart = ev100_of_luminance(100.0) - ev100_of_luminance(100.0, k=14.0)
    assert apart == pytest.approx(0.163, abs=5e-4)


#: ANSI PH2.7-1973/1986 at ISO 100, by way of an encyclopedia's copy.
TABLE = {
    "sun on snow": (16, 16),
    "sunny": (15, 15),
    "hazy sun": (14, 14),
    "cloudy bright": (13, 13),
    "overcast": (12, 12),
    "open shade": (12, 12),
    "just before sunset": (12, 14),
    "sunset": (12, 12),
    "after sunset": (9, 11),
    "full moon disc": (15, 15),
    "neon signs": (9, 10),
    "bright street at night": (8, 8),
    "street at night": (7, 8),
    "floodlit building": (3, 5),
    "distant lit buildings": (2, 2),
    "moonlit landscape": (-3, -2),
    "office": (7, 8),
    "home": (5, 7),
}


def test_light_conditions_are_those_of_the_table() -> None:
    assert dict(LIGHT_CONDITIONS) == TABLE
    assert ev100_of("floodlit building") == 4.0
    assert ev100_of("moonlit landscape") == -2.5


def test_the_side_the_sun_comes_from_counts_where_there_are_shadows() -> None:
    # The table's footnote: side light one less, back light two.
    assert [ev100_of("sunny", side) for side in ("front", "side", "back")] == [15.0, 14.0, 13.0]
    assert ev100_of("overcast", "back") == 12.0
    assert ev100_of("home", "side") == 6.0


def test_names_can_stand_in_a_toml_file() -> None:
    for name in LIGHT_CONDITIONS:
        assert tomllib.loads(f'light = "{name}"')["light"] == name


def test_an_unknown_condition_is_answered_with_the_nearest() -> None:
    with pytest.raises(PlanError, match=r'"suny" is not in the table\. Nearest: sunny'):
        ev100_of("suny")
    with pytest.raises(PlanError, match="Nearest: overcast"):
        ev100_of("Over-cast")
    with pytest.raises(PlanError, match="Choose from: sun on snow, sunny"):
        ev100_of("zzz")
    with pytest.raises(PlanError, match='Light from "above" is not known'):
        ev100_of("sunny", "above")  # type: ignore[arg-type]


def test_marks_are_thirds_of_a_stop() -> None:
    # Cameras' marks from memory. A mark is rounded, but never by half of its step.
    stops = nominal_f_numbers(1.0, 32.0)
    assert len(stops) == 31
    for third, mark in enumerate(stops):
        assert apex_av(mark) == pytest.approx(third / 3.0, abs=1 / 6)
    for third in range(-15, 40):
        exact_s = 2.0 ** (-third / 3.0)
        mark_s = nearest_nominal_shutter_s(exact_s)
        assert apex_tv(mark_s) == pytest.approx(third / 3.0, abs=1 / 6)
        assert nearest_nominal_shutter_s(mark_s) == mark_s
    for third in range(-3, 31):
        mark = nearest_nominal_iso(100.0 * 2.0 ** (third / 3.0))
        assert math.log2(mark / 100.0) == pytest.approx(third / 3.0, abs=0.1)


def test_nearest_marks_and_their_words() -> None:
    assert nearest_nominal_f_number(5.657) == 5.6
    assert nearest_nominal_f_number(12.0) == 13.0  # in stops; in numbers it is half way
    assert nearest_nominal_shutter_s(1 / 64) == 1 / 60
    assert nearest_nominal_shutter_s(1 / 115) == 1 / 125
    assert nearest_nominal_shutter_s(94.7) == 95.0
    words = {1 / 8000: "1/8000 s", 1 / 250: "1/250 s", 1 / 37: "1/37 s", 1 / 4: "1/4 s"}
    words |= {0.28: "0.28 s", 0.5: "0.5 s", 1.3: "1.3 s", 2.0: "2 s", 30.0: "30 s", 100.0: "100 s"}
    for seconds, text in words.items():
        assert shutter_words(seconds) == text
    for stop, text in {
        0.95: "f/0.95",
        2.8: "f/2.8",
        5.6: "f/5.6",
        8.0: "f/8",
        22.0: "f/22",
    }.items():
        assert f_number_words(stop) == text
    with pytest.raises(PlanError, match="exposure time is 0 s"):
        shutter_words(0.0)
