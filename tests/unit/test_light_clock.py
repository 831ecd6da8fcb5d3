"""Local time to a moment: hours that never come, hours that come twice, names that are none.

The zones of the IANA database are the outside truth. Zones whose clocks change are picked from
it by what their clocks do; names of places stay out.
"""

from __future__ import annotations

import zoneinfo
from datetime import UTC, datetime, timedelta, timezone

import pytest

from belvedere.foundation import PlanError
from belvedere.light import zoned

YEAR = 2025


def _changes(name: str) -> list[tuple[datetime, timedelta, timedelta]]:
    """Moments of `YEAR` (UTC, to the hour) at which the offset changes, from what to what."""
    zone = zoneinfo.ZoneInfo(name)
    found = []
    moment = datetime(YEAR, 1, 1, tzinfo=UTC)
    before = moment.astimezone(zone).utcoffset()
    while moment.year == YEAR:
        moment += timedelta(hours=1)
        after = moment.astimezone(zone).utcoffset()
        assert before is not None
        assert after is not None
        if after != before:
            found.append((moment, before, after))
        before = after
    return found


def _zone_with_summer_time() -> str:
    """The first zone, by name, whose clocks go forward and back by an hour in the year."""
    for name in sorted(zoneinfo.available_timezones()):
        zone = zoneinfo.ZoneInfo(name)
        if datetime(YEAR, 1, 1, tzinfo=zone).utcoffset() == (
            datetime(YEAR, 7, 1, tzinfo=zone).utcoffset()
        ):
            continue
        moves = sorted(after - before for _, before, after in _changes(name))
        if moves == [timedelta(hours=-1), timedelta(hours=1)]:
            return name
    pytest.fail("no zone has summer time any more")


ZONE = _zone_with_summer_time()
FORWARD, BACK = sorted(_changes(ZONE), key=lambda change: change[1] - change[2])


def _wall(moment: datetime, offset: timedelta) -> datetime:
    return (moment + offset).replace(tzinfo=None)


def test_an_hour_that_never_comes() -> None:
    change, before, _ = FORWARD
    missing = _wall(change, before) + timedelta(minutes=30)
    with pytest.raises(PlanError, match="does not exist") as refused:
        zoned(missing, ZONE)
    shown_instead = missing + timedelta(hours=1)
    assert f"{missing:%H:%M}" in refused.value.says
    assert f"{shown_instead:%H:%M}" in refused.value.remedy


def test_an_hour_that_comes_twice_names_both_offsets() -> None:
    change, before, after = BACK
    twice = _wall(change, after) + timedelta(minutes=30)
    with pytest.raises(PlanError, match="exists twice") as refused:
        zoned(twice, ZONE)
    for offset in (before, after):
        assert twice.replace(tzinfo=timezone(offset)).isoformat() in refused.value.remedy


def test_the_minutes_around_a_change_are_fine() -> None:
    change, before, after = FORWARD
    last = zoned(_wall(change, before) - timedelta(minutes=1), ZONE)
    first = zoned(_wall(change, after), ZONE)
    assert first - last == timedelta(minutes=1)
    assert (last.utcoffset(), first.utcoffset()) == (before, after)


def test_sums_over_a_change_stay_right() -> None:
    """Two hours after a start just before the change are two hours, as for the camera's clock."""
    change, before, _ = FORWARD
    start = zoned(_wall(change, before) - timedelta(minutes=30), ZONE)
    later = start + timedelta(hours=2)
    assert later.astimezone(UTC) == change + timedelta(minutes=90)


@pytest.mark.parametrize(
    ("zone", "hours"), [("Etc/UTC", 0), ("Etc/GMT-2", 2), ("Etc/GMT+7", -7), ("UTC", 0)]
)
def test_offsets_of_the_plain_zones(zone: str, hours: int) -> None:
    """The signs of Etc/GMT±n are turned round, as POSIX has it (tz database, file etcetera)."""
    moment = zoned(datetime(2026, 7, 1, 12), zone)
    assert moment.utcoffset() == timedelta(hours=hours)
    assert moment.replace(tzinfo=None) == datetime(2026, 7, 1, 12)


@pytest.mark.parametrize(
    ("wrong", "near"), [("Etc/UCT1", "Etc/UCT"), ("etc/utc0", "Etc/UTC"), ("Zulo", "Zulu")]
)
def test_an_unknown_zone_names_the_nearest(wrong: str, near: str) -> None:
    with pytest.raises(PlanError, match="There is no time zone") as refused:
        zoned(datetime(2026, 7, 1), wrong)
    assert f'"{near}"' in refused.value.remedy


def test_the_last_part_of_a_name_leads_to_the_whole() -> None:
    whole = ZONE
    end = whole.rsplit("/", maxsplit=1)[-1].lower().replace("_", " ")
    assert "/" in whole
    with pytest.raises(PlanError) as refused:
        zoned(datetime(2026, 7, 1), end)
    assert f'"{whole}"' in refused.value.remedy


@pytest.mark.parametrize("nonsense", ["", "qqqq", "../../etc", "Etc"])
def test_nonsense_is_refused_in_a_sentence(nonsense: str) -> None:
    with pytest.raises(PlanError, match="There is no time zone"):
        zoned(datetime(2026, 7, 1), nonsense)


def test_a_time_with_an_offset_needs_no_zone() -> None:
    with pytest.raises(PlanError, match="a time zone beside it"):
        zoned(datetime(2026, 7, 1, tzinfo=UTC), "Etc/UTC")
