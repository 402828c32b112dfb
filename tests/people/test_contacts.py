"""The contact list: added once, asked about when it looks like a twin, filtered, shown to each role as it may see."""

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests.makers import NOON, make_contact, make_hand, make_lot, make_owner, make_reader, make_shop
from tests.rough import pages
from workshop.common.errors import PleaseConfirm
from workshop.common.models import JournalEntry
from workshop.people import actions
from workshop.people.models import Contact

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(client):
    make_shop()
    person = make_owner()
    client.force_login(person)
    return person


def typed(**said):
    return {"name": "Imaginary Stones", "is_supplier": "on", **said}


def test_somebody_is_added_with_a_code_and_one_journal_line(client, owner):
    answer = client.post(reverse("people:add"), typed(email="post@imaginary.example", country="Nowhere"))
    added = Contact.objects.get()
    assert answer.status_code == 302
    assert answer.url == reverse("people:contact", args=["P-0001"])
    assert (added.code, added.parts, added.country) == ("P-0001", ["supplier"], "Nowhere")
    line = JournalEntry.objects.get(about="P-0001")
    assert (line.verb, line.by) == ("added contact", owner)
    assert "Imaginary Stones" in client.get(answer.url).content.decode()


def test_codes_run_without_a_gap_when_one_is_refused(client, owner):
    client.post(reverse("people:add"), typed())
    assert client.post(reverse("people:add"), typed(email="not a mail")).status_code == 422
    client.post(reverse("people:add"), typed(name="Another"))
    assert list(Contact.objects.order_by("pk").values_list("code", flat=True)) == ["P-0001", "P-0002"]


@pytest.mark.parametrize(
    "twin", [{}, {"name": "imaginary  stones"}, {"name": "Else", "email": "A@b.example"}]
)
def test_a_likely_twin_is_asked_about_and_goes_through_when_meant(client, owner, twin):
    make_contact(email="a@b.example")
    answer = client.post(reverse("people:add"), typed(**twin))
    assert answer.status_code == 422
    said = answer.content.decode()
    assert "P-0001 Imaginary Stones already" in said
    assert 'type="checkbox" name="sure"' in said
    assert Contact.objects.count() == 1
    assert client.post(reverse("people:add"), typed(**twin, sure="on")).status_code == 302
    assert Contact.objects.count() == 2


def test_the_same_name_at_another_firm_is_somebody_else():
    make_contact(name="Ana Fictiva", firm="Green Hill")
    other = actions.add_contact(by=None, at=NOON, name="Ana Fictiva", firm="Blue Hill")
    assert other.pk
    with pytest.raises(PleaseConfirm):
        actions.add_contact(by=None, at=NOON, name="Ana Fictiva", firm="green hill")


def test_a_change_keeps_what_stood_there_before(client, owner):
    make_contact(phone="1")
    answer = client.post(reverse("people:edit", args=["P-0001"]), typed(phone="2", notes="pays late"))
    assert answer.status_code == 302
    line = JournalEntry.objects.get(verb="changed contact")
    assert (line.before["phone"], line.after["phone"]) == ("1", "2")
    assert "name" not in line.before
    # A save that changes nothing leaves no line.
    client.post(reverse("people:edit", args=["P-0001"]), typed(phone="2", notes="pays late"))
    assert JournalEntry.objects.filter(verb="changed contact").count() == 1


def test_the_edit_form_opens_with_what_is_known(client, owner):
    make_contact(phone="0 12", is_client=True)
    form = client.get(reverse("people:edit", args=["p-0001"])).context["form"]
    assert form["phone"].value() == "0 12"
    assert form["is_client"].value() is True


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"name": ""}, "name"),
        ({"name": "   "}, "name"),
        ({"name": "n" * 161}, "name"),
        ({"email": "nobody@"}, "email"),
        ({"name": "nul\x00byte"}, "name"),
    ],
)
def test_bad_input_is_told_beside_its_field_and_what_was_typed_stays(client, owner, wrong, field):
    answer = client.post(reverse("people:add"), typed(phone="0 55", **wrong))
    assert answer.status_code == 422
    assert answer.context["form"].errors[field]
    assert 'value="0 55"' in answer.content.decode()
    assert not Contact.objects.exists()


def test_odd_names_are_shown_as_text(client, owner):
    for name in ("<b>\"Quote\" & 'Co'</b>", "💎 Ünïcødé", "אבן יקרה", "=1+1"):
        url = client.post(reverse("people:add"), typed(name=name)).url
        said = client.get(url).content.decode()
        assert "<b>" not in said
    assert "<b>" not in client.get(reverse("people:contacts")).content.decode()


def test_a_form_sent_twice_adds_once(client, owner):
    sent = typed(once="one")
    assert client.post(reverse("people:add"), sent).url == client.post(reverse("people:add"), sent).url
    assert Contact.objects.count() == 1


def test_the_list_is_filtered_by_part_and_words_and_sorted(client, owner):
    make_contact(name="Berta", is_supplier=True)
    make_contact(name="Anton", is_supplier=True, firm="Hill")
    make_contact(name="Carla", is_client=True)

    def names(**asked):
        return [one.name for one in client.get(reverse("people:contacts"), asked).context["page"].rows]

    assert names() == ["Anton", "Berta", "Carla"]
    assert names(part="supplier") == ["Anton", "Berta"]
    assert names(part="supplier", words="hil") == ["Anton"]
    assert names(words="p-0003") == ["Carla"]
    assert names(sort="-code") == ["Carla", "Anton", "Berta"]
    # A part nobody can play is told, not obeyed.
    assert client.get(reverse("people:contacts"), {"part": "wizard"}).status_code == 422


def test_paging_leads_through_all_and_back(client, owner):
    for number in range(120):
        make_contact(name=f"Person {number:03}")
    seen, url = [], reverse("people:contacts")
    while url:
        page = client.get(url).context["page"]
        seen += [one.name for one in page.rows]
        url = page.next_url and reverse("people:contacts") + page.next_url
    assert seen == [f"Person {number:03}" for number in range(120)]


def test_the_page_shows_their_lots_and_no_money_to_a_hand(client, owner):
    seller = make_contact(is_supplier=True, notes="a secret", tax_number="T-9")
    make_lot(seller=seller, sold_as="rose crystals", price_basis="lot", unit_price=Decimal("987.65"))
    url = reverse("people:contact", args=[seller.code])
    said = client.get(url).content.decode()
    assert "rose crystals" in said
    assert "987.65" in said
    client.force_login(make_hand())
    said = pages.said(client.get(url))
    assert "rose crystals" in said
    for hidden in ("987.65", "Landed", "a secret", "T-9"):
        assert hidden not in said


@pytest.mark.parametrize("maker", [make_hand, make_reader])
def test_hands_and_readers_look_but_do_not_change(client, maker):
    make_shop()
    make_contact()
    client.force_login(maker())
    assert client.get(reverse("people:contacts")).status_code == 200
    assert client.get(reverse("people:contact", args=["P-0001"])).status_code == 200
    for url in (reverse("people:add"), reverse("people:edit", args=["P-0001"])):
        assert client.get(url).status_code == 403
        assert client.post(url, typed()).status_code == 403


def test_nobody_by_that_code(client, owner):
    assert client.get(reverse("people:contact", args=["P-9999"])).status_code == 404


def test_strangers_are_sent_to_the_door(client):
    for url in (reverse("people:contacts"), reverse("people:add")):
        assert reverse("common:sign_in") in client.get(url).url


def test_the_list_costs_the_same_for_3_and_300_rows(client, owner):
    def queries():
        with CaptureQueriesContext(connection) as found:
            client.get(reverse("people:contacts"))
        return len(found)

    Contact.objects.bulk_create(Contact(code=f"P-{n:04}", name=f"n{n}") for n in range(3))
    queries()
    few = queries()
    Contact.objects.bulk_create(Contact(code=f"P-{n:04}", name=f"n{n}") for n in range(3, 300))
    assert queries() == few


def test_the_page_of_a_contact_costs_the_same_for_1_and_25_lots(client, owner):
    seller = make_contact(is_supplier=True)
    url = reverse("people:contact", args=[seller.code])

    def queries():
        with CaptureQueriesContext(connection) as found:
            client.get(url)
        return len(found)

    make_lot(seller=seller)
    queries()
    few = queries()
    for _ in range(24):
        make_lot(seller=seller)
    assert queries() == few
