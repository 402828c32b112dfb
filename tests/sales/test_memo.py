"""Memos: acceptance scenario 9 to the cent, P3, double sale, goods lent to the shop, and holds.

ME-01 to ME-06 of the house's sheet: title stays with the sender until sold (AGTA/JVC guide, 2009); in writing, signed,
with a day (Rapaport); goods out stay in the sender's count, goods in never enter it (IRS Publication 538).
"""

import io
import json
from datetime import date, timedelta
from decimal import Decimal

import pdfplumber
import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from tests.makers import (
    NOON,
    make_answered_gem,
    make_contact,
    make_gem,
    make_hand,
    make_owner,
    make_reader,
    make_shop,
)
from workshop.common.errors import DeedRefused, PleaseConfirm
from workshop.common.models import JournalEntry
from workshop.gems import actions as gems
from workshop.gems.card_actions import QuestionOpen, issue_card
from workshop.gems.models import FinishedGem
from workshop.handbook.units import parse_weight
from workshop.papers import actions as papers
from workshop.papers.invoicing import Terms
from workshop.sales import actions
from workshop.sales.actions import holds, memo_ends, memo_in, memo_steps, memos
from workshop.sales.models import Hold, LineState, Memo, MemoLine, SaleLine
from workshop.stones import actions as stones

D = Decimal
DAY = NOON.date()
BACK = DAY + timedelta(days=30)
LATE = NOON + timedelta(days=37)
LATE_DAY = LATE.date()
LOSS = "The receiver bears loss, theft and damage from the signature on."
SIX = (("2.04", 150), ("1.62", 150), ("3.31", 95), ("3.18", 95), ("5.07", 60), ("0.94", 210))


@pytest.fixture
def owner(db):
    make_shop(address="5 Slate Lane", base_url="https://cards.example")
    return make_owner()


@pytest.fixture
def jeweller(owner):
    return make_contact("Iver Penned", firm="Penned & Sons", is_jeweller=True, address="1 High Street")


def lend(owner, jeweller, weights=(("2.04", 150),), *, send=True, **said):
    asked = [
        memos.Lent(make_answered_gem(by=owner, weight=f"{ct} ct"), D(ct) * price) for ct, price in weights
    ]
    said = {"return_by": BACK, "loss_words": LOSS, **said}
    memo = memos.prepare_memo(asked, party=jeweller, by=owner, at=NOON, **said)
    return memos.send_memo(memo, signed_by="I. Penned", on=DAY, by=owner, at=NOON) if send else memo


def line_of(memo, weight):
    return memo.lines.get(weight_ct=D(weight))


def back(line, owner, weight=None, **said):
    weighed = parse_weight(f"{weight or line.weight_ct} ct")
    return memos.return_line(line, weighed=weighed, on=LATE_DAY, by=owner, at=LATE, **said)


# --- Acceptance scenario 9 ----------------------------------------------------------------------------------------


def test_scenario_9_six_stones_to_a_jeweller_to_the_cent(owner, jeweller):
    memo = lend(owner, jeweller, SIX, insured_by="receiver", insured_value=D("1667.15"))
    rows = list(memo.lines.all())
    assert sum(line.weight_ct for line in rows) == D("16.16")
    assert sum(line.price for line in rows) == D("1667.15") == memo_steps.owed_if_lost(memo)
    # ME-06: still the shop's stock, with their holder, at the price as declared value.
    assert FinishedGem.objects.in_stock().filter(place="memo", holder=jeweller).count() == 6
    assert rows[0].gem.stone.ownership == "shop"
    assert not Memo.objects.overdue(BACK).exists() and list(Memo.objects.overdue(LATE_DAY)) == [memo]
    # Day 37.
    sale = memo_ends.settle(
        memo,
        sold=[memo_ends.Sold(line_of(memo, "2.04")), memo_ends.Sold(line_of(memo, "3.31"))],
        lost=[memo_ends.Lost(line_of(memo, "0.94"), "lost at the jeweller's")],
        on=LATE_DAY, by=owner, at=LATE,
    )  # fmt: skip
    assert sum(line.price for line in sale.lines.filter(kind="sold")) == D("620.45")
    assert sale.lines.get(kind="compensation").price == D("197.40")
    invoice = actions.issue_invoice(sale, terms=Terms(), by=owner, at=LATE)
    assert invoice.gross == sale.gross == sale.owed == D("817.85")
    back(line_of(memo, "1.62"), owner)
    back(line_of(memo, "3.18"), owner)
    chipped = back(
        line_of(memo, "5.07"), owner, "5.05", damage="a chip at the girdle", back_to="second_polished"
    )
    memo.refresh_from_db()
    assert memo.closed_on == LATE_DAY
    assert list(memo.lines.values_list("state", flat=True)) == [
        "sold", "returned", "sold", "returned", "damaged", "lost",
    ]  # fmt: skip
    # Repolished to 4.93 ct: −2.8 % of 5.07; now 60.00 a carat = 295.80.
    stone = chipped.gem.stone
    stones.move_on(stone, "off_dop", by=owner, at=LATE)
    stone.refresh_from_db()
    measured = gems.Measured(
        weight=parse_weight("4.93 ct"), length_mm=D("11.00"), width_mm=D("9.00"), depth_mm=D("6.50"), shape="oval",
        colour="bluish green",
    )  # fmt: skip
    again = gems.finish_gem(stone, measured, by=owner, at=LATE, sure=True)
    assert round((again.weight_ct - chipped.weight_ct) / chipped.weight_ct * 100, 1) == D("-2.8")
    for gem, price in (
        (again, "295.80"),
        (line_of(memo, "1.62").gem, "243.00"),
        (line_of(memo, "3.18").gem, "302.10"),
    ):
        gems.set_price(gem, D(price), by=owner, at=LATE)
    home = FinishedGem.objects.in_stock()
    assert home.count() == 3 and sum(gem.weight_ct for gem in home) == D("9.73")
    assert sum(gem.price for gem in home) == D("840.90")
    # The lost stone is out of stock with its reason, and not sold.
    lost = line_of(memo, "0.94")
    assert (lost.gem.gone_as, lost.owed, lost.sale) == ("lost", D("197.40"), sale)
    assert "lost at the jeweller" in lost.gem.gone_note and memo.code in lost.gem.gone_note


def test_the_work_on_a_damaged_stone_is_charged_by_choice(owner, jeweller):
    memo = lend(owner, jeweller)
    line = line_of(memo, "2.04")
    with pytest.raises(DeedRefused, match="did not come back damaged"):
        memo_ends.settle(memo, repairs=[memo_ends.Repair(line, D("45.00"))], on=LATE_DAY, by=owner, at=LATE)
    back(line, owner, "2.03", damage="chipped", back_to="second_polished")
    sale = memo_ends.settle(
        memo, repairs=[memo_ends.Repair(line, D("45.00"))], on=LATE_DAY, tax_percent=D(20), by=owner, at=LATE
    )
    assert (sale.net, sale.gross, sale.cost) == (D(45), D(54), D(0))
    with pytest.raises(DeedRefused, match="charged in"):
        memo_ends.settle(memo, repairs=[memo_ends.Repair(line, D(1))], on=LATE_DAY, by=owner, at=LATE)
    actions.cancel_sale(sale, reason="let off", on=LATE_DAY, by=owner, at=LATE)
    line.gem.refresh_from_db()
    assert line.gem.gone_as == "recut"


# --- Before it leaves ---------------------------------------------------------------------------------------------


def test_no_memo_without_a_day_or_a_signature(owner, jeweller):
    """P3: a memo without receiver's signature or return date cannot go to "out" (Rapaport)."""
    with pytest.raises(DeedRefused) as refused:
        lend(owner, jeweller, return_by=None)
    assert refused.value.field == "return_by"
    memo = lend(owner, jeweller, send=False)
    gem = memo.lines.get().gem
    assert (gem.place, memo.is_out, memo.state_word) == ("safe", False, "set aside, to be signed")
    with pytest.raises(DeedRefused) as refused:
        memos.send_memo(memo, signed_by=" ", on=DAY, by=owner, at=NOON)
    assert refused.value.field == "signed_by"
    with pytest.raises(IntegrityError), transaction.atomic():
        Memo.objects.filter(pk=memo.pk).update(sent_on=DAY)
    with pytest.raises(DeedRefused):
        memo_ends.sell_lines(memo.lines.all(), on=DAY, by=owner, at=NOON)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"return_by": DAY - timedelta(days=1)}, "return_by"),
        ({"loss_words": "  "}, "loss_words"),
        ({"weights": (("2.04", D("0.333")),)}, "price"),
        ({"weights": (("2.04", D(-1)),)}, "price"),
        ({"weights": ()}, "gem"),
    ],
)
def test_terms_that_cannot_be_are_refused_and_nothing_is_kept(owner, jeweller, wrong, field):
    with pytest.raises(DeedRefused) as refused:
        lend(owner, jeweller, **wrong)
    assert refused.value.field == field
    assert not Memo.objects.exists() and not FinishedGem.objects.exclude(bound_to="").exists()


def test_only_own_gems_at_home_whose_words_stand_are_lent(owner, jeweller):
    def prepare(gem):
        return memos.prepare_memo(
            [memos.Lent(gem, D(10))], party=jeweller, return_by=BACK, loss_words=LOSS, by=owner, at=NOON
        )

    with pytest.raises(QuestionOpen):
        prepare(make_gem(by=owner))
    away = make_answered_gem(by=owner)
    gems.move_gem(away, place="laboratory", holder=jeweller, since=DAY, by=owner, at=NOON)
    with pytest.raises(DeedRefused, match="bring it home"):
        prepare(away)
    gone = make_answered_gem(by=owner)
    gems.let_go(gone, gone_as="kept", on=DAY, note="mine", by=owner, at=NOON)
    with pytest.raises(DeedRefused, match="own use"):
        prepare(gone)
    assert not Memo.objects.exists()


def test_the_note_says_what_a_memo_must(owner, jeweller):
    """Fields of 4.4 and the column "memo" of 7.1; the disclosure text of each stone (CB-03); K6's kind of care."""
    memo = lend(
        owner, jeweller, SIX[:2], terms="Paid within 14 days of the invoice.", insured_by="the receiver"
    )
    said = json.loads(memo.note.content)
    told = memo.note.content.replace("\u00a0", " ")
    assert said["number"] == "MN-0001" and memo.code in said["reference"]
    for words in ("To be returned by", "1 Apr 2026", "Iver Penned", "Penned & Sons", "306.00 EUR", "243.00 EUR",
                  "549.00 EUR", "3.66 ct", "no sale until invoiced", LOSS, "the receiver", "Paid within 14 days",
                  "9.12 × 7.04 × 5.20 mm"):  # fmt: skip
        assert words in told, words
    headings = [one["heading"] for one in said["blocks"]]
    for line in memo.lines.all():
        assert any(heading.startswith(line.gem.code) for heading in headings)
    assert said["blocks"][-1]["kind"] == "signatures" and "Care" in told


# --- Never twice --------------------------------------------------------------------------------------------------


def test_a_gem_on_a_memo_is_sold_or_lent_by_no_other_way(owner, jeweller):
    for send in (False, True):
        memo = lend(owner, jeweller, send=send)
        gem = memo.lines.get().gem
        with pytest.raises(DeedRefused, match=memo.code):
            actions.sell(
                [actions.Asked(gem, D(10))], buyer=make_contact("Ana"), sold_on=DAY, by=owner, at=NOON
            )
        with pytest.raises(DeedRefused, match=memo.code):
            memos.prepare_memo(
                [memos.Lent(gem, D(10))], party=jeweller, return_by=BACK, loss_words=LOSS, by=owner, at=NOON
            )
        for deed in (
            lambda gem=gem: gems.move_gem(gem, place="safe", since=DAY, by=owner, at=NOON),
            lambda gem=gem: gems.let_go(gem, gone_as="kept", on=DAY, note="x", by=owner, at=NOON),
            lambda gem=gem: gems.send_back(gem, to="preformed", reason="x", by=owner, at=NOON),
        ):
            with pytest.raises(DeedRefused, match=memo.code):
                deed()
        assert not SaleLine.objects.exists()


def test_the_database_refuses_a_second_memo_and_a_sale_beside_one(owner, jeweller):
    memo = lend(owner, jeweller)
    line = memo.lines.get()
    other = lend(owner, jeweller, (("1.00", 10),))
    with pytest.raises(IntegrityError), transaction.atomic():
        MemoLine.objects.create(
            memo=other, gem=line.gem, words="x", weight_ct=1, price=1, state=LineState.OUT
        )
    with pytest.raises(IntegrityError), transaction.atomic():
        FinishedGem.objects.filter(pk=line.gem_id).update(gone_as="sold", gone_on=DAY)


def test_a_memo_never_sent_frees_its_gems_and_its_note_is_void(owner, jeweller):
    memo = lend(owner, jeweller, send=False)
    with pytest.raises(DeedRefused, match="why"):
        memos.drop_memo(memo, reason=" ", by=owner, at=NOON)
    memos.drop_memo(memo, reason="he did not sign", by=owner, at=NOON)
    memo.refresh_from_db()
    memo.note.refresh_from_db()
    assert (memo.closed_on, memo.note.state_word, memo.lines.get().state) == (DAY, "void", "dropped")
    gem = memo.lines.get().gem
    assert (
        actions.sell([actions.Asked(gem, D(10))], buyer=jeweller, sold_on=DAY, by=owner, at=NOON).code
        == "SA-0001"
    )


# --- How it ends --------------------------------------------------------------------------------------------------


def test_a_stone_that_comes_back_is_weighed_and_asked_about(owner, jeweller):
    memo = lend(owner, jeweller)
    line = memo.lines.get()
    with pytest.raises(DeedRefused, match="Weigh"):
        memos.return_line(line, weighed=None, on=LATE_DAY, by=owner, at=LATE)
    with pytest.raises(DeedRefused) as refused:
        back(line, owner, "2.00")
    assert refused.value.field == "damage"
    with pytest.raises(PleaseConfirm, match="same stone"):
        back(line, owner, "2.10")
    with pytest.raises(DeedRefused) as refused:
        back(line, owner, "2.00", damage="chipped")
    assert refused.value.field == "back_to"
    with pytest.raises(DeedRefused, match="left on"):
        memos.return_line(
            line, weighed=parse_weight("2.04 ct"), on=DAY - timedelta(days=1), by=owner, at=LATE
        )
    back(line, owner, "2.05")
    gem = FinishedGem.objects.get()
    assert (gem.place, gem.holder, gem.bound_to, gem.is_here) == ("safe", None, "", True)
    with pytest.raises(DeedRefused, match="is back"):
        back(line, owner)


def test_a_damage_that_stays_is_described_anew_and_the_card_is_void(owner, jeweller):
    gem = make_answered_gem(by=owner)
    card = issue_card(gem, by=owner, at=NOON)
    memo = memos.prepare_memo(
        [memos.Lent(gem, D(10))], party=jeweller, return_by=BACK, loss_words=LOSS, by=owner, at=NOON
    )
    memos.send_memo(memo, signed_by="I. Penned", on=DAY, by=owner, at=NOON)
    back(
        memo.lines.get(),
        owner,
        "2.34",
        damage="abrasions on the table",
        clarity="fine scratches on the table, 10×",
    )
    card.refresh_from_db()
    gem.refresh_from_db()
    assert card.state_word == "void" and memo.code in card.void_reason
    assert gem.clarity.startswith("fine scratches") and gem.is_here


def test_it_is_put_off_with_a_reason_and_told(owner, jeweller):
    memo = lend(owner, jeweller)
    for until, reason, field in ((BACK, "x", "until"), (BACK + timedelta(days=9), " ", "reason")):
        with pytest.raises(DeedRefused) as refused:
            memos.extend(memo, until, reason=reason, by=owner, at=LATE)
        assert refused.value.field == field
    memos.extend(memo, date(2026, 5, 1), reason="his client is away", by=owner, at=LATE)
    assert not Memo.objects.overdue(LATE_DAY).exists()
    assert memo.lines.get().state == "extended"
    assert JournalEntry.objects.get(verb="extended memo").before == {"return_by": BACK.isoformat()}
    back(memo.lines.get(), owner)


def test_another_price_agreed_and_a_sale_taken_back(owner, jeweller):
    memo = lend(owner, jeweller, SIX[:2])
    first, second = memo.lines.all()
    sale = memo_ends.settle(
        memo, sold=[memo_ends.Sold(first, D("300.00"))], on=LATE_DAY, tax_percent=D(20), by=owner, at=LATE
    )
    assert (sale.net, sale.gross, sale.channel, sale.tax_included) == (D(300), D(360), "trade", False)
    with pytest.raises(DeedRefused, match="Still open"):
        memo_ends.close_memo(memo, on=LATE_DAY, by=owner, at=LATE)
    with pytest.raises(DeedRefused):
        memo_ends.sell_lines([first], on=LATE_DAY, by=owner, at=LATE)
    with pytest.raises(DeedRefused, match="how"):
        memo_ends.lose_line(second, how=" ", on=LATE_DAY, by=owner, at=LATE)
    second.gem.refresh_from_db()
    assert second.gem.place == "memo" and second.gem.bound_to == memo.code
    actions.cancel_sale(sale, reason="sent back", on=LATE_DAY, by=owner, at=LATE)
    first.refresh_from_db()
    assert (first.state, first.gem.is_here, first.gem.place) == ("returned", True, "safe")
    memo_ends.lose_line(second, how="stolen", owed=D("200.00"), on=LATE_DAY, by=owner, at=LATE)
    memo.refresh_from_db()
    assert memo.closed_on == LATE_DAY and second.gem.sale_lines.get().price == D(200)


def test_what_is_lent_to_the_shop_is_never_its_stock_and_goes_home(owner, jeweller):
    asked = [memo_in.LentIn("oval sapphire, said to be heated", parse_weight("1.10 ct"), D("900.00"))]
    memo = memo_in.take_memo(
        asked, party=jeweller, on=DAY, return_by=BACK, loss_words="The shop bears loss.", by=owner, at=NOON
    )
    line = memo.lines.get()
    assert (line.lot.ownership, line.lot.owner, line.lot.landed_cost) == ("lent", jeweller, 0)
    assert not FinishedGem.objects.in_stock().exists() and list(Memo.objects.overdue(LATE_DAY)) == [memo]
    with pytest.raises(DeedRefused, match="not the shop's to sell"):
        memo_ends.sell_lines([line], on=LATE_DAY, by=owner, at=LATE)
    for weighed in (None, parse_weight("1.00 ct")):
        with pytest.raises(DeedRefused) as refused:
            memo_in.give_back_line(line, weighed=weighed, on=LATE_DAY, by=owner, at=LATE)
        assert refused.value.field == "weighed"
    memo_in.give_back_line(line, weighed=parse_weight("1.10 ct"), on=LATE_DAY, by=owner, at=LATE)
    memo.refresh_from_db()
    line.lot.refresh_from_db()
    assert (memo.closed_on, line.lot.left_ct) == (LATE_DAY, 0)


# --- Holds --------------------------------------------------------------------------------------------------------


def test_a_held_gem_is_sold_and_lent_to_nobody_else_until_the_day_is_over(owner, jeweller):
    gem, ana = make_answered_gem(by=owner), make_contact("Ana")
    hold = holds.hold_gem(gem, ana, until=BACK, note="for her ring", by=owner, at=NOON)
    with pytest.raises(DeedRefused, match="held for Ana"):
        actions.sell([actions.Asked(gem, D(10))], buyer=jeweller, sold_on=DAY, by=owner, at=NOON)
    with pytest.raises(DeedRefused, match="held for Ana"):
        memos.prepare_memo(
            [memos.Lent(gem, D(10))], party=jeweller, return_by=BACK, loss_words=LOSS, by=owner, at=NOON
        )
    with pytest.raises(DeedRefused, match="lift that first"):
        holds.hold_gem(gem, jeweller, until=BACK, by=owner, at=NOON)
    with pytest.raises(PleaseConfirm, match="promised to Ana"):
        holds.lift_hold(hold, reason="a better price", by=owner, at=NOON)
    with pytest.raises(IntegrityError), transaction.atomic():
        Hold.objects.create(gem=gem, contact=jeweller, since=DAY, until=BACK)
    # The day is over: anybody may have it, and the hold ends with it.
    sale = actions.sell([actions.Asked(gem, D(10))], buyer=jeweller, sold_on=LATE_DAY, by=owner, at=LATE)
    hold.refresh_from_db()
    assert (sale.buyer, hold.lifted_on, hold.lifted_why) == (jeweller, LATE_DAY, "over")


def test_a_hold_is_met_by_selling_to_them_or_lifted_when_it_is_meant(owner):
    gem, other, ana = make_answered_gem(by=owner), make_answered_gem(by=owner), make_contact("Ana")
    first = holds.hold_gem(gem, ana, until=BACK, by=owner, at=NOON)
    actions.sell([actions.Asked(gem, D(10))], buyer=ana, sold_on=DAY, by=owner, at=NOON)
    first.refresh_from_db()
    assert first.lifted_why == "sold or lent to them"
    second = holds.hold_gem(other, ana, until=BACK, by=owner, at=NOON)
    holds.lift_hold(second, reason="she let it go", sure=True, by=owner, at=NOON)
    with pytest.raises(DeedRefused, match="was lifted"):
        holds.lift_hold(second, reason="again", by=owner, at=NOON)
    with pytest.raises(DeedRefused) as refused:
        holds.hold_gem(other, ana, until=DAY - timedelta(days=1), by=owner, at=NOON)
    assert refused.value.field == "until"
    with pytest.raises(DeedRefused, match="not for sale"):
        holds.hold_gem(gem, ana, until=BACK, by=owner, at=NOON)


# --- Pages --------------------------------------------------------------------------------------------------------


def lending(gem, jeweller, **said):
    return {"party": jeweller.pk, "return_by": "2027-03-01", "loss_words": LOSS, "terms": "", "insured_value": "",
            "insured_by": "", "code_1": gem.code.lower(), "price_1": "306.00", **said}  # fmt: skip


def test_a_memo_from_the_gems_page_to_the_invoice(client, owner, jeweller):
    client.force_login(owner)
    gem = make_answered_gem(by=owner, weight="2.04 ct")
    lend_url = reverse("sales:lend")
    assert f"{lend_url}?gem={gem.code}" in client.get(gem.get_absolute_url()).content.decode()
    assert client.get(f"{lend_url}?gem={gem.code}").context["form"]["code_1"].value() == gem.code
    sent = client.post(lend_url, lending(gem, jeweller))
    memo = Memo.objects.get()
    assert sent.url == memo.get_absolute_url()
    page = client.get(memo.get_absolute_url()).content.decode()
    assert "Print the note" in page and "MN-0001" in page
    assert (
        client.post(
            reverse("sales:memo_send", args=[memo.code]), {"signed_by": "", "on": "2026-11-20"}
        ).status_code
        == 422
    )
    today = timezone.localdate().isoformat()
    assert (
        client.post(
            reverse("sales:memo_send", args=[memo.code]), {"signed_by": "I. P.", "on": today}
        ).status_code
        == 302
    )
    assert memo.code in client.get(gem.get_absolute_url()).content.decode()
    line = memo.lines.get()
    settle = reverse("sales:memo_settle", args=[memo.code])
    typed = {
        f"how_{line.pk}": "lost",
        f"price_{line.pk}": "306.00",
        f"why_{line.pk}": "",
        "on": today,
        "tax_percent": "",
    }
    answer = client.post(settle, typed)
    assert answer.status_code == 422 and answer.context["form"].errors[f"why_{line.pk}"]
    assert client.post(settle, {**typed, f"how_{line.pk}": ""}).status_code == 422
    done = client.post(settle, {**typed, f"why_{line.pk}": "stolen"})
    assert done.status_code == 302 and SaleLine.objects.get().kind == "compensation"
    listed = client.get(reverse("sales:memos") + "?state=closed").content.decode()
    assert memo.code in listed and gem.code in listed
    assert (
        memo.code
        not in client.get(reverse("sales:memos") + "?state=overdue").content.decode().split("<tbody>")[1]
    )


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"code_1": ""}, "code_1"),
        ({"code_1": "G-9999"}, "code_1"),
        ({"price_1": "-1"}, "price_1"),
        ({"price_1": ""}, "price_1"),
        ({"price_1": "1.234"}, "price_1"),
        ({"return_by": ""}, "return_by"),
        ({"return_by": "2026-01-01"}, "return_by"),
        ({"party": ""}, "party"),
        ({"party": "99999"}, "party"),
        ({"loss_words": ""}, "loss_words"),
        ({"loss_words": "The stone is flawless."}, None),
    ],
)
def test_what_cannot_be_lent_so_is_told_and_typing_stays(client, owner, jeweller, wrong, field):
    client.force_login(owner)
    gem = make_answered_gem(by=owner)
    answer = client.post(reverse("sales:lend"), lending(gem, jeweller, **{"insured_by": "keep me", **wrong}))
    assert answer.status_code == 422 and "keep me" in answer.content.decode()
    errors = answer.context["form"].errors
    assert errors[field] if field else errors["__all__"]
    assert not Memo.objects.exists()


def test_today_tells_what_is_overdue_and_a_hand_sees_no_party(client, owner, jeweller):
    memo = lend(owner, jeweller)
    client.force_login(owner)
    page = client.get("/").content.decode()
    assert memo.code in page and "overdue" in page
    client.force_login(make_hand())
    assert memo.code not in client.get("/").content.decode()
    for name, args in (("memos", []), ("memo", [memo.code]), ("lend", []), ("memo_settle", [memo.code])):
        assert client.get(reverse(f"sales:{name}", args=args)).status_code == 403
    client.force_login(make_reader())
    page = client.get(memo.get_absolute_url())
    assert page.status_code == 200 and "306.00" in page.content.decode()
    assert reverse("sales:memo_settle", args=[memo.code]) not in page.content.decode()
    assert client.post(reverse("sales:memo_settle", args=[memo.code]), {}).status_code == 403


def test_taking_in_giving_back_holding_and_lifting_by_the_pages(client, owner, jeweller):
    client.force_login(owner)
    today = timezone.localdate().isoformat()
    typed = {"party": jeweller.pk, "on": today, "return_by": "2027-03-01", "loss_words": "ours", "terms": "",
             "words_1": "a ruby, they say", "weight_1": "1.10 ct", "price_1": ""}  # fmt: skip
    answer = client.post(reverse("sales:take"), typed)
    assert answer.status_code == 422 and answer.context["form"].errors["price_1"]
    assert client.post(reverse("sales:take"), {**typed, "price_1": "900"}).status_code == 302
    line = MemoLine.objects.get()
    give = reverse("sales:memo_back", args=[line.pk])
    assert client.post(give, {"weighed": "1.00 ct", "on": today}).status_code == 422
    assert client.post(give, {"weighed": "1.10 ct", "on": today}).status_code == 302
    gem = make_answered_gem(by=owner)
    hold = reverse("sales:hold", args=[gem.code])
    assert client.post(hold, {"contact": jeweller.pk, "until": "2026-01-01"}).status_code == 422
    assert (
        client.post(hold, {"contact": jeweller.pk, "until": "2027-01-01", "note": "his ring"}).status_code
        == 302
    )
    lift = reverse("sales:lift", args=[Hold.objects.get().pk])
    assert (
        lift in client.get(hold).content.decode()
        and "his ring" in client.get(reverse("sales:memos")).content.decode()
    )
    assert client.post(lift, {"reason": "let go"}).status_code == 422
    assert client.post(lift, {"reason": "let go", "sure": "on"}).status_code == 302
    assert Hold.objects.get().lifted_why == "let go"


@pytest.mark.pdf
def test_the_printed_memo_note_reads_back(owner, jeweller):
    memo = lend(owner, jeweller, SIX, send=False, terms="Paid in 14 days.", insured_value=D("1667.15"))
    data = bytes(papers.bytes_of(memo.note, "a4", at=NOON).pdf)
    with pdfplumber.open(io.BytesIO(data)) as pdf:
        text = " ".join(" ".join(page.extract_text() for page in pdf.pages).replace("\u00a0", " ").split())
    for words in (
        "Memo note",
        "MN-0001",
        "1,667.15 EUR",
        "16.16 ct",
        "received as described".capitalize(),
        "Iver Penned",
    ):
        assert words in text, words
