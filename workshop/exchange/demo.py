"""The demo shop: invented people, places and stones, brought in through the same deeds a person does.

The tables in ``fixtures/demo`` say who, what and when (days before today); each stone's ``script`` is a line of
steps, told in ``STEPS``. Hours fall on the hand's next free working hours, so that no two times of a hand meet.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from functools import partial
from pathlib import Path
from typing import Any

from django.conf import settings

from workshop.common import actions as shop_deeds
from workshop.common import photos
from workshop.common.models import Hand, Role, Shop
from workshop.common.tx import write_tx
from workshop.gems import actions as gems
from workshop.gems.card_actions import issue_card
from workshop.gems.models import FinishedGem, Gone
from workshop.handbook.units import parse_length, parse_weight
from workshop.materials.models import Material
from workshop.people import actions as people
from workshop.people.models import Contact, Ownership
from workshop.rough import actions as rough
from workshop.rough.models import CULLS, RoughLot
from workshop.rough.sharing import CostLine
from workshop.sales import actions as sales
from workshop.stones import actions as stones
from workshop.stones.models import Activity, Stone, StonePhoto

from .demo_pictures import picture_of

TABLES = Path(settings.BASE_DIR) / "fixtures" / "demo"
OPENS, CLOSES = time(8, 30), time(18, 30)
#: Names and passwords of the demo's hands, printed where the demo is started; no other shop has them.
HANDS = {
    "wren": (Role.OWNER, "Wren Askell", "north light and water"),
    "fenn": (Role.HAND, "Fenn Odry", "slow wheel fine grit"),
    "sorrel": (Role.READER, "Sorrel Vane", "figures that add up"),
}
SHOP = {
    "name": "Askell & Odry, cutters", "cutter": "Wren Askell", "address": "3 Slipway Lane\nOsk Harbour\nOsland",
    "email": "bench@askell-odry.example", "website": "https://askell-odry.example", "tax_number": "OS 000 000",
    "currency": "EUR", "zone": "Europe/Lisbon", "hourly_rate": Decimal("45.00"), "scale_step_ct": Decimal("0.005"),
    "base_url": "http://127.0.0.1:8000", "tax_percent": Decimal("23"),
}  # fmt: skip


def rows_of(name: str) -> list[dict[str, str]]:
    """The rows of one table of the demo."""
    with open(TABLES / f"{name}.tsv", encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle, delimiter="\t", quoting=csv.QUOTE_NONE))


class Demo:
    """Brings the demo in. ``now`` is the end of its year."""

    def __init__(self, now: datetime) -> None:
        self.now = now
        self.hands: dict[str, Hand] = {}
        self.people: dict[str, Contact] = {}
        self.lots: dict[str, RoughLot] = {}
        self.stones: dict[str, Stone] = {}
        self.gems: dict[str, FinishedGem] = {}
        self.free: dict[str, datetime] = {}
        self.pictures: dict[str, dict[str, bytes]] = {}

    def load(self) -> None:
        """Everything, in the order it happened as far as it matters, in one transaction."""
        hashes = {
            name: shop_deeds.hashed(password, Hand(username=name)) for name, (_, _, password) in HANDS.items()
        }
        told = rows_of("stones")
        # Pictures are drawn before the transaction: nobody should wait on a decoder inside a write.
        self.pictures = {row["key"]: picture_of(row) for row in told if "photo" in _parts(row["script"], ";")}
        with write_tx():
            self._open(hashes)
            for row in rows_of("people"):
                self._person(row)
            for row in sorted(rows_of("lots"), key=lambda row: -int(row["days_ago"])):
                self._lot(row)
            for row in sorted(told, key=lambda row: -int(row["days_ago"])):
                self._stone(row)
            for row in rows_of("sales"):
                self._sale(row)
            for row in rows_of("later"):
                self._later(row)
            for row in rows_of("shop_hours"):
                self._shop_hours(row)

    @property
    def owner(self) -> Hand:
        """Who does the shop's own deeds."""
        return self.hands["wren"]

    def _open(self, hashes: dict[str, str]) -> None:
        start = self.now - timedelta(days=366)
        for name, (role, full_name, _) in HANDS.items():
            by = self.hands.get("wren")
            self.hands[name] = shop_deeds.add_hand(
                username=name, password_hash=hashes[name], role=role, full_name=full_name, by=by, at=start
            )
        shop_deeds.describe_shop(SHOP, by=self.owner, at=start)

    def _morning(self, days_ago: str | int) -> datetime:
        day = Shop.the().day_of(self.now) - timedelta(days=int(days_ago))
        return datetime.combine(day, OPENS, tzinfo=Shop.the().tzinfo)

    def _day(self, at: datetime) -> date:
        return Shop.the().day_of(at)

    def _person(self, row: dict[str, str]) -> None:
        facts: dict[str, Any] = {name: row[name] for name in ("name", "firm", "email", "country", "notes")}
        parts: dict[str, Any] = {f"is_{part}": True for part in row["parts"].split()}
        at = self.now - timedelta(days=365)
        self.people[row["key"]] = people.add_contact(by=self.owner, at=at, **facts, **parts)

    def _lot(self, row: dict[str, str]) -> None:
        at = self._morning(row["days_ago"])
        owner = self.people.get(row["owner"])
        lot = rough.receive_lot(
            by=self.owner,
            at=at,
            sold_as=row["sold_as"],
            weight=parse_weight(row["weight"]),
            received_on=self._day(at),
            came=row["came"],
            seller=self.people.get(row["seller"]),
            ownership=Ownership.CLIENT if owner else Ownership.SHOP,
            owner=owner,
            material=_material(row["material"]),
            pieces=int(row["pieces"]),
            price_basis=row["basis"],
            unit_price=Decimal(row["price"]) if row["price"] else None,
            currency=row["currency"] if row["rate"] else "",
            rate=Decimal(row["rate"]) if row["rate"] else None,
            extras=[_extra(text, row["rate"]) for text in _parts(row["extras"], ";")],
            statements=[self._said(text, self._day(at), row) for text in _parts(row["statements"], ";")],
        )
        if row["sort"]:
            rule, _, groups = row["sort"].partition(":")
            lot = stones.sort_lot(
                lot, [_group(text) for text in _parts(groups, ";")], rule=rule, by=self.owner, at=at
            )
        self.lots[row["key"]] = lot

    def _said(self, text: str, on: date, lot: dict[str, str] | None = None) -> dict[str, Any]:
        question, _, rest = text.partition(" ")
        answer, _, words = rest.partition(" ") if question in {"nature", "treatment"} else ("", "", rest)
        level, _, words = words.partition(" ") if words[:1].isdigit() else (words, "", "")
        level, words = (level or "2"), words.strip()
        tested = level == "3"
        speaker = self.people.get(lot["seller"] or lot["owner"]) if lot else None
        said: dict[str, Any] = {
            "question": question,
            "evidence": int(level),
            "said_by": self.owner.get_full_name() if tested or speaker is None else str(speaker),
            "said_on": on,
            "words": "" if tested else words,
            "how": words if tested else "",
        }
        if question == "nature":
            said |= {"nature": answer}
        elif question == "treatment":
            treated, _, keys = answer.partition(":")
            said |= {"treated": treated, "treatments": keys.split(",") if keys else []}
        elif question == "origin":
            said |= {"words": words}
        elif lot:
            said |= {"material": _material(lot["material"])}
        return said

    # A stone's script

    def _stone(self, row: dict[str, str]) -> None:
        start = self._morning(row["days_ago"])
        self.free[row["hand"]] = max(start, self.free.get(row["hand"], start))
        parent = self.stones.get(row["from"])
        if parent is None:
            stone = self._draw(row, self.free[row["hand"]])
        else:
            stone = self.stones[row["key"]]
            changes: dict[str, object] = {"plan": row["plan"], "shape": row["shape"]}
            stone = stones.describe_stone(stone, changes, by=self.owner, at=self.free[row["hand"]])
        self.stones[row["key"]] = stone
        for step in _parts(row["script"], ";"):
            self._step(row, step)

    def _draw(self, row: dict[str, str], at: datetime) -> Stone:
        lot = self.lots[row["from"]]
        length, width, depth = _size(row["size"])
        return stones.draw_stone(
            lot,
            parse_weight(row["weight"]),
            group=lot.groups.get(name=row["group"]) if row["group"] else None,
            by=self.owner,
            at=at,
            plan=row["plan"],
            shape=row["shape"],
            length_mm=length,
            width_mm=width,
            depth_mm=depth,
        )

    def _step(self, row: dict[str, str], step: str) -> None:
        word, _, rest = step.partition(" ")
        hand, stone = self.hands[row["hand"]], Stone.objects.get(pk=self.stones[row["key"]].pk)
        if word in Activity.values and re.fullmatch(r"[\d.]+", rest):
            self._hours(row["hand"], word, Decimal(rest), [stone])
            return
        self.free[row["hand"]] += timedelta(minutes=2)
        STEPS[word](self, row, stone, rest, hand, self.free[row["hand"]])

    def _hours(self, name: str, activity: str, hours: Decimal, on: list[Stone], note: str = "") -> None:
        length = timedelta(seconds=int(hours * 3600))
        start = self._free_for(name, length)
        end = start + length
        stones.add_time(
            by=self.hands[name], at=end, start=start, end=end, activity=activity, stones=on, note=note
        )
        self.free[name] = end

    def _free_for(self, name: str, length: timedelta) -> datetime:
        start = self.free[name].astimezone(Shop.the().tzinfo)
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
        self.free[row["hand"]] = self._free_for(row["hand"], timedelta(hours=10))
        stones.resume(stone, by=hand, at=self.free[row["hand"]])

    def _note(
        self, row: dict[str, str], stone: Stone, rest: str, hand: Hand, at: datetime, kind: str = "note"
    ) -> None:
        stones.add_note(stone, rest, kind=kind, by=hand, at=at)

    def _dop(self, row: dict[str, str], stone: Stone, rest: str, hand: Hand, at: datetime) -> None:
        stones.note_dop_reading(stone, rest, by=hand, at=at)

    def _photo(self, row: dict[str, str], stone: Stone, rest: str, hand: Hand, at: datetime) -> None:
        picture = photos.keep(self.pictures[row["key"]], by=hand, at=at)
        stones.add_stone_photo(stone, picture, caption=row["plan"][:200], by=hand, at=at)

    def _wear(self, row: dict[str, str], stone: Stone, rest: str, hand: Hand, at: datetime) -> None:
        stones.charge_stone(stone, kind="wear", amount=Decimal(rest), on=self._day(at), by=self.owner, at=at)

    def _split(self, row: dict[str, str], stone: Stone, rest: str, hand: Hand, at: datetime) -> None:
        weights, kerf, chips, why = re.fullmatch(r"(\S+) kerf (\S+) chips (\S+) (.+)", rest).groups()  # type: ignore[union-attr]
        pieces = [parse_weight(f"{one} ct") for one in weights.split("+")]
        made = stones.split_stone(
            stone, pieces, kerf_ct=Decimal(kerf), chips_ct=Decimal(chips), reason=why, by=hand, at=at
        )
        for letter, child in zip("abcdef", made, strict=False):
            self.stones[f"{row['key']}{letter}"] = child

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
        length, width, depth = _size(size)
        assert length is not None and width is not None and depth is not None
        measured = gems.Measured(
            weight=parse_weight(weight), length_mm=length, width_mm=width, depth_mm=depth, shape=shape, colour=colour,
            colour_light="north window, noon", clarity=clarity, girdle="medium, faceted", cut=cut, facets=int(facets),
            cut_by=hand.get_full_name(),
        )  # fmt: skip
        photo = StonePhoto.objects.filter(stone=stone).first()
        self.gems[row["key"]] = gems.finish_gem(stone, measured, by=hand, at=at, public_photo=photo)

    def _say(self, row: dict[str, str], stone: Stone, rest: str, hand: Hand, at: datetime) -> None:
        said = self._said(rest, self._day(at))
        if said["question"] == "species":
            said["material"] = stone.material
        stones.state_about_stone(stone, said, by=self.owner, at=at)

    def _price(self, row: dict[str, str], stone: Stone, rest: str, hand: Hand, at: datetime) -> None:
        gems.set_price(self.gems[row["key"]], Decimal(rest), reason="first price", by=self.owner, at=at)

    def _card(self, row: dict[str, str], stone: Stone, rest: str, hand: Hand, at: datetime) -> None:
        issue_card(self.gems[row["key"]], by=self.owner, at=at)

    def _deliver(self, row: dict[str, str], stone: Stone, rest: str, hand: Hand, at: datetime) -> None:
        gems.let_go(self.gems[row["key"]], gone_as=Gone.DELIVERED, on=self._day(at), by=self.owner, at=at)

    # What came after

    def _sale(self, row: dict[str, str]) -> None:
        gem = self.gems[row["gem"]]
        at = max(self._morning(row["days_ago"]), self._morning((self._day(self.now) - gem.finished_on).days))
        sales.sell(
            [sales.Asked(gem, Decimal(row["price"]))],
            buyer=self.people[row["buyer"]],
            sold_on=self._day(at),
            tax_percent=Decimal(row["tax"]),
            channel=row["channel"],
            fees=Decimal(row["fees"]),
            paid=Decimal(row["paid"]),
            by=self.owner,
            at=at,
        )

    def _later(self, row: dict[str, str]) -> None:
        at = self._morning(row["days_ago"])
        line = CostLine(row["kind"], Decimal(row["amount"]), row["currency"], note=row["note"])
        stones.charge_lot(self.lots[row["lot"]], [line], paid_on=self._day(at), by=self.owner, at=at)

    def _shop_hours(self, row: dict[str, str]) -> None:
        """Evening paperwork, after the bench is closed, so that it never meets a stone's hours."""
        length = timedelta(seconds=int(Decimal(row["hours"]) * 3600))
        for days_ago in range(360, 0, -int(row["every_days"])):
            day = self._day(self.now) - timedelta(days=days_ago)
            start = datetime.combine(day, time.fromisoformat(row["at"]), tzinfo=Shop.the().tzinfo)
            stones.add_time(
                by=self.hands[row["hand"]], at=start + length, start=start, end=start + length,
                activity=row["activity"], note=row["note"],
            )  # fmt: skip


Step = Callable[[Demo, dict[str, str], Stone, str, Hand, datetime], None]

#: What a word at the head of a step does; a word that names an activity, with hours behind it, puts in time.
STEPS: dict[str, Step] = {
    "weigh": Demo._weigh,
    "to": Demo._to,
    "back": Demo._back,
    "wait": Demo._wait,
    "resume": Demo._resume,
    "note": Demo._note,
    "stop": partial(Demo._note, kind="stop"),
    "trouble": partial(Demo._note, kind="trouble"),
    "dop": Demo._dop,
    "photo": Demo._photo,
    "wear": Demo._wear,
    "split": Demo._split,
    "break": Demo._break,
    "lost": partial(Demo._end, ending="lost"),
    "scrap": partial(Demo._end, ending="scrapped"),
    "put_by": partial(Demo._end, ending="put_by"),
    "unworked": partial(Demo._end, ending="unworked"),
    "finish": Demo._finish,
    "say": Demo._say,
    "price": Demo._price,
    "card": Demo._card,
    "deliver": Demo._deliver,
}


def _parts(text: str, mark: str) -> list[str]:
    return [part.strip() for part in text.split(mark) if part.strip()]


def _material(key: str) -> Material:
    return Material.objects.get(key=key)


def _extra(text: str, rate: str) -> CostLine:
    kind, amount, currency = text.split()
    return CostLine(
        kind, Decimal(amount), currency, Decimal(rate) if rate and currency != "EUR" else Decimal(1)
    )


def _group(text: str) -> stones.GroupSpec:
    """``name kind weight unit pieces measure``; the measure is what the lot's rule shares by."""
    found = re.fullmatch(r"(.+) (facet|cab|carving|specimen|cull|reject) ([\d.]+ \w+) (\d+) ([\d.]+)", text)
    assert found is not None, text
    name, kind, weight, pieces, measure = found.groups()
    return stones.GroupSpec(
        name=name,
        weight_ct=parse_weight(weight).ct,
        kind=kind,
        pieces=int(pieces),
        factor=Decimal(0) if kind in CULLS else Decimal(measure) if Decimal(measure) < 20 else Decimal(1),
        value=Decimal(measure) if Decimal(measure) >= 20 else Decimal(0),
    )


def _size(text: str) -> tuple[Decimal | None, Decimal | None, Decimal | None]:
    if not text.strip():
        return None, None, None
    length, width, depth = (parse_length(part) for part in text.split("x"))
    return length, width, depth


def signing_in() -> str:
    """How to come into the demo, for the terminal."""
    return "\n".join(
        f"  {name:7} {password:24} {Role(role).label.lower()}" for name, (role, _, password) in HANDS.items()
    )
