"""Two hands at once: nothing lost, nothing doubled. Real threads, each with its own connection, on either engine."""

import threading
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection

from tests import makers
from tests.laws import laws
from workshop.common import numbers
from workshop.common.errors import DeedRefused
from workshop.common.models import JournalEntry
from workshop.common.once import do_once
from workshop.common.tx import write_tx
from workshop.handbook.units import parse_weight
from workshop.rough.models import RoughLot
from workshop.stones import actions as stones
from workshop.stones.models import BenchTime, Stone

pytestmark = pytest.mark.django_db(transaction=True)
THREADS = 12


def all_at_once(deed, count=THREADS):
    """Run ``deed(n)`` in threads that start together; return (results, refusals). Any other error fails the test."""
    together, done, refused, broken = threading.Barrier(count), [], [], []

    def run(number):
        try:
            together.wait()
            done.append(deed(number))
        except DeedRefused as refusal:
            refused.append(refusal)
        except Exception as error:
            broken.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(n,)) for n in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not broken, broken
    return done, refused


def test_numbers_have_no_gap_and_no_double():
    def take(_):
        with write_tx():
            return numbers.take("X")

    done, _ = all_at_once(take)
    assert sorted(done) == [f"X-{n:04d}" for n in range(1, THREADS + 1)]


def test_a_number_whose_deed_failed_is_given_again():
    def take(n):
        with write_tx():
            code = numbers.take("X")
            if n % 3 == 0:
                raise DeedRefused("no")
            return code

    done, refused = all_at_once(take)
    assert len(refused) == THREADS // 3
    assert sorted(done) == [f"X-{n:04d}" for n in range(1, len(done) + 1)]


def test_a_lot_gives_no_more_than_it_holds():
    makers.make_shop()
    owner = makers.make_owner()
    lot = makers.make_lot("100 ct", by=owner, price_basis="lot", unit_price=Decimal("99.99"))

    def draw(_):
        return stones.draw_stone(lot, parse_weight("15 ct"), by=owner, at=makers.NOON)

    done, refused = all_at_once(draw)
    assert (len(done), len(refused)) == (6, THREADS - 6)
    assert len({stone.code for stone in done}) == 6
    assert RoughLot.objects.get().left_ct == Decimal("10.000")
    laws.check_weights()
    laws.check_money()


def test_one_hand_starts_one_clock():
    makers.make_shop()
    owner = makers.make_owner()
    stone = makers.make_stone(by=owner)
    done, refused = all_at_once(lambda _: stones.start_clock(by=owner, at=makers.NOON, stones=[stone]))
    assert (len(done), len(refused)) == (1, THREADS - 1)
    assert BenchTime.objects.running().count() == 1


def test_a_clock_stopped_twice_counts_once():
    makers.make_shop()
    owner = makers.make_owner()
    stone = makers.make_stone(by=owner)
    stones.start_clock(by=owner, at=makers.NOON, stones=[stone])
    later = makers.NOON + timedelta(minutes=30)
    done, refused = all_at_once(lambda _: stones.stop_clock(by=owner, at=later))
    assert (len(done), len(refused)) == (1, THREADS - 1)
    assert Stone.objects.get().bench_seconds == 1800
    laws.check_times()


def test_a_form_sent_many_times_does_its_deed_once():
    makers.make_shop()
    owner = makers.make_owner()

    def send(_):
        return do_once("one-key", owner, lambda: makers.make_lot("10 ct", by=owner).code)

    done, _ = all_at_once(send)
    assert set(done) == {"L-0001"}
    assert RoughLot.objects.count() == 1
    assert JournalEntry.objects.filter(verb="received lot").count() == 1


def test_one_stone_is_split_once_while_it_is_weighed():
    makers.make_shop()
    owner = makers.make_owner()
    stone = makers.make_stone("20 ct", by=owner)
    pieces = [parse_weight("9 ct"), parse_weight("8 ct")]

    def deed(n):
        if n % 2:
            return stones.split_stone(stone, pieces, kerf_ct=Decimal(3), by=owner, at=makers.NOON, sure=True)
        return stones.record_weight(stone, parse_weight("20 ct"), by=owner, at=makers.NOON)

    all_at_once(deed)
    assert Stone.objects.filter(parent=stone).count() == 2
    laws.check_weights()
    laws.check_money()
