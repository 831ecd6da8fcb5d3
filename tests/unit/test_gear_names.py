"""Camera and lens by name. The entries come from the database at run time, none stands here."""

from __future__ import annotations

import math
import tomllib
from collections import Counter
from typing import Any

import pytest

from belvedere.foundation import PlanError
from belvedere.workflows.gear import (
    CameraChoice,
    LensChoice,
    as_toml,
    camera_name,
    camera_says,
    camera_unknown,
    camera_values,
    find_cameras,
    find_lenses,
    lens_says,
    lens_values,
    sensor_size_mm,
)

lensfunpy = pytest.importorskip("lensfunpy")


@pytest.fixture(scope="module")
def database() -> Any:
    return lensfunpy.Database()


def _query(camera: Any) -> str:
    return f"{camera.maker} {camera.model} {camera.variant or ''}"


def _ambiguous(database: Any) -> tuple[str, int]:
    """A maker and model that the database holds in several variants, and how many."""
    names = Counter((camera.maker, camera.model) for camera in database.cameras)
    (maker, model), count = names.most_common(1)[0]
    assert count > 1
    return f"{maker} {model}", count


def test_a_unique_name_finds_its_camera(database: Any) -> None:
    """Every hundredth entry by its full name: it is among the first, with its own figures."""
    for camera in database.cameras[::100]:
        found = find_cameras(_query(camera))
        same = [c for c in found if (c.maker, c.model) == (camera.maker, camera.model)]
        assert same
        assert found[0] in same
        assert any(c.crop_factor == pytest.approx(camera.crop_factor, rel=1e-5) for c in same)
        assert any(c.mount == camera.mount for c in same)


def test_a_name_of_several_names_them_all(database: Any) -> None:
    query, count = _ambiguous(database)
    found = find_cameras(query)
    assert len(found) >= count
    lines = [camera_says(choice) for choice in found]
    assert len(set(lines)) == len(lines)


def test_case_and_order_of_words_do_not_matter(database: Any) -> None:
    camera = database.cameras[len(database.cameras) // 2]
    words = _query(camera).split()
    as_written = find_cameras(" ".join(words))
    assert find_cameras(" ".join(reversed(words)).upper()) == as_written
    assert (camera.maker, camera.model) in {(c.maker, c.model) for c in as_written}


def test_a_name_that_fits_nothing_finds_nothing_or_what_is_alike() -> None:
    assert find_cameras("qqqqzzzz xxxxjjjj") == ()
    with pytest.raises(PlanError, match="No camera was named"):
        find_cameras("  ")


def test_lenses_are_those_of_the_mount(database: Any) -> None:
    body = next(c for c in database.cameras if len(database.find_lenses(c)) > 50)
    choice = next(c for c in find_cameras(_query(body)) if c.model == body.model)
    every = find_lenses("", choice)
    mounted = {(lens.maker, lens.model) for lens in database.find_lenses(body)}
    assert {(lens.maker, lens.model) for lens in every} == mounted
    one = every[len(every) // 2]
    narrowed = find_lenses(one.model, choice)
    assert one in narrowed
    assert len(narrowed) < len(every)


def test_a_camera_with_its_lens_built_in_names_it(database: Any) -> None:
    body = next(c for c in database.cameras if len(database.find_lenses(c)) == 1)
    choice = next(c for c in find_cameras(_query(body)) if c.model == body.model)
    (lens,) = find_lenses("", choice)
    raw = database.find_lenses(body)[0]
    assert lens.shortest_mm == pytest.approx(raw.min_focal, rel=1e-5)
    assert lens.longest_mm == pytest.approx(raw.max_focal, rel=1e-5)


def test_a_camera_that_is_not_there_is_refused() -> None:
    with pytest.raises(PlanError, match="no camera Saltmere Optical Quay 1"):
        find_lenses("", CameraChoice("Saltmere Optical", "Quay 1", "", "none", 1.0))


#: Sensors as printed in reference tables, width, height in mm and crop factor by the diagonal
#: (against 43.267 mm): 36 × 24, APS-C of two sizes, Four Thirds, one inch, 1/1.7 inch.
SENSORS = [
    (36.0, 24.0, 1.0),
    (23.6, 15.7, 1.526),
    (22.3, 14.9, 1.613),
    (17.3, 13.0, 1.999),
    (13.2, 8.8, 2.727),
    (7.6, 5.7, 4.554),
]


@pytest.mark.parametrize(("width_mm", "height_mm", "crop"), SENSORS)
def test_a_sensor_from_its_crop_factor(width_mm: float, height_mm: float, crop: float) -> None:
    # Crop factors to three decimals: half a unit of the last is 0.05 %. Pixels of 5 µm.
    found = sensor_size_mm(crop, round(width_mm * 200.0), round(height_mm * 200.0))
    assert found == pytest.approx((width_mm, height_mm), rel=6e-4)


def test_what_the_database_does_not_know_is_said() -> None:
    choice = CameraChoice("Saltmere Optical", "Quay 1", "", "Mole", 1.526)
    unknown = " ".join(camera_unknown(choice))
    assert "pixels" in unknown
    assert "crop factor 1.53" in unknown
    assert camera_name(choice) == "Saltmere Optical Quay 1"
    assert camera_says(choice) == "Saltmere Optical Quay 1: crop factor 1.53, mount Mole"
    assert camera_name(CameraChoice("Quay Works", "Quay 1", "3:2", "Mole", 1.5)) == "Quay 1 (3:2)"


def test_a_lens_in_a_line() -> None:
    zoom = LensChoice("Saltmere", "Long", 70.0, 300.0, 4.0, True)
    assert lens_says(zoom) == "Saltmere Long: 70 to 300 mm, from f/4"
    prime = LensChoice("Saltmere", "Round", 8.0, 8.0, None, False)
    assert "8 mm, apertures unknown; a fisheye" in lens_says(prime)


def test_lines_for_a_shoot_file() -> None:
    choice = CameraChoice("Saltmere Optical", "Quay 1", "", "Mole", 1.526)
    zoom = LensChoice("Saltmere", "Long", 70.0, 300.0, 4.0, True)
    camera = camera_values(choice, 6000, 4000)
    assert tomllib.loads(as_toml({**camera, **lens_values(zoom, 200.0)})) == {
        "camera": {
            # 43.2666 / 1.526 × 3 / √13, by hand.
            "sensor_width_mm": 23.591,
            "image_width_px": 6000,
            "image_height_px": 4000,
        },
        "lens": {
            "focal_length_mm": 200.0,
            "shortest_mm": 70.0,
            "longest_mm": 300.0,
            "widest_f_number": 4.0,
        },
    }
    prime = LensChoice("Saltmere", "Fixed", 300.0, 300.0, None, True)
    assert tomllib.loads(as_toml(lens_values(prime))) == {"lens": {"focal_length_mm": 300.0}}
    assert math.isclose(sensor_size_mm(1.526, 6000, 4000)[0], 23.591, abs_tol=1e-3)
