"""The page of a lot: what was said on what evidence, two accounts that add up, papers and pictures, and who sees what."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from tests.makers import (
    DAY,
    NOON,
    make_contact,
    make_hand,
    make_lot,
    make_owner,
    make_reader,
    make_shop,
    make_stone,
)
from tests.rough import pages
from tests.rough.pictures import bomb, jpeg, large, not_a_picture
from workshop.common.models import JournalEntry
from workshop.handbook.units import parse_weight
from workshop.materials.models import Material
from workshop.rough import actions
from workshop.rough.models import LotDocument, LotStatement, RoughLot
from workshop.stones import actions as stones

pytestmark = pytest.mark.django_db
D = Decimal
PDF = b"%PDF-1.7\n1 0 obj\n<<>>\nendobj\ntrailer\n<<>>\n%%EOF\n"


@pytest.fixture
def owner(client):
    make_shop()
    person = make_owner()
    client.force_login(person)
    return person


@pytest.fixture
def lot(owner):
    seller = make_contact(name="Hill Rough", is_supplier=True)
    return make_lot(
        "100 ct", sold_as="mixed sapphire", seller=seller, price_basis="lot", unit_price=D("777.77"), by=owner
    )


def page_of(client, lot):
    answer = client.get(lot.get_absolute_url())
    assert answer.status_code == 200
    return pages.said(answer)


def url(name, lot, *more):
    return reverse(f"rough:{name}", args=[lot.code, *more])


# What was said


def said(**more):
    return {"said_by": "Hill Rough", "said_on": DAY.isoformat(), "evidence": "1", **more}


def test_a_better_based_statement_is_marked_and_the_older_one_stays(client, lot):
    ask = url("statement", lot) + "?question=treatment"
    assert client.post(ask, said(treated="untreated")).status_code == 302
    laboratory = said(
        treated="treated", treatments=["heat"], evidence="5", how="report 5", said_by="A laboratory"
    )
    assert client.post(ask, laboratory).status_code == 302
    # Said again later, on weaker evidence: kept, not marked.
    assert client.post(ask, said(treated="untreated", said_on="2026-03-05")).status_code == 302
    answer = client.get(lot.get_absolute_url())
    marked = [statement.answer for statement, is_best in answer.context["statements"] if is_best]
    assert marked == ["heated"]
    assert len(answer.context["statements"]) == 3
    page = page_of(client, lot)
    assert page.count("holds") == 1
    assert "laboratory report" in page
    assert "report 5" in page
    assert "(5 of 5)" in page


def test_open_questions_are_named(client, lot):
    assert (
        "Nobody has said anything of its nature, species and variety, treatment, origin, colour"
        in page_of(client, lot)
    )


def test_the_lots_species_follows_the_best_based_statement(client, lot):
    ruby, glass = Material.objects.get(key="corundum-ruby"), Material.objects.filter(species="glass").first()
    ask = url("statement", lot) + "?question=species"
    client.post(ask, said(material=str(ruby.pk)))
    lot.refresh_from_db()
    assert lot.material == ruby
    client.post(ask, said(material=str(glass.pk), evidence="3", how="index 1.52, bubbles"))
    lot.refresh_from_db()
    assert lot.material == glass
    client.post(ask, said(material=str(ruby.pk), said_on="2026-03-09"))
    lot.refresh_from_db()
    assert lot.material == glass


@pytest.mark.parametrize(
    ("question", "wrong", "field"),
    [
        ("treatment", {}, "treated"),
        ("treatment", {"treated": "treated"}, "treatments"),
        ("treatment", {"treated": "untreated", "treatments": ["heat"]}, "treatments"),
        ("treatment", {"treated": "perhaps"}, "treated"),
        ("treatment", {"treated": "untreated", "evidence": "4"}, "how"),
        ("treatment", {"treated": "untreated", "evidence": "0"}, "evidence"),
        ("treatment", {"treated": "untreated", "said_by": ""}, "said_by"),
        ("nature", {"nature": "magic"}, "nature"),
        ("origin", {"words": ""}, "words"),
        ("colour", {"words": "x" * 301}, "words"),
        ("species", {"material": "0"}, "material"),
        ("origin", {"words": "x", "said_on": "soon"}, "said_on"),
    ],
)
def test_a_statement_that_does_not_answer_is_refused(client, lot, question, wrong, field):
    answer = client.post(f"{url('statement', lot)}?question={question}", said(**wrong))
    assert answer.status_code == 422
    assert answer.context["form"].errors[field]
    assert not LotStatement.objects.exists()


def test_nobody_has_said_it_tomorrow(client, lot):
    late = (timezone.localdate() + timedelta(days=2)).isoformat()
    answer = client.post(url("statement", lot) + "?question=origin", said(words="x", said_on=late))
    assert "future" in str(answer.context["form"].errors["said_on"])


# The accounts


def test_both_accounts_add_up_on_the_page(client, lot):
    specs = [stones.GroupSpec("A", D("60")), stones.GroupSpec("B", D("39.5"))]
    stones.sort_lot(lot, specs, rule="weight", by=None, at=NOON)
    a, b = lot.groups.all()
    make_stone("12 ct", lot=RoughLot.objects.get(pk=lot.pk), group=a)
    stones.lose_from_lot(
        lot,
        parse_weight("2 ct"),
        cause="lost",
        on=DAY,
        by=None,
        at=NOON,
        group=b,
        written_off=True,
        reason="dropped",
    )
    answer = client.get(lot.get_absolute_url())
    weight, money = answer.context["weight_account"], answer.context["money_account"]
    assert weight.lines == [
        ("drawn as stones", D("12")),
        ("lost", D("2")),
        ("left in the lot", D("85.5")),
        ("gap nobody can explain", D("0.5")),
    ]
    assert weight.total == weight.came_in == D("100")
    # 777.77 over 99.5 ct: A 469.01, B 308.76; 12 of 60 ct of A, 2 of 39.5 ct of B.
    assert dict(money.lines)["on the stones drawn"] == D("93.80")
    assert dict(money.lines)["written off"] == D("15.63")
    assert money.total == money.came_in == D("777.77")
    page = page_of(client, lot)
    assert "does not add up" not in page
    assert "S-0001" in page


def test_a_page_tells_when_the_books_do_not_add_up(client, lot):
    RoughLot.objects.filter(pk=lot.pk).update(cost_left=D("700"), left_ct=D("90"))
    assert page_of(client, lot).count("does not add up") == 2


def test_the_page_costs_the_same_for_3_and_60_stones(client, lot):
    def queries():
        with CaptureQueriesContext(connection) as found:
            client.get(lot.get_absolute_url())
        return len(found)

    for _ in range(3):
        make_stone("1 ct", lot=lot)
        actions.state_about_lot(
            lot,
            {
                "question": "treatment",
                "treated": "treated",
                "treatments": ["heat"],
                "evidence": 1,
                "said_by": "x",
                "said_on": DAY,
            },
            by=None,
            at=NOON,
        )
    queries()
    few = queries()
    for _ in range(57):
        make_stone("1 ct", lot=lot)
    for _ in range(20):
        actions.state_about_lot(
            lot,
            {
                "question": "treatment",
                "treated": "treated",
                "treatments": ["heat"],
                "evidence": 1,
                "said_by": "x",
                "said_on": DAY,
            },
            by=None,
            at=NOON,
        )
    assert queries() == few


# Who sees what


def test_a_hand_sees_weights_and_pictures_and_no_money_or_papers(client, lot):
    actions.add_lot_document(
        lot, title="invoice 7", sha256="0" * 64, byte_count=9, media_type="text/plain", by=None, at=NOON
    )
    stones.charge_lot(lot, [], paid_on=DAY, by=None, at=NOON)
    client.force_login(make_hand())
    page = page_of(client, lot)
    assert "mixed sapphire" in page
    assert "100.00 ct" in page
    for hidden in (
        "777",
        "EUR",
        "Landed",
        "landed",
        "invoice 7",
        "Late bill",
        "per gram",
        "Add a statement",
        "Edit",
    ):
        assert hidden not in page


def test_a_reader_sees_all_and_may_do_nothing(client, lot):
    client.force_login(make_reader())
    page = page_of(client, lot)
    assert "777.77" in page
    for deed in ("Draw a stone", "Late bill", "Add a statement", "Add a paper"):
        assert deed not in page


RIGHTS = [
    ("edit", "owner"),
    ("statement", "owner"),
    ("document", "owner"),
    ("photo", "hand"),
    ("move", "hand"),
]


@pytest.mark.parametrize(("name", "who"), RIGHTS)
def test_who_may_do_what(client, lot, name, who):
    address = url(name, lot)
    client.force_login(make_hand())
    assert client.get(address).status_code == (200 if who == "hand" else 403)
    assert client.post(address, {}).status_code == (422 if who == "hand" else 403)
    client.force_login(make_reader())
    assert client.get(address).status_code == 403
    assert client.post(address, {}).status_code == 403
    client.logout()
    assert reverse("common:sign_in") in client.get(address).url


def test_a_code_nobody_has_is_a_404_and_case_does_not_matter(client, lot):
    assert client.get(reverse("rough:lot", args=["L-9999"])).status_code == 404
    assert client.get(reverse("rough:lot", args=["l-0001"])).status_code == 200
    assert client.post(lot.get_absolute_url()).status_code == 405


# Words, place, pictures, papers


def test_the_words_are_changed_and_the_journal_keeps_the_old_ones(client, lot):
    form = client.get(url("edit", lot)).context["form"]
    assert form["sold_as"].value() == "mixed sapphire"
    changed = {
        "sold_as": "mixed corundum",
        "seller": str(lot.seller_id),
        "declared_value": "900",
        "notes": "x",
    }
    assert client.post(url("edit", lot), changed).status_code == 302
    line = JournalEntry.objects.get(verb="described lot")
    assert line.before == {"sold_as": "mixed sapphire", "declared_value": None, "notes": ""}
    assert line.after["sold_as"] == "mixed corundum"
    lot.refresh_from_db()
    assert (lot.landed_cost, lot.weight_ct) == (D("777.77"), D("100"))


def test_a_lot_is_moved_and_somebody_must_have_it(client, lot):
    setter = make_contact(name="Ilse Prong", is_jeweller=True)
    refused = client.post(url("move", lot), {"place": "setter", "since": DAY.isoformat()})
    assert refused.status_code == 422
    assert "who has it" in str(refused.context["form"].errors["holder"])
    moved = {"place": "setter", "holder": str(setter.pk), "since": DAY.isoformat()}
    assert client.post(url("move", lot), moved).status_code == 302
    assert "at a setter, Ilse Prong" in page_of(client, lot)


@pytest.mark.parametrize("place", ["buyer", "gone", "nowhere"])
def test_a_lot_is_not_moved_to_where_it_would_have_left(client, lot, place):
    answer = client.post(url("move", lot), {"place": place, "since": DAY.isoformat()})
    assert "valid choice" in str(answer.context["form"].errors["place"])


def test_a_clients_lot_is_not_given_to_a_seller(client, owner):
    lot = make_lot(ownership="client", owner=make_contact(), came="left")
    other = make_contact(name="Somebody else", is_supplier=True)
    moved = {"place": "seller", "holder": str(other.pk), "since": DAY.isoformat()}
    answer = client.post(url("move", lot), moved)
    assert "nobody but its owner" in str(answer.context["form"].errors["place"])


def test_a_lot_of_many_stones_shows_the_last_ones_and_leads_to_all(client, lot):
    for _ in range(101):
        stones.draw_stone(lot, parse_weight("0.5 ct"), by=None, at=NOON)
    answer = client.get(lot.get_absolute_url())
    assert len(answer.context["draws"]) == 100
    page = pages.said(answer)
    assert "The last 100 of 101" in page
    assert "?lot=L-0001" in page
    assert answer.context["weight_account"].adds_up


def test_pictures_are_kept_once(client, lot):
    for _ in range(2):
        assert client.post(url("photo", lot), {"pictures": [jpeg()], "caption": "wet"}).status_code == 302
    assert lot.photos.count() == 1
    assert "wet" in page_of(client, lot)


@pytest.mark.parametrize("upload", [not_a_picture, bomb, large])
def test_bad_pictures_are_refused(client, lot, upload):
    answer = client.post(url("photo", lot), {"pictures": [upload()]})
    assert answer.status_code == 422
    assert answer.context["form"].errors["pictures"]
    assert not lot.photos.exists()


def send_paper(client, lot, content, name="invoice.pdf", title="invoice 7"):
    return client.post(url("document", lot), {"title": title, "document": SimpleUploadedFile(name, content)})


@pytest.mark.parametrize(
    ("content", "media_type", "ending"),
    [
        (PDF, "application/pdf", ".pdf"),
        (jpeg().read(), "image/jpeg", ".jpg"),
        ("Reçu n° 7: 100 €\n".encode(), "text/plain", ".txt"),
    ],
)
def test_a_paper_is_kept_by_what_it_is_and_comes_back_as_a_file_to_save(
    client, lot, content, media_type, ending
):
    # Whatever it calls itself.
    assert send_paper(client, lot, content, name="harmless.html").status_code == 302
    kept = LotDocument.objects.get()
    assert kept.media_type == media_type
    assert "invoice 7" in page_of(client, lot)
    answer = client.get(url("document_file", lot, kept.pk))
    assert answer.content == content
    assert answer["Content-Type"] == media_type
    assert answer["Content-Disposition"].startswith("attachment")
    assert ending in answer["Content-Disposition"]
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert "default-src 'none'" in answer["Content-Security-Policy"]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"<!doctype html><script>alert(1)</script>", "none of them"),
        (b"\xef\xbb\xbf  <svg onload='x'/>", "none of them"),
        (b"MZ\x90\x00\x03", "none of them"),
        (b"GIF89a\x01\x00", "none of them"),
        (b"PK\x03\x04", "none of them"),
        (b"   ", "none of them"),
        (b"", "empty"),
        (PDF + bytes(11 * 1024 * 1024), "larger than 10 MB"),
    ],
)
def test_other_files_are_refused(client, lot, content, words):
    answer = send_paper(client, lot, content)
    assert answer.status_code == 422
    assert words in str(answer.context["form"].errors["document"])
    assert not LotDocument.objects.exists()


def test_the_same_paper_twice_is_told(client, lot):
    send_paper(client, lot, PDF)
    answer = send_paper(client, lot, PDF, title="again")
    assert answer.status_code == 422
    assert "already" in str(answer.context["form"].errors["document"])
    assert LotDocument.objects.count() == 1


def test_papers_tell_prices_so_a_hand_does_not_get_them(client, lot):
    send_paper(client, lot, PDF)
    address = url("document_file", lot, LotDocument.objects.get().pk)
    client.force_login(make_reader())
    assert client.get(address).content == PDF
    client.force_login(make_hand())
    assert client.get(address).status_code == 403
    client.logout()
    assert client.get(address).status_code == 302


def test_a_paper_is_reached_only_through_its_own_lot(client, lot):
    send_paper(client, lot, PDF)
    other = make_lot()
    assert client.get(url("document_file", other, LotDocument.objects.get().pk)).status_code == 404
