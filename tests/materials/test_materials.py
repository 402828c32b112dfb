"""The list of materials: seeded from the handbook, searched, shown with its sources, added to by the shop."""

import pytest
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests.makers import NOON, make_hand, make_owner, make_reader, make_shop
from workshop.common.errors import DeedRefused
from workshop.common.models import JournalEntry
from workshop.handbook import tables
from workshop.materials import actions, reference
from workshop.materials.models import Material, Treatment

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(client):
    make_shop()
    person = make_owner()
    client.force_login(person)
    return person


def test_a_fresh_shop_knows_the_handbooks_materials_and_treatments():
    assert set(Material.objects.filter(from_handbook=True).values_list("key", flat=True)) == {
        row.key for row in tables.materials()
    }
    assert Material.objects.filter(from_handbook=True).count() == 115
    assert Treatment.objects.count() == len(tables.treatments())
    # Corundum: 3.98-4.02 in every gem table; the handbook's own checks hold the figure, here only that it came over.
    assert Material.objects.get(key="corundum-ruby").sg_typical == "4.00"


def test_seeding_again_adds_nothing_and_keeps_the_shops_notes(capsys):
    Material.objects.filter(key="corundum-ruby").update(notes="ours", sg_typical="9")
    call_command("seed_materials")
    assert "New: 0 materials, 0 treatments." in capsys.readouterr().out
    ruby = Material.objects.get(key="corundum-ruby")
    assert (ruby.notes, ruby.sg_typical) == ("ours", "4.00")


def test_a_row_of_the_shop_becomes_the_handbooks_when_the_handbook_learns_of_it():
    ruby = Material.objects.get(key="corundum-ruby")
    Material.objects.filter(pk=ruby.pk).update(key="our-ruby", from_handbook=False, species="Corundum")
    assert actions.seed_materials() == (0, 0)
    ruby.refresh_from_db()
    assert (ruby.key, ruby.from_handbook) == ("corundum-ruby", True)


def test_the_list_finds_by_every_word_of_the_everyday_name(client, owner):
    said = client.get(reverse("materials:materials"), {"words": "lead glass"}).content.decode()
    assert "lead or heavy flint" in said
    assert "fossil resin" not in said


def test_the_page_of_a_species_shows_figures_care_cautions_and_sources(client, owner):
    said = client.get(reverse("materials:material", args=["quartz-tigers-eye"])).content.decode()
    row = tables.material("quartz-tigers-eye")
    for word in (str(row.ri_low), str(row.sg_typical), "Minds heat", "Minds acid", "Minds light", "Cleavage"):
        assert word in said
    assert "respirable crystalline silica" in said
    assert "asbestiform" in said
    assert tables.NOT_ADVICE in said
    # The two cautions it calls for, each with its source.
    assert "Silica rule summary" in said
    assert "Is tiger" in said


def test_cells_read_in_no_source_are_marked_and_sourced_ones_are_not():
    row = tables.material("beryl-aquamarine")
    # Its row names a source for dispersion, cleaning and treatments, and says that the rest is from memory.
    assert not reference.from_memory(row, "dispersion")
    assert not reference.from_memory(row, "cleaning")
    assert reference.from_memory(row, "cleavage")
    assert reference.from_memory(row, "heat")
    sg = tables.material("beryl-morganite")
    assert reference.from_memory(sg, "sg")
    assert not reference.from_memory(row, "sg")


def test_a_mark_from_memory_stands_on_the_page(client, owner):
    said = client.get(reverse("materials:material", args=["beryl-morganite"])).content.decode()
    assert said.count("from memory") >= 3


def test_sources_of_a_row_are_read_into_titles_and_addresses():
    row = tables.material("corundum-ruby")
    found = reference.sources(f"{row.source} ; {row.other_source}")
    assert found
    assert all(one.url.startswith("http") and one.title and "<" not in one.title for one in found)


@pytest.mark.parametrize("row", tables.materials(), ids=lambda row: row.key)
def test_every_material_has_a_page(client, owner, row):
    assert client.get(reverse("materials:material", args=[row.key])).status_code == 200


def test_the_shop_adds_a_material_of_its_own(client, owner):
    answer = client.post(
        reverse("materials:add"),
        {
            "species": "hambergite",
            "ri_low": "1,553",
            "ri_high": "1.628",
            "sg_typical": "2.35",
            "source": "own reading",
        },
    )
    added = Material.objects.get(species="hambergite")
    assert answer.status_code == 302
    assert answer.url == added.get_absolute_url()
    assert (added.ri_low, added.ri_high, added.from_handbook) == ("1.553", "1.628", False)
    said = client.get(answer.url).content.decode()
    assert "own reading" in said
    assert "nothing is noted of its dust" in said
    assert JournalEntry.objects.get(verb="added material").by == owner


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"species": ""}, "species", "required"),
        ({"species": "x", "ri_low": "2.0", "ri_high": "1.5"}, "ri_high", "below the lowest"),
        ({"species": "x", "ri_low": "0.9"}, "ri_low", "at least 1"),
        ({"species": "x", "sg_typical": "-3"}, "sg_typical", "above zero"),
        ({"species": "x", "sg_typical": "heavy"}, "sg_typical", "not a number"),
        ({"species": "Corundum", "variety": "RUBY"}, "species", "in the list already"),
        ({"species": "x" * 81}, "species", "80"),
    ],
)
def test_bad_input_is_told_beside_its_field_and_nothing_is_kept(client, owner, typed, field, words):
    before = Material.objects.count()
    answer = client.post(reverse("materials:add"), typed)
    assert answer.status_code == 422
    assert words in " ".join(answer.context["form"].errors[field])
    assert Material.objects.count() == before
    assert typed["species"] in answer.content.decode()


def test_odd_names_are_shown_as_text(client, owner):
    for species in ('<script>alert("x")</script>', "שוהם", '💎 stone\'s "best"', "add"):
        answer = client.post(reverse("materials:add"), {"species": species})
        assert answer.status_code == 302
        said = client.get(answer.url).content.decode()
        assert "<script>alert" not in said
    assert len(set(Material.objects.filter(from_handbook=False).values_list("key", flat=True))) == 4
    assert not Material.objects.filter(key="add").exists()


def test_a_form_sent_twice_adds_once(client, owner):
    sent = {"species": "hambergite", "once": "k1"}
    first, second = (client.post(reverse("materials:add"), sent) for _ in range(2))
    assert first.url == second.url
    assert Material.objects.filter(species="hambergite").count() == 1


def test_the_same_material_is_refused():
    with pytest.raises(DeedRefused):
        actions.add_material(species=" corundum ", variety="ruby", by=None, at=NOON)


def test_the_shop_keeps_notes_on_the_handbooks_rows_and_changes_only_its_own(client, owner):
    ruby = Material.objects.get(key="corundum-ruby")
    address = reverse("materials:edit", args=[ruby.key])
    assert set(client.get(address).context["form"].fields) == {"notes", "sure", "once"}
    sent = {"notes": "likes the slow lap", "sg_typical": "9", "species": "glass"}
    assert client.post(address, sent).url == ruby.get_absolute_url()
    ruby.refresh_from_db()
    assert (ruby.notes, ruby.sg_typical, ruby.species) == ("likes the slow lap", "4.00", "corundum")
    assert "likes the slow lap" in client.get(ruby.get_absolute_url()).content.decode()
    own = actions.add_material(species="hambergite", by=None, at=NOON)
    address = reverse("materials:edit", args=[own.key])
    assert client.post(address, {"sg_typical": "2,35", "hardness": "7.5"}).status_code == 302
    own.refresh_from_db()
    assert (own.sg_typical, own.hardness) == ("2.35", "7.5")
    line = JournalEntry.objects.filter(verb="changed material").first()
    assert (line.before["sg_typical"], line.after["sg_typical"]) == ("", "2.35")
    assert client.post(address, {"sg_typical": "-1"}).status_code == 422


@pytest.mark.parametrize("maker", [make_hand, make_reader])
def test_hands_and_readers_look_but_do_not_add(client, maker):
    make_shop()
    client.force_login(maker())
    assert client.get(reverse("materials:materials")).status_code == 200
    assert client.get(reverse("materials:add")).status_code == 403
    assert client.post(reverse("materials:add"), {"species": "x"}).status_code == 403
    assert client.post(reverse("materials:edit", args=["corundum-ruby"]), {"notes": "x"}).status_code == 403


def test_strangers_are_sent_to_the_door(client):
    for url in (reverse("materials:materials"), reverse("materials:material", args=["corundum-ruby"])):
        assert client.get(url).status_code == 302


def test_the_list_costs_the_same_for_3_and_300_rows(client, owner):
    def queries(words):
        with CaptureQueriesContext(
            connection,
        ) as found:
            assert client.get(reverse("materials:materials"), {"words": words}).status_code == 200
        return len(found)

    Material.objects.bulk_create(Material(key=f"few-{n}", species="few", variety=str(n)) for n in range(3))
    Material.objects.bulk_create(
        Material(key=f"many-{n}", species="many", variety=str(n)) for n in range(300)
    )
    queries("few")
    assert queries("few") == queries("many")
