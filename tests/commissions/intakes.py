"""Makers for taking-in: a client, an enquiry on their goods, and pieces on the counter."""

from datetime import date
from decimal import Decimal

from django.core.files.uploadedfile import SimpleUploadedFile

from tests.makers import NOON, make_contact, somebody
from tests.rough.pictures import jpeg
from workshop.commissions.actions import commissions
from workshop.commissions.actions import intake as deeds
from workshop.commissions.actions.commissions import ItemSpec
from workshop.common import photos
from workshop.handbook.units import parse_weight
from workshop.materials.models import Material

ASKED = date(2026, 3, 1)
SITE = "https://cards.example"


def make_client(name="Vesna Torsvik", **said):
    said.setdefault("address", "3 Quay Street\nPort Ellen")
    said.setdefault("phone", "+00 1234 567")
    return make_contact(name, is_client=True, **said)


def make_enquiry(*works, client=None, **said):
    """A commission of the works named, by default one recut."""
    items = [ItemSpec(work=work, wanted=f"{work} it") for work in works or ("recut",)]
    return commissions.open_commission(
        client or make_client(), asked_on=ASKED, items=items, by=somebody(), at=NOON, **said
    )


def piece(weight="6.420 ct", **said):
    said = {"stated_to_be": "an emerald", "seen_as": "transparent green oval, step pavilion", **said}
    if isinstance(said.get("told_material"), str):
        said["told_material"] = Material.objects.get(key=said["told_material"])
    return deeds.PieceSpec(weight=parse_weight(weight), **said)


def make_intake(*pieces, commission=None, **said):
    said = {"handed_by": "Vesna Torsvik", "received_at": NOON, "by": somebody(), "at": NOON, **said}
    return deeds.take_in(commission or make_enquiry(), pieces=pieces or [piece()], **said)


def make_photo(row, colour=(20, 90, 60), size=(320, 240), view="front", upload=None):
    kept = photos.keep(photos.prepare(upload or jpeg(size=size, colour=colour)), by=somebody(), at=NOON)
    return deeds.add_intake_photo(row, kept, view=view, by=somebody(), at=NOON)


def photographed(*pieces, **said):
    """A taking-in with one photograph of each piece."""
    intake = make_intake(*pieces, **said)
    for number, row in enumerate(intake.pieces.all()):
        make_photo(row, colour=(20, 60 + 20 * number, 60))
    return intake


def mark(photo, words="chip at the girdle", x="25", y="50"):
    return deeds.mark_fault(
        photo, x_percent=Decimal(x), y_percent=Decimal(y), words=words, by=somebody(), at=NOON
    )


def cut_off(name="cut.jpg"):
    """A picture whose sending broke off half way."""
    whole = jpeg(size=(800, 600)).read()
    return SimpleUploadedFile(name, whole[: len(whole) // 2], "image/jpeg")
