"""Settings that change are named, with the files and what they do to the exposure."""

from __future__ import annotations

from belvedere.check.judge_settings import judge_settings
from belvedere.shoot import Frame, Settings


def _frame(number: int, **settings: float | str | bool | None) -> Frame:
    stated: dict[str, float | str | bool | None] = {
        "exposure_time_s": 1 / 250,
        "f_number": 8.0,
        "iso": 100.0,
        "focal_length_mm": 30.5,
    }
    stated.update(settings)
    return Frame(f"PIC_{number:04d}.JPG", "", 0, 640, 480, settings=Settings(**stated))  # type: ignore[arg-type]


def test_steady_settings_give_no_finding() -> None:
    assert judge_settings([_frame(number) for number in range(5)]) == []


def test_silent_files_give_no_finding() -> None:
    silent = [Frame(f"PIC_{number:04d}.JPG", "", 0, 640, 480) for number in range(3)]
    assert judge_settings(silent) == []


def test_a_changed_exposure_names_the_file_and_the_ev() -> None:
    frames = [_frame(1), _frame(2), _frame(3, exposure_time_s=1 / 500), _frame(4)]
    (finding,) = judge_settings(frames)
    assert finding.kind == "settings"
    assert finding.value == 1.0
    assert finding.unit == "EV"
    assert "PIC_0003.JPG: 1/500 s f/8 ISO 100, -1.00 EV" in finding.says
    assert "in 3 frames" in finding.says


def test_time_traded_for_aperture_is_said_as_an_aperture() -> None:
    # 1/125 s at f/11.3 lets in as much light as 1/250 s at f/8.
    frames = [_frame(1), _frame(2), _frame(3, exposure_time_s=1 / 125, f_number=8.0 * 2**0.5)]
    (finding,) = judge_settings(frames)
    assert finding.says.startswith("aperture changes")
    assert "PIC_0003.JPG: f/11.3" in finding.says


def test_exposure_set_anew_for_every_frame_is_one_short_sentence() -> None:
    frames = [_frame(n, exposure_time_s=1 / (100 * 1.2**n)) for n in range(12)]
    (finding,) = judge_settings(frames)
    assert "12 frames differ by up to" in finding.says
    assert len(finding.says) < 200


def test_other_settings_are_named_by_their_values() -> None:
    frames = [_frame(1), _frame(2, focal_length_mm=35.0), _frame(3)]
    (finding,) = judge_settings(frames)
    assert finding.says == "focal length changes: 30.5 mm in 2 frames, but PIC_0002.JPG: 35 mm"
    frames = [
        _frame(1, flash_fired=False),
        _frame(2, flash_fired=True),
        _frame(3, flash_fired=False),
    ]
    (finding,) = judge_settings(frames)
    assert "PIC_0002.JPG: fired" in finding.says


def test_cells_are_named_where_they_are_known() -> None:
    frames = [_frame(1), _frame(2), _frame(3, exposure_time_s=1 / 500)]
    (finding,) = judge_settings(frames, {"PIC_0003.JPG": (2, 7)})
    assert "PIC_0003.JPG (row 2, column 7): 1/500 s" in finding.says


def test_sensitivity_traded_for_time_is_said_as_a_sensitivity() -> None:
    # 1/500 s at ISO 200 is as bright as 1/250 s at ISO 100.
    frames = [_frame(1), _frame(2), _frame(3, exposure_time_s=1 / 500, iso=200.0)]
    (finding,) = judge_settings(frames)
    assert finding.says == "ISO changes: 100 in 2 frames, but PIC_0003.JPG: 200"


def test_a_focus_that_moved_once_is_named_and_its_play_is_not() -> None:
    far = [_frame(n, focus_distance_m=1e6) for n in range(4)]
    (finding,) = judge_settings([*far, _frame(9, focus_distance_m=4.0)])
    assert finding.says == "focus distance changes: infinity in 4 frames, but PIC_0009.JPG: 4 m"
    assert judge_settings([_frame(n, focus_distance_m=100.0 + n) for n in range(5)]) == []


def test_autofocus_for_every_frame_is_one_short_sentence() -> None:
    frames = [_frame(n, focus_distance_m=3.0 * 2**n) for n in range(8)]
    (finding,) = judge_settings(frames)
    assert finding.says == "focus was not locked: the camera focused anew, at 3 m to 384 m"


def test_another_jpeg_quality_is_named_and_adapted_compression_is_not() -> None:
    usual = [_frame(n, jpeg_quality=95) for n in range(5)]
    (finding,) = judge_settings([*usual, _frame(9, jpeg_quality=80)])
    assert finding.says == "JPEG quality changes: 95 in 5 frames, but PIC_0009.JPG: 80"
    assert judge_settings([*usual, _frame(9, jpeg_quality=93)]) == []
    assert judge_settings([_frame(n, jpeg_quality=70 + 5 * n) for n in range(6)]) == []


def test_thirds_of_a_stop_up_and_down_are_one_short_sentence() -> None:
    clicks = [0, 1, 0, -1, 2, 1, 0, -1, 1, 2, 0, -2, -1, 1]
    frames = [_frame(n, exposure_time_s=2.0 ** (c / 3) / 250) for n, c in enumerate(clicks)]
    (finding,) = judge_settings(frames)
    assert "14 frames differ by up to 1.33 EV" in finding.says
    assert "lock it before you shoot again" in finding.says
