"""The shoot's catalogue: kept between checks, never on a card, nothing half-written."""

from __future__ import annotations

from pathlib import Path

import pytest

from belvedere.foundation import StoreError
from belvedere.store import Retake, catalogue_folder, fingerprint, open_catalogue


@pytest.fixture
def shoot(tmp_path: Path) -> Path:
    return tmp_path / "shoot.toml"


def retake(file: str, row: int, card: str = "/card2") -> Retake:
    return Retake(Path(card), file, f"hash of {file}", row, 2)


def test_what_is_kept_is_found_again(shoot: Path) -> None:
    with open_catalogue(shoot) as catalogue:
        catalogue.add_readings([("abc", {"width": 3}, b"\x01\x02")])
        catalogue.keep_result("key", {"findings": []})
        catalogue.set_note("checked card", "/card")
    with open_catalogue(shoot) as catalogue:
        assert catalogue.readings() == {"abc": ({"width": 3}, b"\x01\x02")}
        assert catalogue.result("key") == {"findings": []}
        assert catalogue.result("other") is None
        assert catalogue.note("checked card") == "/card"
        assert catalogue.note("nothing") is None
    assert [p.name for p in shoot.parent.iterdir()] == [".belvedere"]


def test_retakes_keep_the_order_of_registering(shoot: Path) -> None:
    with open_catalogue(shoot) as catalogue:
        catalogue.register([retake("a", 1), retake("b", 2)])
        catalogue.register([retake("a", 3)])
    with open_catalogue(shoot) as catalogue:
        assert catalogue.retakes() == (retake("b", 2), retake("a", 3))


def test_nothing_is_kept_where_the_work_failed(shoot: Path) -> None:
    def work() -> None:
        with open_catalogue(shoot) as catalogue:
            catalogue.register([retake("a", 1)])
            raise RuntimeError("pulled the plug")

    with pytest.raises(RuntimeError):
        work()
    with open_catalogue(shoot) as catalogue:
        assert catalogue.retakes() == ()


def test_what_is_no_catalogue_is_refused_in_one_sentence(shoot: Path) -> None:
    catalogue_folder(shoot).mkdir()
    (catalogue_folder(shoot) / "catalogue.sqlite").write_bytes(b"no database" * 100)
    with pytest.raises(StoreError, match="cannot be used"), open_catalogue(shoot):
        pass


def test_newer_catalogue_is_left_alone(shoot: Path) -> None:
    import sqlite3

    with open_catalogue(shoot):
        pass
    path = catalogue_folder(shoot) / "catalogue.sqlite"
    connection = sqlite3.connect(path)
    connection.execute("PRAGMA user_version = 99")
    connection.commit()
    connection.close()
    with pytest.raises(StoreError, match="newer"), open_catalogue(shoot):
        pass


def test_fingerprints_follow_their_parts() -> None:
    assert fingerprint("a", [1, 2]) == fingerprint("a", [1, 2])
    assert fingerprint("a", [1, 2]) != fingerprint("a", [2, 1])
