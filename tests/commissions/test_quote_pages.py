"""The pages of a quote: five minutes from the tariff to the sending, errors beside their boxes, and who sees what."""

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from tests import makers
from tests.commissions.quoted import BASE_URL, accept, an_ask, make_draft, make_sent, make_tariff
from workshop.commissions.actions import quotes
from workshop.commissions.models import Quote, QuoteLine

D = Decimal


@pytest.fixture(autouse=True)
def owner(db, client, settings):
    makers.make_shop(base_url=BASE_URL)
    owner = makers.make_owner()
    client.force_login(owner)
    return owner


@pytest.fixture
def now(monkeypatch):
    """The pages read the clock; the tests' noon is in their past."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: makers.NOON)


pytestmark = pytest.mark.usefixtures("now")

LINE = {"what": "Cut one oval", "rough_ct": "10 ct", "facets": "57", "gems": "1", "rough_pieces": "1", "hourly_rate": "45",
        "material_cost": "12"}  # fmt: skip


def page(name, *args):
    return reverse(f"commissions:{name}", args=args)


def words(response):
    return re.sub(r"\s+", " ", response.content.decode().replace("\u00a0", " ").replace("&nbsp;", " "))


def test_from_the_tariff_to_the_sending(client):
    commission, tariff = makers.make_commission(), make_tariff()
    begun = client.post(page("quote_draft", "C-0001"), {"tariff": tariff.pk})
    quote = Quote.objects.get()
    assert begun.url == quote.get_absolute_url()
    shown = client.get(page("quote", "C-0001", 1))
    assert "Quote it" in words(shown)
    line_url = page("quote_line", "C-0001", 1, 1)
    assert 'value="45.00"' in words(client.get(line_url))
    kept = client.post(line_url, {**LINE, "floor_ct": "2.2 ct", "extras": ["rush"]})
    assert kept.url == quote.get_absolute_url()
    line = QuoteLine.objects.get()
    assert (line.floor_ct, line.extras, line.material_cost) == (D("2.2"), ["rush"], D(12))
    terms = client.post(
        page("quote_terms", "C-0001", 1),
        {"tariff": tariff.pk, "valid_until": "2026-03-20", "expected_week": "2026-04-15", "deposit": "100", "queue_place": "2",
         "risk_lines": "It may cleave.\n\nIt may lose colour.", "terms": "Mine."},
    )  # fmt: skip
    assert terms.status_code == 302, words(terms)
    look = client.get(page("quote_send", "C-0001", 1))
    assert "It may cleave." in words(look)
    assert "Cut one oval" in words(look)
    sent = client.post(page("quote_send", "C-0001", 1), {})
    assert sent.url == quote.get_absolute_url()
    quote.refresh_from_db()
    assert (quote.state, quote.deposit, quote.risk_lines) == (
        "sent",
        D(100),
        ["It may cleave.", "It may lose colour."],
    )
    assert quote.paper.number == "QU-0001"
    assert commission.quotes.count() == 1


def test_working_it_out_keeps_nothing_and_needs_no_script(client):
    make_draft()
    url = page("quote_line", "C-0001", 1, 1)
    before = QuoteLine.objects.values().get()
    asked = {**LINE, "weight_low_ct": "2", "weight_high_ct": "3", "seconds_low": "4", "seconds": "5", "seconds_high": "6",
             "reason": "seen", "preview": "1"}  # fmt: skip
    for headers in ({}, {"HX-Request": "true"}):
        answer = client.post(url, asked, headers=headers)
        assert answer.status_code == 200
        said = words(answer)
        # 90 + 60 x 2.00, 2.50, 3.00 ct; 20 % tax held: (240 / 1.2 - 12) / 5 = 37.60 an hour.
        for figure in ("210.00", "240.00", "270.00", "37.60", "Chance it pays"):
            assert figure in said, figure
    assert QuoteLine.objects.values().get() == before


def test_a_script_hears_what_is_missing_without_a_page(client):
    make_draft()
    answer = client.post(
        page("quote_line", "C-0001", 1, 1),
        {**LINE, "facets": "0", "preview": "1"},
        headers={"HX-Request": "true"},
    )
    assert answer.status_code == 200
    assert "Nothing to work out yet" in words(answer)
    assert "<html" not in words(answer)


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"weight_low_ct": "3", "weight_high_ct": "2", "reason": "x"}, "weight_low_ct"),
        ({"weight_low_ct": "3", "reason": "x"}, "weight_high_ct"),
        ({"seconds_low": "6", "seconds_high": "4", "reason": "x"}, "seconds_low"),
        ({"price_low": "300", "price_high": "200", "reason": "x"}, "price_low"),
        ({"price": "220"}, "reason"),
        ({"price": "-1", "reason": "x"}, "price"),
        ({"floor_ct": "9 ct"}, "floor_ct"),
        ({"rough_ct": "a stone"}, "rough_ct"),
        ({"rough_ct": "0.01 ct"}, "rough_ct"),
        ({"facets": "0"}, "facets"),
        ({"gems": ""}, "gems"),
        ({"hourly_rate": ""}, "hourly_rate"),
        ({"extras": ["laboratory"]}, "extras"),
        ({"length_low_mm": "9", "length_high_mm": "8", "reason": "x"}, "length_low_mm"),
    ],
)
def test_a_slip_is_told_beside_its_box_and_nothing_is_kept(client, typed, field):
    quote = make_draft()
    before = QuoteLine.objects.values().get()
    answer = client.post(page("quote_line", "C-0001", 1, 1), {**LINE, **typed})
    assert answer.status_code == 422
    assert answer.context["form"].errors.get(field), answer.context["form"].errors
    assert QuoteLine.objects.values().get() == before
    assert "Cut one oval" in words(answer)
    quote.refresh_from_db()


def test_the_loss_of_a_recut_becomes_its_range(client):
    """Scenario 6: 3.46 ct, loss 15 to 25 %, fee 220.00."""
    commission = makers.make_commission(
        items=[makers.make_item_spec(work="recut", wanted="close the window")]
    )
    quotes.draft_quote(commission, tariff=make_tariff(tax_percent=D(0)), by=None, at=makers.NOON)
    url = page("quote_line", "C-0001", 1, 1)
    typed = {
        **LINE,
        "rough_ct": "3,46",
        "loss_low": "15",
        "loss_high": "25",
        "price": "220",
        "reason": "window, two chips",
    }
    assert client.post(url, typed).status_code == 302
    line = QuoteLine.objects.get()
    assert (line.weight_low_ct, line.weight_ct, line.weight_high_ct) == (D("2.595"), D("2.768"), D("2.941"))
    assert (line.price_low, line.price, line.price_high) == (D(220),) * 3
    again = words(client.get(url))
    assert 'value="2.595"' in again
    for slip, field in (
        ({"loss_low": "25", "loss_high": "15"}, "loss_low"),
        ({"loss_high": ""}, "loss_high"),
        ({"rough_ct": ""}, "rough_ct"),
        ({"weight_low_ct": "2", "weight_high_ct": "3"}, "loss_low"),
    ):
        refused = client.post(url, {**typed, **slip})
        assert refused.status_code == 422
        assert refused.context["form"].errors.get(field), slip


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"valid_until": "2026-03-02"}, "valid_until"),
        ({"valid_until": ""}, "valid_until"),
        ({"expected_week": "2026-02-01"}, "expected_week"),
        ({"deposit": "100000"}, "deposit"),
        ({"queue_place": "0"}, "queue_place"),
        ({"tariff": "999"}, "tariff"),
    ],
)
def test_terms_that_cannot_be_are_told_beside_their_box(client, typed, field):
    quote = make_draft()
    before = Quote.objects.values().get()
    given = {
        "tariff": quote.tariff.pk,
        "valid_until": "2026-03-20",
        "deposit": "10",
        "risk_lines": "",
        "terms": "",
        **typed,
    }
    answer = client.post(page("quote_terms", "C-0001", 1), given)
    assert answer.status_code == 422
    assert answer.context["form"].errors.get(field)
    assert Quote.objects.values().get() == before


def test_a_piece_without_a_line_is_left_out_by_its_tick(client):
    commission = makers.make_commission(
        items=[makers.make_item_spec(), makers.make_item_spec(wanted="a pear")]
    )
    quote = quotes.draft_quote(commission, tariff=make_tariff(), by=None, at=makers.NOON)
    quotes.set_line(quote, commission.items.first(), an_ask(), by=None, at=makers.NOON)
    refused = client.post(page("quote_send", "C-0001", 1), {})
    assert refused.status_code == 422
    assert "Piece 2 has no line yet" in words(refused)
    assert client.post(page("quote_send", "C-0001", 1), {"leave": ["2"]}).status_code == 302
    assert Quote.objects.get().state == "sent"


def test_only_tariffs_of_the_commissions_currency_are_offered(client):
    makers.make_commission(currency="USD")
    tariff = make_tariff()
    shown = client.get(page("quote_draft", "C-0001"))
    assert "No tariff holds today" in words(shown)
    assert client.post(page("quote_draft", "C-0001"), {"tariff": tariff.pk}).status_code == 422
    assert not Quote.objects.exists()


def test_a_draft_there_is_is_gone_on_with(client):
    quote = make_draft()
    assert client.get(page("quote_draft", "C-0001")).url == quote.get_absolute_url()


def test_a_sent_version_has_no_page_that_changes_it(client):
    quote = make_sent()
    for name in ("quote_terms", "quote_send"):
        assert client.get(page(name, "C-0001", 1)).url == quote.get_absolute_url()
    assert client.get(page("quote_line", "C-0001", 1, 1)).url == quote.get_absolute_url()
    assert (
        "Change"
        not in words(client.get(quote.get_absolute_url())).partition("promised")[2].partition("For you")[0]
    )


def test_an_answer_told_by_telephone_is_kept_with_the_words_that_were_read(client):
    quote = make_sent()
    url = page("quote_answer", "C-0001", 1)
    wording = client.get(url).context["wording"]
    assert "I accept version 1 of the quote for C-0001 (QU-0001)" in wording
    told = {"answer": "yes", "name": "Mara Quill", "told": "by telephone", "words": "Go ahead."}
    assert client.post(url, told).status_code == 302
    quote.refresh_from_db()
    assert (quote.state, quote.agreed_wording) == ("accepted", wording)
    assert quote.answered_from == "told to the cutter, by telephone"
    again = client.post(url, told)
    assert again.status_code == 422
    assert "was accepted already, by Mara Quill" in words(again)


def test_a_no_is_kept_too_and_an_answer_has_to_be_one(client):
    make_sent()
    url = page("quote_answer", "C-0001", 1)
    assert client.post(url, {"name": "Mara", "told": "by letter"}).context["form"].errors["answer"]
    assert (
        client.post(
            url, {"answer": "no", "name": "Mara", "told": "by letter", "words": "Too dear."}
        ).status_code
        == 302
    )
    assert Quote.objects.get().state == "declined"
    assert "Too dear." in words(client.get(page("quote", "C-0001", 1)))


def test_withdrawing_asks_why(client):
    make_sent()
    url = page("quote_withdraw", "C-0001", 1)
    assert client.post(url, {}).status_code == 422
    assert client.post(url, {"reason": "Found heated."}).status_code == 302
    assert Quote.objects.get().paper.void_reason == "Withdrawn: Found heated."


def test_dropping_and_taking_out(client):
    make_draft()
    assert client.post(page("quote_line_out", "C-0001", 1, 1)).status_code == 302
    assert not QuoteLine.objects.exists()
    assert client.post(page("quote_drop", "C-0001", 1), {}).status_code == 302
    assert not Quote.objects.exists()
    assert client.get(page("quote_line_out", "C-0001", 1, 1)).status_code == 405


def test_what_changed_stands_side_by_side(client):
    first = make_sent(asks={1: an_ask(weight_low_ct=D(2), weight_high_ct=D(3))})
    second = quotes.draft_quote(
        first.commission, tariff=first.tariff, by=None, at=makers.NOON, why="Smaller."
    )
    quotes.set_line(
        second, first.commission.items.get(), an_ask(weight_low_ct=D("1.5"), weight_high_ct=D(2), floor_ct=D("1.4")),
        by=None, at=makers.NOON,
    )  # fmt: skip
    said = words(client.get(page("quote", "C-0001", 2)))
    changed = said.partition("Against version 1")[2]
    for figure in ("2.00–3.00 ct", "1.50–2.00 ct", "210.00–270.00 EUR", "180.00–210.00 EUR", "Below 1.40 ct"):
        assert figure in changed, figure


@pytest.mark.pdf
def test_the_printed_copy_stays_the_same_bytes(client):
    accept(make_sent())
    url = page("quote_pdf", "C-0001", 1)
    first = client.get(url)
    assert first.status_code == 200
    assert first["Content-Type"] == "application/pdf"
    makers.make_shop(name="Renamed")
    assert client.get(url).content == first.content


def test_a_draft_has_no_printed_copy(client):
    make_draft()
    assert client.get(page("quote_pdf", "C-0001", 1)).status_code == 404


PAGES = ["quote", "quote_terms", "quote_send", "quote_withdraw", "quote_answer", "quote_drop", "quote_pdf"]


def test_hands_see_no_quote_and_readers_change_none(client):
    make_draft()
    urls = [page(name, "C-0001", 1) for name in PAGES]
    urls += [
        page("quote_draft", "C-0001"),
        page("quote_line", "C-0001", 1, 1),
        page("quote_line_out", "C-0001", 1, 1),
    ]
    client.force_login(makers.make_hand())
    for url in urls:
        assert client.get(url).status_code in (403, 405), url
        assert client.post(url, {}).status_code in (403, 405), url
    client.force_login(makers.make_reader())
    shown = client.get(page("quote", "C-0001", 1))
    assert shown.status_code == 200
    assert "Quote it" not in words(shown)
    assert "Take out" not in words(shown)
    for url in urls[1:6] + urls[7:]:
        assert client.post(url, {}).status_code == 403, url


def test_nobody_is_let_in_without_signing_in(client):
    make_draft()
    client.logout()
    for name in PAGES:
        assert client.get(page(name, "C-0001", 1)).status_code == 302


@pytest.mark.parametrize(
    "path", ["C-0009/quotes/1/", "C-0001/quotes/7/", "C-0001/quotes/1/9/", "C-0001/quotes/0/"]
)
def test_what_is_not_there_is_not_found(client, path):
    make_draft()
    assert client.get(f"/commissions/{path}").status_code == 404


def test_a_page_asks_no_more_for_more_pieces(client, django_assert_max_num_queries):
    items = [makers.make_item_spec(wanted=f"oval {n}") for n in range(6)]
    make_draft(makers.make_commission(items=items))
    with django_assert_max_num_queries(16):
        client.get(page("quote", "C-0001", 1))
