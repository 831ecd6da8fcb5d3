"""The judge on photographs that nobody here made."""

from __future__ import annotations

from pathlib import Path

import pytest

from belvedere.check import Finding, Judgement, judge
from belvedere.foundation import finish
from belvedere.imagefiles import FolderSource, read_card_with_pictures
from belvedere.imagefiles.catalogue import read_card
from belvedere.measure import find_overlaps
from belvedere.shoot import Frame

pytestmark = pytest.mark.photos


def _judged(folder: Path) -> tuple[tuple[Frame, ...], Judgement]:
    frames = finish(read_card(folder))
    source = FolderSource(folder)
    overlaps = finish(find_overlaps([frame.file for frame in frames], source))
    return frames, finish(judge(frames, overlaps, source))


def _of_kind(findings: tuple[Finding, ...], kind: str) -> dict[str, Finding]:
    return {finding.file: finding for finding in findings if finding.kind == kind}


def test_unlocked_exposure_of_three_frames_is_named_with_its_ev(photos: Path) -> None:
    # EXIF: 1/250 s f/8, then 1/320 s f/9 twice: 0.696 EV apart.
    _, judgement = _judged(photos / "petra")
    (finding,) = judgement.findings
    assert finding.kind == "exposure"
    assert finding.file == "DFM_4209.jpg"
    # A camera's tone curve is no exact sRGB: the pictures give 0.56 EV.
    assert finding.value == pytest.approx(0.696, abs=0.2)
    assert "+0.70 EV by the settings" in finding.says
    (settings,) = _of_kind(judgement.shoot_findings, "settings").values()
    assert "exposure was not locked" in settings.says
    assert settings.value == pytest.approx(0.7, abs=0.01)


def test_automatic_exposure_of_seven_frames_is_named_with_its_ev(photos: Path) -> None:
    # EXIF: 1/500 s, but frames 3 and 4 1/400 s, frames 5 and 6 1/800 s, all at f/2.8.
    _, judgement = _judged(photos / "kayak")
    (settings,) = _of_kind(judgement.shoot_findings, "settings").values()
    for words in (
        "kayak_03.jpg: 1/400 s f/2.8, +0.32 EV",
        "kayak_04.jpg: 1/400 s f/2.8, +0.32 EV",
        "kayak_05.jpg: 1/800 s f/2.8, -0.68 EV",
        "kayak_06.jpg: 1/800 s f/2.8, -0.68 EV",
    ):
        assert words in settings.says
    darker = _of_kind(judgement.findings, "exposure")
    assert {"kayak_05.jpg", "kayak_06.jpg"} <= set(darker)
    assert all((darker[f"kayak_0{n}.jpg"].value or 0.0) < -0.4 for n in (5, 6))
    assert not _of_kind(judgement.findings, "soft")
    assert not _of_kind(judgement.findings, "shaken")


def test_three_good_frames_have_no_findings(photos: Path) -> None:
    _, judgement = _judged(photos / "arches")
    assert judgement.findings == ()


def test_a_travelling_camera_is_parallax_and_not_softness(photos: Path) -> None:
    frames, judgement = _judged(photos / "grid-brighton")
    assert len(frames) == 18
    assert {finding.kind for finding in judgement.findings} <= {"exposure", "colour"}
    # EXIF: the first strip, 0018 to 0023, has 1/370 s to 1/279 s; the others 1/391 s to 1/546 s.
    brighter = {
        file: finding
        for file, finding in _of_kind(judgement.findings, "exposure").items()
        if "brighter" in finding.says
    }
    assert set(brighter) == {f"DJI_00{n}.JPG" for n in range(18, 24)}
    kinds = {finding.kind: finding for finding in judgement.shoot_findings}
    assert "parallax" in kinds
    assert (kinds["parallax"].value or 0.0) > 2.0
    # EXIF: every frame has its own time, from 1/546 s to 1/279 s.
    assert "exposure was not locked" in kinds["settings"].says
    assert kinds["settings"].value == pytest.approx(0.97, abs=0.02)


def test_frames_spoilt_on_purpose_are_found(photos: Path) -> None:
    _, judgement = _judged(photos / "bad-frames" / "images")
    assert {(finding.file[-19:-4], finding.kind) for finding in judgement.findings} == {
        ("_POOR_SHARPNESS", "soft"),
        ("0003_D_LENS_CAP", "exposure"),
        ("0008_D_LENS_CAP", "exposure"),
    }


@pytest.mark.parametrize("name", ["petra", "arches", "kayak", "grid-brighton"])
def test_nothing_is_wrong_with_the_look_of_real_shoots(photos: Path, name: str) -> None:
    """Hand-held or from a drone: no dust, no drops, no lamps; near things shift, nothing moved."""
    reading = finish(read_card_with_pictures(photos / name))
    source = FolderSource(photos / name)
    overlaps = finish(find_overlaps([frame.file for frame in reading.frames], source))
    small = {one.frame.file: one.small for one in reading.readings}
    judgement = finish(judge(reading.frames, overlaps, source, small))
    looks = {"dust", "drops", "flicker", "vignetting"}
    assert not [f for f in judgement.shoot_findings if f.kind in looks]
    assert judgement.remarks == ()
