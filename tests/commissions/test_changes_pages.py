"""The pages of everything that changes after the yes: few fields, bad input beside them, nothing half-saved."""

from decimal import Decimal
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from PIL import Image

from tests.commissions.agreed import make_agreed, with_goods, with_own_stone, with_stone
from tests.commissions.quoted import accept, make_sent
from tests.makers import (
    NOON,
    make_commission,
    make_gem,
    make_hand,
    make_item_spec,
    make_owner,
    make_reader,
    make_shop,
)
from workshop.commissions.actions import account, changes
from workshop.commissions.models import Charge, Commission, CommissionPayment, StopAsk
from workshop.handbook.units import parse_weight
from workshop.stones import actions as stones

D = Decimal
pytestmark = pytest.mark.django_db
ON = "2026-03-02"
MONEY = ("charge", "pay", "refund", "go_ahead", "cancel", "hold", "off_hold")
PIECE = ("unworked", "broken", "lost", "drop", "buy", "replace", "design", "differs", "charge_work")


@pytest.fixture
def owner(client):
    make_shop()
    person = make_owner()
    client.force_login(person)
    return person


@pytest.fixture
def work(owner):
    commission = make_agreed(by=owner)
    return commission, *with_stone(commission, by=owner)


def at(name, *args):
    return reverse(f"commissions:{name}", args=args)


def fresh(row):
    return type(row).objects.get(pk=row.pk)


def errors(answer):
    assert answer.status_code == 422, answer.status_code
    return {name: [str(one) for one in said] for name, said in answer.context["form"].errors.items()}


# --- Who may -------------------------------------------------------------------------------------------------------


def test_hands_see_no_money_and_do_none_of_it(client, owner, work):
    commission, _, stone = work
    account.charge(
        commission, kind="extra", words="rush", gross=D("123.45"), on=NOON.date(), by=owner, at=NOON
    )
    row = Charge.objects.get()
    client.force_login(make_hand())
    for url in (
        *(at(name, commission.code) for name in (*MONEY, "account")),
        *(at(name, commission.code, 1) for name in (*PIECE, "found", "give_back", "off_cut")),
        at("charge_back", row.pk),
    ):
        assert client.get(url).status_code == 403, url
        assert client.post(url, {}).status_code == 403, url
    for url in (at("ask", commission.code, 1) + "?why=chip", at("at_the_wheel", stone.code)):
        page = client.get(url)
        assert page.status_code == 200
        assert "123.45" not in page.content.decode() and "new_price" not in page.content.decode()
    assert CommissionPayment.objects.count() == 0


def test_a_reader_looks_at_the_account_and_changes_nothing(client, owner, work):
    commission = work[0]
    client.force_login(make_reader())
    assert client.get(at("account", commission.code)).status_code == 200
    assert client.post(at("pay", commission.code), {"amount": "1"}).status_code == 403
    assert client.get(at("ask", commission.code, 1)).status_code == 403
    assert client.get(at("at_the_wheel", work[2].code)).status_code == 200


@pytest.mark.parametrize("name", ["account", *MONEY])
def test_an_unknown_commission_is_not_found(client, owner, name):
    assert client.get(at(name, "C-9999")).status_code == 404


def test_unknown_pieces_questions_and_charges_are_not_found(client, owner, work):
    for name in (*PIECE, "ask", "found", "off_cut", "give_back"):
        assert client.get(at(name, work[0].code, 9)).status_code == 404
    for name in ("ask_answer", "ask_withdraw", "charge_back"):
        assert client.get(at(name, 999)).status_code == 404
    assert client.post(at("ask_version", 999)).status_code == 404
    assert client.get(at("at_the_wheel", "S-9999")).status_code == 404


def test_every_page_opens(client, owner, work):
    commission, _, _ = work
    for name in MONEY:
        assert client.get(at(name, commission.code)).status_code == 200, name
    for name in ("unworked", "broken", "lost", "drop", "buy", "design", "differs", "ask"):
        assert client.get(at(name, commission.code, 1)).status_code == 200, name
    for name, told in (
        ("replace", "broke or was lost"), ("found", "is lost"), ("give_back", ""), ("off_cut", "go back to the client"),
        ("charge_work", "is not finished"),
    ):  # fmt: skip
        page = client.get(at(name, commission.code, 1))
        assert page.status_code == 200, name
        assert told in page.content.decode()


# --- The account ---------------------------------------------------------------------------------------------------


def test_a_charge_a_payment_and_a_refund_by_their_forms(client, owner, work):
    commission = work[0]
    typed = {"kind": "extra", "words": "rush", "amount": "119", "tax_percent": "19", "tax_in": "in", "on": ON}
    answer = client.post(at("charge", commission.code), typed)
    assert answer.status_code == 302 and answer.url.endswith("#account")
    assert Charge.objects.get().tax == 19
    page = client.get(at("pay", commission.code)).content.decode()
    assert 'value="119.00"' in page
    client.post(at("pay", commission.code), {"amount": "119", "paid_as": "balance", "way": "cash", "on": ON})
    client.post(at("charge", commission.code), {**typed, "kind": "credit", "words": "late", "amount": "20"})
    client.post(
        at("refund", commission.code), {"amount": "20", "way": "cash", "on": ON, "note": "a week late"}
    )
    commission = fresh(commission)
    assert (commission.charged, commission.paid, commission.refunded, commission.balance) == (99, 119, 20, 0)
    shown = client.get(at("account", commission.code)).content.decode()
    assert "a week late" in shown and "Take back" in shown


def test_too_much_is_asked_about_and_goes_through_when_meant(client, owner, work):
    url = at("pay", work[0].code)
    typed = {"amount": "1000", "paid_as": "deposit", "way": "cash", "on": ON}
    answer = client.post(url, typed)
    assert "Only 260.00" in errors(answer)["amount"][0].replace("\xa0", " ")
    assert 'name="sure"' in answer.content.decode() and 'value="1000"' in answer.content.decode()
    assert client.post(url, {**typed, "sure": "on"}).status_code == 302
    assert fresh(work[0]).paid == 1000


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"amount": ""}, "amount"),
        ({"amount": "-5"}, "amount"),
        ({"amount": "1.001"}, "amount"),
        ({"amount": "a lot"}, "amount"),
        ({"amount": "9" * 30}, "amount"),
        ({"amount": "0"}, "amount"),
        ({"on": "2126-01-01"}, "on"),
        ({"on": "2026-03-01"}, "on"),
        ({"on": "yesterday"}, "on"),
        ({"kind": "bought"}, "kind"),
        ({"kind": "stone"}, "kind"),
        ({"words": ""}, "words"),
        ({"words": "x" * 201}, "words"),
        ({"words": "a\x00b"}, "words"),
        ({"tax_percent": "101"}, "tax_percent"),
        ({"item": "999"}, "item"),
    ],
)
def test_bad_charges_are_told_beside_the_field(client, owner, work, said, field):
    typed = {
        "kind": "extra",
        "words": "rush",
        "amount": "10",
        "tax_percent": "19",
        "tax_in": "in",
        "on": ON,
        **said,
    }
    answer = client.post(at("charge", work[0].code), typed)
    assert field in errors(answer)
    assert not Charge.objects.exists()


def test_empty_forms_hear_what_is_missing(client, owner, work):
    commission = work[0]
    for name in ("charge", "pay", "refund", "cancel", "hold", "off_hold"):
        errors(client.post(at(name, commission.code), {}))
    for name in ("unworked", "broken", "lost", "drop", "buy", "design", "differs"):
        errors(client.post(at(name, commission.code, 1), {}))
    errors(client.post(at("ask", commission.code, 1) + "?why=chip", {}))
    assert fresh(commission).state == "in_work" and not StopAsk.objects.exists()


def test_a_charge_is_taken_back_once(client, owner, work):
    row = account.charge(work[0], kind="extra", words="rush", gross=D(10), on=NOON.date(), by=owner, at=NOON)
    assert "reason" in errors(client.post(at("charge_back", row.pk), {"reason": ""}))
    assert client.post(at("charge_back", row.pk), {"reason": "typed twice"}).status_code == 302
    assert (
        "taken back already"
        in errors(client.post(at("charge_back", row.pk), {"reason": "again"}))["__all__"][0]
    )
    assert fresh(work[0]).charged == 0


def test_one_form_sent_twice_books_once(client, owner, work):
    typed = {
        "kind": "extra", "words": "rush", "amount": "10", "tax_percent": "", "tax_in": "in", "on": ON,
        "once": "a-key-of-this-form",
    }  # fmt: skip
    for _ in range(2):
        assert client.post(at("charge", work[0].code), typed).status_code == 302
    assert Charge.objects.count() == 1


def test_the_go_ahead_with_and_without_a_deposit(client, owner):
    commission = make_agreed(by=owner, state="accepted", deposit="110")
    page = client.get(at("go_ahead", commission.code)).content.decode()
    assert 'value="110.00"' in page
    answer = client.post(
        at("go_ahead", commission.code), {"deposit": "", "way": "cash", "on": ON, "reason": ""}
    )
    assert "has not come" in errors(answer)["reason"][0]
    client.post(at("go_ahead", commission.code), {"deposit": "110", "way": "cash", "on": ON, "reason": ""})
    assert (fresh(commission).state, fresh(commission).paid) == ("in_work", 110)
    other = make_agreed(by=owner, state="accepted")
    assert "deposit" not in client.get(at("go_ahead", other.code)).context["form"].fields
    assert client.post(at("go_ahead", other.code), {}).status_code == 302
    assert fresh(other).state == "in_work"


def test_the_work_is_shown_before_it_is_booked(client, owner):
    commission = make_agreed(by=owner, prices=("220", "220", "220"), quoted={"firm": True})
    _, stone = with_stone(commission, by=owner)
    make_gem(stone=stone, weight="2.71 ct", by=owner)
    assert "220.00" in client.get(at("account", commission.code)).content.decode()
    url = at("charge_work", commission.code, 1)
    assert 'value="220.00"' in client.get(url).content.decode()
    assert "reason" in errors(client.post(url, {"amount": "200", "on": ON}))
    assert client.post(url, {"amount": "220", "on": ON}).status_code == 302
    assert "on the account already" in errors(client.post(url, {"amount": "220", "on": ON}))["__all__"][0]
    assert fresh(commission).balance == 220


# --- Stop and ask --------------------------------------------------------------------------------------------------


def picture():
    out = BytesIO()
    Image.new("RGB", (60, 40), "teal").save(out, "JPEG")
    return SimpleUploadedFile("chip.jpg", out.getvalue(), "image/jpeg")


def test_from_the_bench_to_the_question_in_two_taps(client, owner, work):
    commission, _, stone = work
    stones.record_weight(stone, parse_weight("2.4 ct"), by=owner, at=NOON)
    bench = client.get(reverse("stones:bench", args=[stone.code])).content.decode()
    assert at("at_the_wheel", stone.code) in bench
    piece = client.get(at("at_the_wheel", stone.code), headers={"HX-Request": "true"}).content.decode()
    assert "<html" not in piece and "why=floor" in piece and "the floor is" in piece
    page = client.get(at("ask", commission.code, 1) + "?from=bench&why=floor")
    words = page.context["form"].initial.get("words") or page.context["form"].fields["words"].initial
    assert "It weighs 2.40 ct now. We agreed that I ask you before it falls below 2.50 ct." in words
    assert 'capture="environment"' in page.content.decode()
    answer = client.post(
        at("ask", commission.code, 1) + "?from=bench&why=floor",
        {
            "words": words,
            "weight_low": "2.2",
            "weight_high": "2.4",
            "options": "Go on\nStop",
            "picture": picture(),
        },
    )
    made = StopAsk.objects.get()
    assert answer.status_code == 302 and f"ask={made.pk}" in answer.url
    assert (made.by_floor, made.weight_low_ct, made.options, made.photo is not None) == (
        True,
        D("2.2"),
        ["Go on", "Stop"],
        True,
    )
    assert fresh(stone).waiting_for == "client"


def test_a_hand_stops_from_the_bench_and_comes_back_to_it(client, owner, work):
    commission, _, stone = work
    client.force_login(make_hand())
    url = at("ask", commission.code, 1) + "?why=chip&from=bench"
    answer = client.post(url, {"words": "It chipped.", "options": "Go on\nStop", "new_price": "1"})
    assert answer.url == reverse("stones:bench", args=[stone.code])
    assert StopAsk.objects.get().new_price is None


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"words": " "}, "words"),
        ({"words": "x" * 2001}, "words"),
        ({"weight_low": "3", "weight_high": "2"}, "weight_low"),
        ({"weight_low": "heavy"}, "weight_low"),
        ({"length_mm": "-2"}, "length_mm"),
        ({"new_price": "-1"}, "new_price"),
        ({"options": "Only one"}, "options"),
        ({"options": ""}, "options"),
        ({"picture": SimpleUploadedFile("x.jpg", b"no picture", "image/jpeg")}, "picture"),
    ],
)
def test_bad_questions_are_told_beside_the_field(client, owner, work, said, field):
    typed = {"words": "Go on?", "options": "Yes\nNo", **said}
    answer = client.post(at("ask", work[0].code, 1) + "?why=inclusion", typed)
    assert field in errors(answer)
    assert not StopAsk.objects.exists() and fresh(work[2]).waiting_for == ""


def test_an_unknown_reason_asks_what_came_up(client, owner, work):
    page = client.get(at("ask", work[0].code, 1) + "?why=whim")
    assert page.status_code == 200 and "What came up?" in page.content.decode()
    assert client.post(at("ask", work[0].code, 1) + "?why=whim", {"words": "x"}).status_code == 422
    assert not StopAsk.objects.exists()


def test_the_answer_is_written_down(client, owner, work):
    made = changes.ask_client(work[1], why="chip", words="It chipped.", by=owner, at=NOON)
    url = at("ask_answer", made.pk)
    typed = {
        "answer": "Go on, smaller",
        "name": "Mara Quill",
        "answered_from": "told by telephone",
        "words": "fine",
    }
    assert "answer" in errors(client.post(url, {**typed, "answer": "Do as you like"}))
    assert "name" in errors(client.post(url, {**typed, "name": ""}))
    assert client.post(url, typed).status_code == 302
    assert (fresh(made).answer, fresh(made).answer_words) == ("Go on, smaller", "fine")
    assert "already" in errors(client.post(url, typed))["__all__"][0]


def test_a_question_is_withdrawn(client, owner, work):
    made = changes.ask_client(work[1], why="chip", words="It chipped.", by=owner, at=NOON)
    assert client.post(at("ask_withdraw", made.pk), {"reason": "it polished out"}).status_code == 302
    assert fresh(made).withdrawn_why == "it polished out"
    page = client.get(at("at_the_wheel", work[2].code)).content.decode()
    assert "Stop and ask" in page


def test_a_treatment_found_by_its_form(client, owner, work):
    url = at("differs", work[0].code, 1)
    typed = {
        "question": "treatment",
        "treatment": "",
        "evidence": "3",
        "how": "melted silk",
        "words": "Heated. Go on?",
    }
    assert "treatment" in errors(client.post(url, typed))
    assert client.post(url, {**typed, "treatment": "heat"}).status_code == 302
    assert work[2].statements.get().treatments == ["heat"] and StopAsk.objects.get().why == "treatment"


# --- Pieces that end, goods that change hands ----------------------------------------------------------------------


def test_unworked_by_its_form(client, owner):
    commission = make_agreed(by=owner)
    item, _ = with_goods(commission, by=owner)
    url = at("unworked", commission.code, 1)
    for weight in ("", "3.2", "34.6", "heavy", "-1", "0"):
        assert "given_back" in errors(client.post(url, {"given_back": weight, "on": ON})), weight
    assert (
        client.post(url, {"given_back": "0,692 g", "fee": "25", "tax_percent": "19", "on": ON}).status_code
        == 302
    )
    assert (fresh(item).outcome, fresh(item).given_back_ct) == ("unworked", D("3.46"))
    assert Charge.objects.get().kind == "inspection"


def test_broken_lost_found_and_replaced_by_their_forms(client, owner):
    commission = make_agreed(by=owner, items=[make_item_spec(work="cut_own", wanted="a garnet")])
    item, stone = with_own_stone(commission, by=owner)
    assert "last_seen" in errors(client.post(at("lost", commission.code, 1), {"stone": stone.pk, "on": ON}))
    client.post(at("lost", commission.code, 1), {"stone": stone.pk, "last_seen": "the drain", "on": ON})
    assert fresh(item).outcome == "lost"
    client.post(at("found", commission.code, 1), {"stone": stone.pk, "where": "in the trap"})
    assert fresh(item).is_open
    url = at("broken", commission.code, 1)
    assert "fragments" in errors(
        client.post(url, {"stone": stone.pk, "reason": "cleaved", "fragments": "11", "on": ON})
    )
    client.post(url, {"stone": stone.pk, "reason": "cleaved", "fragments": "8", "on": ON})
    assert fresh(item).outcome == "broken"
    new = stones.draw_stone(stone.lot, parse_weight("9 ct"), by=owner, at=NOON)
    url = at("replace", commission.code, 1)
    assert "new" in errors(client.post(url, {"stone": stone.pk, "new": "S-9999", "why": "alike"}))
    assert client.post(url, {"stone": stone.pk, "new": new.code.lower(), "why": "alike"}).status_code == 302
    assert fresh(item).is_open


def test_fragments_go_home_by_their_form(client, owner, work):
    commission, item, stone = work
    changes.tell_broken(
        item,
        stone=stone,
        reason="cleaved",
        fragments=parse_weight("2.9 ct"),
        on=NOON.date(),
        by=owner,
        at=NOON,
    )
    url = at("give_back", commission.code, 1)
    assert "weighed" in errors(client.post(url, {"weighed": "1", "on": ON}))
    assert client.post(url, {"weighed": "2.9", "reason": "collected", "on": ON}).status_code == 302
    assert fresh(stone).place == "client" and "lies here" in client.get(url).content.decode()


def test_bought_by_its_form(client, owner, work):
    commission, _, stone = work
    url = at("buy", commission.code, 1)
    other = with_stone(make_agreed(by=owner), by=owner)[1]
    assert "stone" in errors(client.post(url, {"stone": other.pk, "price": "10", "reason": "x", "on": ON}))
    assert "price" in errors(client.post(url, {"stone": stone.pk, "price": "-10", "reason": "x", "on": ON}))
    assert client.post(url, {"stone": stone.pk, "price": "150", "reason": "x", "on": ON}).status_code == 302
    assert (fresh(stone).ownership, fresh(commission).balance) == ("shop", -150)


def test_a_design_by_its_form(client, owner, work):
    url = at("design", work[0].code, 1)
    typed = {"wanted": "a cushion", "shape": "cushion", "why": "she says", "from_client": "on"}
    assert "why" in errors(client.post(url, {**typed, "why": ""}))
    assert client.post(url, typed).status_code == 302
    assert fresh(work[1]).wanted == "a cushion"


def test_a_piece_is_dropped_by_its_form(client, owner, work):
    url = at("drop", work[0].code, 1)
    assert "given_back" in errors(client.post(url, {"reason": "x", "given_back": "9", "on": ON}))
    assert "given_back" in errors(client.post(url, {"reason": "x", "given_back": "", "on": ON}))
    assert client.post(url, {"reason": "x", "given_back": "3.46", "on": ON}).status_code == 302
    assert fresh(work[1]).outcome == "dropped"


def test_cancelled_by_its_form(client, owner):
    commission = make_agreed(by=owner, deposit="110")
    _, stone = with_stone(commission, by=owner)
    account.pay(commission, amount=D("110"), paid_as="deposit", on=NOON.date(), by=owner, at=NOON)
    url = at("cancel", commission.code)
    page = client.get(url)
    # The deposit was agreed as not refundable: it is offered as the fee.
    assert page.context["form"]["fee"].value() == D("110.00")
    typed = {"reason": "moves abroad", "fee": "110", "refund": "", "way": "cash", "back_1": "3.46", "on": ON}
    assert "refund" in errors(client.post(url, {**typed, "fee": "60"}))
    assert "back_1" in errors(client.post(url, {**typed, "back_1": "5"}))
    assert "back_1" in errors(client.post(url, {**typed, "back_1": ""}))
    assert fresh(commission).state == "in_work" and not Charge.objects.exists() and not fresh(stone).ending
    assert client.post(url, typed).status_code == 302
    assert (fresh(commission).state, fresh(commission).balance, fresh(stone).place) == (
        "cancelled",
        0,
        "client",
    )
    again = client.post(url, typed)
    assert again.status_code == 422 and "is cancelled already" in again.content.decode()


def test_laid_aside_and_heard_again(client, owner, work):
    commission, _, stone = work
    assert client.post(at("hold", commission.code), {"words": "no word since January"}).status_code == 302
    assert fresh(stone).waiting_for == "client"
    assert client.post(at("off_hold", commission.code), {"words": "go on"}).status_code == 302
    assert fresh(stone).waiting_for == ""


def test_a_foreign_currency_asks_for_the_cost_here(client, owner):
    commission = make_agreed(by=owner, currency="USD")
    _, stone = with_stone(commission, by=owner)
    url = at("buy", commission.code, 1)
    typed = {"stone": stone.pk, "price": "150", "reason": "x", "on": ON}
    assert "own_cost" in errors(client.post(url, typed))
    assert client.post(url, {**typed, "own_cost": "139.50"}).status_code == 302
    assert fresh(stone).other_cost == D("139.50")


def test_the_account_asks_the_database_no_more_for_many_rows(
    client, owner, work, django_assert_max_num_queries
):
    commission = work[0]
    for number in range(25):
        account.charge(
            commission, kind="extra", words=f"row {number}", gross=D(1), on=NOON.date(), by=owner, at=NOON
        )
        account.pay(commission, amount=D(1), on=NOON.date(), by=owner, at=NOON)
    Commission.objects.get(pk=commission.pk)
    with django_assert_max_num_queries(40):
        client.get(at("account", commission.code))


def test_a_question_leads_to_a_version_by_its_page(client, owner):
    commission = make_commission(by=owner, items=[make_item_spec(work="recut", wanted="recut")])
    accept(make_sent(commission, by=owner))
    item, _ = with_stone(fresh(commission), by=owner)
    made = changes.ask_client(
        item, why="cost", words="It takes longer.", new_price=D("300"), by=owner, at=NOON
    )
    changes.answer_ask(
        made, answer="Go on at the new price", name="Mara", answered_from="page", by=None, at=NOON
    )
    url = at("ask_version", made.pk)
    assert "Go on at the new price" in client.get(url).content.decode()
    answer = client.post(url, {})
    second = commission.quotes.get(version=2)
    assert answer.url == second.get_absolute_url() and fresh(made).led_to == second
    assert second.why == "piece 1: it will cost more"
    # A second press goes on with the draft that is there.
    assert client.post(url, {}).url == second.get_absolute_url() and commission.quotes.count() == 2


def test_goods_not_drawn_yet_are_drawn_before_they_are_bought(client, owner):
    item, lot = with_goods(make_agreed(by=owner), by=owner)
    page = client.get(at("buy", item.commission.code, 1)).content.decode()
    assert f"lie in {lot.code} still: draw its stone first" in page


def test_the_stones_own_page_sends_a_purchase_to_its_commission(client, owner, work):
    """Bought past the commission, the price would be credited to nobody."""
    _, _, stone = work
    page = client.get(reverse("stones:buy", args=[stone.code])).content.decode()
    assert at("of_stone", stone.code) in page and "credited to the client" in page


def test_the_go_ahead_says_what_the_client_has_not_signed(client, owner):
    """Signed before work starts: disclosure notes 4.2, common practice, no source."""
    commission = make_agreed(by=owner, state="accepted")
    intake = with_goods(commission, by=owner)[1].intake_piece.intake
    said = f"{intake.code}: not signed by the client yet"
    assert said in client.get(at("go_ahead", commission.code)).content.decode()
    type(intake).objects.filter(pk=intake.pk).update(signed_by="Mara Quill", signed_at=NOON)
    assert said not in client.get(at("go_ahead", commission.code)).content.decode()


def test_a_cancelling_that_leaves_a_debt_goes_through_once_it_is_meant(client, owner):
    commission = make_agreed(by=owner)
    account.pay(commission, amount=D(110), paid_as="deposit", on=NOON.date(), by=owner, at=NOON)
    said = {"reason": "moves abroad", "fee": "100", "refund": "50", "way": "cash", "on": ON}
    assert "would then owe" in str(errors(client.post(at("cancel", commission.code), said)))
    assert client.post(at("cancel", commission.code), {**said, "sure": "on"}).status_code == 302
    assert (fresh(commission).state, fresh(commission).balance) == ("cancelled", 40)
