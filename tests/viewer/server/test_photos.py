"""Photos from a device: looked at, location out, once."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from mapper.store.photos import path_of
from mapper.store.shop import open_shop
from tests.viewer.server.conftest import Say, picture
from tests.viewer.server.talk import ANN, JOB, action, again, entry

GPS = 0x8825  # the tag of the place in a picture's own data (EXIF 2.3)


def located() -> bytes:
    """A picture that says where it was taken."""
    exif = Image.Exif()
    exif.get_ifd(GPS)[1] = "N"
    exif.get_ifd(GPS)[2] = (59.0, 20.0, 0.0)
    exif[0x010F] = "A maker"
    return picture(exif=exif.tobytes())


def send(page: Any, data: bytes, photo_id: str, by: str = ANN, kind: str = "image/jpeg") -> Any:
    path = f"/api/jobs/{JOB}/photos?id={photo_id}&by={by}&taken="
    return page.post(path, content=data, headers={"content-type": kind})


def test_a_photo_is_kept_without_its_place_and_found_again(page: Any, shop: Path, say: Say) -> None:
    data = located()
    assert GPS in Image.open(io.BytesIO(data)).getexif()
    got = send(page, data, "photo-1")
    assert got.status_code == 200
    answer = got.json()
    assert (answer["photo_id"], answer["width"], answer["height"]) == ("photo-1", 64, 48)
    assert any("place" in note or "location" in note for note in answer["notes"]), answer["notes"]
    kept = page.get(answer["href"])
    assert kept.headers["content-type"] == "image/jpeg"
    assert "immutable" in kept.headers["cache-control"]
    assert GPS not in Image.open(io.BytesIO(kept.content)).getexif()
    use = {"photo_id": "photo-1", "caption": "with scale", "mm_per_pixel": 0.1}
    (view,) = say("actions", action(entry(photos=[use])))["changes"]["entries"]
    assert view["photos"] == [{**use, "href": answer["href"]}]
    (changed,) = say("actions", action(again(view), op="change"))["changes"]["entries"]
    assert changed["photos"] == []
    with open_shop(shop) as store:
        (photo,) = store.book(JOB).photos
    assert path_of(shop, photo.digest).read_bytes() == kept.content


def test_the_same_photo_again_is_answered_as_before(page: Any, shop: Path) -> None:
    data = picture()
    first, second = (send(page, data, "photo-1").json() for _ in range(2))
    assert first["href"] == second["href"]
    with open_shop(shop) as store:
        assert len(store.book(JOB).photos) == 1
    other = send(page, picture((80, 60)), "photo-1")
    assert (other.status_code, other.json()["code"]) == (422, "refused")


def test_a_shop_that_keeps_places_keeps_them(page: Any, shop: Path) -> None:
    with open_shop(shop) as store, store.act(ANN, "keep places") as act:
        record = store.shop()
        act.change(type(record)(**{**record.__dict__, "settings": {"photo_keep_location": True}}))
    answer = send(page, located(), "photo-1").json()
    assert GPS in Image.open(io.BytesIO(page.get(answer["href"]).content)).getexif()


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "refused"),
        (b"no picture at all", "refused"),
        (b"<svg onload='x()'/>", "refused"),
        (picture()[:200], "refused"),
        (b"PK\x03\x04" + b"\0" * 100, "refused"),
    ],
    ids=["empty", "text", "svg", "cut", "archive"],
)
def test_what_is_no_picture_is_refused(page: Any, data: bytes, words: str) -> None:
    got = send(page, data, "photo-1")
    assert (got.status_code, got.json()["code"]) == (422, "refused")
    assert words in got.json()["message"]


def test_a_picture_beyond_the_limits_is_refused(page: Any, shop: Path) -> None:
    with open_shop(shop) as store, store.act(ANN, "small ones") as act:
        record = store.shop()
        limits = {"photo_byte_limit": 2000, "photo_pixel_limit": 5000}
        act.change(type(record)(**{**record.__dict__, "settings": limits}))
    got = send(page, picture((400, 300)), "photo-1")
    assert (got.status_code, got.json()["code"]) == (413, "too large")
    few_bytes = io.BytesIO()
    Image.new("L", (200, 200)).save(few_bytes, "PNG")
    got = send(page, few_bytes.getvalue(), "photo-2", kind="image/png")
    assert (got.status_code, got.json()["code"]) == (422, "refused")


@pytest.mark.parametrize(
    ("query", "status"),
    [
        ("id=../../x&by=person-ann", 422),
        ("by=person-ann", 422),
        ("id=p-1&by=person-ann&taken=yesterday", 422),
        ("id=p-1&by=nobody", 422),
    ],
)
def test_a_photo_says_who_and_which(page: Any, query: str, status: int) -> None:
    headers = {"content-type": "image/jpeg"}
    got = page.post(f"/api/jobs/{JOB}/photos?{query}", content=picture(), headers=headers)
    assert (got.status_code, got.json()["code"]) == (status, "refused")


def test_a_photo_of_another_job_is_unknown(page: Any) -> None:
    headers = {"content-type": "image/jpeg"}
    got = page.post("/api/jobs/none/photos?id=p&by=x", content=picture(), headers=headers)
    assert (got.status_code, got.json()["code"]) == (404, "unknown")
