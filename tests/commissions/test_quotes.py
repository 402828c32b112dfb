"""Versions of a quote: drafted, sent, replaced, withdrawn, accepted, declined; what is refused, and by which words."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from tests import makers
from tests.commissions.quoted import BASE_URL, LATER, accept, an_ask, make_draft, make_sent, make_tariff
from workshop.commissions.actions import changes, quotes
from workshop.commissions.models import Commission, CommissionItem, Quote, QuoteLine, QuoteState, State
from workshop.commissions.quote_words import agreement, follows_words
from workshop.commissions.quoting import price_for
from workshop.common.errors import DeedRefused
from workshop.common.models import JournalEntry
from workshop.papers.models import Paper
from workshop.papers.rendering import content_of
from workshop.stones import actions as stones

D = Decimal


@pytest.fixture(autouse=True)
def _shop(db):
    makers.make_shop(base_url=BASE_URL)


def refused(deed, *args, **said):
    with pytest.raises(DeedRefused) as refusal:
        deed(*args, by=None, at=said.pop("at", makers.NOON), **said)
    return refusal.value


def send(quote, at=makers.NOON, **said):
    return quotes.send_quote(quote, by=None, at=at, base_url=BASE_URL, **said)


def verbs(commission):
    return list(
        JournalEntry.objects.filter(about=commission.code).order_by("pk").values_list("verb", flat=True)
    )


# --- Drafting ------------------------------------------------------------------------------------------------------


def test_a_draft_takes_dates_terms_and_tax_from_its_tariff():
    quote = make_draft()
    assert (quote.version, quote.state, quote.currency) == (1, QuoteState.DRAFT, "EUR")
    assert quote.valid_until == makers.DAY + timedelta(days=14)
    assert (quote.tax_percent, quote.tax_included, quote.terms) == (
        D(20),
        True,
        "Half before the work begins.",
    )
    assert quote.price == quote.lines.get().price
    assert quote.deposit == (quote.price / 2).quantize(D("0.01"))
    assert quote.risk_lines


def test_a_version_written_while_the_work_goes_on_asks_for_no_deposit_again():
    commission = make_sent().commission
    accept(commission.quotes.get())
    changes.give_go_ahead(commission, reason="an old client", on=LATER.date(), by=None, at=LATER)
    draft = quotes.draft_quote(commission, tariff=make_tariff(), by=None, at=LATER)
    assert draft.price and draft.lines.exists()
    draft.refresh_from_db()
    assert draft.deposit == 0
    asked = quotes.describe_quote(draft, deposit=D(40), by=None, at=LATER)
    assert asked.deposit == 40, "one that is typed stands"


def test_sums_hold_the_tax_where_it_comes_on_top():
    ask = an_ask(weight_low_ct=D(2), weight_high_ct=D(3))
    quote = make_draft(tariff=make_tariff(tax_included=False), asks={1: ask})
    # 210, 240, 270 net; 20 % on each.
    assert (quote.price_low, quote.price, quote.price_high) == (D(252), D(288), D(324))


def test_only_one_draft_at_a_time():
    quote = make_draft()
    refusal = refused(quotes.draft_quote, quote.commission, tariff=quote.tariff)
    assert refusal.message == "Version 1 is still a draft; work on that one, or drop it."


@pytest.mark.parametrize(
    ("tariff", "words"),
    [
        ({"currency": "USD"}, "is in USD, this commission in EUR"),
        ({"until_on": date(2026, 2, 1)}, "does not hold on 2 Mar 2026"),
        ({"lines": []}, "cannot price anything"),
    ],
)
def test_a_tariff_that_cannot_serve_is_refused(tariff, words):
    refusal = refused(quotes.draft_quote, makers.make_commission(), tariff=make_tariff(**tariff))
    assert refusal.field == "tariff"
    assert words in refusal.message


def test_a_new_draft_starts_from_the_last_version():
    first = make_sent(asks={1: an_ask(price=D(220), floor_ct=D(2))})
    again = quotes.draft_quote(
        first.commission, tariff=first.tariff, by=None, at=LATER, why="You asked for a pear."
    )
    line = again.lines.get()
    assert (again.version, line.price, line.floor_ct, line.overridden) == (2, D(220), D(2), True)
    assert again.risk_lines == first.risk_lines
    assert again.valid_until == LATER.date() + timedelta(days=14)


def test_a_dropped_draft_leaves_nothing():
    quote = make_draft()
    quotes.drop_draft(quote, by=None, at=makers.NOON)
    assert not Quote.objects.exists()
    assert not QuoteLine.objects.exists()
    assert refused(quotes.drop_draft, quote).message == "That draft was dropped."


def test_figures_typed_over_need_a_reason():
    quote = make_draft()
    refusal = refused(quotes.set_line, quote, quote.commission.items.get(), an_ask(price=D(220), reason=" "))
    assert refusal.field == "reason"


def test_another_tariff_or_a_firm_price_works_the_lines_out_anew():
    quote = make_draft(asks={1: an_ask(weight_low_ct=D(2), weight_high_ct=D(3))})
    dearer = make_tariff([{"kind": "carat", "amount": D(200)}], deposit_percent=D(25))
    quote = quotes.describe_quote(quote, tariff=dearer, firm=True, by=None, at=makers.NOON)
    assert (quote.price_low, quote.price, quote.price_high) == (D(500),) * 3
    assert quote.lines.get().price_low == D(500)


def test_the_hour_of_another_currency_has_to_be_said():
    commission = makers.make_commission(currency="USD")
    quote = quotes.draft_quote(commission, tariff=make_tariff(currency="USD"), by=None, at=makers.NOON)
    refusal = refused(quotes.set_line, quote, commission.items.get(), an_ask(hourly_rate=None))
    assert (refusal.field, refusal.message) == ("hourly_rate", "Say what your hour costs in USD.")


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"valid_until": makers.DAY}, "valid_until"),
        ({"valid_until": makers.DAY - timedelta(days=3)}, "valid_until"),
        ({"expected_week": makers.DAY - timedelta(days=3)}, "expected_week"),
        ({"deposit": D(100_000)}, "deposit"),
        ({"deposit": D(-1)}, "deposit"),
    ],
)
def test_terms_that_cannot_be_are_refused_beside_their_box(said, field):
    assert refused(quotes.describe_quote, make_draft(), **said).field == field


def test_a_week_is_kept_by_its_monday():
    quote = quotes.describe_quote(make_draft(), expected_week=date(2026, 4, 16), by=None, at=makers.NOON)
    assert quote.expected_week == date(2026, 4, 13)


@pytest.mark.parametrize(("floor", "words"), [(D(9), "above the whole range"), (D(0), "above zero")])
def test_a_floor_outside_its_range_is_refused(floor, words):
    quote = make_draft()
    refusal = refused(quotes.set_line, quote, quote.commission.items.get(), an_ask(floor_ct=floor))
    assert refusal.field == "floor_ct"
    assert words in refusal.message


def test_a_finished_piece_is_not_quoted():
    client = makers.make_contact("Ina", is_client=True)
    commission = makers.make_commission(client)
    item, stone = commission.items.get(), makers.make_clients_stone(client)
    from workshop.commissions.actions.pieces import link_stone

    link_stone(item, stone, by=None, at=makers.NOON)
    quote = make_draft(commission)
    makers.make_gem("3 ct", stone=stone)
    assert "finished already" in refused(quotes.set_line, quote, item, an_ask()).message
    assert "finished already" in refused(quotes.send_quote, quote, base_url=BASE_URL).message


def test_a_piece_of_another_commission_is_refused():
    other = makers.make_item()
    assert "another commission" in refused(quotes.set_line, make_draft(), other, an_ask()).message


# --- Sending -------------------------------------------------------------------------------------------------------


def test_sending_freezes_the_version_and_issues_its_paper():
    quote = make_sent()
    assert (quote.state, quote.commission.state) == (QuoteState.SENT, State.QUOTED)
    assert quote.paper.number == "QU-0001"
    assert verbs(quote.commission)[-1] == "sent quote"
    line = quote.lines.get()
    with pytest.raises(ValidationError):
        line.save()
    with pytest.raises(ValidationError):
        line.delete()
    with pytest.raises(ValidationError):
        quote.delete()
    for deed, said in ((quotes.describe_quote, {"note": "x"}), (quotes.drop_draft, {})):
        assert "never changes" in refused(deed, quote, **said).message
    assert "never changes" in refused(quotes.set_line, quote, line.item, an_ask()).message
    assert "already" in refused(quotes.send_quote, quote).message


def test_a_piece_without_a_line_has_to_be_left_out_by_name():
    commission = makers.make_commission(
        items=[makers.make_item_spec(), makers.make_item_spec(wanted="a pear")]
    )
    first, second = commission.items.all()
    quote = quotes.draft_quote(commission, tariff=make_tariff(), by=None, at=makers.NOON)
    assert refused(quotes.send_quote, quote).message == "There is no piece in this quote yet."
    quotes.set_line(quote, first, an_ask(), by=None, at=makers.NOON)
    assert refused(quotes.send_quote, quote, base_url=BASE_URL).message.startswith("Piece 2 has no line yet")
    sent = send(quote, leaving_out=[second])
    assert "Piece 2 (a pear) is not part of this quote." in sent.paper.content


def test_a_sent_version_takes_the_place_of_the_open_one():
    first = make_sent()
    second = make_sent(first.commission, at=LATER, why="You asked for a pear.")
    first.refresh_from_db()
    assert (first.state, second.state) == (QuoteState.SUPERSEDED, QuoteState.SENT)
    assert second.paper.supersedes == first.paper
    assert second.paper.revision_reason == "You asked for a pear."


@pytest.mark.parametrize(
    ("change", "field", "words"),
    [
        ({"valid_until": makers.DAY}, "valid_until", "at least until tomorrow"),
        ({"valid_until": None}, "valid_until", "at least until tomorrow"),
        ({"tariff": None}, "tariff", "The tariff is gone"),
        ({"currency": "USD"}, "tariff", "The commission is in EUR"),
        ({"expected_week": date(2026, 2, 2)}, "expected_week", "over already"),
        ({"price_low": 0, "price": 0, "price_high": 0, "deposit": 0}, None, "comes to nothing"),
    ],
)
def test_a_draft_that_cannot_be_promised_is_not_sent(change, field, words):
    """The rows are written past the deeds, as an import or an old draft would have left them."""
    quote = make_draft()
    Quote.objects.filter(pk=quote.pk).update(**change)
    refusal = refused(quotes.send_quote, quote, base_url=BASE_URL)
    assert refusal.field == field
    assert words in refusal.message
    assert Quote.objects.get().state == QuoteState.DRAFT
    assert not Paper.objects.exists()


def test_a_tariff_that_ran_out_meanwhile_stops_the_sending():
    tariff = make_tariff(until_on=makers.DAY)
    assert "does not hold any more" in refused(quotes.send_quote, make_draft(tariff=tariff), at=LATER).message


def test_a_closed_commission_gets_no_quote():
    quote = make_draft()
    Commission.objects.update(state=State.CANCELLED, closed_on=makers.DAY)
    assert "cancelled" in refused(quotes.send_quote, quote).message
    assert "cancelled" in refused(quotes.draft_quote, quote.commission, tariff=quote.tariff).message


def test_the_printed_quote_says_what_is_promised_and_nothing_of_the_cutters_own():
    spec = makers.make_item_spec(wanted="an oval of her aquamarine", off_cuts="back")
    ask = an_ask(
        what="Cut one oval", weight_low_ct=D("2.10"), weight_high_ct=D("2.60"), floor_ct=D(2), seconds=5 * 3600,
        length_low_mm=D("8.20"), length_high_mm=D("8.60"), hourly_rate=D("47.11"), material_cost=D("13.37"),
        reason="zoned near the skin",
    )  # fmt: skip
    quote = make_draft(makers.make_commission(items=[spec]), asks={1: ask})
    quotes.describe_quote(
        quote, expected_week=date(2026, 4, 13), queue_place=3, note="Thank you, Mara.", risk_lines=["It may cleave."],
        by=None, at=makers.NOON,
    )  # fmt: skip
    sent = send(quote)
    said = sent.paper.content.replace("\u00a0", " ")
    line = sent.lines.get()
    # 90 + 60 x 2.10, and 90 + 60 x 2.60: 216.00 and 246.00, with 20 % of tax held.
    for words in (
        "1. Cut one oval", "2.10–2.60 ct", "8.20–8.60 mm", "216.00–246.00 EUR", "Prices hold 20 % tax.",
        "36.00–41.00 EUR", "Below 2.00 ct I stop and ask you first.", "It may cleave.", "16 Mar 2026",
        "13 Apr 2026", "Half before the work begins.", "go back to the client", "115.50 EUR before the work begins",
        "it is not paid back", "right to withdraw", "not legal advice", "Mara Quill", "Thank you, Mara.",
    ):  # fmt: skip
        assert words.lower() in said.lower(), words
    for secret in (
        "47.11", "13.37", "zoned near the skin", "lamp costs 12", str(line.chance_percent), str(line.cost.normalize()),
        f"{line.earned:.2f}", f"{line.cost:.2f}", f"{line.cost_high:.2f}", "chance", "Never below",
    ):  # fmt: skip
        assert secret not in said, secret


# --- The answer ----------------------------------------------------------------------------------------------------


def test_accepting_keeps_who_and_which_words_and_promises_floor_and_week():
    quote = make_draft(asks={1: an_ask(floor_ct=D("2.2"))})
    quotes.describe_quote(quote, expected_week=date(2026, 4, 13), queue_place=4, by=None, at=makers.NOON)
    sent = send(quote)
    done = accept(sent, name="  Mara Quill ", words="Lovely.", wording="I accept version 1.")
    commission = Commission.objects.get()
    assert (done.state, done.answered_name, done.answered_words) == ("accepted", "Mara Quill", "Lovely.")
    assert (done.agreed_wording, done.answered_from, done.answered_at) == (
        "I accept version 1.", "client's page", LATER,
    )  # fmt: skip
    assert (commission.state, commission.due_on, commission.queue_place) == ("accepted", date(2026, 4, 13), 4)
    assert commission.accepted_at == commission.heard_at == LATER
    assert CommissionItem.objects.get().floor_ct == D("2.2")
    assert verbs(commission)[-1] == "accepted quote"


def test_a_change_in_work_leaves_the_agreement_until_the_new_one_is_accepted():
    first = accept(make_sent())
    Commission.objects.update(state=State.IN_WORK)
    second = make_sent(first.commission, at=LATER, why="A smaller stone.")
    first.refresh_from_db()
    assert (first.state, Commission.objects.get().state) == ("accepted", "in_work")
    later = LATER + timedelta(hours=1)
    accept(second, at=later)
    first.refresh_from_db()
    commission = Commission.objects.get()
    assert (first.state, first.paper.state_word) == ("superseded", "void")
    assert (commission.state, commission.accepted_at, commission.heard_at) == ("in_work", LATER, later)


def test_declining_keeps_the_words_and_leaves_the_enquiry_open_for_another_version():
    quote = quotes.decline_quote(
        make_sent(), name="Mara", words="Too dear.", answered_from="client's page", by=None, at=LATER
    )
    commission = Commission.objects.get()
    assert (quote.state, quote.answered_words, quote.paper.state_word) == ("declined", "Too dear.", "void")
    assert (commission.state, commission.heard_at) == ("enquiry", LATER)
    assert make_sent(commission, at=LATER).version == 2


def test_declining_a_change_leaves_the_agreement():
    first = accept(make_sent())
    second = make_sent(first.commission, at=LATER)
    quotes.decline_quote(second, name="Mara", answered_from="told", by=None, at=LATER)
    first.refresh_from_db()
    assert (first.state, Commission.objects.get().state) == ("accepted", "accepted")


def answered(state, **said):
    sent = make_sent()
    Quote.objects.filter(pk=sent.pk).update(
        state=state, answered_name="Mara Quill", answered_at=makers.NOON, **said
    )
    return sent


@pytest.mark.parametrize(
    ("state", "words"),
    [
        ("accepted", "Version 1 was accepted already, by Mara Quill on 2 Mar 2026."),
        ("declined", "Version 1 was declined already, by Mara Quill on 2 Mar 2026."),
        ("superseded", "A newer version took the place of version 1; it cannot be {}."),
        ("withdrawn", "Version 1 was withdrawn; it cannot be {}."),
        ("draft", "Version 1 is a draft and was not sent yet; it cannot be {}."),
    ],
)
def test_what_is_not_open_is_refused_by_its_own_words(state, words):
    quote = answered(state)
    said = {"name": "Mara", "answered_from": "told", "at": LATER}
    assert refused(quotes.accept_quote, quote, wording="Yes.", **said).message == words.format("accepted")
    assert refused(quotes.decline_quote, quote, **said).message == words.format("declined")
    assert Quote.objects.get().state == state


def test_an_expired_version_is_not_accepted_and_its_last_day_still_counts():
    quote = make_sent()
    late = makers.NOON + timedelta(days=15)
    refusal = refused(quotes.accept_quote, quote, name="Mara", wording="Yes.", answered_from="told", at=late)
    assert refusal.message == "Version 1 stood until 16 Mar 2026; it has expired. Ask for a new one."
    assert accept(quote, at=makers.NOON + timedelta(days=14)).state == "accepted"


def test_nothing_of_a_closed_commission_is_accepted():
    quote = make_sent()
    Commission.objects.update(state=State.CANCELLED, closed_on=makers.DAY)
    refusal = refused(quotes.accept_quote, quote, name="M", wording="Yes.", answered_from="told")
    assert refusal.message == "C-0001 is cancelled; no quote of it can be accepted any more."


def test_a_piece_that_ended_meanwhile_ends_the_offer():
    quote = make_sent()
    CommissionItem.objects.update(outcome="broken", outcome_on=makers.DAY)
    refusal = refused(quotes.accept_quote, quote, name="M", wording="Yes.", answered_from="told")
    assert refusal.message.startswith("Piece 1 is broken in work by now")


@pytest.mark.parametrize(("said", "field"), [({"name": " "}, "name"), ({"wording": ""}, None)])
def test_nobody_agrees_to_nothing(said, field):
    quote = make_sent()
    given = {"name": "Mara", "wording": "Yes.", "answered_from": "told", **said}
    assert refused(quotes.accept_quote, quote, **given).field == field
    assert Quote.objects.get().state == "sent"


# --- Withdrawing; acceptance scenario 8 ----------------------------------------------------------------------------


def test_an_open_quote_at_640_a_carat_is_withdrawn_its_copy_unchanged():
    """Our acceptance scenario 8: treatment found later; the open quote at 640.00/ct to another client goes back."""
    tariff = make_tariff([{"kind": "carat", "amount": D("640.00")}], tax_percent=D(0))
    quote = make_draft(tariff=tariff, asks={1: an_ask(weight_ct=D("1.87"))})
    sent = send(quote)
    # 1.87 ct at 640.00.
    assert sent.price == D("1196.80")
    paper = Paper.objects.values().get()
    rows = (QuoteLine.objects.values().get(), content_of(sent.paper))
    gone = quotes.withdraw_quote(sent, reason="A laboratory found the parcel heated.", by=None, at=LATER)
    assert (gone.state, Commission.objects.get().state) == ("withdrawn", "enquiry")
    after = Paper.objects.get()
    assert (QuoteLine.objects.values().get(), content_of(after)) == rows
    assert (after.content, after.content_sha256) == (paper["content"], paper["content_sha256"])
    assert (after.state_word, after.void_reason) == (
        "void", "Withdrawn: A laboratory found the parcel heated.",
    )  # fmt: skip
    assert Quote.objects.get().price == D("1196.80")
    with pytest.raises(DeedRefused, match="was withdrawn"):
        accept(sent)


def test_only_a_sent_version_is_withdrawn_and_with_a_reason():
    assert (
        refused(quotes.withdraw_quote, make_draft(), reason="x").message
        == "It was never sent; drop the draft."
    )
    done = accept(make_sent(makers.make_commission()))
    assert "accepted already" in refused(quotes.withdraw_quote, done, reason="x").message
    assert refused(quotes.withdraw_quote, done, reason=" ").field == "reason"


def test_a_later_tariff_or_wish_changes_nothing_that_was_sent():
    sent = make_sent()
    before = (Quote.objects.values().get(), QuoteLine.objects.values().get(), Paper.objects.values().get())
    tariff, item = sent.tariff, CommissionItem.objects.get()
    tariff.lines.update(amount=D(999))
    tariff.tax_percent = D(7)
    tariff.save()
    item.wanted = "something else"
    item.save()
    makers.make_shop(hourly_rate=D(99))
    after = (Quote.objects.values().get(), QuoteLine.objects.values().get(), Paper.objects.values().get())
    assert after == before


def test_a_finished_piece_keeps_its_accepted_line_in_a_later_version():
    client = makers.make_contact("Ina", is_client=True)
    commission = makers.make_commission(client, [makers.make_item_spec(), makers.make_item_spec()])
    first, second = commission.items.all()
    from workshop.commissions.actions.pieces import link_stone

    stone = makers.make_clients_stone(client)
    link_stone(first, stone, by=None, at=makers.NOON)
    accept(make_sent(commission))
    stones.describe_stone(stone, {"plan": "oval"}, by=None, at=makers.NOON)
    makers.make_gem("3 ct", stone=stone)
    again = quotes.draft_quote(
        commission, tariff=make_tariff([{"kind": "carat", "amount": D(500)}]), by=None, at=LATER
    )
    old = QuoteLine.objects.get(quote__version=1, item=first)
    assert again.lines.get(item=first).price == old.price
    assert again.lines.get(item=second).price != old.price
    assert send(again, at=LATER).state == "sent"


# --- What the price goes by ----------------------------------------------------------------------------------------

HOURLY = {"kind": "hour", "amount": D(80)}
BY_CARAT = {"kind": "carat", "amount": D(60)}


@pytest.mark.parametrize(
    ("lines", "work", "typed", "words"),
    [
        ([BY_CARAT], "cut_client", {}, "follows what the finished stone weighs and stays"),
        ([HOURLY], "repair", {}, "follows the hours the work takes and stays"),
        ([HOURLY, BY_CARAT], "cut_client", {}, "weighs and the hours the work takes, and stays"),
        (
            [HOURLY],
            "repair",
            {"price_low": D(80), "price": D(90), "price_high": D(100)},
            "price stays inside",
        ),
        (
            [HOURLY],
            "cut_client",
            {"price_low": D(80), "price": D(90), "price_high": D(100)},
            "finished stone weighs",
        ),
        ([{"kind": "piece", "amount": D(90)}], "repair", {}, "price is firm"),
    ],
)
def test_the_client_reads_what_the_price_really_follows(lines, work, typed, words):
    """The words the client agrees to against ``price_for``: what moves the sum that is charged in the end."""
    commission = makers.make_commission(items=[makers.make_item_spec(work=work)])
    rough = None if work == "repair" else D(10)
    quote = make_sent(commission, tariff=make_tariff(lines), asks={1: an_ask(rough_ct=rough, **typed)})
    assert words in follows_words(quote) and words in agreement(quote)
    line = quote.lines.get()
    least, most = line.weight_low_ct, line.weight_high_ct
    by_weight = price_for(line, least, line.seconds) != price_for(line, most, line.seconds)
    by_hours = price_for(line, line.weight_ct, line.seconds_low) != price_for(
        line, line.weight_ct, line.seconds_high
    )
    assert by_weight == ("weighs" in words) and by_hours == ("hours" in words)
    printed = str(content_of(quote.paper))
    assert words in printed and ("weighs" in words or "finished stone weighs" not in printed)
