"""Say each fault of a frame once, and take it back where later neighbours clear it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from belvedere.check import Finding
from belvedere.check.takes import gravest
from belvedere.check.thresholds import CLEARED_BY, SURE_PLACED
from belvedere.check.words import name
from belvedere.workflows.watch_events import FAULTS, WatchEvent, advice
from belvedere.workflows.watch_state import Desk, Fault, Judged, Watch, cells_of, place_words

Events = tuple[WatchEvent, ...]

#: Remarks on the whole shoot that are worth stopping the head for.
_STOP_FOR = frozenset({"settings", "moved"})
#: Faults of one group of frames against another.
_BY_GROUPS = frozenset({"exposure", "colour"})
#: Frames on their cells before the first is judged.
_FIRST_JUDGED = 4


def judge_next(watch: Watch, desk: Desk) -> tuple[Watch, Events]:
    """Judge the latest frame that was not judged yet; what is new about it and those around it.

    A frame whose cell is not sure waits for the next ones to settle it: against the wrong
    neighbours any frame looks faulty.
    """
    followed = watch.followed
    sure = {
        frame.file
        for frame, k, chance in zip(followed.frames, followed.cell, followed.chance, strict=True)
        if k >= 0 and chance >= SURE_PLACED
    }
    file = next((file for file in reversed(watch.unjudged) if file in sure), None)
    if file is None or len(sure) < _FIRST_JUDGED:
        return watch, ()
    watch = replace(watch, unjudged=tuple(f for f in watch.unjudged if f != file))
    judged = desk.judge(followed, file)
    watch, found = _found(watch, judged)
    watch, cleared = _cleared(watch, judged)
    watch, remarks = _remarks(watch, judged.shoot_findings)
    return watch, (*found, *cleared, *remarks)


def damaged(watch: Watch, file: str, damage: str) -> tuple[Watch, Events]:
    """A file that cannot be opened to its end."""
    finding = Finding("corrupt", f"the file is damaged: it {damage}", file)
    faults = {**watch.faults, (file, "corrupt"): Fault(finding)}
    return replace(watch, faults=faults), (_fault_event(watch, finding),)


def _found(watch: Watch, judged: Judged) -> tuple[Watch, Events]:
    events: list[WatchEvent] = []
    for finding in judged.findings:
        key = (finding.file, finding.kind)
        if finding.kind not in FAULTS:
            continue
        if key not in watch.faults:
            # Of frames far off the answer at the end will tell: here it would only confuse.
            if finding.file not in judged.near:
                continue
            events += _new_fault(watch, finding)
        watch = replace(watch, faults={**watch.faults, key: Fault(finding)})
    return watch, tuple(events)


def _cleared(watch: Watch, judged: Judged) -> tuple[Watch, Events]:
    found = {(finding.file, finding.kind) for finding in judged.findings}
    # Of two groups that a jump parts, the smaller is accused: as it grows, the other one is.
    turned = {kind for _, kind in found if kind in _BY_GROUPS}
    faults = dict(watch.faults)
    events: list[WatchEvent] = []
    for key, fault in watch.faults.items():
        if key in found or key[0] not in judged.files or key[1] in {"corrupt", *turned}:
            continue
        faults[key] = replace(fault, missed=fault.missed + 1)
        if fault.missed + 1 >= CLEARED_BY:
            del faults[key]
            where = place_words(watch, key[0])
            says = f"{where}: not {key[1].upper()} after all, as later neighbours agree with it"
            events.append(WatchEvent("better", says, cells_of(watch, key[0]), key[0]))
    return replace(watch, faults=faults), tuple(events)


def _remarks(watch: Watch, findings: Sequence[Finding]) -> tuple[Watch, Events]:
    """Remarks on the shoot by what stands before their colon: the rest grows with each frame.

    Said when two judgements in a row made them: test pictures before the sweep differ too.
    """
    now = {f.says.partition(":")[0]: f for f in findings if f.kind in _STOP_FOR}
    events = [
        WatchEvent("fault", _in_short(finding), advice=advice(finding.kind))
        for heading, finding in now.items()
        if watch.told.get(heading) == 1
    ]
    told = {heading: times for heading, times in watch.told.items() if times > 1}
    told |= {heading: min(watch.told.get(heading, 0) + 1, 2) for heading in now}
    return replace(watch, told=told), tuple(events)


def _in_short(finding: Finding) -> str:
    """What a move left out of the picture can only be told at the end."""
    return finding.says.partition(";")[0] if finding.kind == "moved" else finding.says


def _new_fault(watch: Watch, finding: Finding) -> Events:
    """A fault's event; where it goes on from the frame before, one quiet word, and then none.

    Where it was said that the exposure is not locked, it is no news that frames differ.
    """
    unlocked = any(times > 1 and "exposure" in said for said, times in watch.told.items())
    if finding.kind == "exposure" and unlocked:
        return ()
    followed = watch.followed
    t, run = followed.position(finding.file), 0
    while run < t and (followed.frames[t - run - 1].file, finding.kind) in watch.faults:
        run += 1
    if run == 0:
        return (_fault_event(watch, finding),)
    if run > 1:
        return ()
    where = place_words(watch, finding.file)
    says = f"{where}: {finding.kind.upper()} too; while it stays so, it is not said again"
    return (WatchEvent("note", says, cells_of(watch, finding.file), finding.file),)


def _fault_event(watch: Watch, finding: Finding) -> WatchEvent:
    where = place_words(watch, finding.file)
    says = f"{where}: {finding.kind.upper()}, {finding.says} ({name(finding.file)})"
    state = gravest([finding])
    cells = cells_of(watch, finding.file)
    return WatchEvent("fault", says, cells, finding.file, state, advice(finding.kind))
