"""Which releases the camera was ready for, once the sizes of their files are known.

Sizes are known only when the frames are rendered, so all frames are photographed first, and those
that the camera could not have taken are then left out. Numbers go to the files that remain.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from belvedere.rehearse.camera import Pixels
from belvedere.rehearse.camera_model import FrameRecord
from belvedere.rehearse.faults import Place
from belvedere.rehearse.rehearsal import CHAIN_STREAM, Rehearsal
from belvedere.rehearse.releasing import releases
from belvedere.rehearse.scene import Scene
from belvedere.rehearse.shot import Shot, take
from belvedere.rehearse.shutter_chain import (
    Loss,
    Outcome,
    Request,
    drawn_times_s,
    opening_delay_s,
    run_chain,
)

#: At these the camera is surely not ready: there is no need to photograph them.
_SURELY_LOST = ("asleep", "card full", "battery empty")
_FOR_GOOD = ("card full", "battery empty")


@dataclass(frozen=True, slots=True)
class Taken:
    """What photographing one release gave: the size of its file, and what was really used."""

    size_bytes: int
    record: FrameRecord


@dataclass(frozen=True, slots=True)
class LostRelease:
    """A release that the camera did not obey, and why."""

    cell: Place | None
    asked_at: datetime
    why: Loss


@dataclass(frozen=True, slots=True)
class Recorded:
    """What is on the card in the end.

    Attributes
    ----------
    shots
        One for each file, numbered, in the order of the shutter.
    releases
        For each of them, its place in the releases that were asked for.
    records
        What was really used, by number; without those that were not photographed.
    lost
        Releases that the camera did not obey.
    empty_entry
        Number of a file that is only an entry without content, left by pulled power; or None.
    """

    shots: tuple[Shot, ...]
    releases: tuple[int, ...]
    records: Mapping[int, FrameRecord] = field(default_factory=dict)
    lost: tuple[LostRelease, ...] = ()
    empty_entry: int | None = None


def worth_taking(asked: Sequence[Shot]) -> tuple[int, ...]:
    """Places of the releases that the camera may obey; for the others no picture is needed."""
    places = []
    for place, shot in enumerate(asked):
        if shot.trouble in _FOR_GOOD:
            break
        if shot.trouble not in _SURELY_LOST:
            places.append(place)
        if shot.trouble == "power pulled":
            # Should this one be lost to a busy camera, the power goes while the next is written.
            places += range(place + 1, len(asked))
            break
    return tuple(places)


def recorded(rehearsal: Rehearsal, asked: Sequence[Shot], taken: Mapping[int, Taken]) -> Recorded:
    """What the camera recorded.

    Parameters
    ----------
    asked
        All releases, in the order of time.
    taken
        What photographing them gave, by place; a release that is missing here counts as an empty
        file with the exposure that was set.
    """
    chain = rehearsal.camera_chain()
    requests = [_request(rehearsal, shot, taken.get(place)) for place, shot in enumerate(asked)]
    rng = rehearsal.rng(CHAIN_STREAM, rehearsal.first_number)
    times = drawn_times_s(chain, [request.size_bytes for request in requests], rng)
    outcomes = run_chain(chain, requests, *times)
    shots: list[Shot] = []
    places: list[int] = []
    records: dict[int, FrameRecord] = {}
    lost: list[LostRelease] = []
    for place, (shot, outcome) in enumerate(zip(asked, outcomes, strict=True)):
        if outcome.lost is not None:
            lost.append(LostRelease(shot.sent_to, shot.asked_at, outcome.lost))
            continue
        number = rehearsal.first_number + len(shots)
        frame = taken.get(place)
        shots.append(_numbered(rehearsal, shot, number, outcome, frame))
        places.append(place)
        if frame is not None:
            records[number] = frame.record
    pulled = any(outcome.lost is None and outcome.kept < 1.0 for outcome in outcomes)
    entry = rehearsal.first_number + len(shots) if pulled else None
    return Recorded(tuple(shots), tuple(places), records, tuple(lost), entry)


def shots(rehearsal: Rehearsal) -> tuple[Shot, ...]:
    """Every release that leaves a file, in order, if the card were quick enough for any file."""
    return recorded(rehearsal, releases(rehearsal), {}).shots


def rehearse(rehearsal: Rehearsal, scene: Scene) -> Iterator[tuple[Shot, Pixels]]:
    """Each shot with its picture, in order, if the card were quick enough for any file."""
    lens, optic = rehearsal.lens(), rehearsal.optic()
    for shot in shots(rehearsal):
        yield shot, take(shot, scene, lens, rehearsal.camera, optic).picture


def _request(rehearsal: Rehearsal, shot: Shot, taken: Taken | None) -> Request:
    exposure_s = shot.settings.exposure_s if taken is None else taken.record.exposure_s
    return Request(
        at_s=(shot.asked_at - rehearsal.start).total_seconds(),
        exposure_s=exposure_s,
        size_bytes=0 if taken is None else taken.size_bytes,
        focus_s=0.0 if taken is None else taken.record.focus_s,
        trouble=shot.trouble,
        kept=shot.kept_when_pulled,
    )


def _numbered(
    rehearsal: Rehearsal, shot: Shot, number: int, outcome: Outcome, taken: Taken | None
) -> Shot:
    """The shot as it is on the card."""
    shot = replace(shot, number=number, kept=min(shot.kept, outcome.kept))
    return shot if taken is None else opened(rehearsal, shot, taken.record)


def opened(rehearsal: Rehearsal, shot: Shot, record: FrameRecord) -> Shot:
    """The shot with the moment and the exposure time that the camera came to by itself."""
    delay_s = opening_delay_s(rehearsal.camera_chain(), record.focus_s)
    shot = replace(shot, taken_at=shot.asked_at + timedelta(seconds=delay_s))
    if shot.settings.exposure_mode == "manual":
        return shot
    return replace(shot, stated_exposure_s=record.exposure_s)
