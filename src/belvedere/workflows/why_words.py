"""The evidence for a cell in sentences: the same on the console and on the picture."""

from __future__ import annotations

from pathlib import PurePosixPath

from belvedere.check import DIRECTIONS, Beside, Neighbour, Reasons

#: A less probable other place of a frame is not spoken of.
_WORTH_A_WORD = 0.001
#: Remarks whose words need no heading.
_TELLS_ITSELF = frozenset({"moving", "repeated", "unjudged"})


def cell_lines(reasons: Reasons) -> list[str]:
    """What is known of the cell and its frame, a sentence each."""
    lines = [
        f"{f.says[0].upper()}{f.says[1:]}." if f.kind in _TELLS_ITSELF else f"{f.kind}: {f.says}."
        for f in reasons.cell.findings
    ]
    if not reasons.file:
        return lines + _gap_lines(reasons)
    lines.insert(0, f"{name(reasons.file)} is the frame used for this cell.")
    told = any(finding.kind == "repeated" for finding in reasons.cell.findings)
    if len(reasons.cell.frames) > 1 and not told:
        others = ", ".join(name(file) for file in reasons.cell.frames[1:])
        lines.append(f"Other takes: {others}.")
    if reasons.runner_up is not None:
        what, chance = reasons.runner_up
        other = f"; else it is {what}, {percent(chance)}" if chance >= _WORTH_A_WORD else ""
        lines.append(
            f"That it shows this cell is {percent(reasons.cell.confidence)} probable{other}."
        )
    for beside, word in ((reasons.before, "after"), (reasons.after, "before")):
        if beside is not None and beside.gap_s is not None:
            usual = "" if reasons.interval_s is None else f" (usually {reasons.interval_s:.1f} s)"
            lines.append(f"Taken {beside.gap_s:.1f} s {word} {_named(beside)}{usual}.")
    return lines


def _gap_lines(reasons: Reasons) -> list[str]:
    lines = [f"That no frame shows it is {percent(reasons.cell.confidence)} probable."]
    ends = [_named(b) for b in (reasons.before, reasons.after) if b is not None]
    if len(ends) == 2:
        lines.append(f"The sweep goes from {ends[0]} to {ends[1]}.")
    return lines


def _named(beside: Beside) -> str:
    if beside.row is None:
        return f"{name(beside.file)} (no cell)"
    return f"{name(beside.file)} (row {beside.row}, column {beside.column})"


def name(file: str) -> str:
    """A file without its folders."""
    return PurePosixPath(file).name


def percent(share: float) -> str:
    """A probability with as many digits as it deserves."""
    if share >= 0.9995:
        return "more than 99.9 %"
    if share < 0.001:
        return "less than 0.1 %"
    return f"{100.0 * share:.1f} %"


def neighbour_title(neighbour: Neighbour) -> str:
    """Which neighbour it is."""
    where = "another take" if neighbour.where == "same cell" else neighbour.where
    return f"{where}: row {neighbour.row}, column {neighbour.column}, {name(neighbour.file)}"


def neighbour_lines(neighbour: Neighbour) -> list[str]:
    """The numbers of one overlap, in the words of the tripod."""
    detail = f"{neighbour.textured:.0%} of the overlap shows detail"
    if not neighbour.registered:
        return [
            f"the two could not be laid on each other ({detail}), so sharpness is not compared",
            *_tone_lines(neighbour, "roughly "),
        ]
    lines = [
        f"the two agree at {neighbour.patches} places within {neighbour.misfit_px:.1f} px; {detail}"
    ]
    if neighbour.off_px is not None:
        right, down = neighbour.off_px
        lines.append(f"against the plan: {_px(right, 'right', 'left')}, {_px(down, 'down', 'up')}")
    return [*lines, *_blur_lines(neighbour), *_tone_lines(neighbour, "")]


def _tone_lines(neighbour: Neighbour, about: str) -> list[str]:
    lines = []
    if neighbour.exposure_ev is not None:
        lines.append(_brightness(neighbour.exposure_ev, about))
    if neighbour.colour_difference is not None:
        lines.append(
            f"colour {about}{neighbour.colour_difference:.1f} apart (below 1 nobody sees it)"
        )
    return lines


def _brightness(ev: float, about: str) -> str:
    if abs(ev) < 0.005:
        return f"{about}as bright"
    return f"{about}{abs(ev):.2f} EV {'brighter' if ev > 0.0 else 'darker'}"


def _px(value: float, positive: str, negative: str) -> str:
    if abs(value) < 0.5:
        return "0 px"
    return f"{abs(value):.0f} px {positive if value > 0.0 else negative}"


def _blur_lines(neighbour: Neighbour) -> list[str]:
    """Blur by direction; what is within its error is as sharp as the neighbour."""
    known = [
        (direction, *blur)
        for direction, blur in zip(DIRECTIONS, neighbour.blur_px, strict=True)
        if blur is not None
    ]
    if not known:
        return ["sharpness: nothing fine enough to compare"]
    words = []
    for direction, px, error in known:
        if abs(px) <= 2.0 * error:
            words.append(f"{direction} alike")
        else:
            words.append(f"{direction} {abs(px):.1f} px {'more' if px > 0.0 else 'less'}")
    if all(word.endswith(" alike") for word in words):
        return ["as sharp, in every direction that can be compared"]
    return [f"blur: {', '.join(words)}"]
