"""Taking a lot in: each slip told beside its box, nothing half kept, what was typed still there."""

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.files.storage import default_storage
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from tests.makers import DAY, make_contact, make_hand, make_owner, make_reader, make_shop
from tests.rough.pictures import GPS, bomb, jpeg, large, not_a_picture
from workshop.common import photos
from workshop.common.models import JournalEntry, Photo, Series
from workshop.materials.models import Material
from workshop.people.models import Contact
from workshop.rough.models import LotCost, LotStatement, RoughLot

pytestmark = pytest.mark.django_db
D = Decimal


@pytest.fixture
def owner(client):
    make_shop()
    person = make_owner()
    client.force_login(person)
    return person


def typed(**said):
    """What a cutter types for a plain parcel."""
    return {
        "way_in": "bought",
        "received_on": DAY.isoformat(),
        "weight": "20 g",
        "sold_as": "garnet",
        "evidence": "1",
        "price_basis": "g",
        "currency": "EUR",
        **said,
    }


def send(client, **said):
    return client.post(reverse("rough:receive"), typed(**said))


def nothing_kept():
    return not (
        RoughLot.objects.exists()
        or LotCost.objects.exists()
        or LotStatement.objects.exists()
        or Contact.objects.exists()
        or Photo.objects.exists()
        or JournalEntry.objects.exists()
        or Series.objects.filter(last__gt=0).exists()
    )


def test_a_lot_with_all_that_was_said_of_it(client, owner):
    garnet = Material.objects.filter(species="garnet").first()
    answer = send(
        client,
        new_seller="Imaginary Stones",
        pieces="12",
        material=str(garnet.pk),
        colour="orange",
        origin="Nowhere district",
        treated="treated",
        treatments=["heat"],
        nature="mined",
        evidence="2",
        how="invoice 7",
        unit_price="3",
        declared_value="100",
        notes="nice",
        pictures=[jpeg(), jpeg("second.jpg", colour=(90, 20, 60))],
    )
    lot = RoughLot.objects.get()
    assert answer.url == lot.get_absolute_url()
    assert (lot.weight_ct, lot.entered_weight, lot.pieces) == (D("100.000"), "20 g", 12)
    assert lot.landed_cost == D("60.00")
    assert lot.material == garnet
    assert lot.seller.is_supplier
    said = {one.question: one for one in lot.statements.all()}
    assert said.keys() == {"species", "colour", "origin", "treatment", "nature"}
    assert {one.evidence for one in said.values()} == {2}
    assert {one.said_by for one in said.values()} == {"Imaginary Stones"}
    assert said["treatment"].answer == "heated"
    assert lot.photos.count() == 2
    page = client.get(answer.url).content.decode()
    assert page.count("<img") == 2
    assert "written by the seller" in page


def test_a_clients_goods_cost_nothing_and_name_their_owner(client, owner):
    client_ = make_contact(name="Bram Olufsen", is_client=True)
    assert send(client, way_in="client", owner=str(client_.pk)).status_code == 302
    lot = RoughLot.objects.get()
    assert (lot.ownership, lot.owner, lot.landed_cost, lot.unit_price) == ("client", client_, 0, None)
    page = client.get(lot.get_absolute_url()).content.decode()
    assert "Late bill" not in page
    assert 'id="cost"' not in page


def test_each_basis_of_price(client, owner):
    # 20 g = 100 ct = 0.02 kg, 8 pieces: by hand.
    for basis, price, cost in [
        ("g", "3", "60.00"),
        ("ct", "0,60", "60.00"),
        ("kg", "1234.5", "24.69"),
        ("piece", "7.25", "58.00"),
        ("lot", "61.4", "61.40"),
    ]:
        assert send(client, price_basis=basis, unit_price=price, pieces="8").status_code == 302
        assert RoughLot.objects.first().landed_cost == D(cost)


@pytest.mark.parametrize(
    "weight", ["1,5 g", "1.5g", "1.5 G", "7.5 ct", "7,500ct", "1500 mg", "0.0015 kg", "1.5"]
)
def test_weights_as_people_type_them(client, owner, weight):
    assert send(client, weight=weight).status_code == 302
    assert RoughLot.objects.get().weight_ct == D("7.500")


WRONG = [
    ({"weight": ""}, "weight", "required"),
    ({"weight": "-3 g"}, "weight", "above zero"),
    ({"weight": "0"}, "weight", "above zero"),
    ({"weight": "heavy"}, "weight", "number"),
    ({"weight": "3 stone"}, "weight", "not a unit"),
    ({"weight": "3 gr"}, "weight", "gram"),
    ({"weight": "1e9 g"}, "weight", ""),
    ({"weight": "999999999 kg"}, "weight", "cannot be right"),
    ({"weight": "nan g"}, "weight", "number"),
    ({"weight": "25 kg"}, "weight", "Look at the unit"),
    ({"weight": "20 kg", "pieces": "4"}, "weight", "a piece"),
    ({"weight": "1 ct", "pieces": "500"}, "weight", "a piece"),
    ({"received_on": "2026-13-40"}, "received_on", "valid date"),
    ({"received_on": "0026-03-02"}, "received_on", "year"),
    ({"sold_as": ""}, "sold_as", "required"),
    ({"sold_as": "x" * 301}, "sold_as", "300"),
    ({"pieces": "0"}, "pieces", "greater than or equal to 1"),
    ({"pieces": "-2"}, "pieces", "greater than or equal to 1"),
    ({"pieces": "many"}, "pieces", "whole number"),
    ({"unit_price": "-1"}, "unit_price", "at least 0"),
    ({"unit_price": "cheap"}, "unit_price", "not a number"),
    ({"unit_price": "1", "price_basis": "piece"}, "pieces", "number of pieces"),
    ({"unit_price": "1", "currency": "USD"}, "rate", "bank took"),
    ({"unit_price": "1", "currency": "USD", "rate": "0"}, "rate", "above zero"),
    ({"unit_price": "1", "currency": "USD", "rate": "-1"}, "rate", "above zero"),
    ({"unit_price": "1", "rate": "0.9"}, "rate", "rate is 1"),
    ({"unit_price": "1", "currency": "XXQ"}, "currency", "valid choice"),
    ({"freight": "1.234"}, "freight", "decimals"),
    ({"freight": "-5"}, "freight", "zero or more"),
    ({"way_in": "client"}, "owner", "whose"),
    ({"way_in": "client", "new_owner": "Bram", "unit_price": "3"}, "unit_price", "no price"),
    ({"way_in": "lent", "new_owner": "Bram", "duty": "3"}, "duty", "no cost"),
    ({"new_owner": "Bram"}, "new_owner", "no other owner"),
    ({"way_in": "stolen"}, "way_in", "valid choice"),
    ({"treated": "treated"}, "treatments", "which treatment"),
    ({"treatments": ["heat"]}, "treated", "named below"),
    ({"treatments": ["magic"]}, "treatments", "valid choice"),
    ({"evidence": "5"}, "how", "document"),
    ({"evidence": "9"}, "evidence", "valid choice"),
    ({"material": "999999"}, "material", "valid choice"),
    ({"seller": "999999"}, "seller", "valid choice"),
    ({"sold_as": "nul\x00"}, "sold_as", "Null"),
]


@pytest.mark.parametrize(("wrong", "field", "words"), WRONG, ids=[f"{w[1]}-{i}" for i, w in enumerate(WRONG)])
def test_a_slip_is_told_beside_its_box_and_nothing_is_kept(client, owner, wrong, field, words):
    answer = send(
        client, **{"notes": "typed with care", "colour": "orange", "new_seller": "Imaginary Stones", **wrong}
    )
    assert answer.status_code == 422
    assert words.lower() in " ".join(answer.context["form"].errors[field]).lower()
    assert nothing_kept()
    page = answer.content.decode()
    assert "typed with care" in page
    assert 'value="orange"' in page


def test_a_day_in_the_future_is_refused(client, owner):
    tomorrow = timezone.localdate() + timedelta(days=2)
    answer = send(client, received_on=tomorrow.isoformat())
    assert "future" in str(answer.context["form"].errors["received_on"])
    assert nothing_kept()


def test_an_odd_weight_goes_through_once_it_is_meant(client, owner):
    page = send(client, weight="25 kg").content.decode()
    assert re.search(r'type="checkbox" name="sure"', page)
    assert send(client, weight="25 kg", sure="on").status_code == 302
    assert RoughLot.objects.get().weight_ct == D("125000.000")


def test_a_seller_picked_and_named_at_once_is_refused(client, owner):
    known = make_contact(is_supplier=True)
    answer = send(client, seller=str(known.pk), new_seller="Somebody")
    assert "not both" in str(answer.context["form"].errors["new_seller"])
    assert not RoughLot.objects.exists()


def test_a_new_seller_who_may_be_known_is_asked_about(client, owner):
    make_contact(name="Imaginary Stones", is_supplier=True)
    answer = send(client, new_seller="imaginary stones")
    assert answer.status_code == 422
    assert "P-0001 Imaginary Stones already" in answer.content.decode()
    assert not RoughLot.objects.exists()
    assert Contact.objects.count() == 1


def test_work_it_out_shows_the_figures_and_keeps_nothing(client, owner):
    answer = send(client, preview="1", new_seller="Imaginary Stones", unit_price="3", freight="4.50")
    assert answer.status_code == 200
    page = answer.content.decode().replace("\xa0", " ")
    assert "64.50" in page
    assert "3.2250" in page  # 64.50 / 20 g
    assert "0.6450" in page  # 64.50 / 100 ct
    assert 'value="Imaginary Stones"' in page
    assert nothing_kept()


def test_work_it_out_tells_what_is_missing(client, owner):
    answer = send(client, preview="1", weight="")
    assert answer.status_code == 422
    assert "required" in answer.content.decode()


def test_work_it_out_as_a_fragment(client, owner):
    url = reverse("rough:receive")
    answer = client.post(url, typed(preview="1", unit_price="3"), headers={"HX-Request": "true"})
    assert answer.status_code == 200
    page = answer.content.decode()
    assert "60.00" in page
    assert "<html" not in page
    quiet = client.post(
        url, typed(preview="1", quietly="1", weight=""), headers={"HX-Request": "true"}
    ).content.decode()
    assert "appears here" in quiet
    # What stands in a box and is wrong is told even while one types.
    slip = client.post(
        url, typed(preview="1", quietly="1", weight="-3"), headers={"HX-Request": "true"}
    ).content.decode()
    assert "Weight: A weight must be above zero" in slip
    assert nothing_kept()


def test_pictures_are_turned_re_encoded_and_rid_of_the_place(client, owner):
    upload = jpeg(gps=True)
    assert Image.open(upload).getexif().get_ifd(0x8825)[2] == GPS[2]
    upload.seek(0)
    assert send(client, pictures=[upload]).status_code == 302
    kept = Photo.objects.get()
    for size in photos.SIZES:
        with default_storage.open(photos.path_of(kept.sha256, size)) as handle:
            picture = Image.open(handle)
            assert picture.format == "JPEG"
            assert not picture.getexif()
            assert "exif" not in picture.info


@pytest.mark.parametrize(
    ("upload", "words"),
    [(not_a_picture, "not a picture"), (bomb, "megapixels"), (large, "larger than 25 MB")],
)
def test_a_bad_picture_is_told_with_its_name_and_the_lot_is_not_kept(client, owner, upload, words):
    bad = upload()
    answer = send(client, pictures=[jpeg(), bad], notes="typed with care")
    assert answer.status_code == 422
    told = " ".join(answer.context["form"].errors["pictures"])
    assert words in told
    assert bad.name in told
    assert "typed with care" in answer.content.decode()
    assert nothing_kept()


def test_odd_names_are_shown_as_text(client, owner):
    for words in ("<script>alert(\"1\")</script> 'rough'", "💎 gemme brute", "חומר גלם", "=cmd()"):
        url = send(client, sold_as=words, colour=words, notes=words, new_seller=words, sure="on").url
        page = client.get(url).content.decode()
        assert "<script>alert" not in page
        assert "onerror=" not in page
    assert "<script>alert" not in client.get(reverse("rough:lots")).content.decode()


def test_a_form_sent_twice_makes_one_lot(client, owner):
    first, second = (send(client, once="key", new_seller="Imaginary", unit_price="2").url for _ in range(2))
    assert first == second
    assert RoughLot.objects.count() == 1
    assert Contact.objects.count() == 1
    assert LotCost.objects.count() == 1


@pytest.mark.parametrize("maker", [make_hand, make_reader])
def test_only_the_owner_receives(client, maker):
    make_shop()
    client.force_login(maker())
    assert client.get(reverse("rough:receive")).status_code == 403
    assert send(client).status_code == 403
    assert nothing_kept()


def test_a_stranger_is_sent_to_the_door(client):
    assert reverse("common:sign_in") in client.get(reverse("rough:receive")).url
    assert reverse("common:sign_in") in send(client).url
