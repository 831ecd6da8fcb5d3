"""A real grid, swept by a real camera: 18 frames of grid-brighton.

Source: pierotofy/drone_dataset_brighton_beach, (c) 2017 Piero Toffanin, BSD 2-clause. By its notes
the camera flew 3 columns of 6 rows, serpentine, 7 to 9 s apart: frames 0018 to 0035 in that order.
It travelled, so the moves are not those of a rotation, and near things shift against far ones. In
the pictures the first column runs upwards.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from belvedere.check import place, sightings
from belvedere.foundation import finish
from belvedere.imagefiles import CardReading, read_card_with_pictures
from belvedere.shoot import Plan, make_plan, parse_shoot
from belvedere.workflows.check import CheckedCard, examine_card

pytestmark = pytest.mark.photos

#: Sensor and focal length as a flat scene from afar would need them for these steps.
FROM_AFAR = {"focal": 36.1, "across": 8.56, "down": 8.08}
#: Sensor and focal length by the EXIF; the grid's edges by guess, so that 6 × 3 frames fit.
BY_EXIF = {"focal": 3.61, "across": 66.0, "down": 45.0}


def shoot_text(values: dict[str, float], start: str = "bottom-left") -> str:
    return f"""
    [shoot]
    title = "A beach from above"
    [camera]
    sensor_width_mm = 6.17
    image_width_px = 4000
    image_height_px = 2250
    [lens]
    focal_length_mm = {values["focal"]}
    [grid]
    left_deg = {-values["across"]}
    right_deg = {values["across"]}
    top_deg = {values["down"]}
    bottom_deg = {-values["down"]}
    overlap = 0.5
    rows = 6
    columns = 3
    [sweep]
    order = "columns"
    start = "{start}"
    serpentine = true
    interval_s = 7.0
    """


@pytest.fixture(scope="module")
def reading(photos: Path) -> CardReading:
    return finish(read_card_with_pictures(photos / "grid-brighton"))


def placed(reading: CardReading, plan: Plan, gone: int | None) -> tuple[list[int], float]:
    kept = [r for i, r in enumerate(reading.readings) if i != gone]
    frames = [r.frame for r in kept]
    seen = sightings(frames, {r.frame.file: r.small for r in kept})
    placing = finish(place(frames, seen, plan))
    return placing.cell.tolist(), float(placing.confidence.min())


@pytest.mark.parametrize("gone", [None, *range(18)])
def test_names_the_frame_taken_away(reading: CardReading, gone: int | None) -> None:
    cells, confidence = placed(reading, make_plan(parse_shoot(shoot_text(FROM_AFAR))), gone)
    assert cells == [k for k in range(18) if k != gone]
    assert confidence > 0.7


@pytest.mark.parametrize("gone", [None, 0, 17])
def test_edges_guessed_and_lens_by_exif_do_as_well(reading: CardReading, gone: int | None) -> None:
    """The steps are then 1.4 and 2 times those planned: they are learnt."""
    cells, _ = placed(reading, make_plan(parse_shoot(shoot_text(BY_EXIF))), gone)
    assert cells == [k for k in range(18) if k != gone]


def test_start_corner_mixed_up_is_noticed_not_fatal(reading: CardReading) -> None:
    cells, _ = placed(reading, make_plan(parse_shoot(shoot_text(FROM_AFAR, "top-left"))), None)
    assert cells == list(range(18))


@pytest.fixture(scope="module")
def checked(photos: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[CheckedCard]:
    shoot = tmp_path_factory.mktemp("shoot") / "shoot.toml"
    shoot.write_text(shoot_text(FROM_AFAR), "utf-8")
    before = sorted(p.name for p in (photos / "grid-brighton").iterdir())
    yield finish(examine_card(photos / "grid-brighton", shoot))
    assert sorted(p.name for p in (photos / "grid-brighton").iterdir()) == before


def test_check_says_parallax_and_places_all(checked: CheckedCard) -> None:
    report = checked.report
    assert [cell for cell in report.cells if cell.state == "missing"] == []
    assert report.other_frames == ()
    assert "parallax" in {finding.kind for finding in report.findings}


def test_check_says_that_the_exposure_drifted(checked: CheckedCard) -> None:
    kinds = {finding.kind for finding in checked.report.findings}
    assert kinds & {"exposure", "settings"}
