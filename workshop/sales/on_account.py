"""A sale on a commission: the sum stands on the commission's account, and the sale itself owes nothing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from workshop.commissions.actions import account, delivery
from workshop.commissions.handing_over import accepted_line
from workshop.commissions.models import ChargeKind, Commission, CommissionItem, ItemStone
from workshop.commissions.quoting import price_for
from workshop.common.errors import DeedRefused, PleaseConfirm
from workshop.common.models import Hand
from workshop.common.say import money
from workshop.gems.models import FinishedGem
from workshop.people.models import Contact
from workshop.stones.models import Stone

from .models import Sale, SaleLine

ZERO = Decimal(0)


def check_terms(
    commission: Commission, *, buyer: Contact, currency: str, sold_on: date, paid: Decimal | bool
) -> Commission:
    """The commission as it stands, if a sale to that buyer on that day may go on its account."""
    commission = Commission.objects.select_related("client").get(pk=commission.pk)
    if commission.is_closed:
        raise DeedRefused(f"{commission.code} is {commission.state_word}; nothing more is sold for it.")
    if commission.client_id != buyer.pk:
        raise DeedRefused(
            f"{commission.code} is of {commission.client}; nobody else buys on it.", field="buyer"
        )
    if commission.currency != currency:
        raise DeedRefused(
            f"{commission.code} is kept in {commission.currency}; a sale is in {currency}. Sell it apart."
        )
    if paid:
        raise DeedRefused(
            f"The sum goes on the account of {commission.code}; what comes is booked there.", field="paid"
        )
    if sold_on < commission.asked_on:
        raise DeedRefused(f"{commission.code} was asked for on {commission.asked_on}.", field="sold_on")
    return commission


@dataclass(frozen=True)
class Agreed:
    """What the accepted version comes to for a gem, to begin the sale with."""

    price: Decimal
    tax_percent: Decimal
    tax_included: bool
    words: str


def agreed_for(commission: Commission, gem: FinishedGem) -> Agreed | None:
    """The price of a gem by the accepted version and the weight it came to; None where none was accepted for it."""
    try:
        line = accepted_line(_item_of(commission, gem))
    except DeedRefused:
        return None
    if line is None:
        return None
    stone, quote = gem.stone, line.quote
    price = price_for(line, gem.weight_ct, stone.bench_seconds + stone.off_bench_seconds)
    span = f"{money(line.price_low, quote.currency)} to {money(line.price_high, quote.currency)}"
    return Agreed(price, quote.tax_percent, quote.tax_included, f"{span} in version {quote.version}")


def items_of(commission: Commission, gems: Iterable[FinishedGem], *, sure: bool) -> dict[int, CommissionItem]:
    """The piece of the commission that each gem fulfils, by the gem's key; refused by name where it fulfils none."""
    found = {gem.pk: _item_of(commission, gem) for gem in gems}
    for item in found.values():
        _ask_about_work(commission, item, sure=sure)
    return found


def _item_of(commission: Commission, gem: FinishedGem) -> CommissionItem:
    line: list[Stone] = [gem.stone]
    while line[-1].parent is not None:
        line.append(line[-1].parent)
    link = (
        ItemStone.objects.filter(stone__in=line, until__isnull=True, item__commission=commission)
        .select_related("item__commission")
        .first()
    )
    if link is None:
        raise DeedRefused(
            f"{gem.code} fulfils no piece of {commission.code}; link {gem.stone.code} to its piece first.",
            field="gem",
        )
    if not link.item.is_open:
        raise DeedRefused(f"{link.item} is {link.item.get_outcome_display()} already.", field="gem")
    return link.item


def _ask_about_work(commission: Commission, item: CommissionItem, *, sure: bool) -> None:
    charged = [row.gross for row in item.charges.filter(kind=ChargeKind.WORK, taken_back_by__isnull=True)]
    if charged and not sure:
        raise PleaseConfirm(
            f"{money(sum(charged, ZERO), commission.currency)} for work on piece {item.number} stand on the account "
            "already. Is this price for the stone on top of it?",
            field="price",
        )


def put(
    sale: Sale, lines: Sequence[SaleLine], items: dict[int, CommissionItem], *, by: Hand | None, at: datetime
) -> None:
    """Charge each gem by itself: its net, tax and gross are those of its line, to the cent."""
    for line in lines:
        _charge(sale, line, items[line.gem_id], on=sale.sold_on, by=by, at=at)


def _charge(
    sale: Sale, line: SaleLine, item: CommissionItem, *, on: date, by: Hand | None, at: datetime
) -> None:
    if not line.price:
        return
    # Rounded from the side it was typed on, as the line was.
    typed = {"gross" if sale.tax_included else "net": line.price}
    assert sale.commission is not None
    line.charge = account.charge(
        sale.commission, kind=ChargeKind.STONE, words=_words(line), tax_percent=sale.tax_percent, on=on,
        item=item, by=by, at=at, **typed,
    )  # fmt: skip
    line.save(update_fields=["charge"])


def _words(line: SaleLine) -> str:
    gem = line.gem
    what = " ".join(filter(None, [gem.get_shape_display(), str(gem.stone.material or "")]))
    return f"{gem.code}, {what}, {gem.weight_ct} ct ({line.sale.code})"[:200]


def put_anew(line: SaleLine, *, reason: str, on: date, by: Hand | None, at: datetime) -> None:
    """A price was lowered: the old charge is taken back and the new one stands in its place."""
    old = line.charge
    if old is None:
        return
    account.take_back_charge(old, reason=reason, by=by, at=at, with_its_sale=True)
    line.charge = None
    line.save(update_fields=["charge"])
    if line.price:
        _refuse_closed(line.sale)
        assert old.item is not None
        _charge(line.sale, line, old.item, on=on, by=by, at=at)


def _refuse_closed(sale: Sale) -> None:
    assert sale.commission is not None
    if sale.commission.is_closed:
        raise DeedRefused(
            f"{sale.commission.code} is {sale.commission.state_word}; give the difference as a credit there."
        )


def take_off(sale: Sale, *, reason: str, on: date, by: Hand | None, at: datetime) -> None:
    """A sale was taken back: so are its charges, and a piece that was delivered with it is open again."""
    for line in sale.lines.select_related("charge__item", "gem"):
        if line.charge is None:
            continue
        account.take_back_charge(line.charge, reason=reason, by=by, at=at, with_its_sale=True)
        if line.charge.item is not None:
            delivery.came_back(line.charge.item, reason=f"{sale.code}: {reason}", by=by, at=at)
