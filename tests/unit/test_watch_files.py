"""Files that are still being written are left alone until they are whole."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from belvedere.check.thresholds import STUCK_S
from belvedere.workflows.watch_files import Arriving, Sight, look, settle

WHOLE = 1000
FILE = "DCIM/100SALTM/PIC_0401.JPG"


@dataclass(frozen=True)
class Copying:
    """A file that grows in steps: at `seconds`, it has `sizes` of its bytes."""

    seconds: tuple[float, ...]
    sizes: tuple[int, ...]

    def size_at(self, now_s: float) -> int | None:
        """Bytes that are there, None before the file is."""
        there = [size for s, size in zip(self.seconds, self.sizes, strict=True) if s <= now_s]
        return there[-1] if there else None

    def changed_at(self, now_s: float) -> int:
        return max(int(s * 1e9) for s in self.seconds if s <= now_s)


@st.composite
def copies(draw: st.DrawFn) -> Copying:
    """Any pace, with any pauses; the last step makes the file whole."""
    steps = draw(st.integers(1, 6))
    gaps = draw(st.lists(st.floats(0.01, 4.0), min_size=steps, max_size=steps))
    inner = draw(st.lists(st.integers(0, WHOLE - 1), min_size=steps - 1, max_size=steps - 1))
    seconds, now_s = [], 0.0
    for gap in gaps:
        now_s += gap
        seconds.append(now_s)
    return Copying(tuple(seconds), (*sorted(inner), WHOLE))


def looked(copying: Copying, now_s: float) -> dict[str, Sight]:
    size = copying.size_at(now_s)
    return {} if size is None else {FILE: Sight(size, copying.changed_at(now_s))}


@given(copies(), st.floats(0.05, 0.8), st.booleans())
def test_a_file_is_never_read_before_it_is_whole(
    copying: Copying, every_s: float, tells: bool
) -> None:
    """… and it is read soon after; a format that does not tell is trusted when it keeps still."""
    arriving: dict[str, Arriving] = {}
    now_s, read_s = 0.0, None
    until_s = copying.seconds[-1] + STUCK_S + 3.0 * every_s
    while now_s <= until_s and read_s is None:

        def ends_whole(_: str, at_s: float = now_s) -> bool | None:
            return copying.size_at(at_s) == WHOLE if tells else None

        found = settle(arriving, looked(copying, now_s), now_s, ends_whole, patience_s=60.0)
        arriving = dict(found.arriving)
        if found.whole:
            assert found.whole == (FILE,)
            read_s = now_s
        now_s += every_s
    assert read_s is not None
    if tells:
        assert copying.size_at(read_s) == WHOLE
        assert read_s <= copying.seconds[-1] + 2.0 * every_s + 1e-9
    else:
        still_since_s = max(s for s in copying.seconds if s <= read_s)
        assert read_s - still_since_s >= STUCK_S


@given(st.floats(0.1, 0.6), st.floats(3.0, 12.0))
def test_a_cut_file_is_given_up_once_and_taken_up_when_it_grows(
    every_s: float, patience_s: float
) -> None:
    given_up: list[float] = []
    arriving: dict[str, Arriving] = {}
    now_s = 0.0

    def step(size: int, changed_ns: int) -> tuple[str, ...]:
        nonlocal arriving
        sights = {FILE: Sight(size, changed_ns)}
        found = settle(arriving, sights, now_s, lambda _: size == WHOLE, patience_s)
        arriving = dict(found.arriving)
        given_up.extend(now_s for _ in found.stuck)
        return found.whole

    while now_s < 2.0 * patience_s:
        assert step(400, 1) == ()
        now_s += every_s
    assert len(given_up) == 1
    assert patience_s <= given_up[0] <= patience_s + 2.0 * every_s
    assert step(WHOLE, 2) == ()
    now_s += every_s
    assert step(WHOLE, 2) == (FILE,)


def test_what_copying_programs_write_on_the_way_is_no_frame(tmp_path: Path) -> None:
    folder = tmp_path / "DCIM" / "100SALTM"
    folder.mkdir(parents=True)
    for name in (
        "PIC_0401.JPG", ".PIC_0402.JPG.x1Yz", "._PIC_0401.JPG", "PIC_0402.JPG.part",
        "PIC_0403.JPG.tmp", "PIC_0404.tmp", "readme.txt",
    ):  # fmt: skip
        (folder / name).write_bytes(b"x")
    (tmp_path / ".Trashes").mkdir()
    (tmp_path / ".Trashes" / "PIC_0399.JPG").write_bytes(b"x")
    assert look(tmp_path, frozenset()) == (
        {"DCIM/100SALTM/PIC_0401.JPG": Sight(1, (folder / "PIC_0401.JPG").stat().st_mtime_ns)},
        1,
    )
    assert look(tmp_path, {"DCIM/100SALTM/PIC_0401.JPG"}) == ({}, 1)


def test_a_folder_that_is_empty_or_not_there(tmp_path: Path) -> None:
    assert look(tmp_path, frozenset()) == ({}, 0)
    assert look(tmp_path / "pulled", frozenset()) is None
