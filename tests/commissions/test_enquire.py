"""Writing down an enquiry: who asks, several pieces, and everything that cannot be meant."""

from decimal import Decimal

import pytest

from tests import makers
from tests.rough.pictures import jpeg
from workshop.commissions.actions import commissions
from workshop.commissions.models import Commission, CommissionItem
from workshop.common.errors import DeedRefused
from workshop.common.models import JournalEntry, Series
from workshop.materials.models import Material
from workshop.people.models import Contact

URL = "/commissions/new/"
pytestmark = pytest.mark.django_db
NOON, DAY = makers.NOON, makers.DAY


def typed(**said):
    return {
        "new_client": "Mara Quill", "asked_on": "2026-03-02", "work_1": "cut_client",
        "wanted_1": "an oval of her aquamarine", "off_cuts_1": "back", **said,
    }  # fmt: skip


@pytest.fixture
def owner(client):
    makers.make_shop()
    person = makers.make_owner()
    client.force_login(person)
    return person


def test_it_works(client, owner):
    answer = client.post(
        URL, typed(floor_ct_1="2.1", length_mm_1="9", width_mm_1="7", tolerance_mm_1="0,1", wished_by="2026-05-01",
                   use="a ring", wish="No window, please.", notes="met at the fair", new_email="mara@example.org"),
    )  # fmt: skip
    commission = Commission.objects.get()
    assert answer.url == commission.get_absolute_url() == "/commissions/C-0001/"
    who = commission.client
    assert (who.name, who.is_client, who.email) == ("Mara Quill", True, "mara@example.org")
    assert (commission.state, commission.currency, commission.opened_by) == ("enquiry", "EUR", owner)
    assert (commission.use, commission.wish, commission.notes) == (
        "a ring",
        "No window, please.",
        "met at the fair",
    )
    item = commission.items.get()
    assert (item.size_words, item.floor_ct) == ("9.00 × 7.00 mm ± 0.10 mm", Decimal("2.1"))
    line = JournalEntry.objects.get(about="C-0001")
    assert (line.verb, line.by, line.after["pieces"]) == (
        "opened enquiry",
        owner,
        ["an oval of her aquamarine"],
    )


def test_a_name_and_one_word_are_enough(client, owner):
    assert client.get(URL).status_code == 200
    client.post(URL, {"new_client": "Mara Quill", "asked_on": "2026-03-02", "work_1": "recut", "off_cuts_1": "back",
                      "wanted_1": "less window"})  # fmt: skip
    assert Commission.objects.get().items.get().wanted == "less window"


def test_species_and_shape_stand_for_the_words(client, owner):
    beryl = Material.objects.get(key="beryl-aquamarine")
    client.post(URL, typed(wanted_1="", shape_1="oval", material_1=beryl.pk))
    assert CommissionItem.objects.get().wanted == f"oval {beryl}"


def test_somebody_on_the_list_becomes_a_client(client, owner):
    known = makers.make_contact("Otto Fenn", is_buyer=True)
    assert f'value="{known.pk}" selected' in client.get(f"{URL}?client={known.code}").content.decode()
    client.post(URL, typed(new_client="", client=known.pk))
    known.refresh_from_db()
    assert (Commission.objects.get().client, known.is_client) == (known, True)


def test_several_pieces_as_rows_and_empty_rows_left_out(client, owner):
    asked = typed(
        work_2="match", wanted_2="", off_cuts_2="back",
        work_3="repair", wanted_3="a chipped corner", off_cuts_3="shop", most_ct_3="3",
    )  # fmt: skip
    client.post(URL, asked)
    pieces = Commission.objects.get().items.values_list("number", "work", "wanted", "off_cuts", "most_ct")
    assert list(pieces) == [
        (1, "cut_client", "an oval of her aquamarine", "back", None),
        (2, "repair", "a chipped corner", "shop", Decimal(3)),
    ]


def test_one_row_more_keeps_what_was_typed_and_writes_nothing(client, owner):
    answer = client.post(URL, typed(show="row", floor_ct_1="nonsense"))
    page = answer.content.decode()
    assert answer.status_code == 200 and not Commission.objects.exists()
    assert (
        'name="wanted_2"' in page
        and 'value="an oval of her aquamarine"' in page
        and 'value="nonsense"' in page
    )
    assert "wrong-summary" not in page
    again = client.post(URL, typed(show="row", work_2="recut", off_cuts_2="back")).content.decode()
    assert 'name="wanted_3"' in again and 'name="wanted_4"' not in again


def test_photographs_come_with_it_and_stay_hidden(client, owner):
    client.post(URL, typed(pictures=[jpeg(), jpeg("b.jpg", colour=(90, 20, 40))]))
    kept = Commission.objects.get().photos.all()
    assert [one.shared_at for one in kept] == [None, None]


def test_a_client_in_another_currency(client, owner):
    assert 'name="currency"' in client.get(URL).content.decode()
    client.post(URL, typed(currency="CHF"))
    assert Commission.objects.get().currency == "CHF"


def test_sent_twice_it_is_written_once(client, owner):
    for _ in range(2):
        assert client.post(URL, typed(once="a-key-of-one-form")).url == "/commissions/C-0001/"
    assert Commission.objects.count() == 1


LONG = "\n".join(f"line {number} of a very long wish" for number in range(200))


@pytest.mark.parametrize(
    ("said", "field", "words"),
    [
        ({"new_client": ""}, "client", "Say who asks"),
        ({"new_client": "   "}, "client", "Say who asks"),
        ({"client": "9999"}, "client", "Select a valid choice"),
        ({"asked_on": "2999-01-01"}, "asked_on", "lies in the future"),
        ({"asked_on": ""}, "asked_on", "required"),
        ({"wished_by": "2026-03-01"}, "wished_by", "before it was asked"),
        ({"wished_by": "1020-03-01"}, "wished_by", "Look at the year"),
        ({"wanted_1": ""}, "wanted_1", "Say what is wanted"),
        ({"wanted_1": "x" * 301}, "wanted_1", "at most 300"),
        ({"work_1": "magic"}, "work_1", "Select a valid choice"),
        ({"shape_1": "star"}, "shape_1", "Select a valid choice"),
        ({"material_1": "nothing"}, "material_1", "Select a valid choice"),
        ({"least_ct_1": "3", "most_ct_1": "2"}, "most_ct_1", "upside down"),
        ({"most_ct_1": "2", "floor_ct_1": "2.5"}, "floor_ct_1", "above the range"),
        ({"length_mm_1": "7", "width_mm_1": "9"}, "width_mm_1", "shorter side"),
        ({"width_mm_1": "7"}, "length_mm_1", "Give the length too"),
        ({"tolerance_mm_1": "0.1"}, "tolerance_mm_1", "needs a size"),
        ({"length_mm_1": "7", "tolerance_mm_1": "8"}, "tolerance_mm_1", "more than the size"),
        ({"length_mm_1": "0"}, "length_mm_1", ""),
        ({"floor_ct_1": "-1"}, "floor_ct_1", ""),
        ({"floor_ct_1": "a lot"}, "floor_ct_1", ""),
        ({"most_ct_1": "1e999999"}, "most_ct_1", ""),
        ({"wish": LONG}, "wish", "at most 2000"),
        ({"use": "x" * 121}, "use", "at most 120"),
        ({"new_email": "not an address"}, "new_email", "valid email"),
        ({"new_client": "A\x00B"}, "new_client", "Null characters"),
        ({"currency": "XQZ"}, "currency", "Select a valid choice"),
    ],
)
def test_what_cannot_be_meant_is_told_beside_its_box_and_nothing_is_kept(client, owner, said, field, words):
    answer = client.post(URL, typed(**said))
    assert answer.status_code == 422
    errors = answer.context["form"].errors
    assert field in errors and words in str(errors[field])
    if field != "wanted_1":
        assert 'value="an oval of her aquamarine"' in answer.content.decode()
    assert not Commission.objects.exists() and not Contact.objects.exists()
    assert not Series.objects.filter(prefix__in=["C", "P"], last__gt=0).exists()


def test_a_fault_in_a_later_row_is_told_in_that_row(client, owner):
    answer = client.post(
        URL, typed(work_2="recut", wanted_2="", least_ct_2="3", most_ct_2="2", off_cuts_2="back")
    )
    errors = answer.context["form"].errors
    assert set(errors) == {"wanted_2", "most_ct_2"}


def test_picked_and_named_is_one_too_many(client, owner):
    known = makers.make_contact("Otto Fenn")
    errors = client.post(URL, typed(client=known.pk)).context["form"].errors
    assert "not both" in str(errors["new_client"])
    errors = (
        client.post(URL, typed(client=known.pk, new_client="", new_email="o@example.org"))
        .context["form"]
        .errors
    )
    assert "for a new client" in str(errors["new_email"])


def test_a_namesake_is_asked_about_first(client, owner):
    makers.make_contact("Mara Quill")
    answer = client.post(URL, typed())
    assert answer.status_code == 422 and "Is this somebody else?" in answer.content.decode()
    assert client.post(URL, typed(sure="on")).status_code == 302


def test_a_picture_that_is_none(client, owner):
    from django.core.files.uploadedfile import SimpleUploadedFile

    answer = client.post(URL, typed(pictures=SimpleUploadedFile("a.jpg", b"no picture")))
    assert answer.status_code == 422 and "not a picture" in answer.content.decode()


@pytest.mark.parametrize("rows", ["9" * 50, "-1", "1000", "²"])
def test_row_numbers_nobody_could_have_been_given(client, owner, rows):
    assert client.post(URL, typed(**{f"work_{rows}": "recut"})).status_code == 302
    assert Commission.objects.get().items.count() == 1


def test_the_deed_itself_refuses(owner):
    mara = makers.make_contact("Mara Quill")
    one = makers.make_item_spec()

    def opened(**said):
        return commissions.open_commission(
            mara, **{"asked_on": DAY, "items": [one], "by": owner, "at": NOON, **said}
        )

    from datetime import timedelta

    for said, words in [
        ({"items": []}, "at least one piece"),
        ({"items": [one] * 41}, "At most 40"),
        ({"asked_on": DAY + timedelta(days=1)}, "in the future"),
        ({"wished_by": DAY - timedelta(days=1)}, "before it was asked"),
    ]:
        with pytest.raises(DeedRefused, match=words):
            opened(**said)
    assert not Commission.objects.exists()
    assert opened(items=[one] * 40).items.count() == 40


@pytest.mark.parametrize("role", ["hand", "reader"])
def test_only_the_owner_writes_enquiries(client, owner, role):
    client.force_login({"hand": makers.make_hand, "reader": makers.make_reader}[role]())
    assert client.get(URL).status_code == 403
    assert client.post(URL, typed()).status_code == 403
    assert not Commission.objects.exists()
