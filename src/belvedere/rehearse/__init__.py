"""A simulated scene, camera and head with known truth."""

from belvedere.rehearse.blur import Blur
from belvedere.rehearse.camera import CameraTraits, Exposure, render_frame, take_frame
from belvedere.rehearse.camera_model import (
    CameraSettings,
    Flicker,
    Frame,
    FrameConditions,
    FrameRecord,
    KernelSummary,
    Optic,
)
from belvedere.rehearse.daylight import CloudShadow, Daylight, illumination, passing_shadow
from belvedere.rehearse.fault_words import FORMS, parse_fault, parse_places
from belvedere.rehearse.faults import (
    ColourJump,
    ExposureJump,
    Fault,
    Missing,
    Repeated,
    Shaken,
    Soft,
    Stuck,
    TrialPictures,
    Truncated,
    random_faults,
)
from belvedere.rehearse.head import HeadTraits
from belvedere.rehearse.lessons import LESSONS, Lesson, lesson_named
from belvedere.rehearse.makers import FILE_STYLES, CameraClock, FileStyle
from belvedere.rehearse.rehearsal import Rehearsal, Shot, photograph, rehearse, shots
from belvedere.rehearse.scene import PictureScene, Scene, Span
from belvedere.rehearse.sketch import grid_span, sketch_scene
from belvedere.rehearse.stated import MAKER, MODEL, card_path, stated_settings
from belvedere.rehearse.tone import linear_of_srgb, srgb_of_linear
from belvedere.rehearse.truth import CardEnd, card_end, frame_states, truth_document
from belvedere.rehearse.vibration import Gusts, Oscillation

__all__ = [
    "FILE_STYLES",
    "FORMS",
    "LESSONS",
    "MAKER",
    "MODEL",
    "Blur",
    "CameraClock",
    "CameraSettings",
    "CameraTraits",
    "CardEnd",
    "CloudShadow",
    "ColourJump",
    "Daylight",
    "Exposure",
    "ExposureJump",
    "Fault",
    "FileStyle",
    "Flicker",
    "Frame",
    "FrameConditions",
    "FrameRecord",
    "Gusts",
    "HeadTraits",
    "KernelSummary",
    "Lesson",
    "Missing",
    "Optic",
    "Oscillation",
    "PictureScene",
    "Rehearsal",
    "Repeated",
    "Scene",
    "Shaken",
    "Shot",
    "Soft",
    "Span",
    "Stuck",
    "TrialPictures",
    "Truncated",
    "card_end",
    "card_path",
    "frame_states",
    "grid_span",
    "illumination",
    "lesson_named",
    "linear_of_srgb",
    "parse_fault",
    "parse_places",
    "passing_shadow",
    "photograph",
    "random_faults",
    "rehearse",
    "render_frame",
    "shots",
    "sketch_scene",
    "srgb_of_linear",
    "stated_settings",
    "take_frame",
    "truth_document",
]
