"""What happens to each stone of the demo: a line of steps, each told in ``STEPS`` and done by a person's deed."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime, timedelta
from decimal import Decimal
from functools import partial

from workshop.common import photos
from workshop.common.models import Hand, Shop
from workshop.gems import actions as gems
from workshop.gems.card_actions import issue_card
from workshop.gems.models import Gone
from workshop.handbook.units import parse_length, parse_weight
from workshop.stones import actions as stones
from workshop.stones.models import Activity, Stone, StonePhoto

from .demo_house import CLOSES, OPENS, House, parts_of


class Script:
    """Plays the lines of steps in a house. Hours fall on the hand's next free working hours."""

    def __init__(self, house: House) -> None:
        self.house = house

    def play(self, row: dict[str, str]) -> None:
        """All that happens to the stone of a row."""
        start = self.house.morning(row["days_ago"])
        self.house.free[row["hand"]] = max(start, self.house.free.get(row["hand"], start))
        parent = self.house.stones.get(row["from"])
        if parent is None:
            stone = self._draw(row, self.house.free[row["hand"]])
        else:
            stone = self.house.stones[row["key"]]
            changes: dict[str, object] = {"plan": row["plan"], "shape": row["shape"]}
            stone = stones.describe_stone(
                stone, changes, by=self.house.owner, at=self.house.free[row["hand"]]
            )
        self.house.stones[row["key"]] = stone
        for step in parts_of(row["script"], ";"):
            self._step(row, step)

    def _draw(self, row: dict[str, str], at: datetime) -> Stone:
        lot = self.house.lots[row["from"]]
        length, width, depth = size_of(row["size"])
        return stones.draw_stone(
            lot,
            parse_weight(row["weight"]),
            group=lot.groups.get(name=row["group"]) if row["group"] else None,
            by=self.house.owner,
            at=at,
            plan=row["plan"],
            shape=row["shape"],
            length_mm=length,
            width_mm=width,
            depth_mm=depth,
        )

    def _step(self, row: dict[str, str], step: str) -> None:
        word, _, rest = step.partition(" ")
        hand, stone = self.house.hands[row["hand"]], Stone.objects.get(pk=self.house.stones[row["key"]].pk)
        if word in Activity.values and re.fullmatch(r"[\d.]+", rest):
            self._hours(row["hand"], word, Decimal(rest), [stone])
            return
        self.house.free[row["hand"]] += timedelta(minutes=2)
        STEPS[word](self, row, stone, rest, hand, self.house.free[row["hand"]])

    def _hours(self, name: str, activity: str, hours: Decimal, on: list[Stone], note: str = "") -> None:
        length = timedelta(seconds=int(hours * 3600))
        start = self._free_for(name, length)
        end = start + length
        stones.add_time(
            by=self.house.hands[name], at=end, start=start, end=end, activity=activity, stones=on, note=note
        )
        self.house.free[name] = end

    def _free_for(self, name: str, length: timedelta) -> datetime:
        start = self.house.free[name].astimezone(Shop.the().tzinfo)
        closes = datetime.combine(start.date(), CLOSES, tzinfo=start.tzinfo)
        if start + length > closes:
            start = datetime.combine(start.date() + timedelta(days=1), OPENS, tzinfo=start.tzinfo)
        return start

    def _weigh(self, row: dict[str, str], stone: Stone, rest: str, hand: Hand, at: datetime) -> None:
        weight, cause = re.fullmatch(r"([\d.]+ \w+)(?: (\w+))?", rest).groups()  # type: ignore[union-attr]
        stones.record_weight(stone, parse_weight(weight), cause=cause or "swarf", by=hand, at=at)

    def _to(self, row: dict[str, str], stone: Stone, rest: str, hand: Hand, at: datetime) -> None:
        stones.move_on(stone, rest, by=hand, at=at)

    def _back(self, row: dict[str, str], stone: Stone, rest: str, hand: Hand, at: datetime) -> None:
        stage, _, why = rest.partition(" ")
        stones.go_back(stone, stage, reason=why, by=hand, at=at)

    def _wait(self, row: dict[str, str], stone: Stone, rest: str, hand: Hand, at: datetime) -> None:
        what, _, note = rest.partition(" ")
        stones.wait_for(stone, what, note=note, by=hand, at=at)

    def _resume(self, row: dict[str, str], stone: Stone, rest: str, hand: Hand, at: datetime) -> None:
        # Glue is left overnight.
        self.house.free[row["hand"]] = self._free_for(row["hand"], timedelta(hours=10))
        stones.resume(stone, by=hand, at=self.house.free[row["hand"]])

    def _note(
        self, row: dict[str, str], stone: Stone, rest: str, hand: Hand, at: datetime, kind: str = "note"
    ) -> None:
        stones.add_note(stone, rest, kind=kind, by=hand, at=at)

    def _dop(self, row: dict[str, str], stone: Stone, rest: str, hand: Hand, at: datetime) -> None:
        stones.note_dop_reading(stone, rest, by=hand, at=at)

    def _photo(self, row: dict[str, str], stone: Stone, rest: str, hand: Hand, at: datetime) -> None:
        picture = photos.keep(self.house.pictures[row["key"]], by=hand, at=at)
        stones.add_stone_photo(stone, picture, caption=row["plan"][:200], by=hand, at=at)

    def _wear(self, row: dict[str, str], stone: Stone, rest: str, hand: Hand, at: datetime) -> None:
        stones.charge_stone(
            stone, kind="wear", amount=Decimal(rest), on=self.house.day(at), by=self.house.owner, at=at
        )

    def _split(self, row: dict[str, str], stone: Stone, rest: str, hand: Hand, at: datetime) -> None:
        weights, kerf, chips, why = re.fullmatch(r"(\S+) kerf (\S+) chips (\S+) (.+)", rest).groups()  # type: ignore[union-attr]
        pieces = [parse_weight(f"{one} ct") for one in weights.split("+")]
        made = stones.split_stone(
            stone, pieces, kerf_ct=Decimal(kerf), chips_ct=Decimal(chips), reason=why, by=hand, at=at
        )
        for letter, child in zip("abcdef", made, strict=False):
            self.house.stones[f"{row['key']}{letter}"] = child

    def _break(self, row: dict[str, str], stone: Stone, rest: str, hand: Hand, at: datetime) -> None:
        weight, where, why = re.fullmatch(r"([\d.]+ ct) (loss|survivors) (.+)", rest).groups()  # type: ignore[union-attr]
        stones.break_stone(
            stone,
            reason=why,
            fragments=parse_weight(weight),
            cost_on_survivors=where == "survivors",
            by=hand,
            at=at,
        )

    def _end(
        self, row: dict[str, str], stone: Stone, rest: str, hand: Hand, at: datetime, ending: str
    ) -> None:
        stones.end_stone(stone, ending, reason=rest, by=hand, at=at)

    def _finish(self, row: dict[str, str], stone: Stone, rest: str, hand: Hand, at: datetime) -> None:
        weight, size, shape, colour, clarity, cut, facets = (part.strip() for part in rest.split("|"))
        length, width, depth = size_of(size)
        assert length is not None and width is not None and depth is not None
        measured = gems.Measured(
            weight=parse_weight(weight), length_mm=length, width_mm=width, depth_mm=depth, shape=shape, colour=colour,
            colour_light="north window, noon", clarity=clarity, girdle="medium, faceted", cut=cut, facets=int(facets),
            cut_by=hand.get_full_name(),
        )  # fmt: skip
        photo = StonePhoto.objects.filter(stone=stone).first()
        self.house.gems[row["key"]] = gems.finish_gem(stone, measured, by=hand, at=at, public_photo=photo)

    def _say(self, row: dict[str, str], stone: Stone, rest: str, hand: Hand, at: datetime) -> None:
        said = self.house.said(rest, self.house.day(at))
        if said["question"] == "species":
            said["material"] = stone.material
        stones.state_about_stone(stone, said, by=self.house.owner, at=at)

    def _price(self, row: dict[str, str], stone: Stone, rest: str, hand: Hand, at: datetime) -> None:
        gems.set_price(
            self.house.gems[row["key"]], Decimal(rest), reason="first price", by=self.house.owner, at=at
        )

    def _card(self, row: dict[str, str], stone: Stone, rest: str, hand: Hand, at: datetime) -> None:
        issue_card(self.house.gems[row["key"]], by=self.house.owner, at=at)

    def _deliver(self, row: dict[str, str], stone: Stone, rest: str, hand: Hand, at: datetime) -> None:
        gems.let_go(
            self.house.gems[row["key"]],
            gone_as=Gone.DELIVERED,
            on=self.house.day(at),
            by=self.house.owner,
            at=at,
        )


Step = Callable[[Script, dict[str, str], Stone, str, Hand, datetime], None]

#: What a word at the head of a step does; a word that names an activity, with hours behind it, puts in time.
STEPS: dict[str, Step] = {
    "weigh": Script._weigh,
    "to": Script._to,
    "back": Script._back,
    "wait": Script._wait,
    "resume": Script._resume,
    "note": Script._note,
    "stop": partial(Script._note, kind="stop"),
    "trouble": partial(Script._note, kind="trouble"),
    "dop": Script._dop,
    "photo": Script._photo,
    "wear": Script._wear,
    "split": Script._split,
    "break": Script._break,
    "lost": partial(Script._end, ending="lost"),
    "scrap": partial(Script._end, ending="scrapped"),
    "put_by": partial(Script._end, ending="put_by"),
    "unworked": partial(Script._end, ending="unworked"),
    "finish": Script._finish,
    "say": Script._say,
    "price": Script._price,
    "card": Script._card,
    "deliver": Script._deliver,
}


def size_of(text: str) -> tuple[Decimal | None, Decimal | None, Decimal | None]:
    if not text.strip():
        return None, None, None
    length, width, depth = (parse_length(part) for part in text.split("x"))
    return length, width, depth
