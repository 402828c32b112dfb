"""The board and the list of commissions: what stands, in which state, due when, and what is owed."""

import re
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from tests import makers
from workshop.commissions import progress
from workshop.commissions.actions import commissions
from workshop.commissions.models import Commission, StopAsk
from workshop.common.models import Shop

pytestmark = pytest.mark.django_db
NOON = makers.NOON
LIST, BOARD = "/commissions/", "/commissions/board/"


@pytest.fixture
def owner(client):
    makers.make_shop()
    person = makers.make_owner()
    client.force_login(person)
    return person


def shown(client, url):
    answer = client.get(url)
    assert answer.status_code == 200, url
    return answer.content.decode()


def codes(client, query=""):
    page = shown(client, f"{LIST}?{query}")
    return re.findall(r'<th scope="row"><a class="code" href="/commissions/(C-\d+)/"', page)


def put(commission, **columns):
    Commission.objects.filter(pk=commission.pk).update(**columns)
    commission.refresh_from_db()
    return commission


def this_monday():
    day = Shop.the().day_of(timezone.now())
    return day - timedelta(days=day.weekday())


def busy(number, client=None):
    """A commission in work with a stone made into two, a plan's worth of rows, and an open question."""
    client = client or makers.make_contact(f"Client {number}")
    made = makers.make_commission(
        client=client,
        items=[
            makers.make_item_spec(floor_ct=Decimal(2)),
            makers.make_item_spec(work="cut_own", shape="round"),
        ],
    )
    first = made.items.first()
    stone = makers.make_clients_stone(client)
    commissions.link_stone(first, stone, by=None, at=NOON)
    if number % 2:
        StopAsk.objects.create(item=first, why="floor", words="?", asked_at=NOON, options=["yes"])
    return put(
        made, state="in_work", accepted_at=NOON, due_on=this_monday() + timedelta(days=7 * (number % 3))
    )


def test_it_works(client, owner):
    assert "A commission begins with an enquiry" in shown(client, BOARD)
    assert "No commission yet" in shown(client, LIST)
    made = makers.make_commission()
    for url in (LIST, BOARD):
        page = shown(client, url)
        assert made.code in page and "Mara Quill" in page
    assert "<svg" in shown(client, BOARD), "its piece in outline"


def test_cards_stand_in_their_state_by_week(client, owner):
    monday = this_monday()
    late, now, following, later, none = (
        put(busy(0), due_on=due) for due in (
            monday - timedelta(days=7), monday, monday + timedelta(days=7), monday + timedelta(days=21), None
        )
    )  # fmt: skip
    asked, gone = makers.make_commission(), makers.make_commission()
    commissions.close_enquiry(gone, reason="too dear", by=None, at=NOON)
    page = shown(client, BOARD)
    assert gone.code not in page
    columns = re.split(r'<section class="board-column"', page)[1:]
    assert [re.search(r"<h2[^>]*>([^<]+)", column).group(1).strip() for column in columns] == [
        "Enquiry", "Quoted", "Accepted, in the queue", "In work",
    ]  # fmt: skip
    assert asked.code in columns[0] and "None." in columns[1]
    told = re.sub(r"<svg.*?</svg>", "", columns[3], flags=re.DOTALL)
    order = ["Late", late.code, "This week", now.code, "Next week", following.code, "Later", later.code,
             "No week promised", none.code]  # fmt: skip
    places = [told.index(word) for word in order]
    assert places == sorted(places)


def test_the_floor_alarms_on_the_card(client, owner):
    made = busy(0)
    stone = progress.stones_of(made.items.first())[0]
    assert "the floor is" not in shown(client, BOARD)
    stone.weight_ct = Decimal("1.9")
    stone.save()
    page = shown(client, BOARD)
    assert f"{stone.code} weighs 1.900\u00a0ct; the floor is 2.000\u00a0ct." in page
    assert "card--alarm" in page


def test_silence_is_counted_from_the_question_and_from_the_last_word(client, owner):
    made = busy(1)
    day = makers.DAY
    assert progress.days_silent(made, day + timedelta(days=21)) == 21
    put(made, heard_at=NOON + timedelta(days=15))
    assert progress.days_silent(made, day + timedelta(days=21)) == 6
    made.items.first().questions.update(answered_at=NOON, answer="yes")
    made = Commission.objects.get(pk=made.pk)
    assert progress.days_silent(made, day + timedelta(days=21)) is None


@pytest.mark.parametrize("role", ["owner", "hand"])
def test_the_same_number_of_questions_for_5_and_20(client, owner, role):
    """Session and person 2, shop 1, clock 3; clients to pick 1; rows, their number and sums 2 or 3; what hangs on them:
    quotes, pieces, questions, links, what was made of the stones, gems, plans 7."""
    if role == "hand":
        client.force_login(makers.make_hand())
    for number in range(5):
        busy(number)
    counted = {}
    for rows in (5, 20):
        for number in range(Commission.objects.count(), rows):
            busy(number)
        for url in (LIST, BOARD):
            client.get(url)
            with CaptureQueriesContext(connection) as queries:
                assert "C-0005" in shown(client, url) or rows == 20
            counted[url, rows] = len(queries)
    assert counted[LIST, 5] == counted[LIST, 20] <= 18
    assert counted[BOARD, 5] == counted[BOARD, 20] <= 18


# --- The questions one may ask ----------------------------------------------------------------------------------


def test_filters(client, owner):
    mara, otto = makers.make_contact("Mara Quill"), makers.make_contact("Otto Fenn")
    enquiry = makers.make_commission(client=mara)
    work = put(busy(0, otto), due_on=date(2026, 3, 9), charged=100, balance=100)
    repair = makers.make_commission(
        client=otto, items=[makers.make_item_spec(work="repair", wanted="a chip")]
    )
    gone = makers.make_commission(client=mara)
    commissions.close_enquiry(gone, reason="x", by=None, at=NOON)
    everything = [gone.code, repair.code, work.code, enquiry.code]
    assert codes(client) == everything
    asked = {
        "state=standing": [repair.code, work.code, enquiry.code],
        "state=in_work": [work.code],
        "state=declined": [gone.code],
        "state=asked": [],
        "work=repair": [repair.code],
        "work=cut_own": [work.code],
        f"client={mara.code}": [gone.code, enquiry.code],
        "week=2026-03-12": [work.code],
        "week=2026-03-16": [],
        "account=unpaid": [work.code],
        f"words={enquiry.code.lower()}": [enquiry.code],
        "words=otto chip": [repair.code],
        "words=otto aquamarine": [work.code],
        "words=nothing such": [],
        "sort=client": [enquiry.code, gone.code, work.code, repair.code],
        "sort=-balance": [work.code, gone.code, repair.code, enquiry.code],
    }
    for query, wanted in asked.items():
        assert codes(client, query) == wanted, query


def test_words_find_a_commission_by_its_stone(client, owner):
    made = busy(0)
    makers.make_commission()
    stone = progress.stones_of(made.items.first())[0]
    assert codes(client, f"words={stone.code}") == [made.code]


@pytest.mark.parametrize(
    "query",
    ["state=nothing", "client=P-9999", "week=yesterday", "work=magic", "words=%00", "week=0001-01-01", "sort=__class__",
     "after=nonsense", "week=9999-12-31"],
)  # fmt: skip
def test_odd_questions_are_told_or_answered_with_nothing(client, owner, query):
    makers.make_commission()
    assert client.get(f"{LIST}?{query}").status_code in {200, 422}


def test_sums_stand_by_currency_and_add_up(client, owner):
    for number, currency in enumerate(["EUR", "EUR", "USD"]):
        put(
            makers.make_commission(),
            currency=currency,
            charged=100 + number,
            paid=60,
            refunded=10,
            balance=50 + number,
        )
    foot = shown(client, LIST).split("<tfoot>")[1]
    told = re.sub(r"<[^>]+>", " ", foot).replace("\u00a0", " ")
    told = " ".join(told.split())
    assert "2 in EUR 201.00 EUR 100.00 EUR 101.00 EUR" in told
    assert "1 in USD 102.00 USD 50.00 USD 52.00 USD" in told


def test_a_list_of_more_than_a_page_goes_on(client, owner):
    made = [makers.make_commission() for _ in range(51)]
    first = codes(client)
    assert len(first) == 50 and made[0].code not in first
    onward = re.search(r'href="\?([^"]*after=[^"]*)"', shown(client, LIST)).group(1).replace("&amp;", "&")
    assert codes(client, onward) == [made[0].code]


# --- Who sees what ----------------------------------------------------------------------------------------------


def test_a_hand_sees_no_money_and_asks_nothing_of_it(client, owner):
    put(busy(0), charged=777, balance=777)
    client.force_login(makers.make_hand())
    for url in (LIST, BOARD, f"{LIST}?sort=-balance", f"{LIST}?account=unpaid"):
        page = shown(client, url)
        assert "777.00" not in page and "Owed" not in page and "Account" not in page
    other = makers.make_commission()
    assert len(codes(client, "account=unpaid")) == 2, "the question is not there for them"
    assert codes(client, "sort=-balance")[0] == other.code, "nor is the order"


def test_a_reader_sees_money_and_no_deed(client, owner):
    put(busy(0), charged=777, balance=777)
    client.force_login(makers.make_reader())
    page = shown(client, LIST)
    assert "777.00" in page and "/commissions/new/" not in page
    assert "/commissions/new/" not in shown(client, BOARD)


def test_a_stranger_is_sent_to_sign_in(client):
    for url in (LIST, BOARD, "/commissions/new/"):
        assert client.get(url).url.startswith("/sign-in/")
