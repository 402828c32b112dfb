"""Something learned later: whom it touches, that opening a recall changes nothing, and every deed that puts it right."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from tests.makers import DAY, NOON, make_contact, make_gem, make_lot, make_owner, make_shop, make_stone
from tests.sales.recalled import (
    BASE_URL,
    LEARNED,
    LEARNED_ON,
    D,
    Parcel,
    heated,
    rows,
    state_lot,
    state_stone,
)
from workshop.commissions.models import Message, Quote
from workshop.common.errors import DeedRefused
from workshop.common.models import JournalEntry, Shop
from workshop.gems import actions as gems
from workshop.gems.card_actions import issue_card, revise_card
from workshop.gems.models import FinishedGem
from workshop.handbook.units import parse_weight
from workshop.materials.models import Material, best_based
from workshop.papers import actions as papers
from workshop.papers.models import Paper
from workshop.papers.rendering import content_of
from workshop.sales import actions as sales
from workshop.sales.actions import recalls
from workshop.sales.actions.holds import hold_gem
from workshop.sales.actions.memos import Lent, prepare_memo, send_memo
from workshop.sales.letters import letter, offer_of
from workshop.sales.models import Recall, RecallEntry, Sale
from workshop.sales.pedigree import nobody_told
from workshop.sales.touched import recall_scope
from workshop.stones import actions as stones
from workshop.stones.models import Stone


@pytest.fixture
def parcel(owner):
    return Parcel(owner)


def opened(parcel, **said):
    return recalls.open_recall(heated(parcel.stone, parcel.owner, **said), by=parcel.owner, at=LEARNED)


def entry(recall, kind, code=None):
    found = recall.entries.select_related(
        "contact", "line__sale", "line__gem", "quote", "commission", "recall", "gem"
    )
    return found.get(kind=kind, **({"code": code} if code else {}))


def told(recall):
    """{(kind, code): (spoken of, state)}."""
    return {(one.kind, one.code): (one.touched, one.state) for one in recall.entries.all()}


# --- Scenario 8 of the trade notes --------------------------------------------------------------------------------


def test_a_treatment_found_later_finds_everybody(parcel):
    recall = opened(parcel)
    assert (recall.code, recall.answer, recall.evidence) == ("RC-0001", "heated", 5)
    assert recall.before == "not tested, sold as “no treatment stated by seller” (said by the seller)"
    assert told(recall) == {
        ("lot", parcel.lot.code): (False, "to_do"),
        # The gem is sold: its buyer stands in the list by name.
        ("gem", parcel.gem.code): (True, "nothing"),
        ("buyer", parcel.gem.code): (True, "to_do"),
        ("paper", parcel.card.number): (True, "to_do"),
        # Two sisters of the lot: the gem in the safe and the stone on the bench.
        ("gem", parcel.other.code): (False, "to_do"),
        ("stone", parcel.bench.code): (False, "to_do"),
        ("quote", str(parcel.quote)): (False, "to_do"),
        ("client", parcel.commission.code): (False, "to_do"),
    }
    sisters = [entry(recall, "gem", parcel.other.code), entry(recall, "stone", parcel.bench.code)]
    assert all(f"same lot as {parcel.stone.code}, may be the same" in one.why for one in sisters)
    assert entry(recall, "buyer").contact == parcel.buyer
    assert entry(recall, "client").contact == parcel.client


def test_opening_it_changes_nothing(parcel):
    statement = heated(parcel.stone, parcel.owner)
    before = rows()
    recalls.open_recall(statement, by=parcel.owner, at=LEARNED)
    assert rows() == before
    assert len(before["papers_paper"]) == 2 and before["commissions_quote"] and before["sales_saleline"]
    line = JournalEntry.objects.filter(verb="opened recall").get()
    assert (line.about, line.after["answer"], line.after["entries"]) == ("RC-0001", "heated", 8)


def test_the_buyer_keeps_it_for_less_to_the_cent(parcel):
    recall = opened(parcel)
    buyer = entry(recall, "buyer")
    offer = offer_of(buyer, D("410.00"))
    # 1.87 ct at 640.00 = 1,196.80; at 410.00 = 766.70; back 430.10.
    assert (buyer.line.price, offer.price, offer.refund) == (D("1196.80"), D("766.70"), D("430.10"))
    written = letter(buyer, Shop.the(), offer)
    assert all(
        one in written.body for one in ("1,196.80\u00a0EUR", "766.70\u00a0EUR", "430.10\u00a0EUR", "heated")
    )
    buyer = recalls.tell(
        buyer, how="by letter", on=LEARNED_ON, letter=written.body, by=parcel.owner, at=LEARNED
    )
    assert (buyer.state, buyer.told_on, buyer.told_how) == ("told", LEARNED_ON, "by letter")
    buyer = recalls.keep_at_lower_price(
        buyer, offer.price, refund=offer.refund, reason="a laboratory found it heated", on=LEARNED_ON,
        words="keeps it, by telephone", by=parcel.owner, at=LEARNED,
    )  # fmt: skip
    assert (buyer.state, buyer.choice, buyer.words) == ("answered", "lower", "keeps it, by telephone")
    sale = Sale.objects.get()
    assert (sale.gross, sale.paid, sale.owed) == (D("766.70"), D("766.70"), D(0))
    assert [one.amount for one in sale.payments.all()] == [D("1196.80"), D("-430.10")]


def test_or_returns_it_for_all_that_was_paid(parcel):
    buyer = recalls.take_back(
        entry(opened(parcel), "buyer"), reason="heated", refund=D("1196.80"), on=LEARNED_ON, words="sent back",
        by=parcel.owner, at=LEARNED,
    )  # fmt: skip
    assert (buyer.state, buyer.choice) == ("answered", "returned")
    sale, gem = Sale.objects.get(), FinishedGem.objects.get(pk=parcel.gem.pk)
    assert (sale.paid, sale.cancelled_on, gem.is_here) == (D(0), LEARNED_ON, True)


def test_the_old_card_falls_and_the_new_one_says_heated(parcel):
    recall = opened(parcel)
    assert "no treatment stated" in parcel.card.content
    papers.void(parcel.card, reason=f"{recall.code}: found heated", by=parcel.owner, at=LEARNED)
    new = issue_card(parcel.gem, by=parcel.owner, at=LEARNED, base_url=BASE_URL)
    lines = {line["label"]: line["text"].lower() for line in content_of(new)["lines"]}
    assert "heated" in lines["Treatment"] and "no treatment stated" not in new.content
    # What fell by its own deed is no longer to do, though nobody wrote so into the recall.
    card = entry(recall, "paper")
    assert (card.is_to_do, card.state_word, card.state) == (False, "void", "to_do")
    assert card not in recall.entries.still_to_do()


def test_a_revised_card_is_done_too(parcel):
    recall = opened(parcel)
    revise_card(parcel.card, reason=recall.code, by=parcel.owner, at=LEARNED, base_url=BASE_URL)
    assert (entry(recall, "paper").is_to_do, entry(recall, "paper").state_word) == (False, "superseded")


def test_the_open_quote_is_withdrawn_and_its_copy_stays(parcel):
    recall = opened(parcel)
    assert parcel.quote.price == D(640)
    copy, sha = parcel.quote.paper.content, parcel.quote.paper.content_sha256
    done = recalls.withdraw_open_quote(
        entry(recall, "quote"), reason="found heated", by=parcel.owner, at=LEARNED
    )
    assert (done.state, done.words) == ("done", "Withdrawn: found heated")
    quote = Quote.objects.get(pk=parcel.quote.pk)
    assert (quote.state, quote.price, quote.paper.content, quote.paper.content_sha256) == (
        "withdrawn", D(640), copy, sha,
    )  # fmt: skip
    assert quote.paper.voided_at == LEARNED and "found heated" in quote.paper.void_reason


def test_the_sisters_price_changes_with_its_reason(parcel):
    gems.set_price(parcel.other, D("1344.00"), by=parcel.owner, at=NOON)
    sister = entry(opened(parcel), "gem", parcel.other.code)
    assert FinishedGem.objects.get(pk=parcel.other.pk).price == D("1344.00")
    recalls.reprice(sister, D("861.00"), reason="may be heated", by=parcel.owner, at=LEARNED)
    prices = FinishedGem.objects.get(pk=parcel.other.pk).prices
    assert [(one.amount, one.reason) for one in prices.all()] == [
        (D("861.00"), "may be heated"),
        (D("1344.00"), ""),
    ]


def test_it_closes_only_when_all_is_done_or_with_a_reason(parcel):
    recall = opened(parcel)
    close = {"on": LEARNED_ON, "by": parcel.owner, "at": LEARNED}
    with pytest.raises(DeedRefused, match="7 of its entries are still to do"):
        recalls.close_recall(recall, **close)
    papers.void(parcel.card, reason="heated", by=parcel.owner, at=LEARNED)
    recalls.withdraw_open_quote(entry(recall, "quote"), reason="heated", by=parcel.owner, at=LEARNED)
    for one in recall.entries.filter(kind__in=["lot", "stone", "gem"], state="to_do"):
        recalls.settle(one, words="set aside, written on the bag", by=parcel.owner, at=LEARNED)
    recalls.tell(entry(recall, "client"), how="by telephone", on=LEARNED_ON, by=parcel.owner, at=LEARNED)
    with pytest.raises(DeedRefused, match="1 of its entries is still to do"):
        recalls.close_recall(recall, **close)
    recalls.note_choice(entry(recall, "buyer"), "kept", on=LEARNED_ON, by=parcel.owner, at=LEARNED)
    assert recalls.close_recall(recall, **close).closed_on == LEARNED_ON
    with pytest.raises(DeedRefused, match="is closed since"):
        recalls.settle(recall.entries.first(), words="late", by=parcel.owner, at=LEARNED)
    with pytest.raises(DeedRefused, match="is closed since"):
        recalls.close_recall(recall, **close)


def test_with_a_reason_it_closes_all_the_same(parcel):
    closed = recalls.close_recall(
        opened(parcel), on=LEARNED_ON, why="a slip of the pen", by=parcel.owner, at=LEARNED
    )
    assert closed.closed_why == "a slip of the pen" and not closed.is_open


def test_a_message_is_written_where_there_is_a_commission(parcel):
    recall = opened(parcel)
    client = entry(recall, "client")
    words = letter(client, Shop.the())
    done = recalls.prepare_message(
        client, subject=words.subject, body=words.body, by=parcel.owner, at=LEARNED
    )
    message = Message.objects.get()
    assert (done.message, message.to, message.commission) == (message, "ilse@example.org", parcel.commission)
    # Written is not told.
    assert (done.state, message.state) == ("to_do", "ready")
    with pytest.raises(DeedRefused, match="no commission"):
        recalls.prepare_message(entry(recall, "buyer"), subject="a", body="b", by=parcel.owner, at=LEARNED)


def test_no_letter_names_another(parcel):
    """Neither the other client nor the other's price, nor who told us: that may be somebody else too."""
    recall = opened(parcel, said_by="Ana Buyer's laboratory")
    for one in recall.entries.people() | recall.entries.filter(kind="quote"):
        one = entry(recall, one.kind, one.code)
        body = letter(one, Shop.the()).body
        other = parcel.client if one.contact == parcel.buyer else parcel.buyer
        assert one.contact.name in body and other.name not in body
        assert "Ana Buyer's laboratory" not in body and "report 4711" not in body
        assert "cutter's own letter, not a laboratory report" in body and "local law" in body
        assert ("may be the same" in body) is not one.touched


# --- What opens a recall ------------------------------------------------------------------------------------------


def test_a_statement_that_overthrows_waits_until_its_recall_is_opened(parcel):
    assert nobody_told() == []
    statement = heated(parcel.stone, parcel.owner)
    assert nobody_told() == [statement]
    recalls.open_recall(statement, by=parcel.owner, at=LEARNED)
    assert nobody_told() == []
    with pytest.raises(DeedRefused, match="RC-0001 was opened on it already"):
        recalls.open_recall(statement, by=parcel.owner, at=LEARNED)


def test_weaker_evidence_opens_nothing(parcel):
    state_stone(parcel.stone, "treatment", 5, treated="untreated")
    weaker = heated(parcel.stone, parcel.owner, evidence=1, said_by="a friend")
    assert weaker not in nobody_told()
    with pytest.raises(DeedRefused, match="weaker than, or older than, what holds today"):
        recalls.open_recall(weaker, by=parcel.owner, at=LEARNED)
    assert not Recall.objects.exists()


def test_what_was_known_before_opens_nothing(parcel):
    recalls.open_recall(heated(parcel.stone, parcel.owner), by=parcel.owner, at=LEARNED)
    again = heated(parcel.stone, parcel.owner, how="report 4712")
    assert nobody_told() == []
    with pytest.raises(DeedRefused, match="It says what was known before"):
        recalls.open_recall(again, by=parcel.owner, at=LEARNED)


def test_untreated_where_nothing_was_tested_takes_nothing_from_anybody(parcel):
    state_stone(parcel.stone, "treatment", 5, treated="untreated")
    assert nobody_told() == []


def test_a_variety_told_closer_is_no_other_answer(owner):
    plain, closer = (
        Material.objects.get_or_create(
            key=key, defaults={"species": "invented", "variety": variety}
        )[0]
        for key, variety in (("invented", ""), ("invented-blue", "blue"))
    )  # fmt: skip
    lot = make_lot(by=owner)
    gem = make_gem(stone=make_stone("5 ct", lot=lot, by=owner), by=owner)
    state_lot(lot, "species", by=owner, material=plain)
    state_stone(gem.stone, "species", 5, material=closer)
    assert nobody_told() == []
    less = state_stone(gem.stone, "species", 5, material=plain)
    assert nobody_told() == [less]


def test_goods_that_never_left_the_bench_wait_for_nobody(owner):
    lot = make_lot(by=owner)
    stone = make_stone("5 ct", lot=lot, by=owner)
    state_lot(lot, "treatment", by=owner, treated="untreated")
    said = heated(stone, owner)
    assert nobody_told() == []
    # It may be opened all the same.
    assert told(recalls.open_recall(said, by=owner, at=LEARNED)) == {
        ("stone", stone.code): (True, "to_do"), ("lot", lot.code): (False, "to_do"),
    }  # fmt: skip


def test_a_lots_report_overthrows_what_was_said_of_its_stones(parcel):
    """The lot itself had never been asked; its stones had."""
    lot = make_lot("20 ct", by=parcel.owner)
    gem = make_gem(stone=make_stone("5 ct", lot=lot, by=parcel.owner), by=parcel.owner)
    state_stone(gem.stone, "treatment", 2, treated="untreated", at=NOON, said_on=DAY)
    said = state_lot(lot, "treatment", 5, by=parcel.owner, treated="treated", treatments=["heat"])
    assert nobody_told() == [said]
    assert told(recalls.open_recall(said, by=parcel.owner, at=LEARNED))["gem", gem.code] == (True, "to_do")


def test_a_stone_with_a_report_of_its_own_is_left_in_peace(parcel):
    own = state_stone(parcel.sister, "treatment", 5, treated="untreated")
    recall = opened(parcel)
    other = entry(recall, "gem", parcel.other.code)
    assert (other.touched, other.state) == (False, "nothing")
    assert "has a statement of its own: not treated (laboratory report)" in other.why
    assert own.pk


def test_children_and_holders_are_found(parcel):
    owner, jeweller = parcel.owner, make_contact("Jo Setter", is_jeweller=True)
    parent = make_stone("12 ct", lot=parcel.lot, by=owner)
    first, second = stones.split_stone(
        parent, [parse_weight("5 ct"), parse_weight("4 ct")], by=owner, at=NOON, sure=True
    )
    gem = make_gem("1.10 ct", stone=first, by=owner)
    gems.move_gem(gem, place="setter", holder=jeweller, since=DAY, by=owner, at=NOON)
    recall = recalls.open_recall(heated(parent, owner), by=owner, at=LEARNED)
    found = told(recall)
    assert found["stone", parent.code] == (True, "nothing")
    assert found["stone", second.code] == (True, "to_do")
    assert found["gem", gem.code] == found["holder", gem.code] == (True, "to_do")
    assert entry(recall, "holder").contact == jeweller
    assert f"made from {parent.code}" in entry(recall, "stone", second.code).why
    assert found["gem", parcel.other.code] == (False, "to_do")


def test_the_colour_of_one_stone_says_nothing_of_its_sisters(parcel):
    state_stone(parcel.stone, "colour", 3, words="cornflower", said_on=DAY, at=NOON)
    said = state_stone(parcel.stone, "colour", 5, words="blue, medium")
    recall = recalls.open_recall(said, by=parcel.owner, at=LEARNED)
    assert {code for _, code in told(recall)} == {parcel.gem.code, parcel.card.number}


def test_who_was_promised_a_gem_and_who_has_it_on_memo(parcel):
    owner = parcel.owner
    paul, rosa, lena = (make_contact(name) for name in ("Paul", "Rosa", "Lena"))
    held, lent, aside = (
        make_gem("1 ct", stone=make_stone("3 ct", lot=parcel.lot, by=owner), by=owner) for _ in range(3)
    )
    hold_gem(held, paul, until=LEARNED_ON, by=owner, at=NOON)
    memos_made = [
        prepare_memo(
            [Lent(gem, D(100))], party=party, return_by=LEARNED_ON, loss_words="The price is owed.", by=owner, at=NOON,
            base_url=BASE_URL,
        )
        for gem, party in ((lent, rosa), (aside, lena))
    ]  # fmt: skip
    send_memo(memos_made[0], signed_by="Rosa", on=DAY, by=owner, at=NOON)
    recall = opened(parcel)
    found = told(recall)
    assert entry(recall, "hold", held.code).contact == paul
    assert entry(recall, "holder", lent.code).contact == rosa
    assert entry(recall, "hold", f"{aside.code}, {memos_made[1].code}").contact == lena
    for memo in memos_made:
        assert found["paper", memo.note.number] == (False, "to_do")
    for one in recall.entries.people():
        words = letter(entry(recall, one.kind, one.code), Shop.the()).body
        assert len({name for name in ("Paul", "Rosa", "Lena", "Ana", "Ilse") if name in words}) == 1


def test_tax_on_top_is_paid_back_too(owner):
    """1.87 ct at 640.00 and 20 % on top: 1,436.16 paid; at 410.00: 766.70 + 153.34 = 920.04, back 516.12."""
    lot = make_lot(by=owner)
    state_lot(lot, "treatment", by=owner, treated="untreated")
    gem = make_gem("1.87 ct", stone=make_stone("6 ct", lot=lot, by=owner), by=owner)
    sales.sell(
        [sales.Asked(gem, D("1196.80"))], buyer=make_contact("Ana"), sold_on=DAY, tax_percent=D(20), tax_included=False,
        paid_in_full=True, by=owner, at=NOON,
    )  # fmt: skip
    recall = recalls.open_recall(heated(gem.stone, owner), by=owner, at=LEARNED)
    offer = offer_of(entry(recall, "buyer"), D(410))
    assert (offer.price, offer.gross, offer.refund) == (D("766.70"), D("920.04"), D("516.12"))
    recalls.keep_at_lower_price(
        entry(recall, "buyer"),
        offer.price,
        refund=offer.refund,
        reason="heated",
        on=LEARNED_ON,
        by=owner,
        at=LEARNED,
    )
    assert (Sale.objects.get().gross, Sale.objects.get().paid) == (D("920.04"), D("920.04"))


# --- The species turns out different ------------------------------------------------------------------------------


def test_garnets_sold_as_tourmaline(owner):
    """Two sold to two buyers, one in the safe with a card, from a lot bought as tourmaline: one report on the lot."""
    tourmaline, garnet = (
        Material.objects.get(key=key) for key in ("tourmaline-rubellite", "garnet-rhodolite")
    )
    lot = make_lot("40 ct", by=owner, material=tourmaline)
    state_lot(lot, "nature", 2, by=owner, nature="mined", how="invoice 9")
    state_lot(lot, "species", 3, by=owner, material=tourmaline, how="by eye and spectroscope")
    state_lot(lot, "treatment", by=owner, treated="not_tested", words="nothing said")
    made = [
        make_gem(weight, stone=make_stone("8 ct", lot=lot, by=owner), by=owner, colour="purplish red")
        for weight in ("2.04 ct", "1.62 ct", "3.31 ct")
    ]  # fmt: skip
    cards = [issue_card(gem, by=owner, at=NOON, base_url=BASE_URL) for gem in made]
    buyers = [make_contact(name, is_buyer=True) for name in ("Ben", "Cleo")]
    sold = [
        sales.sell(
            [sales.Asked(gem, D(price))], buyer=buyer, sold_on=DAY, paid_in_full=True, by=owner, at=NOON
        )
        for gem, buyer, price in zip(made, buyers, ("306.00", "243.00"), strict=False)
    ]
    said = state_lot(
        lot, "species", 5, by=owner, at=LEARNED, material=garnet, said_on=LEARNED_ON, how="report 12"
    )
    assert nobody_told() == [said]
    recall = recalls.open_recall(said, by=owner, at=LEARNED)
    assert told(recall) == {
        ("lot", lot.code): (True, "to_do"),
        **{("gem", gem.code): (True, "nothing") for gem in made[:2]},
        ("gem", made[2].code): (True, "to_do"),
        **{("buyer", gem.code): (True, "to_do") for gem in made[:2]},
        **{("paper", card.number): (True, "to_do") for card in cards},
    }
    # The first keeps it at 60.00 a carat: 2.04 × 60.00 = 122.40, back 183.60. The second sends it back: 243.00.
    first, second = (entry(recall, "buyer", gem.code) for gem in made[:2])
    offer = offer_of(first, D("60.00"))
    assert (offer.price, offer.refund) == (D("122.40"), D("183.60"))
    recalls.keep_at_lower_price(
        first, offer.price, refund=offer.refund, reason="garnet", on=LEARNED_ON, by=owner, at=LEARNED
    )
    recalls.take_back(second, refund=D("243.00"), reason="garnet", on=LEARNED_ON, by=owner, at=LEARNED)
    assert [Sale.objects.get(pk=one.pk).paid for one in sold] == [D("122.40"), D(0)]
    for gem, card in zip(made, cards, strict=True):
        papers.void(card, reason="garnet, not tourmaline", by=owner, at=LEARNED)
        new = content_of(issue_card(gem, by=owner, at=LEARNED, base_url=BASE_URL))
        assert "garnet" in new["name_line"].lower() and "tourmaline" not in new["name_line"].lower()
        assert "tourmaline" in Paper.objects.get(pk=card.pk).content
    for one in recall.entries.filter(kind__in=["lot", "gem"], state="to_do"):
        recalls.settle(one, words="bag written anew", by=owner, at=LEARNED)
    assert recalls.close_recall(recall, on=LEARNED_ON, by=owner, at=LEARNED).is_open is False


# --- Refusals -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("deed", "said", "words"),
    [
        (recalls.tell, {"how": " ", "on": LEARNED_ON}, "how they were told"),
        (recalls.tell, {"how": "by post", "on": DAY}, "Nobody knew of it before"),
        (recalls.tell, {"how": "by post", "on": LEARNED_ON.replace(year=2030)}, "future"),
        (recalls.note_choice, {"choice": "shrugged", "on": LEARNED_ON}, "what was chosen"),
        (recalls.note_choice, {"choice": "other", "on": LEARNED_ON}, "what it is"),
        (recalls.settle, {"words": ""}, "what was done"),
        (recalls.settle, {"words": "set aside"}, "Somebody is told"),
        (recalls.withdraw_open_quote, {"reason": "x"}, "no quote"),
        (recalls.reprice, {"amount": D(1), "reason": "x"}, "no gem"),
        (recalls.reprice, {"amount": D(1), "reason": ""}, "why the price"),
        (recalls.keep_at_lower_price, {"price": D("1196.80"), "reason": "x", "on": LEARNED_ON}, "below"),
        (
            recalls.keep_at_lower_price,
            {"price": D("766.70"), "reason": "x", "on": LEARNED_ON},
            "has to go back",
        ),
        (recalls.take_back, {"reason": "x", "on": LEARNED_ON, "refund": D(2000)}, "came in"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_kept(parcel, deed, said, words):
    buyer = entry(opened(parcel), "buyer")
    before, recall_before = rows(), list(RecallEntry.objects.values())
    with pytest.raises(DeedRefused, match=words):
        deed(buyer, **said, by=parcel.owner, at=LEARNED)
    assert rows() == before and list(RecallEntry.objects.values()) == recall_before


def test_a_number_is_given_back_when_it_is_refused(parcel):
    state_stone(parcel.stone, "treatment", 5, treated="untreated")
    weaker = heated(parcel.stone, parcel.owner, evidence=1)
    with pytest.raises(DeedRefused):
        recalls.open_recall(weaker, by=parcel.owner, at=LEARNED)
    assert opened(parcel).code == "RC-0001"


def test_the_same_questions_however_many_stones(parcel, django_assert_max_num_queries):
    statement = heated(parcel.stone, parcel.owner)

    def asked():
        with django_assert_max_num_queries(16) as found:
            scope = recall_scope(statement)
        return len(found.captured_queries), len(scope)

    few, short = asked()
    for _ in range(6):
        gem = make_gem("1 ct", stone=make_stone("2 ct", lot=parcel.lot, by=parcel.owner), by=parcel.owner)
        buyer = make_contact("Somebody", is_buyer=True)
        sales.sell([sales.Asked(gem, D(10))], buyer=buyer, sold_on=DAY, by=parcel.owner, at=NOON)
    many, long = asked()
    assert (few, long) == (many, short + 12)


# --- Against a plain walk of the rows -----------------------------------------------------------------------------

SPLIT, FINISH, SELL, HOLD, SAY, DRAW = range(6)
STEPS = st.lists(st.tuples(st.integers(0, 5), st.integers(0, 7), st.integers(0, 3)), min_size=3, max_size=14)
ANSWERS = [
    {"treated": "not_tested"}, {"treated": "untreated"}, {"treated": "treated", "treatments": ["heat"]},
    {"treated": "treated", "treatments": ["heat", "irr"]},
]  # fmt: skip
LADDER = (1, 2, 3, 5)


class Life:
    """Random lots, splits, finishes, sales, memos and statements."""

    def __init__(self):
        make_shop()
        self.owner = make_owner()
        self.lots = [make_lot("500 ct", by=self.owner) for _ in range(2)]
        self.jo = make_contact("Jo")
        self.said = []

    def bench(self):
        return list(Stone.objects.on_the_bench().filter(stage="selected").order_by("pk"))

    def step(self, what, which, how):
        stock = list(FinishedGem.objects.in_stock().order_by("pk"))
        bench = self.bench()
        if what == DRAW or not bench:
            make_stone("20 ct", lot=self.lots[which % 2], by=self.owner)
        elif what == SPLIT and (stone := bench[which % len(bench)]).weight_ct > 3:
            part = stone.weight_ct / 3
            pieces = [parse_weight(f"{part:.3f} ct") for _ in range(2)]
            stones.split_stone(stone, pieces, by=self.owner, at=NOON, sure=True)
        elif what == FINISH:
            make_gem("0.500 ct", stone=bench[which % len(bench)], by=self.owner)
        elif what == SELL and stock:
            gem = stock[which % len(stock)]
            sales.sell(
                [sales.Asked(gem, D(10))], buyer=make_contact(f"B{gem.code}"), sold_on=DAY, by=self.owner, at=NOON
            )  # fmt: skip
        elif what == HOLD and stock:
            gem = stock[which % len(stock)]
            gems.move_gem(gem, place="memo", holder=self.jo, since=DAY, by=self.owner, at=NOON)
        elif what == SAY:
            self.say(which, how)

    def say(self, which, how):
        things = [*self.lots, *Stone.objects.order_by("pk")]
        thing, said = things[which % len(things)], {**ANSWERS[(which + how) % 4], "evidence": LADDER[how]}
        state = state_lot if thing in self.lots else state_stone
        self.said.append(state(thing, "treatment", by=self.owner, **{"said_on": DAY, "at": NOON, **said}))


def walked(statement):
    """By hand, from the rows: {(kind, code)} with whether it is spoken of, asked stone by stone."""
    found = {}
    about = getattr(statement, "stone", None)
    lot = about.lot if about is not None else statement.lot
    for stone in lot.stones.all():
        line, kin = [], stone
        while kin is not None:
            line.append(kin)
            kin = kin.parent
        speaks = about is None or about in line
        said = [*lot.statements.filter(question="treatment")]
        said += [one for kin in line for one in kin.statements.filter(question="treatment")]
        older = [one for one in said if one.written_at < statement.written_at]
        now, old = best_based(said).get("treatment"), best_based(older).get("treatment")
        holds = (
            now is None or now == statement or answer(now) == answer(statement) or harmless(statement, now)
        )
        touched = (
            speaks
            and holds
            and (old is None or (answer(old) != answer(statement) and not harmless(statement, old)))
        )
        gem = stone.gems.exclude(gone_as="recut").first()
        found["gem" if gem else "stone", (gem or stone).code] = touched
        if gem and gem.sale_lines.filter(stands=True).exists():
            found["buyer", gem.code] = touched
        if gem and gem.gone_on is None and gem.holder is not None:
            found["holder", gem.code] = touched
    if lot.left_ct:
        found["lot", lot.code] = None
    return found


def answer(said):
    return said.treated, sorted(said.treatments)


def harmless(new, old):
    return (old.treated, new.treated) == ("not_tested", "untreated")


class AnyLife(TestCase):
    @given(STEPS, st.integers(0, 9), st.integers(0, 3))
    def test_the_scope_is_what_a_walk_of_the_rows_finds(self, steps, which, how):
        life = Life()
        for step in steps:
            life.step(*step)
        life.say(which, how)
        for statement in life.said:
            expected = walked(statement)
            scope = {(str(one.kind.value), one.code): one.verdict.touched for one in recall_scope(statement)}
            if ("lot", life_lot(statement)) in expected:
                expected["lot", life_lot(statement)] = scope.get(("lot", life_lot(statement)))
            assert scope == expected
        before = rows()
        for statement in nobody_told():
            recalls.open_recall(statement, by=life.owner, at=NOON)
        assert rows() == before
        # Whoever bought of a lot on whose goods the answer changed stands in some recall.
        assert nobody_told() == []


def life_lot(statement):
    return (statement.stone.lot if hasattr(statement, "stone") else statement.lot).code
