"""The page at the wheel, and the list of what lies on the bench."""

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from tests.makers import NOON, make_stone
from workshop.stones import actions


def page_of(client, stone):
    return client.get(f"/stones/bench/{stone.code}/").content.decode()


class TestWheel:
    def test_it_works(self, as_hand, stone):
        page = page_of(as_hand, stone)
        for told in (stone.code, "10.000\u00a0ct", "selected", "Start the clock", "<svg"):
            assert told in page

    def test_every_deed_is_within_reach(self, as_hand, stone):
        page = page_of(as_hand, stone)
        for deed in ("weigh", "note", "photo", "wait", "move", "back", "split", "break", "end"):
            assert f"/stones/{stone.code}/{deed}/" in page

    def test_the_stop_note_is_read_first_and_can_be_done(self, as_hand, stone):
        actions.add_note(stone, "row 3, index 24 left", kind="stop", by=None, at=NOON)
        page = page_of(as_hand, stone)
        assert page.index("row 3, index 24 left") < page.index("Start the clock")
        assert as_hand.post(f"/stones/{stone.code}/stop-note-done/?from=bench")["Location"].startswith(
            "/stones/bench/"
        )
        stone.refresh_from_db()
        assert stone.stop_note == ""
        assert stone.notes.filter(kind="stop").exists()

    def test_running_time_and_stop(self, as_hand, hand, stone):
        actions.start_clock(by=hand, at=timezone.now() - timedelta(minutes=25), stones=[stone])
        page = page_of(as_hand, stone)
        assert "25\u00a0min" in page
        assert "Stop the clock" in page
        assert "Start the clock" not in page

    def test_a_clock_on_another_stone_is_switched_over(self, as_hand, hand, lot, stone):
        other = make_stone("5 ct", lot=lot)
        actions.start_clock(by=hand, at=timezone.now() - timedelta(minutes=25), stones=[other])
        page = page_of(as_hand, stone)
        assert "Switch the clock to this stone" in page

    def test_other_open_stones_are_one_tap_away(self, as_hand, lot, stone):
        open_one, ended = make_stone("5 ct", lot=lot), make_stone("4 ct", lot=lot)
        actions.end_stone(ended, "scrapped", reason="flawed", by=None, at=NOON)
        page = page_of(as_hand, stone)
        assert f'name="stone" value="{open_one.code}"' in page
        assert ended.code not in page

    def test_on_the_dop_a_reading_is_only_a_note(self, as_hand, stone):
        actions.move_on(stone, "first_cut", by=None, at=NOON)
        page = page_of(as_hand, stone)
        assert "Dop reading" in page
        assert 'id="weigh"' not in page

    def test_weighing_takes_two_fields_and_one_tap(self, as_hand, stone):
        form = re.search(
            r'<form method="post" action="/stones/S-0001/weigh/.*?</form>', page_of(as_hand, stone), re.S
        )
        typed = [
            name
            for name in re.findall(r'name="(\w+)"', form[0])
            if name not in {"csrfmiddlewaretoken", "once"}
        ]
        assert typed == ["weight", "cause"]

    def test_an_ended_stone_is_shown_without_deeds(self, as_hand, stone):
        actions.end_stone(stone, "lost", reason="gone", by=None, at=NOON)
        page = page_of(as_hand, stone)
        assert f"/stones/{stone.code}/weigh/" not in page

    def test_a_reader_sees_it_without_buttons(self, as_reader, lot, stone):
        make_stone("5 ct", lot=lot)
        page = page_of(as_reader, stone)
        assert "10.000\u00a0ct" in page
        assert "<form" not in re.search(r"<main.*</main>", page, re.S)[0]

    def test_the_code_may_be_typed_small(self, as_hand, stone):
        assert as_hand.get("/stones/bench/s-0001/").status_code == 200

    def test_no_such_stone(self, as_hand, shop):
        assert as_hand.get("/stones/bench/S-9999/").status_code == 404

    @pytest.mark.parametrize("code", ["%00", "%F0%9F%92%8E", "'; --", "S-0001%0A"])
    def test_codes_that_are_none(self, as_hand, stone, code):
        assert as_hand.get(f"/stones/bench/{code}/").status_code == 404

    def test_it_weighs_little(self, as_hand, stone, many):
        many(stone, 20)
        assert len(as_hand.get(f"/stones/bench/{stone.code}/").content) < 60_000


def test_its_queries_do_not_grow_with_the_bench(as_hand, lot, stone, many, django_assert_max_num_queries):
    make_stone("1 ct", lot=lot)
    page_of(as_hand, stone)  # the first page of a visit also writes the session
    counts = []
    for more in (1, 30):
        many(stone, more)
        with django_assert_max_num_queries(25) as asked:
            page_of(as_hand, stone)
        counts.append(len(asked))
    assert counts[0] == counts[1]


class TestList:
    def test_it_works(self, as_hand, stone):
        page = as_hand.get("/stones/bench/").content.decode()
        assert f"/stones/bench/{stone.code}/" in page
        assert "Start one clock on all ticked" in page

    def test_an_empty_bench_teaches(self, as_hand, shop):
        page = as_hand.get("/stones/bench/").content.decode()
        assert "The bench is clear" in page
        assert "Machine care" in page

    def test_a_reader_has_no_buttons(self, as_reader, stone):
        page = as_reader.get("/stones/bench/").content.decode()
        assert "<form" not in re.search(r"<main.*</main>", page, re.S)[0]


def test_a_long_bench_is_cut_and_says_so(as_hand, stone, many):
    many(stone, 61)
    page = as_hand.get("/stones/bench/").content.decode()
    assert "The 60 last in hand are shown" in page
    assert Decimal(page.count('type="checkbox"')) == 60
