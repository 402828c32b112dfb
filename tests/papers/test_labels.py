"""Bag labels: one small page with a code that leads to the thing's own page."""

import pytest
from django.urls import reverse

from tests import makers
from tests.makers import make_answered_gem, make_lot, make_shop, make_stone
from tests.papers import sheets
from workshop.materials.models import Material
from workshop.papers import pdf

pytestmark = [pytest.mark.django_db, pytest.mark.pdf]


@pytest.fixture(autouse=True)
def shop(db, client):
    client.force_login(makers.somebody())
    return make_shop(base_url="https://shop.example")


def label_of(client, name, code):
    answer = client.get(reverse(name, args=[code]))
    assert answer.status_code == 200 and answer.headers["Content-Type"] == "application/pdf"
    return answer.content


def things():
    by = makers.somebody()
    lot = make_lot("21 g", by=by, material=Material.objects.get(key="tourmaline-elbaite"))
    return {
        "rough:label": (lot, "21.000 g (105.000 ct)"),
        "stones:label": (make_stone("10 ct", lot=lot, by=by), "10.000 ct"),
        "gems:label": (make_answered_gem(stone=make_stone("10 ct", lot=lot, by=by)), "2.345 ct"),
    }


@pytest.mark.parametrize("name", ["rough:label", "stones:label", "gems:label"])
def test_a_label_says_code_species_weight_and_leads_to_its_page(client, name):
    thing, weight = things()[name]
    data = label_of(client, name, thing.code.lower())
    ((width, height),) = sheets.sizes_mm(data)
    assert (width, height) == (pytest.approx(50, abs=0.1), pytest.approx(25, abs=0.1))
    (text,) = sheets.texts(data)
    for words in (thing.code, "tourmaline", weight):
        assert sheets.bare(words) in sheets.bare(text)
    for dpi in (150, 300):
        assert sheets.code_on(data, 0, dpi) == f"https://shop.example{thing.get_absolute_url()}"
    assert all(sheets.fonts(data).values())


@pytest.mark.parametrize(
    "words", ["W" * 80, "ש" * 80, "💎" * 40, "lengthy words of a seller who likes to tell " * 2]
)
def test_long_and_odd_words_stay_on_one_label(client, words):
    lot = make_lot("21 g", by=makers.somebody(), sold_as=words[:80])
    data = label_of(client, "rough:label", lot.code)
    assert len(sheets.sizes_mm(data)) == 1


def test_without_pango_the_label_says_what_to_install(client, settings):
    settings.PDF_AVAILABLE = False
    lot = make_lot("21 g", by=makers.somebody())
    answer = client.get(reverse("rough:label", args=[lot.code]))
    assert answer.status_code == 503 and "apt-get install" in answer.content.decode()


def test_a_label_that_cannot_be_drawn_says_why(client, monkeypatch):
    stone = make_stone()

    def refuse(*said):
        raise pdf.CannotRender("It does not fit the label: shorten the longest texts.")

    monkeypatch.setattr(pdf, "render", refuse)
    answer = client.get(reverse("stones:label", args=[stone.code]))
    assert answer.status_code == 422
    assert "shorten the longest texts" in answer.content.decode()


def test_a_label_names_no_owner_of_the_stone(client):
    owner = makers.make_contact("Clara Farweather")
    lot = make_lot("21 g", by=makers.somebody(), ownership="client", owner=owner)
    assert "Farweather" not in " ".join(sheets.texts(label_of(client, "rough:label", lot.code)))


def test_labels_of_what_is_not_there_are_404(client):
    for name, code in (("rough:label", "L-9999"), ("stones:label", "S-9999"), ("gems:label", "G-9999")):
        assert client.get(reverse(name, args=[code])).status_code == 404
