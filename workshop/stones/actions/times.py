"""The clock and the hours: one hand, one clock, no two times at once, and every correction with its reason."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from decimal import Decimal

from django.db.models import Sum
from django.db.models.functions import Coalesce

from workshop.common import journal
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand, Shop
from workshop.common.tx import write_tx
from workshop.handbook.allocation import split_seconds
from workshop.handbook.costing import labour_cost
from workshop.rough.models import RoughLot

from ..models import BENCH_ACTIVITIES, Activity, BenchTime, DayHours, Stage, Stone, TimeShare
from .open_stone import in_shop_time
from .sharing import carry_on

LONG = timedelta(hours=4)
#: The least a clock can tell: what was started and stopped at one tap still took this long.
LEAST = timedelta(seconds=1)

#: What is usually done next at each stage; the first side may be crown or pavilion.
_NEXT = {
    Stage.SELECTED: Activity.PREFORM,
    Stage.SAWN: Activity.PREFORM,
    Stage.PREFORMED: Activity.CUT_PAVILION,
    Stage.FIRST_CUT: Activity.POLISH_PAVILION,
    Stage.FIRST_POLISHED: Activity.TRANSFER,
    Stage.TRANSFERRED: Activity.CUT_CROWN,
    Stage.SECOND_CUT: Activity.POLISH_CROWN,
    Stage.SECOND_POLISHED: Activity.CLEAN,
    Stage.OFF_DOP: Activity.CLEAN,
    Stage.FINISHED: Activity.PHOTOGRAPH,
}
_MIRROR = {
    Activity.CUT_PAVILION: Activity.CUT_CROWN,
    Activity.POLISH_PAVILION: Activity.POLISH_CROWN,
    Activity.CUT_CROWN: Activity.CUT_PAVILION,
    Activity.POLISH_CROWN: Activity.POLISH_PAVILION,
}


def usual_activity(stone: Stone) -> Activity:
    """What is most likely done at the stone's stage, so that the clock starts with one tap."""
    activity = _NEXT[Stage(stone.stage)]
    return _MIRROR.get(activity, activity) if stone.first_side == "crown" else activity


def start_clock(
    *,
    by: Hand,
    at: datetime,
    stones: Sequence[Stone] = (),
    lot: RoughLot | None = None,
    activity: str = "",
    note: str = "",
    switch: bool = False,
) -> BenchTime:
    """Start the hand's clock on stones, a lot or the shop. With ``switch`` a running clock is stopped first."""
    with write_tx():
        running = BenchTime.objects.running().filter(hand=by).first()
        if running is not None:
            if not switch:
                raise DeedRefused("Your clock is running already; stop it first.")
            stop_clock(by=by, at=at)
        if not activity:
            activity = usual_activity(stones[0]) if stones else Activity.SORT if lot else Activity.OTHER
        began = _after_the_last(by, at)
        time = _write(by, activity, began, None, stones=stones, lot=lot, note=note, at=began)
        journal.note("started clock", _about(time, stones), by=by, at=at, after={"activity": activity})
    return time


def _after_the_last(by: Hand, at: datetime) -> datetime:
    """Two quick taps: a time that was lengthened to the least the clock can tell pushes the next one on."""
    last = BenchTime.objects.filter(hand=by, counts=True, ended_at__gt=at, ended_at__lte=at + LEAST).first()
    return at if last is None or last.ended_at is None else last.ended_at


def stop_clock(*, by: Hand, at: datetime) -> BenchTime:
    """Stop the hand's clock. A time over four hours or over midnight is kept as it ran and asked about."""
    with write_tx():
        time = BenchTime.objects.running().filter(hand=by).first()
        if time is None:
            raise DeedRefused("No clock of yours is running.")
        # A start may have been pushed on by the least the clock can tell (see ``_after_the_last``).
        if at + LEAST < time.started_at:
            raise DeedRefused("A clock cannot stop before it started.", field="at")
        time.ended_at = max(at, time.started_at + LEAST)
        time.doubtful = is_doubtful(time.started_at, time.ended_at)
        time.save(update_fields=["ended_at", "doubtful"])
        _share_out(time)
        _roll_up(time, +1)
        stones = _restate(time)
        after = {"seconds": time.seconds, "doubtful": time.doubtful}
        journal.note("stopped clock", _about(time, stones), by=by, at=at, after=after)
    return time


def stop_clocks_on(stone: Stone, *, at: datetime) -> None:
    """A stone has ended: a clock that runs for it alone stops. One that runs for several goes on for the others."""
    for time in BenchTime.objects.running().filter(shares__stone=stone).select_related("hand"):
        if time.shares.count() == 1:
            stop_clock(by=time.hand, at=max(at, time.started_at))


def add_time(
    *,
    by: Hand,
    at: datetime,
    start: datetime,
    end: datetime,
    activity: str,
    hand: Hand | None = None,
    stones: Sequence[Stone] = (),
    lot: RoughLot | None = None,
    note: str = "",
) -> BenchTime:
    """Write down a time afterwards. Only an owner may do so for another hand."""
    hand = _whose(by, hand)
    with write_tx():
        time = _write(hand, activity, start, end, stones=stones, lot=lot, note=note, at=at)
        _roll_up(time, +1)
        _restate(time)
        journal.note(
            "added time",
            _about(time, stones),
            by=by,
            at=at,
            after={"activity": activity, "seconds": time.seconds},
        )
    return time


def correct_time(
    time: BenchTime,
    *,
    by: Hand,
    at: datetime,
    start: datetime,
    end: datetime,
    reason: str,
    activity: str = "",
    stones: Sequence[Stone] | None = None,
) -> BenchTime:
    """Put a time right. The old figure and the reason stay."""
    if not reason.strip():
        raise DeedRefused("Say why it is corrected.", field="reason")
    with write_tx():
        time = _standing(time, by)
        old_stones = [share.stone for share in time.shares.select_related("stone")]
        was_running = time.ended_at is None
        _withdraw(time, roll=not was_running)
        fresh = _write(
            time.hand,
            activity or time.activity,
            start,
            end,
            stones=old_stones if stones is None else stones,
            lot=time.lot,
            note=time.note,
            at=at,
            corrects=time,
            reason=reason,
            rate=time.rate,
            rework=time.rework,
        )
        # The person has just looked at it: it is not asked about a second time.
        fresh.doubtful = False
        fresh.save(update_fields=["doubtful"])
        _roll_up(fresh, +1)
        _restate(time)
        _restate(fresh)
        journal.note(
            "corrected time",
            _about(fresh, old_stones),
            by=by,
            at=at,
            before={"start": time.started_at, "end": time.ended_at},
            after={"start": start, "end": end},
            reason=reason,
        )
    return fresh


def strike_time(time: BenchTime, *, by: Hand, at: datetime, reason: str) -> BenchTime:
    """A time that never was: it stops counting, and stays readable with the reason."""
    if not reason.strip():
        raise DeedRefused("Say why it is struck out.", field="reason")
    with write_tx():
        time = _standing(time, by)
        was_running = time.ended_at is None
        time.struck_why = reason
        _withdraw(time, roll=not was_running)
        stones = _restate(time)
        journal.note(
            "struck out time",
            _about(time, stones),
            by=by,
            at=at,
            before={"start": time.started_at, "end": time.ended_at},
            reason=reason,
        )
    return time


def keep_time(time: BenchTime, *, by: Hand, at: datetime) -> BenchTime:
    """Answer the question about a long time: it really was that long."""
    with write_tx():
        time = _standing(time, by)
        if not time.doubtful:
            raise DeedRefused("Nobody asked about this time.")
        time.doubtful = False
        time.save(update_fields=["doubtful"])
        journal.note("confirmed time", _about(time, []), by=by, at=at, after={"seconds": time.seconds})
    return time


def is_doubtful(start: datetime, end: datetime) -> bool:
    """Over four hours, or over midnight in the shop's zone."""
    shop = Shop.the()
    return end - start > LONG or shop.day_of(start) != shop.day_of(end)


def _whose(by: Hand, hand: Hand | None) -> Hand:
    if hand is None or hand.pk == by.pk:
        return by
    if not by.runs_the_shop:
        raise DeedRefused("Only the owner may write down another hand's time.", field="hand")
    return hand


def _standing(time: BenchTime, by: Hand) -> BenchTime:
    fresh = BenchTime.objects.select_related("hand", "lot").get(pk=time.pk)
    _whose(by, fresh.hand)
    if not fresh.counts:
        raise DeedRefused("This time was corrected or struck out already.")
    return fresh


def _write(
    hand: Hand,
    activity: str,
    start: datetime,
    end: datetime | None,
    *,
    stones: Iterable[Stone],
    lot: RoughLot | None,
    note: str,
    at: datetime,
    corrects: BenchTime | None = None,
    reason: str = "",
    rate: Decimal | None = None,
    rework: bool | None = None,
) -> BenchTime:
    stones = [Stone.objects.get(pk=stone.pk) for stone in stones]
    _check_span(hand, start, end, at)
    _check_targets(stones, lot, start)
    shop = Shop.the()
    time = BenchTime(
        hand=hand,
        activity=activity,
        lot=lot,
        started_at=start,
        ended_at=end,
        rate=rate
        if rate is not None
        else hand.hourly_rate
        if hand.hourly_rate is not None
        else shop.hourly_rate,
        on_bench=activity in BENCH_ACTIVITIES,
        rework=any(stone.rework for stone in stones) if rework is None else rework,
        doubtful=end is not None and is_doubtful(start, end),
        note=note,
        corrects=corrects,
        reason=reason,
    )
    time.full_clean()
    time.save()
    TimeShare.objects.bulk_create(TimeShare(time=time, stone=stone) for stone in stones)
    Stone.objects.filter(pk__in=[stone.pk for stone in stones], touched_at__lt=at).update(touched_at=at)
    _share_out(time)
    return time


def _check_span(hand: Hand, start: datetime, end: datetime | None, now: datetime) -> None:
    if end is not None and end <= start:
        raise DeedRefused("The end must come after the start.", field="end")
    if (end or start) > now:
        raise DeedRefused("A time cannot lie in the future.", field="end" if end else "start")
    clash = BenchTime.objects.overlapping(hand.pk, start, end).order_by("started_at").first()
    if clash is not None:
        until = f"to {in_shop_time(clash.ended_at)}" if clash.ended_at else "and still running"
        raise DeedRefused(
            f"{hand} has another time then: {clash.get_activity_display()}, "
            f"from {in_shop_time(clash.started_at)} {until}.",
            field="start",
        )


def _check_targets(stones: Sequence[Stone], lot: RoughLot | None, start: datetime) -> None:
    if stones and lot is not None:
        raise DeedRefused("A time belongs to stones or to a lot, not to both.")
    for stone in stones:
        if stone.ended_at is not None and start >= stone.ended_at:
            raise DeedRefused(
                f"{stone.code} is {stone.get_ending_display()} since before that time.", field="stones"
            )


def _share_out(time: BenchTime) -> None:
    shares = list(time.shares.order_by("pk"))
    if not shares or time.seconds is None:
        return
    for share, seconds in zip(shares, split_seconds(time.seconds, [1] * len(shares)), strict=True):
        share.seconds = seconds
    TimeShare.objects.bulk_update(shares, ["seconds"])


def _withdraw(time: BenchTime, *, roll: bool) -> None:
    if roll:
        _roll_up(time, -1)
    time.counts = False
    time.doubtful = False
    time.save(update_fields=["counts", "doubtful", "struck_why"])


def _roll_up(time: BenchTime, sign: int) -> None:
    """Keep the day's row in step, so that no report ever sums all times."""
    row, _ = DayHours.objects.get_or_create(
        day=Shop.the().day_of(time.started_at),
        hand=time.hand,
        activity=time.activity,
        on_bench=time.on_bench,
        rework=time.rework,
        on_stones=time.shares.exists(),
    )
    row.seconds += sign * (time.seconds or 0)
    row.save(update_fields=["seconds"])


def _restate(time: BenchTime) -> list[Stone]:
    """Bring hours and their cost in step on every stone the time belongs to."""
    currency = Shop.the().currency
    stones = [share.stone for share in time.shares.select_related("stone")]
    for stone in stones:
        sums = list(
            TimeShare.objects.filter(stone=stone, time__counts=True, time__ended_at__isnull=False)
            .values_list("time__on_bench", "time__rate")
            .annotate(total=Coalesce(Sum("seconds"), 0))
            .order_by("time__on_bench", "time__rate")
        )
        bench = [(total, rate) for on_bench, rate, total in sums if on_bench]
        off = [(total, rate) for on_bench, rate, total in sums if not on_bench]
        stone.bench_seconds = sum(total for total, _ in bench)
        stone.off_bench_seconds = sum(total for total, _ in off)
        stone.bench_labour = labour_cost(bench, currency)
        stone.off_bench_labour = labour_cost(off, currency)
        stone.save(update_fields=["bench_seconds", "off_bench_seconds", "bench_labour", "off_bench_labour"])
        carry_on(stone)
    return stones


def _about(time: BenchTime, stones: Sequence[Stone]) -> str:
    if stones:
        return stones[0].code
    return time.lot.code if time.lot is not None else "shop"
