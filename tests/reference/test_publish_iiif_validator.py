"""Our static sites against iiif-validator 1.0.5, the IIIF community's own Image API checks.

https://github.com/IIIF/image-validator: version 3.0, compliance level 0 (five tests). It knows
one picture, of 10 x 10 coloured squares, whose colours stand in its own code.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from urllib.parse import urlsplit

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from publish_sites import publish_site, serving

SCRIPT = Path(sys.executable).parent / "iiif-validate.py"


def validators_squares() -> NDArray[np.uint8]:
    """The validator's picture, 1000 x 1000 px, by the colours it lists by column and row."""
    code = (
        "import json\nfrom iiif_validator.validator import ValidationInfo\n"
        "print(json.dumps(ValidationInfo().colorInfo))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    columns = np.array(json.loads(done.stdout.splitlines()[-1]), np.uint8)
    return np.kron(columns.transpose(1, 0, 2), np.ones((100, 100, 1), np.uint8))


def validate(site: Path) -> subprocess.CompletedProcess[str]:
    with serving(site) as address:
        info = site / "image" / "info.json"
        document = json.loads(info.read_text())
        # The validator asks whether the id is the address it was given: it is a free port here.
        info.write_text(json.dumps({**document, "id": address + "image"}))
        server = urlsplit(address).netloc
        return subprocess.run(
            [sys.executable, SCRIPT, "-s", server, "-i", "image", "--version=3.0", "--level=0"],
            capture_output=True,
            text=True,
            check=False,
            timeout=60,
        )


@pytest.fixture
def site(tmp_path: Path) -> Path:
    picture = tmp_path / "squares.png"
    Image.fromarray(validators_squares()).save(picture)
    publish_site(picture, tmp_path / "site")
    return tmp_path / "site"


def test_a_site_passes_all_level_0_tests(site: Path) -> None:
    done = validate(site)
    said = done.stdout + done.stderr
    assert done.returncode == 0, said
    assert said.count("PASS") == 5


def test_the_validator_notices_a_missing_whole_picture(site: Path) -> None:
    (site / "image/full/max/0/default.jpg").unlink()
    assert validate(site).returncode > 0
