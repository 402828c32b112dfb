"""Pictures: upright, shrunk, re-encoded, without anything the camera noted; and what is not a picture is refused."""

import io

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image, ImageFile

from tests.makers import NOON, make_owner, make_shop
from workshop.common import photos
from workshop.common.models import Photo


def jpeg(size=(1200, 800), *, orientation=1, gps=False, kind="JPEG"):
    picture = Image.new("RGB", size, (20, 90, 60))
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F] = "SECRETCAMERA"
    if gps:
        exif.get_ifd(0x8825)[1] = "N"
        exif.get_ifd(0x8825)[2] = (38.0, 43.0, 12.0)
    out = io.BytesIO()
    picture.save(out, kind, exif=exif)
    return SimpleUploadedFile("../up/é.jpg", out.getvalue())


def test_it_works():
    sizes = photos.prepare(jpeg((3000, 2000)))
    widths = {name: Image.open(io.BytesIO(data)).size for name, data in sizes.items()}
    assert widths == {"large": (1600, 1067), "card": (640, 427), "thumb": (400, 267)}


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_nothing_the_camera_noted_is_kept(kind):
    for data in photos.prepare(jpeg(gps=True, orientation=6, kind=kind)).values():
        kept = Image.open(io.BytesIO(data))
        assert not dict(kept.getexif())
        assert b"SECRETCAMERA" not in data and b"Exif" not in data and b"GPS" not in data
        assert kept.height > kept.width  # turned upright


def bomb(pixels):
    """A few kilobytes that say they are a giant picture."""
    side = int(pixels**0.5)
    out = io.BytesIO()
    Image.new("1", (side, side)).save(out, "PNG", optimize=False)
    return SimpleUploadedFile("bomb.png", out.getvalue())


@pytest.mark.parametrize("megapixels", [61, 200])
def test_a_giant_picture_is_refused_before_it_is_decoded(megapixels):
    with pytest.raises(ValidationError, match=r"megapixels|not a picture"):
        photos.prepare(bomb(megapixels * 1_000_000))


@pytest.mark.parametrize(
    "data", [b"", b"not a picture", b"<svg xmlns='http://www.w3.org/2000/svg'/>", b"GIF89a" + b"\x00" * 40, b"\xff\xd8\xff\xe0junk"]
)  # fmt: skip
def test_what_is_not_a_picture_is_refused(data):
    with pytest.raises(ValidationError):
        photos.prepare(SimpleUploadedFile("x.jpg", data))


def test_a_picture_cut_short_is_refused_even_after_a_paper_was_drawn(monkeypatch):
    # What importing WeasyPrint does to Pillow, for the whole process.
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)
    whole = jpeg().read()
    with pytest.raises(ValidationError):
        photos.prepare(SimpleUploadedFile("x.jpg", whole[: len(whole) // 3]))


def test_too_large_a_file_is_refused_unread(settings):
    settings.PICTURE_MAX_BYTES = 1000
    with pytest.raises(ValidationError, match="larger than"):
        photos.prepare(jpeg())


@pytest.mark.django_db
def test_the_same_picture_twice_is_one_row_and_is_shown_only_to_who_is_signed_in(client):
    make_shop()
    owner = make_owner()
    one = photos.keep(photos.prepare(jpeg()), by=owner, at=NOON)
    two = photos.keep(photos.prepare(jpeg()), by=owner, at=NOON)
    assert one == two and Photo.objects.count() == 1
    page = reverse("common:photo", args=[one.sha256, "thumb"])
    assert client.get(page).status_code == 302
    client.force_login(owner)
    answer = client.get(page)
    assert (answer.status_code, answer["Content-Type"]) == (200, "image/jpeg")
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert client.get(page.replace("thumb", "poster")).status_code == 404
    assert client.get(page.replace(one.sha256, "0" * 64)).status_code == 404
