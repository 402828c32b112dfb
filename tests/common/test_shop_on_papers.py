"""The shop's mark and its own line: kept clean, shown, taken off, and held against the rules for public words."""

import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image

from tests import makers
from tests.makers import make_shop
from workshop.common import photos
from workshop.common.models import JournalEntry, Shop

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def owner(client):
    make_shop()
    person = makers.somebody()
    client.force_login(person)
    return person


def a_mark(mode="RGBA", kind="PNG"):
    """A ring on nothing at all: see-through around and inside."""
    picture = Image.new(mode, (300, 300), (0, 0, 0, 0) if mode == "RGBA" else "white")
    for x in range(100, 200):
        picture.putpixel((x, 150), (15, 91, 74, 255) if mode == "RGBA" else (15, 91, 74))
    out = io.BytesIO()
    picture.save(out, kind)
    return SimpleUploadedFile("mark.png", out.getvalue(), "image/png")


def send(client, **said):
    page = client.get(reverse("common:shop"))
    form = page.context["form"]
    values = {
        bound.name: bound.value() or "" for bound in form if bound.name not in {"mark", "no_mark", "sure"}
    }
    return client.post(reverse("common:shop"), values | said)


def test_a_mark_is_kept_re_encoded_and_on_white(client):
    assert send(client, mark=a_mark(), foot_words="Cut by hand, one at a time.").status_code == 302
    shop = Shop.the()
    assert shop.foot_words == "Cut by hand, one at a time."
    with Image.open(io.BytesIO(photos.read(shop.mark, "card"))) as kept:
        assert kept.format == "JPEG" and min(kept.getpixel((10, 10))) > 250, "see-through is paper, not black"
    assert shop.mark.sha256 in client.get(reverse("common:shop")).content.decode()
    assert JournalEntry.objects.first().after["mark"] == shop.mark.sha256


def test_sent_again_without_a_file_the_mark_stays_and_can_be_taken_off(client):
    send(client, mark=a_mark())
    assert send(client).status_code == 302 and Shop.the().mark is not None
    assert send(client, no_mark="on").status_code == 302 and Shop.the().mark is None


@pytest.mark.parametrize("data", [b"not a picture", b"<svg onload='alert(1)'/>", b"\x89PNG\r\n\x1a\n broken"])
def test_what_is_no_picture_is_refused_beside_its_field(client, data):
    answer = send(client, mark=SimpleUploadedFile("mark.png", data, "image/png"))
    assert answer.status_code == 422 and answer.context["form"].errors["mark"]
    assert Shop.the().mark is None


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (
            "All our stones are untreated.",
            "16 CFR 23.24 and the house's ladder: untreated below its evidence",
        ),
        ("Flawless stones since 1999", "16 CFR 23.28"),
        ("AAA quality", "16 CFR 23.1 note 1: a grade without a system"),
    ],
)
def test_a_line_that_claims_too_much_is_refused(client, words, why):
    answer = send(client, foot_words=words)
    assert answer.status_code == 422 and answer.context["form"].errors["foot_words"], why
    assert Shop.the().foot_words == ""
    assert words in answer.content.decode(), "what was typed stays"
