"""The demo's commissions: one of each state, each brought there by the deeds a person does.

Early hours, before the bench opens, go to clients' stones: so no time meets another of the demo's year.
"""

from __future__ import annotations

from decimal import Decimal

from workshop.commissions.actions import (
    account,
    asks,
    cancel,
    delivery,
    hours,
    links,
    pieces,
    work_price,
)
from workshop.commissions.actions.commissions import ItemSpec
from workshop.commissions.actions.intake import PieceSpec
from workshop.commissions.asks import Ask, Typed
from workshop.commissions.models import Moment, OffCuts, Tariff, WorkKind
from workshop.common import photos
from workshop.handbook.units import parse_weight
from workshop.stones import actions as stones
from workshop.stones.models import Stage

from .demo_commission_steps import BY_PAGE, CALLED, CommissionSteps
from .demo_house import material_of

#: What is drawn in place of photographs: shape, and the lot whose colour comes nearest.
PICTURES = {
    "tired": {"key": "tired", "shape": "oval", "from": "F"},
    "chipped": {"key": "chipped", "shape": "oval", "from": "G"},
    "crystal": {"key": "crystal", "shape": "cut_corner_rectangle", "from": "Z"},
    "feather": {"key": "feather", "shape": "cushion", "from": "Z"},
}


class Commissions(CommissionSteps):
    """Brings the commissions in, oldest first, into a house that has people, lots and stones."""

    def load(self) -> None:
        """The tariff, the hours of a week, and six commissions."""
        tariff = self._tariff()
        hours.say_hours(
            self._monday(120), Decimal(24), by=self.by, at=self._at(120), note="two days are for own stones"
        )
        self._delivered(tariff)
        self._cancelled(tariff)
        self._pair_in_work(tariff)
        self._stopped(tariff)
        self._offered(tariff)
        self._asked()

    # --- The six ------------------------------------------------------------------------------------------------------

    def _delivered(self, tariff: Tariff) -> None:
        """An old aquamarine, recut, delivered and paid."""
        wanted = ItemSpec(
            WorkKind.RECUT,
            "recut: worn facets, window in the middle",
            material_of("beryl-aquamarine"),
            shape="oval",
            floor_ct=Decimal("3.00"),
        )
        commission = self._open("marit", 74, [wanted], wish="My grandmother's stone looks tired.", use="ring")
        item = commission.items.get()
        stone = self._take_in(commission, item, 72, self._aquamarine(item), "4.12 ct", "oval")
        quote = self._quote(
            commission, tariff, 71, {item: Ask(rough_ct=Decimal("4.12"), facets=73, floor_ct=Decimal("3.00"))}
        )
        self._accept(quote, 69, "Marit Solay", BY_PAGE)
        self._go_ahead(commission, 68, quote)
        self._cut(stone, 60, "3.36 ct", [("cut_pavilion", 1.4), ("polish_pavilion", 0.9), ("cut_crown", 0.8)])
        gem = self._finish(stone, 58, "3.34 ct", ("10.02", "8.31", "5.94"), "oval", "light greenish blue")
        at = self._at(56)
        work_price.charge_work(item, on=self.house.day(at), by=self.by, at=at)
        commission.refresh_from_db()
        account.pay(commission, amount=commission.balance, on=self.house.day(at), by=self.by, at=at)
        self._say(commission, Moment.FINISHED, 56, item)
        going = delivery.deliver(
            commission,
            items=[item],
            on=self.house.day(self._at(54)),
            how="in person at the workshop",
            declared_value=Decimal("900.00"),
            by=self.by,
            at=self._at(54),
        )
        delivery.note_arrival(
            going, on=self.house.day(self._at(54)), received_by="Marit Solay", by=self.by, at=self._at(54)
        )
        delivery.close_commission(commission, on=self.house.day(self._at(53)), by=self.by, at=self._at(53))
        self.house.gems["aqua"] = gem

    def _cancelled(self, tariff: Tariff) -> None:
        """Repair of a chipped garnet: the setter found another stone before anything was done."""
        wanted = ItemSpec(WorkKind.REPAIR, "take the chip out of the girdle", material_of("garnet-rhodolite"))
        commission = self._open("brindle", 47, [wanted], wish="Chipped while setting.", use="ring")
        item = commission.items.get()
        spec = PieceSpec(
            stated_to_be="rhodolite of about two carats",
            seen_as="purplish red cut stone, one chip at the girdle, 0.6 mm",
            weight=parse_weight("2.08 ct"),
            item=item,
            length_mm=Decimal("8.02"),
            width_mm=Decimal("7.01"),
            depth_mm=Decimal("4.70"),
            outline="oval",
            colour="purplish red",
            tests="none",
            chips="girdle, at four o'clock",
            inclusions="two needles near the culet, shown",
            magnification="10×",
        )
        self._receive(commission, 46, spec, "chipped")
        ask = Ask(
            rough_ct=Decimal("2.08"), facets=57, typed=Typed(price=Decimal("70.00")), reason="a small repair"
        )
        self._quote(commission, tariff, 45, {item: ask})
        at = self._at(38)
        cancel.cancel_commission(
            commission,
            reason="The setter replaced the stone.",
            fee=Decimal("25.00"),
            given_back={item.number: parse_weight("2.08 ct")},
            on=self.house.day(at),
            by=self.by,
            at=at,
        )
        commission.refresh_from_db()
        account.pay(commission, amount=commission.balance, on=self.house.day(at), by=self.by, at=self._at(36))

    def _pair_in_work(self, tariff: Tariff) -> None:
        """Two rounds from the shop's own rhodolite for a jeweller; one is at the wheel."""
        wanted = ItemSpec(
            WorkKind.MATCH,
            "pair of rounds for ear studs",
            material_of("garnet-rhodolite"),
            shape="round",
            length_mm=Decimal("6.00"),
            width_mm=Decimal("6.00"),
            tolerance_mm=Decimal("0.10"),
            least_ct=Decimal("0.85"),
            most_ct=Decimal("1.20"),
        )
        commission = self._open(
            "tansy", 24, [wanted], wish="Lively, not too dark.", use="ear studs", wished_in=18
        )
        item = commission.items.get()
        ask = Ask(
            rough_ct=Decimal("9.40"),
            rough_pieces=2,
            gems=2,
            facets=57,
            extras=("pair",),
            material_cost=Decimal("18.00"),
        )
        quote = self._quote(commission, tariff, 23, {item: ask}, week_in=2, queue=1)
        self._accept(quote, 21, "Mirel Tansy", CALLED)
        self._go_ahead(commission, 20, quote)
        group = self.house.lots["G"].groups.filter(left_ct__gte=Decimal("4.7")).order_by("pk").first()
        for nth, days in enumerate((12, 11)):
            stone = pieces.draw_for_item(
                item,
                self.house.lots["G"],
                parse_weight("4.60 ct"),
                group=group,
                by=self.by,
                at=self._at(days),
                plan="round, 6 mm, pair",
                shape="round",
            )
            if nth == 0:
                self._hours(stone, 10, [("preform", 0.5), ("cut_pavilion", 1.2)])
                stones.move_on(stone, Stage.FIRST_CUT, by=self.by, at=self._at(8))

    def _stopped(self, tariff: Tariff) -> None:
        """A client's sapphire crystal: a feather opened under the table, and the client was asked."""
        ivo = self.house.people["ivo"]
        wanted = ItemSpec(
            WorkKind.CUT_CLIENT,
            "one stone, as large as is clean",
            material_of("corundum-sapphire-blue"),
            shape="cushion",
            floor_ct=Decimal("2.60"),
            off_cuts=OffCuts.BACK,
        )
        commission = self._open(
            "ivo", 34, [wanted], wish="For a ring, rather lively than heavy.", use="ring", wished_in=10
        )
        item = commission.items.get()
        spec = PieceSpec(
            stated_to_be="sapphire from an uncle's collection, never heated",
            seen_as="blue crystal, worn, one feather near an end",
            weight=parse_weight("1.92 g"),
            item=item,
            length_mm=Decimal("12.40"),
            width_mm=Decimal("9.10"),
            depth_mm=Decimal("7.90"),
            colour="medium blue, zoned",
            tests="refractometer 1.762–1.770, none for heat",
            inclusions="feather 2 mm at the narrow end, shown",
            chips="worn edges",
            magnification="10×",
            treatment_words="never heated, the client believes",
            declared_value=Decimal("1500.00"),
            declared_currency="EUR",
            declared_words="my uncle paid fifteen hundred",
            loss_consent_percent=Decimal("75"),
            floor_ct=Decimal("2.60"),
        )
        self._receive(commission, 33, spec, "crystal")
        quote = self._quote(
            commission,
            tariff,
            31,
            {item: Ask(rough_ct=Decimal("9.60"), facets=81, floor_ct=Decimal("2.60"))},
            week_in=1,
            queue=2,
        )
        self._accept(quote, 28, str(ivo.name), BY_PAGE)
        self._go_ahead(commission, 27, quote)
        lot = item.intake_pieces.get().lot
        stone = pieces.draw_for_item(
            item,
            lot,
            parse_weight("1.92 g"),
            by=self.by,
            at=self._at(10),
            plan="cushion, about 8 × 7 mm",
            shape="cushion",
        )
        self._hours(stone, 9, [("plan", 0.5), ("saw", 0.2), ("preform", 0.9)])
        stones.record_weight(stone, parse_weight("4.35 ct"), by=self.by, at=self._at(8))
        stones.move_on(stone, Stage.PREFORMED, by=self.by, at=self._at(8, 5))
        shown = photos.keep(self.house.pictures["feather"], by=self.by, at=self._at(4))
        asks.ask_client(
            item,
            why="inclusion",
            photo=shown,
            weight_low_ct=Decimal("1.90"),
            weight_high_ct=Decimal("2.40"),
            words="The feather at the end runs deeper than it looked and reaches under the table. I can take it out: "
            "the stone then ends between 1.90 and 2.40 ct, below the floor we agreed. Or it stays, away from the "
            "middle, seen only with a loupe, and the stone keeps its weight.",
            options=["Take it out, the stone may be smaller", "Leave it, keep the weight", "Call me first"],
            by=self.by,
            at=self._at(4, 10),
        )
        links.make_link(commission, by=self.by, at=self._at(31))
        self._say(commission, Moment.SURPRISE, 4, item)

    def _offered(self, tariff: Tariff) -> None:
        """A quote that waits for its answer."""
        wanted = [
            ItemSpec(
                WorkKind.REPOLISH,
                "table and crown scratched",
                material_of("tourmaline-elbaite"),
                shape="oval",
            ),
            ItemSpec(
                WorkKind.REPOLISH,
                "the same, the smaller one",
                material_of("tourmaline-elbaite"),
                shape="oval",
            ),
        ]
        commission = self._open(
            "brindle", 9, wanted, wish="Two green ovals from an old brooch.", use="brooch"
        )
        first, second = commission.items.order_by("number")
        lines = {
            first: Ask(rough_ct=Decimal("2.41"), facets=57, floor_ct=Decimal("2.25")),
            second: Ask(rough_ct=Decimal("1.76"), facets=57, floor_ct=Decimal("1.60")),
        }
        self._quote(commission, tariff, 6, lines, week_in=5, queue=3)
        links.make_link(commission, by=self.by, at=self._at(6))

    def _asked(self) -> None:
        """An enquiry of yesterday."""
        wanted = ItemSpec(
            WorkKind.CUT_OWN,
            "a lively peridot or something like it",
            None,
            shape="cut_corner_rectangle",
            length_mm=Decimal("8.00"),
            width_mm=Decimal("6.00"),
            tolerance_mm=Decimal("0.20"),
        )
        self._open(
            "quince", 1, [wanted], wish="Yellow green, for a man's ring, by spring.", use="ring", wished_in=90
        )
