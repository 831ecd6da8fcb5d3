"""What every test may ask for."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import settings

# The same examples in every run: a gate must not depend on luck. `--hypothesis-profile=explore`
# looks for new ones.
settings.register_profile("gate", derandomize=True, deadline=None)
settings.register_profile("explore", deadline=None)
settings.load_profile("gate")

_ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="session")
def photos() -> Path:
    """The folder of real photographs; tests that need it skip where it is not."""
    folder = Path(os.environ.get("BELVEDERE_PHOTOS", _ROOT.parent / "shared" / "photos"))
    if not folder.is_dir():
        pytest.skip("no folder of real photographs: set BELVEDERE_PHOTOS to one")
    return folder
