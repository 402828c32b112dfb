"""Statements about a stone."""

import pytest

from tests.makers import make_material
from workshop.stones.models import StoneStatement


def url(stone, question):
    return f"/stones/{stone.code}/statement/?question={question}"


SAID = {"said_by": "Imaginary Stones", "said_on": "2026-03-01", "evidence": "2"}


@pytest.mark.parametrize(
    ("question", "sent", "answer"),
    [
        ("nature", {"nature": "mined"}, "mined"),
        (
            "treatment",
            {"treated": "not_tested", "words": "no treatment"},
            "not tested, sold as “no treatment”",
        ),
        ("origin", {"words": "valley of the river"}, "valley of the river"),
    ],
)
def test_it_works(as_owner, stone, question, sent, answer):
    assert as_owner.post(url(stone, question), {**SAID, **sent}).status_code == 302
    assert stone.statements.get().answer == answer
    assert answer in as_owner.get(f"/stones/{stone.code}/").content.decode()


def test_a_species_becomes_the_stones_material(as_owner, stone):
    material = make_material()
    as_owner.post(
        url(stone, "species"), {**SAID, "material": material.pk, "evidence": "3", "how": "RI 1.624"}
    )
    stone.refresh_from_db()
    assert stone.material == material


@pytest.mark.parametrize(
    ("question", "sent", "field"),
    [
        ("nature", {}, "nature"),
        ("treatment", {"treated": "treated"}, "treatments"),
        ("origin", {"words": " "}, "words"),
        ("nature", {"nature": "mined", "said_on": "2099-01-01"}, "said_on"),
        ("nature", {"nature": "mined", "said_by": ""}, "said_by"),
        ("nature", {"nature": "mined", "evidence": "9"}, "evidence"),
    ],
)
def test_an_answer_that_is_none_is_refused(as_owner, stone, question, sent, field):
    answer = as_owner.post(url(stone, question), {**SAID, **sent})
    assert answer.status_code == 422
    assert answer.context["form"].errors[field]
    assert not StoneStatement.objects.exists()


def test_a_question_nobody_asks_falls_back_to_treatment(as_owner, stone):
    assert as_owner.get(url(stone, "price")).context["question"] == "treatment"


def test_it_is_the_owners_to_state(as_hand, as_reader, stone):
    for client in (as_hand, as_reader):
        assert client.post(url(stone, "nature"), {**SAID, "nature": "mined"}).status_code == 403
