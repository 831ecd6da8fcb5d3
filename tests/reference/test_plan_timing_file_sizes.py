"""What we assume of file sizes against a real sweep: 18 frames of grid-brighton, 9 megapixels.

Source: pierotofy/drone_dataset_brighton_beach, (c) 2017 Piero Toffanin, BSD 2-clause. Three columns
of six frames, one after the other.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from belvedere.shoot import Camera
from belvedere.shoot.card import USUAL_FILE_SPREAD, mean_file_mb
from belvedere.shoot.conditions import CardWish

pytestmark = pytest.mark.photos


@pytest.fixture
def sizes_mb(photos: Path) -> np.ndarray:
    files = sorted((photos / "grid-brighton").glob("*.JPG"))
    if len(files) != 18:
        pytest.skip("the 18 frames are not there")
    return np.array([file.stat().st_size for file in files]) / 1e6


def test_megabytes_per_megapixel(sizes_mb: np.ndarray) -> None:
    """Our 0.4 within a tenth; one camera and one scene, so no closer."""
    assumed_mb, _ = mean_file_mb(Camera(6.17, 3.47, 4000, 2250), CardWish())
    assert assumed_mb == pytest.approx(sizes_mb.mean(), rel=0.1)


def test_neighbours_are_alike(sizes_mb: np.ndarray) -> None:
    """Within a column sizes hardly differ; between columns they do."""
    columns = np.log(sizes_mb).reshape(3, 6)
    assert columns.std(axis=1).max() < 0.4 * columns.std()


def test_the_spread_we_assume_covers_this_shoot(sizes_mb: np.ndarray) -> None:
    spread = np.log(sizes_mb).std()
    assert 0.3 * USUAL_FILE_SPREAD < spread < USUAL_FILE_SPREAD
