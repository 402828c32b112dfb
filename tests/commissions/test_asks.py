"""Stop and ask: the stones wait, the answer is kept with date and name, and nothing is answered twice."""

import threading
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import connection

from tests.commissions.agreed import LATER, make_agreed, with_stone
from tests.makers import DAY, NOON, make_item_spec, make_owner, make_shop
from workshop.commissions import progress
from workshop.commissions.actions import changes
from workshop.commissions.models import CommissionPhoto, Quote, StopAsk
from workshop.common.errors import DeedRefused
from workshop.common.models import JournalEntry, Photo
from workshop.handbook.units import parse_weight
from workshop.materials.models import Material
from workshop.stones import actions as stones
from workshop.stones.models import StonePhoto

D = Decimal
pytestmark = pytest.mark.django_db


@pytest.fixture
def owner():
    make_shop()
    return make_owner()


@pytest.fixture
def work(owner):
    commission = make_agreed(by=owner)
    return commission, *with_stone(commission, by=owner)


def ask(item, owner, at=NOON, **said):
    said = {"why": "inclusion", "words": "A needle reaches the table. Cut it out?", **said}
    return changes.ask_client(item, by=owner, at=at, **said)


def answer(one, owner, at=LATER, **said):
    said = {"answer": one.options[0], "name": "Mara Quill", "answered_from": "told by telephone", **said}
    return changes.answer_ask(one, by=owner, at=at, **said)


def test_the_stone_waits_for_the_client_and_goes_on_with_the_answer(owner, work):
    commission, item, stone = work
    one = ask(item, owner, weight_low_ct=D("2.2"), weight_high_ct=D("2.6"), new_price=D("240"))
    stone.refresh_from_db()
    assert (stone.waiting_for, stone.waiting_note) == (
        "client", f"{item}: an inclusion or fissure was reached",
    )  # fmt: skip
    assert progress.open_asks(commission) == [one]
    answer(one, owner, words="As small as it must be.")
    one.refresh_from_db(), stone.refresh_from_db(), commission.refresh_from_db()
    assert (stone.waiting_for, stone.waiting_since) == ("", None)
    assert (one.answer, one.answer_words, one.answered_name, one.answered_from, one.answered_at) == (
        "Cut it out; smaller is fine", "As small as it must be.", "Mara Quill", "told by telephone", LATER,
    )  # fmt: skip
    assert commission.heard_at == LATER
    told = JournalEntry.objects.filter(about=commission.code).order_by("pk").values_list("verb", flat=True)
    assert list(told)[-2:] == ["asked client", "client answered"]


def test_every_reason_offers_answers_of_its_own():
    from workshop.commissions.actions.asks import OPTIONS
    from workshop.commissions.models import AskWhy

    assert set(OPTIONS) == set(AskWhy.values)
    assert all(2 <= len(offered) <= 6 for offered in OPTIONS.values())


def test_one_question_at_a_time(owner, work):
    _, item, _ = work
    one = ask(item, owner)
    with pytest.raises(DeedRefused, match="not answered the last question"):
        ask(item, owner, why="chip")
    changes.withdraw_ask(one, reason="it came out with the last facet", by=owner, at=LATER)
    ask(item, owner, why="chip")
    assert StopAsk.objects.standing().count() == 1


def test_a_question_withdrawn_lets_the_stone_go_on_and_is_not_answered(owner, work):
    _, item, stone = work
    one = ask(item, owner)
    with pytest.raises(DeedRefused, match="Say why"):
        changes.withdraw_ask(one, reason=" ", by=owner, at=LATER)
    changes.withdraw_ask(one, reason="it came out", by=owner, at=LATER)
    stone.refresh_from_db()
    assert stone.waiting_for == ""
    with pytest.raises(DeedRefused, match="was withdrawn"):
        answer(one, owner)
    with pytest.raises(DeedRefused, match="was withdrawn"):
        changes.withdraw_ask(one, reason="again", by=owner, at=LATER)


def test_the_second_answer_is_refused_with_the_first(owner, work):
    _, item, _ = work
    one = ask(item, owner)
    answer(one, owner)
    with pytest.raises(DeedRefused, match=r"answered on .* already: “Cut it out; smaller is fine”"):
        answer(one, owner, answer=one.options[1])
    one.refresh_from_db()
    assert one.answer == "Cut it out; smaller is fine"


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"answer": "Do as you like"}, "Pick one"),
        ({"answer": ""}, "Pick one"),
        ({"name": "  "}, "Say who"),
        ({"at": NOON.replace(hour=1)}, "before it was asked"),
    ],
)
def test_answers_that_are_refused(owner, work, said, why):
    _, item, stone = work
    one = ask(item, owner)
    with pytest.raises(DeedRefused, match=why):
        answer(one, owner, **said)
    one.refresh_from_db(), stone.refresh_from_db()
    assert one.is_open and stone.waiting_for == "client"


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"weight_low_ct": D("3"), "weight_high_ct": D("2")}, "upside down"),
        ({"weight_low_ct": D("0")}, "above zero"),
        ({"length_mm": D("-1")}, "above zero"),
        ({"new_price": D("-1")}, "zero or more"),
        ({"new_price": D("1.001")}, "cannot be paid"),
        ({"options": ["Yes"]}, "at least two"),
        ({"options": ["Yes", " Yes "]}, "at least two"),
        ({"options": list("abcdefg")}, "at most 6"),
        ({"options": ["Yes", "n" * 201]}, "at most 200"),
    ],
)
def test_questions_that_are_refused(owner, work, said, why):
    _, item, stone = work
    with pytest.raises(DeedRefused, match=why):
        ask(item, owner, **said)
    stone.refresh_from_db()
    assert not StopAsk.objects.exists() and stone.waiting_for == ""


@pytest.mark.parametrize("said", [{"why": "whim"}, {"words": "  "}])
def test_questions_the_rows_refuse(owner, work, said):
    with pytest.raises(ValidationError):
        ask(work[1], owner, **said)
    assert not StopAsk.objects.exists()


def test_nothing_is_asked_before_a_quote_was_accepted(owner):
    commission = make_agreed(by=owner, state="quoted")
    with pytest.raises(DeedRefused, match="nothing is agreed yet"):
        ask(commission.items.get(), owner)


def test_a_stone_that_waits_for_glue_waits_for_the_client_and_says_so(owner, work):
    _, item, stone = work
    stones.wait_for(stone, "glue", by=owner, at=NOON)
    ask(item, owner)
    stone.refresh_from_db()
    assert stone.waiting_for == "client" and stone.waiting_note.endswith("it was waiting for glue")


def test_a_pieces_pieces_all_wait(owner, work):
    _, item, stone = work
    two = stones.split_stone(
        stone, [parse_weight("1.9 ct"), parse_weight("1.5 ct")], kerf_ct=D("0.06"), by=owner, at=NOON
    )
    one = ask(item, owner, why="broke")
    for piece in two:
        piece.refresh_from_db()
    assert [piece.waiting_for for piece in two] == ["client", "client"]
    answer(one, owner)
    for piece in two:
        piece.refresh_from_db()
    assert [piece.waiting_for for piece in two] == ["", ""]


def test_the_photograph_stands_with_the_stone_and_is_shared(owner, work):
    commission, item, stone = work
    photo = Photo.objects.create(sha256="a" * 64, width=1, height=1, byte_count=1, taken_at=NOON)
    ask(item, owner, photo=photo)
    assert StonePhoto.objects.get().stone == stone
    shown = CommissionPhoto.objects.get()
    assert (shown.commission, shown.item, shown.shared_at) == (commission, item, NOON)


def test_the_floor_is_watched_until_the_client_was_asked(owner, work):
    _, item, stone = work
    assert progress.under_floor() == []
    stones.record_weight(stone, parse_weight("2.4 ct"), by=owner, at=NOON)
    found = progress.under_floor()
    assert [(one.item, one.stone, one.found_ct) for one in found] == [(item, stone, D("2.4"))]
    one = ask(item, owner, why="floor", words=found[0].words, by_floor=True, weight_low_ct=D("2.2"))
    assert one.by_floor and progress.under_floor() == []
    answer(one, owner)
    # 2.2 ct is agreed now: the alarm is silent above it, and speaks below.
    assert progress.under_floor() == []
    stones.record_weight(stone, parse_weight("2.1 ct"), by=owner, at=LATER)
    assert [one.found_ct for one in progress.under_floor()] == [D("2.1")]


def test_a_question_leads_to_a_version_of_the_same_commission(owner, work):
    commission, item, _ = work
    one = ask(item, owner)
    answer(one, owner)
    quote = commission.quotes.get()
    changes.lead_to_version(one, quote, by=owner, at=LATER)
    one.refresh_from_db()
    assert one.led_to == quote
    other = Quote.objects.get(commission=make_agreed(by=owner))
    with pytest.raises(DeedRefused, match="another commission"):
        changes.lead_to_version(one, other, by=owner, at=LATER)


def test_a_treatment_found_is_stated_and_asked_in_one_deed(owner, work):
    commission, item, stone = work
    said = {
        "question": "treatment", "treated": "treated", "treatments": ["heat"], "evidence": 3, "said_by": "the cutter",
        "how": "silk melted at 40×", "said_on": DAY,
    }  # fmt: skip
    one = changes.tell_differs(item, stone, said=said, words="It was heated. Go on?", by=owner, at=NOON)
    assert (one.why, one.options[0]) == ("treatment", "Go on, I know the risk")
    assert stone.statements.get().answer
    stone.refresh_from_db()
    assert stone.waiting_for == "client"
    assert commission.items.get().questions.get() == one


def test_a_species_found_changes_the_stone_and_is_asked(owner, work):
    _, item, stone = work
    material = Material.objects.get(key="tourmaline-elbaite")
    said = {
        "question": "species", "material": material, "evidence": 3, "said_by": "the cutter", "said_on": DAY,
        "how": "RI 1.624–1.644",
    }  # fmt: skip
    one = changes.tell_differs(item, stone, said=said, words="It is no spinel.", by=owner, at=NOON)
    stone.refresh_from_db()
    assert (one.why, stone.material) == ("species", material)


def test_what_differs_is_refused_whole(owner, work):
    _, item, stone = work
    said = {
        "question": "treatment",
        "treated": "treated",
        "treatments": ["heat"],
        "said_by": "x",
        "said_on": DAY,
    }
    with pytest.raises(DeedRefused, match="species or treatment"):
        changes.tell_differs(item, stone, said={**said, "question": "colour"}, words="?", by=owner, at=NOON)
    with pytest.raises(ValidationError):
        changes.tell_differs(item, stone, said=said, words=" ", by=owner, at=NOON)
    other = with_stone(make_agreed(by=owner), by=owner)[1]
    with pytest.raises(DeedRefused, match="does not stand for"):
        changes.tell_differs(item, other, said=said, words="?", by=owner, at=NOON)
    assert not stone.statements.exists() and not StopAsk.objects.exists()


def test_a_piece_that_ends_takes_its_question_along(owner):
    commission = make_agreed(by=owner, items=[make_item_spec(work="recut", wanted="recut")])
    item, stone = with_stone(commission, by=owner)
    one = ask(item, owner)
    changes.tell_broken(item, stone=stone, reason="fell apart", on=DAY, by=owner, at=NOON)
    one.refresh_from_db()
    assert one.withdrawn_at == NOON and one.withdrawn_why == "the piece is broken in work"


@pytest.mark.django_db(transaction=True)
def test_two_answers_at_once_have_one_outcome():
    make_shop()
    owner = make_owner()
    item, _ = with_stone(make_agreed(by=owner), by=owner)
    one = ask(item, owner)
    outcomes, start = [], threading.Barrier(2)

    def tell(choice):
        try:
            start.wait()
            answer(one, owner, answer=choice)
            outcomes.append(choice)
        except DeedRefused as refusal:
            outcomes.append(refusal)
        finally:
            connection.close()

    threads = [threading.Thread(target=tell, args=(choice,)) for choice in one.options[:2]]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    won = [outcome for outcome in outcomes if isinstance(outcome, str)]
    one.refresh_from_db()
    assert len(won) == 1 and one.answer == won[0]
    assert "already" in next(str(outcome) for outcome in outcomes if not isinstance(outcome, str))
