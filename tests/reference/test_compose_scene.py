"""A rehearsed shoot, assembled, against the scene it was taken of and against OpenCV.

The scene is the truth (a picture the simulated camera looked at); cv2.detail's multiband blender
(OpenCV 5.0, after Burt and Adelson 1983), given the same warped frames and the same seams, is
what another implementation makes of them. How true the rotations are is the orient room's to
assert. bench/mosaic_truth.py does the same at larger sizes.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]


def bench() -> ModuleType:
    spec = importlib.util.spec_from_file_location(
        "mosaic_truth", ROOT / "bench" / "mosaic_truth.py"
    )
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["mosaic_truth"] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def figures(tmp_path_factory: pytest.TempPathFactory) -> Any:
    return bench().measure("sketch", 4, tmp_path_factory.mktemp("truth"), (480, 360))


def test_no_seam_shows_in_smooth_areas(figures: Any) -> None:
    """Bounded on both sides: noise alone leaves a few tenths of a grey level."""
    assert figures.seam_tiles >= 8
    assert 0.02 < figures.seam_step_median < 0.6
    assert figures.seam_step_max < 2.0


def test_as_true_as_opencvs_blender(figures: Any) -> None:
    """Within a quarter of a decibel of it, against the scene; and much like it."""
    assert figures.psnr_db > figures.opencv_psnr_db - 0.25
    assert figures.against_opencv_psnr_db > 36.0
