"""Rehearse a shoot: a simulated camera photographs a scene along the plan, onto a new card.

``OUT/card/DCIM/…`` gets the frames, ``OUT/truth.json`` the truth about them. Both are made in a
folder beside OUT and moved there at the end: OUT is there whole or not at all. All releases are
photographed first; the sizes of the files then decide which of them the camera was ready for.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import time
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ProcessPoolExecutor, as_completed
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import cv2

from belvedere.foundation import CardError, PlanError, Progress, Steps, StoreError
from belvedere.imagefiles import FolderSource, encode_as
from belvedere.rehearse import (
    PictureScene,
    Recorded,
    Rehearsal,
    Scene,
    Shot,
    Span,
    Taken,
    card_path,
    grid_span,
    opened,
    recorded,
    releases,
    sketch_scene,
    stated_settings,
    take,
    truth_document,
    worth_taking,
)
from belvedere.rehearse.harbour import HarbourScene
from belvedere.shoot import Plan
from belvedere.store import write_json

#: The built-in scenes by the word that asks for them; anything else is the path of a picture.
BUILT_IN = ("harbour", "sketch")
#: A picture has so much margin around the grid: a tilted base looks beyond its edges.
_MARGIN_DEG = 1.5
#: So many digits of a second `subsecond` asks for: hundredths.
_SUBSECOND_DIGITS = 2

SceneMaker = Callable[[], Scene]


@dataclass(frozen=True, slots=True)
class RehearsalReport:
    """What a rehearsal left behind."""

    card: Path
    truth: Path
    files: tuple[str, ...]
    document: dict[str, Any]
    seconds: float


def scene_maker(asked: str, scene_seed: int, plan: Plan, crowd: int = 0) -> SceneMaker:
    """What makes the scene that was asked for, in whichever process needs it.

    Raises
    ------
    CardError
        Where the picture cannot be read.
    PlanError
        For a crowd where nobody can be.
    """
    if asked == "harbour":
        return partial(HarbourScene, scene_seed, crowd)
    if crowd:
        raise PlanError(
            f"A market day needs the built-in harbour; nobody can walk about in “{asked}”.",
            "Leave “--scene” away, or the hazard “crowded”.",
        )
    if asked == "sketch":
        return partial(sketch_scene, plan, scene_seed)
    path = Path(asked)
    if not path.is_file():
        raise CardError(
            f"There is no picture {asked} to use as the scene.",
            f"Give the path of a picture, or one of {', '.join(BUILT_IN)}.",
        )
    FolderSource(path.parent).grey(path.name, 8)
    return partial(_picture_scene, path, plan)


def rehearse_card(
    rehearsal: Rehearsal,
    make_scene: SceneMaker,
    scene_name: str,
    out: Path,
    *,
    workers: int = 2,
    subsecond: bool = False,
) -> Steps[RehearsalReport]:
    """Photograph the whole rehearsal onto a new card in `out`.

    Raises
    ------
    PlanError
        For a fault or a cell that the plan cannot have.
    StoreError
        Where `out` is not new or empty, or cannot be written.
    """
    started = time.monotonic()
    if subsecond:
        style = replace(rehearsal.style, subsecond_digits=_SUBSECOND_DIGITS)
        rehearsal = replace(rehearsal, style=style)
    asked = releases(rehearsal)
    wanted = worth_taking(asked)
    if not wanted:
        raise PlanError("No frame would be taken.", "Leave at least one cell without a fault.")
    with _new_folder(out) as making:
        developing = making / "developing"
        developing.mkdir()
        job = _Job(rehearsal, make_scene, developing)
        taken: dict[int, Taken] = {}
        yield from _photograph_all(job, {i: asked[i] for i in wanted}, workers, taken)
        card = recorded(rehearsal, asked, taken)
        files = _put_on_card(rehearsal, card, developing, making / "card")
        developing.rmdir()
        document = truth_document(rehearsal, card, files, scene_name)
        write_json(making / "truth.json", document)
    return RehearsalReport(
        out / "card",
        out / "truth.json",
        tuple(files[shot.number] for shot in card.shots),
        document,
        time.monotonic() - started,
    )


def _put_on_card(
    rehearsal: Rehearsal, card: Recorded, developing: Path, root: Path
) -> dict[int, str]:
    """Move the files that exist to where the camera puts them; the path of each by number."""
    numbers = [shot.number for shot in card.shots]
    if card.empty_entry is not None:
        numbers.append(card.empty_entry)
    files = {number: card_path(number, rehearsal.style) for number in numbers}
    for folder in {(root / file).parent for file in files.values()}:
        folder.mkdir(parents=True)
    for shot, place in zip(card.shots, card.releases, strict=True):
        whole = developing / _name(place)
        if shot.kept < 1.0:
            with whole.open("r+b") as opened_file:
                opened_file.truncate(round(whole.stat().st_size * shot.kept))
        whole.rename(root / files[shot.number])
    for left_over in developing.iterdir():
        left_over.unlink()
    if card.empty_entry is not None:
        _write(root / files[card.empty_entry], b"")
    return files


def read_truth(path: Path) -> dict[str, Any]:
    """The document of an earlier rehearsal, from truth.json or the folder that holds it."""
    if path.is_dir():
        path = path / "truth.json"
    try:
        document = json.loads(path.read_text("utf-8"))
    except FileNotFoundError as error:
        raise StoreError(
            f"There is no {path}.", "Give the folder of an earlier rehearsal."
        ) from error
    except (OSError, ValueError) as error:
        raise StoreError(
            f"{path} cannot be read as the truth of a rehearsal.",
            "Give the truth.json that `belvedere rehearse` wrote.",
        ) from error
    return dict(document) if isinstance(document, dict) else {}


@dataclass(frozen=True, slots=True)
class _Job:
    """What a worker needs for every shot."""

    rehearsal: Rehearsal
    make_scene: SceneMaker
    developing: Path


def _name(place: int) -> str:
    """Name of a file whose number is not known yet."""
    return f"{place:06d}.jpg"


def _photograph_all(
    job: _Job, asked: Mapping[int, Shot], workers: int, taken: dict[int, Taken]
) -> Iterator[Progress]:
    """Photograph every release, by place; what came of it goes into `taken`."""
    workers = min(workers, len(asked))
    if workers <= 1:
        work = _worker(job)
        for place, shot in asked.items():
            taken[place] = work(place, shot)
            yield _progress(len(taken), len(asked), shot)
        return
    with ProcessPoolExecutor(
        workers, mp_context=get_context("spawn"), initializer=_start, initargs=(job,)
    ) as pool:
        with _ctrl_c_held():
            waiting = {pool.submit(_run, *one): one[0] for one in asked.items()}
        try:
            for future in as_completed(waiting):
                place = waiting[future]
                taken[place] = future.result()
                yield _progress(len(taken), len(asked), asked[place])
        except BaseException:
            pool.shutdown(cancel_futures=True)
            raise


@contextmanager
def _ctrl_c_held() -> Iterator[None]:
    """Processes started here do not hear Ctrl-C: the parent hears it and ends them in order."""
    if not hasattr(signal, "pthread_sigmask"):  # Windows
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _progress(done: int, total: int, shot: Shot) -> Progress:
    of = "before the sweep" if shot.sent_to is None else "row {}, column {}".format(*shot.sent_to)
    return Progress("Photographing", done, total, "frames", of)


def _worker(job: _Job) -> Callable[[int, Shot], Taken]:
    """The scene is made once, then used for every shot of this process."""
    rehearsal = job.rehearsal
    scene, lens, optic = job.make_scene(), rehearsal.lens(), rehearsal.optic()
    began = rehearsal.began or rehearsal.start

    def work(place: int, shot: Shot) -> Taken:
        frame = take(shot, scene, lens, rehearsal.camera, optic)
        shot = opened(rehearsal, shot, frame.record)
        jpeg = encode_as(
            rehearsal.style,
            frame.picture,
            stated_settings(shot, rehearsal.plan.shoot),
            rehearsal.style.clock.shows(shot.taken_at, began),
            quality=rehearsal.camera.jpeg_quality,
        )
        _write(job.developing / _name(place), jpeg)
        return Taken(len(jpeg), frame.record)

    return work


# Each process of the pool keeps its worker here; the parent never does.
_work: list[Callable[[int, Shot], Taken]] = []


def _start(job: _Job) -> None:
    cv2.setNumThreads(1)
    _work[:] = [_worker(job)]


def _run(place: int, shot: Shot) -> Taken:
    return _work[0](place, shot)


def _picture_scene(path: Path, plan: Plan) -> PictureScene:
    picture = FolderSource(path.parent).colour(path.name)
    height, width = picture.shape[:2]
    return PictureScene(picture, picture_span(plan, width, height))


def picture_span(plan: Plan, width_px: int, height_px: int) -> Span:
    """Where a picture lies on the sphere: all of it over the grid, in its own shape.

    For a full turn it goes once around, its middle on the horizon: one twice as wide as high is
    the whole sphere.
    """
    span = grid_span(plan)
    if span.right_deg - span.left_deg < 360.0:
        return span.grown(_MARGIN_DEG).covered_by(width_px, height_px)
    half_down = 180.0 * height_px / width_px
    return Span(-180.0, 180.0, half_down, -half_down)


def _write(path: Path, content: bytes) -> None:
    try:
        path.write_bytes(content)
    except OSError as error:
        raise StoreError(
            f"{path.name} cannot be written: {error.strerror or error}.",
            "Choose another place or make room there.",
        ) from error


@contextmanager
def _new_folder(out: Path) -> Iterator[Path]:
    """A folder beside `out` that takes its place when the block ends without an error."""
    _require_new(out)
    making = out.with_name(f".{out.name}.{os.getpid()}.part")
    try:
        making.mkdir()
        yield making
        if out.exists():
            out.rmdir()
        making.rename(out)
    except OSError as error:
        raise StoreError(
            f"{out} cannot be written: {error.strerror or error}.",
            "Choose another place or make room there.",
        ) from error
    finally:
        shutil.rmtree(making, ignore_errors=True)


def _require_new(out: Path) -> None:
    if not out.parent.is_dir():
        raise StoreError(
            f"The folder {out.parent} does not exist.", "Create it or choose another place."
        )
    if out.is_dir() and any(out.iterdir()):
        raise StoreError(
            f"{out} is not empty, and a rehearsal never writes over frames.",
            "Give the name of a new folder.",
        )
    if out.exists() and not out.is_dir():
        raise StoreError(f"{out} is a file.", "Give the name of a new folder.")
