"""Photographs of a stone."""

import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from tests.makers import NOON
from workshop.stones import actions


def picture(size=(640, 480), colour="teal", name="stone.jpg", exif=None):
    out = io.BytesIO()
    Image.new("RGB", size, colour).save(out, "JPEG", **({"exif": exif} if exif else {}))
    return SimpleUploadedFile(name, out.getvalue(), "image/jpeg")


def url(stone):
    return f"/stones/{stone.code}/photo/"


def test_it_works_and_stands_on_the_page_by_its_stage(as_hand, stone):
    actions.move_on(stone, "preformed", by=None, at=NOON)
    answer = as_hand.post(url(stone), {"pictures": [picture(), picture(colour="red")], "caption": "preform"})
    assert answer.status_code == 302
    assert [taken.stage for taken in stone.photos.all()] == ["preformed", "preformed"]
    page = as_hand.get(f"/stones/{stone.code}/").content.decode()
    sha = stone.photos.last().photo.sha256
    assert f"/photos/{sha}/card.jpg" in page
    assert as_hand.get(f"/photos/{sha}/card.jpg").status_code == 200


def test_where_it_was_taken_is_left_out(as_hand, stone):
    exif = Image.Exif()
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8825)[2] = (38.0, 42.0, 0.0)
    as_hand.post(url(stone), {"pictures": [picture(exif=exif)]})
    sha = stone.photos.get().photo.sha256
    kept = as_hand.get(f"/photos/{sha}/large.jpg").content
    assert not Image.open(io.BytesIO(kept)).getexif()


@pytest.mark.parametrize(
    "upload",
    [
        SimpleUploadedFile("stone.jpg", b"<script>alert(1)</script>", "image/jpeg"),
        SimpleUploadedFile("stone.jpg", b"", "image/jpeg"),
        SimpleUploadedFile("stone.gif", b"GIF89a\x01\x00\x01\x00\x00\x00\x00;", "image/gif"),
    ],
)
def test_what_is_no_picture_is_refused(as_hand, stone, upload):
    upload.seek(0)
    answer = as_hand.post(url(stone), {"pictures": [upload], "caption": "kept words"})
    assert answer.status_code == 422
    assert answer.context["form"].errors["pictures"]
    assert "kept words" in answer.content.decode()
    assert not stone.photos.exists()


def test_none_at_all_is_refused(as_hand, stone):
    assert as_hand.post(url(stone), {}).status_code == 422


def test_the_same_picture_twice_is_one(as_hand, stone):
    for _ in range(2):
        as_hand.post(url(stone), {"pictures": [picture()]})
    assert stone.photos.count() == 1


def test_a_reader_adds_none(as_reader, stone):
    assert as_reader.post(url(stone), {"pictures": [picture()]}).status_code == 403
