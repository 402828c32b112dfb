"""Hours of the bench and the load: what is promised and quoted for each week, and which week could take more."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.template.loader import render_to_string
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from tests.makers import (
    NOON,
    make_commission,
    make_contact,
    make_hand,
    make_item_spec,
    make_owner,
    make_reader,
    make_shop,
    make_stone,
)
from workshop.commissions import load
from workshop.commissions.actions import hours as actions
from workshop.commissions.models import BenchHours, Commission, ItemStone, Quote, QuoteLine
from workshop.commissions.views.week import week_context
from workshop.commissions.weeks_drawn import load_chart
from workshop.common.errors import DeedRefused
from workshop.common.models import JournalEntry
from workshop.stones.models import Stone

D = Decimal
#: A Monday; NOON of the makers is that day.
MONDAY = date(2026, 3, 2)
WEEK = timedelta(days=7)
HOUR = 3600


@pytest.fixture
def owner(client, db):
    make_shop()
    made = make_owner()
    client.force_login(made)
    return made


def say(hours, weeks=0, **said):
    return actions.say_hours(MONDAY + weeks * WEEK, D(hours), by=None, at=NOON, **said)


def promise(hours, weeks=None, state="accepted", quote="accepted", client=None, valid=MONDAY + WEEK):
    """A commission with a piece for each of ``hours``, promised (or expected) so many weeks ahead."""
    hours = hours if isinstance(hours, list) else [hours]
    made = make_commission(
        client=client or make_contact("Ana Fictiva"), items=[make_item_spec() for _ in hours]
    )
    week = None if weeks is None else MONDAY + weeks * WEEK
    Commission.objects.filter(pk=made.pk).update(state=state, due_on=week)
    version = Quote.objects.create(
        commission=made, version=1, currency="EUR", made_at=NOON, expected_week=week, valid_until=valid
    )
    for item, one in zip(made.items.all(), hours, strict=True):
        seconds = int(D(one) * HOUR)
        QuoteLine.objects.create(
            quote=version,
            item=item,
            what="cut",
            seconds_low=seconds // 2,
            seconds=seconds,
            seconds_high=seconds * 2,
        )
    Quote.objects.filter(pk=version.pk).update(state=quote, sent_at=NOON, answered_at=NOON)
    made.refresh_from_db()
    return made


def loads(weeks=4, today=MONDAY):
    return load.week_load(today, weeks)


def hours_of(seconds):
    return None if seconds is None else D(seconds) / HOUR


# --- Hours of the week --------------------------------------------------------------------------------------------


def test_hours_hold_until_said_otherwise_and_one_week_stands_apart(owner):
    say(20, weeks=-3)
    say(30, weeks=2)
    say(0, weeks=1, one_week=True, note="holidays")
    assert [hours_of(week.available) for week in loads()] == [20, 0, 30, 30]
    assert [week.note for week in loads()] == ["", "holidays", "", ""]
    assert loads()[1].verdict[0] == "no bench"


def test_before_any_word_the_hours_are_unknown_not_none(owner):
    say(20, weeks=1)
    assert [hours_of(week.available) for week in loads(3)] == [None, 20, 20]
    assert loads()[0].verdict[0] == "hours not said"
    assert loads()[0].free is None


# Monday counts whole, Thursday four days of seven, Sunday one.
@pytest.mark.parametrize(("days", "left"), [(0, 21), (3, 12), (6, 3)])
def test_of_this_week_only_the_days_left_count(owner, days, left):
    say(21)
    assert hours_of(loads(today=MONDAY + timedelta(days=days))[0].available) == left


# --- What is promised ---------------------------------------------------------------------------------------------


def test_promises_fill_their_week_and_quotes_stand_apart(owner):
    say(20)
    accepted = promise([6, 4], weeks=1)
    at_work = promise(3, weeks=1, state="in_work")
    quoted = promise(8, weeks=1, state="quoted", quote="sent")
    week = loads()[1]
    assert [(job.code, job.seconds // HOUR, job.pieces) for job in week.promised] == [
        (accepted.code, 10, 2), (at_work.code, 3, 1),
    ]  # fmt: skip
    assert [job.code for job in week.quoted] == [quoted.code]
    assert (hours_of(week.free), week.verdict[0]) == (7, "full if all accept")
    assert [hours_of(one.free_by_then) for one in loads(3)] == [20, 27, 47]


@pytest.mark.parametrize(
    ("state", "quote"),
    [("enquiry", "draft"), ("declined", "declined"), ("cancelled", "accepted"), ("delivered", "accepted")],
)
def test_what_is_not_promised_takes_no_hours(owner, state, quote):
    say(20)
    made = promise(8, weeks=0, state="enquiry", quote=quote)
    closed = MONDAY if state in {"declined", "cancelled", "delivered"} else None
    Commission.objects.filter(pk=made.pk).update(state=state, closed_on=closed)
    assert all(not week.promised and not week.quoted for week in loads())


def test_an_expired_quote_takes_no_hours(owner):
    promise(8, weeks=1, state="quoted", quote="sent", valid=MONDAY - timedelta(days=1))
    assert not loads()[1].quoted
    promise(8, weeks=1, state="quoted", quote="sent", valid=MONDAY)
    assert len(loads()[1].quoted) == 1


def test_a_change_to_accepted_work_does_not_count_twice(owner):
    made = promise(8, weeks=1)
    version = Quote.objects.create(
        commission=made, version=2, currency="EUR", made_at=NOON, expected_week=MONDAY + WEEK
    )
    QuoteLine.objects.create(
        quote=version, item=made.items.get(), what="cut", seconds=HOUR, seconds_high=HOUR
    )
    Quote.objects.filter(pk=version.pk).update(state="sent", sent_at=NOON, valid_until=MONDAY + WEEK)
    assert (loads()[1].promised_seconds, loads()[1].quoted_seconds) == (8 * HOUR, 0)


def test_a_piece_that_ended_takes_no_more_hours(owner):
    made = promise([6, 4], weeks=0)
    made.items.filter(number=1).update(outcome="delivered", outcome_on=MONDAY)
    assert loads()[0].promised_seconds == 4 * HOUR


def test_time_already_spent_is_taken_off_but_never_below_nothing(owner):
    made = promise([6, 4], weeks=0)
    first, second = made.items.all()
    parent, other = make_stone(), make_stone()
    child = make_stone(lot=parent.lot)
    Stone.objects.filter(pk=child.pk).update(parent=parent, bench_seconds=HOUR)
    Stone.objects.filter(pk=parent.pk).update(bench_seconds=HOUR, off_bench_seconds=HOUR // 2)
    Stone.objects.filter(pk=other.pk).update(bench_seconds=9 * HOUR)
    ItemStone.objects.create(item=first, stone=parent, since=NOON)
    ItemStone.objects.create(item=second, stone=other, since=NOON)
    # 6 h less 1 h and a half of the stone and 1 h of what was sawn from it; 4 h less 9 h is nothing.
    assert loads()[0].promised_seconds == int(3.5 * HOUR)


def test_a_finished_piece_takes_no_more_hours_however_few_it_took(owner):
    made = promise([6, 4], weeks=0)
    stone = make_stone()
    Stone.objects.filter(pk=stone.pk).update(stage="finished", bench_seconds=HOUR)
    ItemStone.objects.create(item=made.items.first(), stone=stone, since=NOON)
    assert loads()[0].promised_seconds == 4 * HOUR
    other = make_stone()
    ItemStone.objects.create(item=made.items.first(), stone=other, since=NOON)
    assert loads()[0].promised_seconds == 9 * HOUR, "one of its two stones is at work still"


def test_a_stone_no_longer_linked_takes_nothing_off(owner):
    made = promise(6, weeks=0)
    stone = make_stone()
    Stone.objects.filter(pk=stone.pk).update(bench_seconds=HOUR)
    ItemStone.objects.create(item=made.items.get(), stone=stone, since=NOON, until=NOON)
    assert loads()[0].promised_seconds == 6 * HOUR


def test_what_is_late_stands_in_this_week_and_says_so(owner):
    promise(5, weeks=-2)
    (job,) = loads()[0].promised
    assert job.late and job.seconds == 5 * HOUR


def test_a_day_in_the_middle_of_a_week_counts_for_its_week(owner):
    made = promise(5, weeks=1)
    Commission.objects.filter(pk=made.pk).update(due_on=MONDAY + timedelta(days=11))
    assert loads()[1].promised_seconds == 5 * HOUR


def test_a_promise_without_a_week_is_told_apart(owner, client):
    made = promise(7)
    assert not any(week.promised for week in loads())
    assert [(job.code, job.seconds) for job in load.without_a_week()] == [(made.code, 7 * HOUR)]
    assert "Promised for no week" in client.get("/commissions/week/").content.decode()


# --- Overfull, and the first week with room -----------------------------------------------------------------------


def test_an_overfull_week_is_told_apart_from_one_that_cannot_be_done(owner):
    say(10)
    promise(15, weeks=1)
    # The week alone has too little; with the one before it fits.
    assert (loads()[1].verdict, hours_of(loads()[1].free_by_then)) == (("overfull", "alert"), 5)
    promise(8, weeks=1)
    assert (loads()[1].verdict, hours_of(loads()[1].free_by_then)) == (("cannot be done", "alert"), -3)


def test_the_first_week_with_room(owner):
    say(10)
    assert load.first_week_with(10 * HOUR, MONDAY) == MONDAY
    assert load.first_week_with(25 * HOUR, MONDAY) == MONDAY + 2 * WEEK
    # Nothing is free in weeks 0 to 2: a promise for week 0 would push out the one for week 2.
    promise(30, weeks=2)
    assert load.first_week_with(1, MONDAY) == MONDAY + 3 * WEEK
    assert load.first_week_with(0, MONDAY) == MONDAY


def test_the_page_proposes_weeks_and_looks_past_its_last_one(client, owner):
    say(10)
    # All of weeks 0 to 15 is promised for the 16th: nothing before it is free, though the page's weeks look empty.
    promise(160, weeks=15)
    told = week_context(MONDAY)
    assert [one.promised_seconds for one in told["weeks"]] == [0] * 12
    assert dict(told["room_for"])[5] == MONDAY + 16 * WEEK
    assert dict(told["room_for"])[20] == MONDAY + 17 * WEEK


def test_quoted_hours_do_not_take_room(owner):
    say(10)
    promise(10, weeks=0, state="quoted", quote="sent")
    assert load.first_week_with(10 * HOUR, MONDAY) == MONDAY


def test_no_week_without_hours_and_none_within_two_years(owner):
    assert load.first_week_with(HOUR, MONDAY) is None
    say(1)
    assert load.first_week_with(200 * HOUR, MONDAY) is None
    assert load.first_week_with(104 * HOUR, MONDAY) == MONDAY + 103 * WEEK


@given(
    st.lists(st.tuples(st.integers(0, 40), st.lists(st.integers(0, 30), max_size=3)), min_size=1, max_size=8),
    st.integers(1, 60),
)
def test_the_proposed_week_is_the_first_that_breaks_no_promise(weeks, hours):
    """Against brute force: the work fits a week if, doing what is due first, nothing is late."""
    found = [load.Week(MONDAY + place * WEEK, available * HOUR) for place, (available, _) in enumerate(weeks)]
    for week, (_, jobs) in zip(found, weeks, strict=True):
        week.promised.extend(load.Job("C", one * HOUR, 1, None) for one in jobs)
    load._add_up(found)
    promised = [sum(jobs) for _, jobs in weeks]

    def nothing_late(due):
        owed = [*due]
        for place, (available, _) in enumerate(weeks):
            left = available
            for first in range(len(owed)):
                done = min(left, owed[first])
                owed[first], left = owed[first] - done, left - done
            if any(owed[: place + 1]):
                return False
        return True

    for place, week in enumerate(found):
        with_it = [*promised]
        with_it[place] += hours
        later = sum(promised) <= sum(available for available, _ in weeks)
        if nothing_late(promised) and later:
            assert (week.room >= hours * HOUR) == nothing_late(with_it)


# --- The page -----------------------------------------------------------------------------------------------------


def test_the_page_shows_every_week_its_figures_and_its_word(client, owner):
    today = load.monday_of(make_shop().day_of(NOON.now(NOON.tzinfo)))
    actions.say_hours(today, D(10), by=owner, at=NOON)
    made = promise(30, weeks=0)
    Commission.objects.filter(pk=made.pk).update(due_on=today + WEEK)
    page = client.get("/commissions/week/").content.decode()
    assert page.count('data-label="Hours"') == 12
    assert "cannot be done" in page and "▲" in page and made.code in page
    assert "style=" not in page and "<script>" not in page


def test_the_drawing_says_each_week_and_marks_the_overfull_one():
    weeks = [
        load.Week(MONDAY, 10 * HOUR),
        load.Week(MONDAY + WEEK, 10 * HOUR, promised=[load.Job("C-1", 12 * HOUR, 1, None)]),
        load.Week(MONDAY + 2 * WEEK, 0, note="fair & <holiday>"),
        load.Week(MONDAY + 3 * WEEK, None),
    ]
    load._add_up(weeks)
    drawn = load_chart(weeks)
    assert drawn.count("▲") == 2  # once drawn, once told
    assert "fair &amp; &lt;holiday&gt;" in drawn and "hours not said" in drawn
    assert drawn.count('class="bar"') == 1
    assert load_chart([]).startswith("<svg")


def test_the_load_can_be_shown_before_a_promise_is_made(owner):
    say(10)
    promise(4, weeks=1)
    told = render_to_string("commissions/_load.html", {**week_context(MONDAY, 6), "proposed": MONDAY + WEEK})
    assert told.count("proposed") == 1 and told.count('data-label="Hours"') == 6


def test_many_commissions_cost_no_more_queries(owner):
    say(20)

    def cost():
        with CaptureQueriesContext(connection) as asked:
            week_context(MONDAY)
        return len(asked)

    ana = make_contact("Ana Fictiva")
    promise(4, weeks=1, client=ana)
    promise(4, weeks=2, state="quoted", quote="sent", client=ana)
    few = cost()
    for place in range(6):
        promise([2, 3], weeks=place, client=ana)
        promise(4, weeks=place, state="quoted", quote="sent", client=ana)
    assert cost() == few


def test_a_hand_and_a_reader_look_at_the_week_and_see_no_client(client, owner):
    made = promise(4, weeks=0, client=make_contact("Very Private Person"))
    Commission.objects.filter(pk=made.pk).update(due_on=make_shop().day_of(NOON.now(NOON.tzinfo)))
    for hand in (make_hand(), make_reader()):
        client.force_login(hand)
        page = client.get("/commissions/week/").content.decode()
        assert made.code in page and "Very Private Person" not in page
        assert "/commissions/week/hours/" not in page


# --- Saying the hours ---------------------------------------------------------------------------------------------


def test_saying_the_hours_any_day_of_the_week(client, owner):
    answer = client.post(reverse("commissions:hours"), {"from_on": "2026-03-05", "hours": "24,5"})
    assert answer.status_code == 302
    row = BenchHours.objects.get()
    assert (row.from_on, row.hours, row.one_week) == (MONDAY, D("24.5"), False)
    client.post(reverse("commissions:hours"), {"from_on": "2026-03-02", "hours": "30"})
    assert BenchHours.objects.get().hours == 30
    assert JournalEntry.objects.filter(about="bench hours").first().before["hours"] == "24.500"
    client.post(reverse("commissions:hours"), {"from_on": "2026-03-02", "hours": "0", "one_week": "on"})
    assert BenchHours.objects.count() == 2


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"hours": "169"}, "hours"), ({"hours": "-1"}, "hours"), ({"hours": "many"}, "hours"), ({"hours": ""}, "hours"),
        ({"from_on": "2026-02-30"}, "from_on"), ({"from_on": "0001-01-01"}, "from_on"), ({"from_on": ""}, "from_on"),
        ({"note": "x" * 121}, "note"),
    ],
)  # fmt: skip
def test_hours_that_make_no_sense(client, owner, said, field):
    answer = client.post(reverse("commissions:hours"), {"from_on": "2026-03-02", "hours": "20", **said})
    assert answer.status_code == 422
    assert answer.context["form"].errors[field]
    assert not BenchHours.objects.exists()


def test_the_deed_takes_mondays_only(owner):
    with pytest.raises(DeedRefused) as refused:
        actions.say_hours(MONDAY + timedelta(days=1), D(20), by=owner, at=NOON)
    assert refused.value.field == "from_on"


def test_striking_hours_brings_back_the_word_before(client, owner):
    say(20, weeks=-1)
    row = say(30)
    assert client.post(reverse("commissions:strike_hours", args=[row.pk])).status_code == 302
    assert hours_of(loads()[0].available) == 20
    assert client.post(reverse("commissions:strike_hours", args=[row.pk])).status_code == 404
    assert client.get(reverse("commissions:strike_hours", args=[row.pk])).status_code == 405


@pytest.mark.parametrize("maker", [make_hand, make_reader])
def test_only_the_owner_says_the_hours(client, owner, maker):
    row = say(20)
    client.force_login(maker())
    assert client.get(reverse("commissions:hours")).status_code == 403
    assert (
        client.post(reverse("commissions:hours"), {"from_on": "2026-03-02", "hours": "1"}).status_code == 403
    )
    assert client.post(reverse("commissions:strike_hours", args=[row.pk])).status_code == 403
    assert BenchHours.objects.get().hours == 20
