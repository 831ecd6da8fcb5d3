"""Our IIIF documents against two outside readers.

- @iiif/parser 2.2.10 (github.com/IIIF-Commons/parser): its strict reading of a Presentation 3
  document warns of whatever departs from the specification, and its Image 3 code says of a
  request whether a service with our info.json supports it.
- @iiif/presentation-3 2.2.3: the specification as TypeScript types, checked by the compiler.
"""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest

from belvedere.publish import Caption
from publish_sites import VIEWER, mosaic_description, node, publish_site, save_tiff, scenery

READ = """
import { presentation3StrictUpgrade } from "@iiif/parser/strict";
import {
  fixedSizesFromScales, imageServiceSupportsRequest, isLevel0, parseImageServiceRequest,
} from "@iiif/parser/image-3";
import { readFileSync } from "node:fs";
const { manifest, info, requests } = JSON.parse(readFileSync(0, "utf8"));
const state = { warnings: [] };
const upgraded = presentation3StrictUpgrade(structuredClone(manifest), state);
const refused = requests.filter(
  (url) => !imageServiceSupportsRequest(info, parseImageServiceRequest(url, ""))[0],
);
const whole = fixedSizesFromScales(info.width, info.height, info.tiles[0].scaleFactors);
const level0 = isLevel0(info);
console.log(JSON.stringify({ warnings: state.warnings, upgraded, refused, level0, whole }));
"""

CAPTIONS = {
    "full": Caption(
        "Saltmere harbour from the mole",
        summary="Low water, seen from the mole.",
        credit="The harbour office",
        rights="https://creativecommons.org/licenses/by/4.0/",
        date="12 May 2026",
    ),
    "own rights": Caption("Saltmere", rights="Ask the harbour office before you print it."),
    "bare": Caption("Saltmere"),
}


def read(manifest: dict[str, Any], info: dict[str, Any], requests: list[str]) -> dict[str, Any]:
    given = json.dumps({"manifest": manifest, "info": info, "requests": requests})
    done = node("--input-type=module", "--eval", READ, stdin=given)
    assert done.returncode == 0, done.stderr
    answer: dict[str, Any] = json.loads(done.stdout)
    return answer


@pytest.fixture(scope="module")
def mosaic(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("mosaic")
    return save_tiff(folder / "m.tif", scenery(5200, 1100), mosaic_description(5200))


@pytest.fixture(params=list(CAPTIONS))
def site(request: pytest.FixtureRequest, tmp_path: Path, mosaic: Path) -> Path:
    places = tmp_path / "places.json"
    here = [{"name": "The lighthouse", "note": "Lit", "bearing_deg": 12.0, "width_deg": 4}]
    places.write_text(json.dumps({"schema": "belvedere/places/1", "places": here}))
    publish_site(
        mosaic,
        tmp_path / "site",
        CAPTIONS[request.param],
        "https://museum.example/panorama/",
        places,
    )
    return tmp_path / "site"


def documents(site: Path) -> tuple[dict[str, Any], dict[str, Any]]:
    return (
        json.loads((site / "manifest.json").read_text("utf-8")),
        json.loads((site / "image/info.json").read_text("utf-8")),
    )


def test_a_strict_reader_finds_nothing_to_mend(site: Path) -> None:
    manifest, info = documents(site)
    answer = read(manifest, info, [])
    assert answer["warnings"] == []
    assert answer["upgraded"] == manifest
    assert answer["level0"] is True


def test_the_strict_reader_notices_faults(site: Path) -> None:
    manifest, info = documents(site)
    broken = copy.deepcopy(manifest)
    broken["label"] = "Saltmere"
    broken["items"][0]["width"] = "5200"
    assert len(read(broken, info, [])["warnings"]) >= 2


def test_every_whole_picture_answers_a_request_that_the_service_supports(site: Path) -> None:
    """Whole pictures only: this reader knows listed sizes, but not the tiles of level 0."""
    manifest, info = documents(site)
    files = [path.relative_to(site).as_posix() for path in (site / "image/full").rglob("*.jpg")]
    assert len(files) == 1 + len(info["sizes"])
    whole = "image/full/5200,1100/0/default.jpg"
    requests = ["https://museum.example/panorama/" + name for name in [*files, whole]]
    answer = read(manifest, info, requests)
    assert answer["refused"] == requests[-1:]
    theirs = sorted(size["width"] for size in answer["whole"])
    assert [size["width"] for size in info["sizes"]] == theirs[: len(info["sizes"])]


def test_the_types_of_the_specification_hold(tmp_path: Path, site: Path) -> None:
    manifest, info = documents(site)
    # These types forbid a homepage its label, which the text of the specification demands.
    assert manifest["homepage"][0].pop("label")
    code = VIEWER / "node_modules" / f".test-{tmp_path.name}.ts"
    lines = [
        'import type { ImageService3, Manifest } from "@iiif/presentation-3";',
        f"export const manifest: Manifest = {json.dumps(manifest)};",
        f"export const info: ImageService3 = {json.dumps(info)};",
    ]
    tsc = ["node_modules/typescript/bin/tsc", "--noEmit", "--strict", "--skipLibCheck"]
    tsc += ["--ignoreConfig", "--module", "esnext", "--moduleResolution", "bundler"]
    try:
        code.write_text("\n".join(lines), "utf-8")
        done = node(*tsc, str(code))
        assert done.returncode == 0, done.stdout
        code.write_text("\n".join(lines).replace('"items"', '"sequences"', 1), "utf-8")
        assert node(*tsc, str(code)).returncode != 0
    finally:
        code.unlink(missing_ok=True)


# Presentation API 3.0, sections 3 and 5, read at iiif.io/api/presentation/3.0.
def test_one_canvas_painted_with_the_picture(site: Path) -> None:
    manifest, info = documents(site)
    (canvas,) = manifest["items"]
    (painting,) = canvas["items"][0]["items"]
    assert (canvas["width"], canvas["height"]) == (info["width"], info["height"])
    assert painting["motivation"] == "painting"
    assert painting["target"] == canvas["id"]
    assert painting["body"]["service"][0]["id"] == info["id"]
    (place,) = canvas["annotations"][0]["items"]
    assert place["motivation"] != "painting"
    # 12.0° is 52 of 80° from the left edge at -40°; the view is 4° wide: 260 px of 5200.
    assert place["target"].endswith("#xywh=3250,504,260,162")
    ids = list(all_ids(manifest))
    assert all(name.startswith("https://museum.example/panorama/") for name in ids)


def all_ids(node_: Any) -> Any:
    if isinstance(node_, list):
        for item in node_:
            yield from all_ids(item)
    elif isinstance(node_, dict):
        if "id" in node_:
            yield node_["id"]
        for item in node_.values():
            yield from all_ids(item)


def test_rights_are_a_known_statement_or_words(site: Path, request: Any) -> None:
    """Section 3.2: `rights` is the address of a known statement; other words are required."""
    manifest, info = documents(site)
    rights = CAPTIONS[request.node.callspec.params["site"]].rights
    if rights.startswith("https://creativecommons.org"):
        assert manifest["rights"] == "http://creativecommons.org/licenses/by/4.0/"
        assert info["rights"] == manifest["rights"]
    else:
        assert "rights" not in manifest
        assert "rights" not in info
    if rights.startswith("Ask"):
        assert manifest["requiredStatement"]["value"]["none"] == [rights]


def test_the_whole_picture_stays_small(site: Path) -> None:
    """Image API 3.0, 5.3: `maxWidth` alone bounds width and height of what is answered."""
    _, info = documents(site)
    assert info["maxWidth"] == 1300
    assert info["sizes"][-1] == {"width": 1300, "height": 275}
