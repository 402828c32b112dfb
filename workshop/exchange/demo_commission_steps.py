"""The steps the demo's commissions share: opening, taking in, quoting, working, telling."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from workshop.commissions.actions import (
    answers,
    changes,
    intake,
    intake_papers,
    messages,
    pieces,
    quotes,
    tariffs,
)
from workshop.commissions.actions import commissions as deeds
from workshop.commissions.actions.commissions import ItemSpec
from workshop.commissions.actions.intake import PieceSpec
from workshop.commissions.asks import Ask
from workshop.commissions.messages import wording
from workshop.commissions.models import Commission, CommissionItem, Quote, Tariff
from workshop.commissions.shown import agreed_wording
from workshop.common import photos
from workshop.gems import actions as gems
from workshop.gems.models import FinishedGem
from workshop.handbook.tariffs import Rate, RateKind
from workshop.handbook.units import parse_weight
from workshop.stones import actions as stones
from workshop.stones.models import Stage, Stone

from .demo_house import House, material_of

TERMS = (
    "No fee covers the stone itself. I stop and ask before I go below the floor. The deposit is used up by the first "
    "hours. What is not fetched within six months is kept at your cost. Our own terms: have yours checked against "
    "your local law."
)
CALLED, BY_PAGE = "told to the cutter", "client's page"


class CommissionSteps:
    """Does the deeds of a commission in a house, each at its day before the end of the demo's year."""

    def __init__(self, house: House) -> None:
        self.house = house
        self.by = house.owner

    def _tariff(self) -> Tariff:
        rates = [
            Rate(RateKind.BASE, amount=Decimal("160.00"), to_ct=Decimal("2"), step_amount=Decimal("40.00")),
            Rate(RateKind.SPECIES, species="corundum", factor=Decimal("1.5")),
            Rate(RateKind.EXTRA, extra="trim", amount=Decimal("25.00")),
            Rate(RateKind.EXTRA, extra="pair", amount=Decimal("60.00")),
            Rate(RateKind.EXTRA, extra="rush", percent=Decimal("30")),
            Rate(RateKind.EXTRA, extra="post", amount=Decimal("28.00")),
            Rate(RateKind.EXTRA, extra="inspection", amount=Decimal("25.00")),
        ]
        at = self._at(120)
        facts = tariffs.TariffFacts(
            name="Cutting for clients",
            from_on=self.house.day(at),
            currency="EUR",
            tax_percent=Decimal(23),
            terms=TERMS,
        )
        return tariffs.add_tariff(facts, rates, by=self.by, at=at)

    def _open(
        self,
        client: str,
        days: int,
        items: Sequence[ItemSpec],
        *,
        wish: str,
        use: str,
        wished_in: int | None = None,
    ) -> Commission:
        at = self._at(days)
        wished_by = self.house.day(self.house.now + timedelta(days=wished_in)) if wished_in else None
        return deeds.open_commission(
            self.house.people[client],
            asked_on=self.house.day(at),
            items=items,
            wish=wish,
            use=use,
            wished_by=wished_by,
            by=self.by,
            at=at,
        )

    def _aquamarine(self, item: CommissionItem) -> PieceSpec:
        return PieceSpec(
            stated_to_be="aquamarine, her grandmother's",
            seen_as="light greenish blue cut stone, facet edges worn",
            weight=parse_weight("4.12 ct"),
            item=item,
            length_mm=Decimal("10.91"),
            width_mm=Decimal("9.20"),
            depth_mm=Decimal("6.05"),
            outline="oval",
            colour="light greenish blue",
            tests="refractometer 1.575–1.581",
            inclusions="clean to the loupe",
            chips="worn edges, one scratch across the table",
            magnification="10×",
            told_material=material_of("beryl-aquamarine"),
            treatment_words="nothing known",
            declared_value=Decimal("900.00"),
            declared_currency="EUR",
            declared_words="the insurer's figure, nine hundred",
            loss_consent_percent=Decimal("25"),
            floor_ct=Decimal("3.00"),
        )

    def _receive(self, commission: Commission, days: int, spec: PieceSpec, picture: str) -> None:
        at = self._at(days)
        taken = intake.take_in(
            commission,
            pieces=[spec],
            handed_by=commission.client.name,
            how="in person",
            received_at=at,
            insured_by="the client",
            uncollected="Kept six months, then at the client's cost.",
            by=self.by,
            at=at,
        )
        shown = photos.keep(self.house.pictures[picture], by=self.by, at=at)
        for piece in taken.pieces.all():
            intake.add_intake_photo(piece, shown, view="front", by=self.by, at=at)
        intake_papers.issue_receipt(taken, by=self.by, at=at)
        intake_papers.sign_intake(taken, name=commission.client.name, by=self.by, at=at)

    def _take_in(
        self,
        commission: Commission,
        item: CommissionItem,
        days: int,
        spec: PieceSpec,
        weight: str,
        shape: str,
    ) -> Stone:
        self._receive(commission, days, spec, "tired")
        lot = item.intake_pieces.get().lot
        return pieces.draw_for_item(
            item, lot, parse_weight(weight), by=self.by, at=self._at(days, 30), shape=shape
        )

    def _quote(
        self,
        commission: Commission,
        tariff: Tariff,
        days: int,
        lines: dict[CommissionItem, Ask],
        *,
        week_in: int | None = None,
        queue: int | None = None,
    ) -> Quote:
        at = self._at(days)
        quote = quotes.draft_quote(commission, tariff=tariff, by=self.by, at=at)
        for item, ask in lines.items():
            quotes.set_line(quote, item, ask, by=self.by, at=at)
        quote.refresh_from_db()
        said: dict[str, Any] = {"valid_until": self.house.day(at + timedelta(days=14))}
        if week_in is not None:
            said |= {"expected_week": self._monday(-7 * week_in), "queue_place": queue}
        quotes.describe_quote(quote, by=self.by, at=at, **said)
        quote.refresh_from_db()
        return answers.send_quote(quote, by=self.by, at=self._at(days, 20))

    def _accept(self, quote: Quote, days: int, name: str, answered_from: str) -> None:
        by = None if answered_from == BY_PAGE else self.by
        answers.accept_quote(
            quote,
            name=name,
            wording=agreed_wording(quote),
            answered_from=answered_from,
            by=by,
            at=self._at(days),
        )

    def _go_ahead(self, commission: Commission, days: int, quote: Quote) -> None:
        at = self._at(days)
        changes.give_go_ahead(
            commission, deposit=quote.deposit, on=self.house.day(at), by=self.by, at=at, sure=True
        )

    def _say(
        self, commission: Commission, moment: str, days: int, item: CommissionItem | None = None
    ) -> None:
        """A message given to the client by telephone: the demo sends no mail."""
        commission.refresh_from_db()
        subject, body = wording(commission, moment, item)
        written = messages.write_message(
            commission,
            moment=moment,
            subject=subject,
            body=body,
            to=commission.client.email,
            item=item,
            by=self.by,
            at=self._at(days, 40),
        )
        messages.mark_copied(written, by=self.by, at=self._at(days, 45))

    def _cut(self, stone: Stone, days: int, weight: str, work: Sequence[tuple[str, float]]) -> None:
        self._hours(stone, days, work)
        for nth, stage in enumerate(Stage):
            if stage not in {Stage.SELECTED, Stage.SAWN, Stage.FINISHED}:
                stones.move_on(stone, stage, by=self.by, at=self._at(days - 1, nth))
        stones.record_weight(stone, parse_weight(weight), by=self.by, at=self._at(days - 1, 20))

    def _finish(
        self, stone: Stone, days: int, weight: str, size: tuple[str, str, str], shape: str, colour: str
    ) -> FinishedGem:
        length, width, depth = (Decimal(side) for side in size)
        measured = gems.Measured(
            weight=parse_weight(weight),
            length_mm=length,
            width_mm=width,
            depth_mm=depth,
            shape=shape,
            colour=colour,
            colour_light="north daylight",
            cut="brilliant",
            facets=73,
            clarity="clean to the loupe (10×)",
        )
        return gems.finish_gem(stone, measured, by=self.by, at=self._at(days), sure=True)

    def _hours(self, stone: Stone, days: int, work: Sequence[tuple[str, float]]) -> None:
        """Before the bench opens, one stretch after the other."""
        start = self._at(days) - timedelta(hours=5)
        for activity, length in work:
            end = start + timedelta(seconds=int(length * 3600))
            stones.add_time(by=self.by, at=end, start=start, end=end, activity=activity, stones=[stone])
            start = end

    def _at(self, days: int, minutes: int = 0) -> datetime:
        return self.house.morning(days) + timedelta(minutes=minutes)

    def _monday(self, days: int) -> date:
        day = self.house.day(self.house.now) - timedelta(days=days)
        return day - timedelta(days=day.weekday())
