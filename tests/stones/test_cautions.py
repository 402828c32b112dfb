"""The usual caution at the right moment, with its source."""

import pytest

from tests.makers import DAY, NOON
from workshop.handbook import tables
from workshop.materials.models import Material
from workshop.stones import actions


@pytest.fixture
def of(stone):
    def of_material(key):
        stone.material = Material.objects.get(key=key)
        stone.save()
        return stone

    return of_material


def test_quartz_before_the_saw(as_hand, of):
    """Respirable crystalline silica: 29 CFR 1910.1053 and HSG201, as the tables cite them."""
    stone = of("quartz-amethyst")
    page = as_hand.get(f"/stones/{stone.code}/split/").content.decode()
    assert "Respirable crystalline silica" in page
    assert "never dry-sand" in page
    assert "hse.gov.uk" in page
    assert tables.NOT_ADVICE in page


def test_corundum_before_the_saw_has_no_silica(as_hand, of):
    stone = of("corundum-ruby")
    page = as_hand.get(f"/stones/{stone.code}/split/").content.decode()
    assert "crystalline silica" not in page
    assert "Saws, laps and moving parts" in page


def test_an_oiled_emerald_before_solvents_and_flame(as_hand, owner, of):
    stone = of("beryl-emerald")
    actions.move_on(stone, "first_polished", by=None, at=NOON)
    said = {"question": "treatment", "treated": "treated", "treatments": ["oil"], "evidence": 2}
    actions.state_about_stone(stone, {**said, "said_by": "the seller", "said_on": DAY}, by=owner, at=NOON)
    page = as_hand.get(f"/stones/{stone.code}/move/").content.decode()
    assert "Fillers in a stone" in page
    assert "Minds heat" in page
    assert "is not known" not in page


def test_an_untested_stone_is_handled_as_the_most_delicate_and_the_page_says_so(as_hand, of):
    stone = of("beryl-emerald")
    page = as_hand.get(f"/stones/{stone.code}/move/").content.decode()
    assert "Fillers in a stone" in page
    assert "handled as the most delicate of its kind" in page


def test_a_stone_said_untreated_on_paper_is_not(as_hand, owner, of):
    stone = of("beryl-emerald")
    said = {
        "question": "treatment",
        "treated": "untreated",
        "evidence": 5,
        "said_by": "a laboratory",
        "said_on": DAY,
    }
    actions.state_about_stone(stone, said, by=owner, at=NOON)
    assert "most delicate" not in as_hand.get(f"/stones/{stone.code}/move/").content.decode()


def test_the_shops_own_material_shows_its_own_caution(as_hand, stone):
    stone.material = Material.objects.create(
        key="own-ore", species="own ore", bench_caution="Crumbles; mask on."
    )
    stone.save()
    assert "Crumbles; mask on." in as_hand.get(f"/stones/{stone.code}/split/").content.decode()


def test_nothing_known_of_the_stone_leaves_the_cautions_of_the_bench(as_hand, stone):
    assert stone.material is None
    page = as_hand.get(f"/stones/{stone.code}/split/").content.decode()
    assert "Saws, laps and moving parts" in page


def test_the_bench_shows_those_of_the_work_that_is_next(as_hand, of):
    stone = of("quartz-amethyst")
    assert "Respirable crystalline silica" in as_hand.get(f"/stones/bench/{stone.code}/").content.decode()
    actions.move_on(stone, "first_polished", by=None, at=NOON)
    page = as_hand.get(f"/stones/bench/{stone.code}/").content.decode()
    assert "Hot wax, shellac and dops" in page
