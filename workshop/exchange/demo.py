"""The demo shop: invented people, places and stones, brought in through the same deeds a person does.

The tables in ``fixtures/demo`` say who, what and when (days before today); each stone's ``script`` is a line of
steps, told in ``demo_script.STEPS``. Hours fall on the hand's next free working hours, so that no two times meet.
"""

from __future__ import annotations

import csv
import re
from datetime import datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from django.conf import settings

from workshop.common import actions as shop_deeds
from workshop.common.models import Hand, Role, Shop
from workshop.common.tx import write_tx
from workshop.handbook.units import parse_weight
from workshop.people import actions as people
from workshop.people.models import Ownership
from workshop.rough import actions as rough
from workshop.rough.models import CULLS
from workshop.rough.sharing import CostLine
from workshop.sales import actions as sales
from workshop.stones import actions as stones

from .demo_commissions import PICTURES, Commissions
from .demo_house import House, material_of, parts_of
from .demo_pictures import picture_of
from .demo_script import Script

TABLES = Path(settings.BASE_DIR) / "fixtures" / "demo"
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


class Demo(House):
    """Brings the demo in. ``now`` is the end of its year."""

    def load(self) -> None:
        """Everything, in the order it happened as far as it matters, in one transaction."""
        hashes = {
            name: shop_deeds.hashed(password, Hand(username=name)) for name, (_, _, password) in HANDS.items()
        }
        told = rows_of("stones")
        # Pictures are drawn before the transaction: nobody should wait on a decoder inside a write.
        self.pictures = {
            row["key"]: picture_of(row) for row in told if "photo" in parts_of(row["script"], ";")
        }
        self.pictures |= {key: picture_of(row) for key, row in PICTURES.items()}
        with write_tx():
            self._open(hashes)
            for row in rows_of("people"):
                self._person(row)
            for row in sorted(rows_of("lots"), key=lambda row: -int(row["days_ago"])):
                self._lot(row)
            script = Script(self)
            for row in sorted(told, key=lambda row: -int(row["days_ago"])):
                script.play(row)
            for row in rows_of("sales"):
                self._sale(row)
            for row in rows_of("later"):
                self._later(row)
            for row in rows_of("shop_hours"):
                self._shop_hours(row)
            Commissions(self).load()

    def _open(self, hashes: dict[str, str]) -> None:
        start = self.now - timedelta(days=366)
        for name, (role, full_name, _) in HANDS.items():
            by = self.hands.get("wren")
            self.hands[name] = shop_deeds.add_hand(
                username=name, password_hash=hashes[name], role=role, full_name=full_name, by=by, at=start
            )
        shop_deeds.describe_shop(SHOP, by=self.owner, at=start)

    def _person(self, row: dict[str, str]) -> None:
        facts: dict[str, Any] = {name: row[name] for name in ("name", "firm", "email", "country", "notes")}
        parts: dict[str, Any] = {f"is_{part}": True for part in row["parts"].split()}
        at = self.now - timedelta(days=365)
        self.people[row["key"]] = people.add_contact(by=self.owner, at=at, **facts, **parts)

    def _lot(self, row: dict[str, str]) -> None:
        at = self.morning(row["days_ago"])
        owner = self.people.get(row["owner"])
        lot = rough.receive_lot(
            by=self.owner,
            at=at,
            sold_as=row["sold_as"],
            weight=parse_weight(row["weight"]),
            received_on=self.day(at),
            came=row["came"],
            seller=self.people.get(row["seller"]),
            ownership=Ownership.CLIENT if owner else Ownership.SHOP,
            owner=owner,
            material=material_of(row["material"]),
            pieces=int(row["pieces"]),
            price_basis=row["basis"],
            unit_price=Decimal(row["price"]) if row["price"] else None,
            currency=row["currency"] if row["rate"] else "",
            rate=Decimal(row["rate"]) if row["rate"] else None,
            extras=[_extra(text, row["rate"]) for text in parts_of(row["extras"], ";")],
            statements=[self.said(text, self.day(at), row) for text in parts_of(row["statements"], ";")],
        )
        if row["sort"]:
            rule, _, groups = row["sort"].partition(":")
            lot = stones.sort_lot(
                lot, [_group(text) for text in parts_of(groups, ";")], rule=rule, by=self.owner, at=at
            )
        self.lots[row["key"]] = lot

    def _sale(self, row: dict[str, str]) -> None:
        gem = self.gems[row["gem"]]
        at = max(self.morning(row["days_ago"]), self.morning((self.day(self.now) - gem.finished_on).days))
        sales.sell(
            [sales.Asked(gem, Decimal(row["price"]))],
            buyer=self.people[row["buyer"]],
            sold_on=self.day(at),
            tax_percent=Decimal(row["tax"]),
            channel=row["channel"],
            fees=Decimal(row["fees"]),
            paid=Decimal(row["paid"]),
            by=self.owner,
            at=at,
        )

    def _later(self, row: dict[str, str]) -> None:
        at = self.morning(row["days_ago"])
        line = CostLine(row["kind"], Decimal(row["amount"]), row["currency"], note=row["note"])
        stones.charge_lot(self.lots[row["lot"]], [line], paid_on=self.day(at), by=self.owner, at=at)

    def _shop_hours(self, row: dict[str, str]) -> None:
        """Evening paperwork, after the bench is closed, so that it never meets a stone's hours."""
        length = timedelta(seconds=int(Decimal(row["hours"]) * 3600))
        for days_ago in range(360, 0, -int(row["every_days"])):
            day = self.day(self.now) - timedelta(days=days_ago)
            start = datetime.combine(day, time.fromisoformat(row["at"]), tzinfo=Shop.the().tzinfo)
            stones.add_time(
                by=self.hands[row["hand"]], at=start + length, start=start, end=start + length,
                activity=row["activity"], note=row["note"],
            )  # fmt: skip


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


def signing_in() -> str:
    """How to come into the demo, for the terminal."""
    return "\n".join(
        f"  {name:7} {password:24} {Role(role).label.lower()}" for name, (role, _, password) in HANDS.items()
    )
