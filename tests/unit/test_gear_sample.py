"""A sample picture: what it tells of camera, lens and light, and what it does not."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from belvedere.foundation import BelvedereError, CardError, PlanError
from belvedere.workflows.gear import as_toml, find_cameras, sample_values
from belvedere.workflows.sample_picture import Sample, read_sample

Written = Callable[..., Path]

#: Exif tags by number: CIPA DC-008 (Exif 2.32), tables 4 to 8.
TAGS = {
    "exposure": 33434,
    "f_number": 33437,
    "iso": 34855,
    "bias": 37380,
    "focal": 37386,
    "width": 40962,
    "height": 40963,
    "plane_x": 41486,
    "plane_y": 41487,
    "plane_unit": 41488,
    "zoom": 41988,
    "equivalent": 41989,
}


@pytest.fixture
def picture(tmp_path: Path) -> Written:
    """A small JPEG with the EXIF that is asked for."""

    def write(size: tuple[int, int] = (600, 400), orientation: int = 1, **tags: Any) -> Path:
        exif = Image.Exif()
        exif[271], exif[272], exif[274] = "Saltmere Optical", "Quay 1", orientation
        block = exif.get_ifd(0x8769)
        for name, value in tags.items():
            block[TAGS[name]] = value
        path = tmp_path / f"picture-{len(list(tmp_path.iterdir()))}.jpg"
        Image.new("RGB", size, (90, 120, 150)).save(path, exif=exif)
        return path

    return write


def test_a_sensor_from_the_equivalent(picture: Written) -> None:
    """By hand: 200 mm that see like 305 mm have a crop factor of 1.525; 43.2666 / 1.525 on the
    diagonal, 3:2, is 23.607 × 15.738 mm. Half a millimetre of 305 is 0.16 %; two per cent are the
    makers' own rounding of crop factors."""
    sample = read_sample(picture(focal=200.0, equivalent=305))
    assert sample.sensor is not None
    assert sample.sensor.width_mm == pytest.approx(23.607, abs=1e-3)
    assert sample.sensor.height_mm == pytest.approx(15.738, abs=1e-3)
    assert sample.sensor.uncertainty == pytest.approx(0.5 / 305.0 + 0.02)
    assert "whole number (±0.2%)" in sample.sensor.source
    assert any("zoom range" in missing for missing in sample.unknown)


@pytest.mark.parametrize(("unit", "per_unit"), [(2, 254.0 * 10.0), (3, 1000.0), (4, 100.0)])
def test_a_sensor_from_the_focal_plane(picture: Written, unit: int, per_unit: float) -> None:
    """100 px per mm, in inches, centimetres, millimetres: 600 px are 6 mm."""
    path = picture(focal=20.0, plane_x=per_unit, plane_y=per_unit, plane_unit=unit, equivalent=120)
    sensor = read_sample(path).sensor
    assert sensor is not None
    assert (sensor.width_mm, sensor.height_mm) == pytest.approx((6.0, 4.0), rel=1e-6)
    assert "focal plane" in sensor.source


def test_a_focal_plane_from_before_a_resize_is_not_believed(picture: Written) -> None:
    stated = {"focal": 50.0, "plane_x": 160.0, "plane_y": 160.0, "plane_unit": 4}
    stale = read_sample(picture(width=6000, height=4000, **stated))
    assert stale.sensor is None
    assert any("6000 × 4000 px" in missing for missing in stale.unknown)
    # With an equivalent the sensor is known all the same: 43.2666 / 1.5, 3:2.
    rescued = read_sample(picture(equivalent=75, **stated))
    assert rescued.sensor is not None
    assert rescued.sensor.width_mm == pytest.approx(24.0, abs=0.01)
    assert "35 mm equivalent" in rescued.sensor.source


def test_no_camera_has_such_a_sensor(picture: Written) -> None:
    for per_mm in (1000.0, 2.0):
        path = picture(focal=50.0, plane_x=per_mm, plane_y=per_mm, plane_unit=4)
        sample = read_sample(path)
        assert sample.sensor is None
        assert any("fits no sensor" in missing for missing in sample.unknown)


def test_digital_zoom_is_seen_through(picture: Written) -> None:
    sample = read_sample(picture(focal=20.0, equivalent=250, zoom=2.0))
    assert sample.sensor is None
    assert any("digital zoom of 2.0×" in missing for missing in sample.unknown)


def test_the_light_is_metered(picture: Written) -> None:
    """f/16, 1/125 s, ISO 100: EV 14.97 by APEX; with +1 EV dialled in the meter wanted half as
    much light, so the scene is 15.97."""
    plain = {"focal": 50.0, "f_number": 16.0, "exposure": 1.0 / 125.0, "iso": 100}
    metered = read_sample(picture(**plain)).metered_ev100
    assert metered == pytest.approx(14.9658, abs=1e-3)
    corrected = read_sample(picture(bias=1.0, **plain)).metered_ev100
    assert corrected == pytest.approx(15.9658, abs=1e-3)
    assert read_sample(picture(focal=50.0, f_number=16.0)).metered_ev100 is None
    nonsense = read_sample(picture(focal=50.0, f_number=16.0, exposure=1e-6, iso=100))
    assert nonsense.metered_ev100 is None


@pytest.mark.parametrize(
    ("size", "orientation", "portrait"),
    [((600, 400), 1, False), ((600, 400), 6, True), ((400, 600), 1, True), ((400, 600), 8, False)],
)
def test_how_the_camera_was_held(
    picture: Written, size: tuple[int, int], orientation: int, portrait: bool
) -> None:
    sample = read_sample(picture(size, orientation, focal=50.0, equivalent=75))
    assert sample.is_portrait is portrait
    assert (sample.long_side_px, sample.short_side_px) == (600, 400)
    assert sample.sensor is not None
    assert sample.sensor.width_mm > sample.sensor.height_mm


def test_a_cut_picture_may_hide_a_larger_sensor(picture: Written) -> None:
    wide = read_sample(picture((1600, 900), focal=50.0, equivalent=75))
    assert any("another shape" in missing for missing in wide.unknown)
    whole = read_sample(picture((800, 600), focal=50.0, equivalent=75))
    assert not any("another shape" in missing for missing in whole.unknown)


def test_lines_for_a_shoot_file_from_a_sample(picture: Written) -> None:
    path = picture((4000, 6000), focal=200.0, equivalent=305, f_number=8.0, exposure=0.01, iso=200)
    assert tomllib.loads(as_toml(sample_values(read_sample(path)))) == {
        "camera": {
            "sensor_width_mm": 23.607,
            "image_width_px": 6000,
            "image_height_px": 4000,
            "mounting": "portrait",
        },
        "lens": {"focal_length_mm": 200.0},
        # 6 + 6.644 - 1, by APEX.
        "exposure": {"ev100": 11.6},
    }


def test_what_is_no_sample_gets_a_sentence(tmp_path: Path, picture: Written) -> None:
    bare = tmp_path / "bare.png"
    Image.new("RGB", (60, 40)).save(bare)
    with pytest.raises(PlanError, match="says nothing of the camera"):
        read_sample(bare)
    with pytest.raises(CardError, match="does not exist"):
        read_sample(tmp_path / "none.jpg")
    with pytest.raises(CardError, match="is a folder"):
        read_sample(tmp_path)
    text = tmp_path / "text.jpg"
    text.write_text("not a picture", "utf-8")
    with pytest.raises(CardError, match="cannot be read as a picture"):
        read_sample(text)
    raw = tmp_path / "frame.raw"
    raw.write_bytes(picture(focal=50.0).read_bytes())
    with pytest.raises(CardError, match="not a raw file"):
        read_sample(raw)


@pytest.mark.photos
def test_one_camera_has_one_sensor_at_every_zoom(photos: Path) -> None:
    """Nine real pictures of one compact camera, from 28 to 112 mm equivalent: the same sensor
    within what the rounding of each allows. Source: the EXIF of the pictures themselves."""
    samples = [read_sample(path) for path in sorted((photos / "exif-samples/jpg/gps").iterdir())]
    assert len({sample.model for sample in samples}) == 1
    sensors = [sample.sensor for sample in samples if sample.sensor is not None]
    assert len(sensors) == len(samples) == 9
    finest = min(sensors, key=lambda sensor: sensor.uncertainty)
    for sensor in sensors:
        apart = abs(sensor.width_mm / finest.width_mm - 1.0)
        # Focal lengths are rounded to a tenth of a millimetre as well: 0.05 of 6 mm.
        assert apart <= sensor.uncertainty + finest.uncertainty + 0.05 / 6.0
    # A 1/1.7-inch sensor is 7.44 to 7.6 mm wide (common practice, no source); another camera's
    # 1/2.3-inch would be 6.2 and a 2/3-inch 8.8.
    assert 7.2 < finest.width_mm < 7.8


@pytest.mark.photos
def test_the_sensor_agrees_with_the_lens_database(photos: Path) -> None:
    """Crop factors of an independent database (lensfun) for the cameras that took the pictures.

    Both compare diagonals, so whole pictures must agree. Pictures in another shape, and cameras
    of which the database does not know exactly one entry, are left out.
    """
    compared = 0
    for pattern in ("exif-makers/*", "exif-samples/jpg/gps/*", "petra/*", "arches/*"):
        for path in sorted(photos.glob(pattern)):
            sample = _sample(path)
            if sample is None or sample.sensor is None or any("shape" in u for u in sample.unknown):
                continue
            named = [c for c in find_cameras(sample.model) if _same(c.model, sample.model)]
            if len(named) != 1:
                continue
            diagonal_mm = math.hypot(sample.sensor.width_mm, sample.sensor.height_mm)
            crop = math.hypot(36.0, 24.0) / diagonal_mm
            # The database rounds as well, to two or three figures.
            assert crop == pytest.approx(named[0].crop_factor, rel=sample.sensor.uncertainty + 0.01)
            compared += 1
    assert compared >= 10


def _same(one: str, other: str) -> bool:
    return one.casefold() == other.casefold()


def _sample(path: Path) -> Sample | None:
    try:
        return read_sample(path)
    except BelvedereError:
        return None


@pytest.mark.photos
def test_strange_files_get_a_sample_or_a_sentence(photos: Path) -> None:
    told = 0
    for path in sorted((photos / "exif-samples").rglob("*")):
        if path.is_file() and (sample := _sample(path)) is not None:
            told += 1
            assert sample.says
            assert sample.unknown
            assert tomllib.loads(as_toml(sample_values(sample)))
    assert told >= 20
