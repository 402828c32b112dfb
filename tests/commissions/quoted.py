"""Tariffs, drafts and sent quotes for the tests of quoting."""

from datetime import date, timedelta
from decimal import Decimal

from tests import makers
from workshop.commissions.actions import quotes
from workshop.commissions.asks import Ask, Typed
from workshop.commissions.models import Tariff, TariffLine
from workshop.common import numbers
from workshop.common.tx import write_tx

D = Decimal
#: The page the check codes of papers lead to.
BASE_URL = "https://cards.example"
LATER = makers.NOON + timedelta(days=1)


def make_tariff(lines=None, **said):
    """Our own invention: 90 for a gem, 60 a carat, least 150, trimming 25, rush 30 %; VAT 20 % held."""
    lines = (
        [
            {"kind": "piece", "amount": D(90)},
            {"kind": "carat", "amount": D(60)},
            {"kind": "minimum", "amount": D(150)},
            {"kind": "extra", "extra": "trim", "amount": D(25)},
            {"kind": "extra", "extra": "rush", "percent": D(30)},
        ]
        if lines is None
        else lines
    )
    with write_tx():
        tariff = Tariff.objects.create(
            code=numbers.take("TF"),
            **{
                "name": "Cutting 2026",
                "from_on": date(2026, 1, 1),
                "currency": "EUR",
                "tax_percent": D(20),
                "deposit_percent": D(50),
                "terms": "Half before the work begins.",
                "notes": "Never below 150, the lamp costs 12 a month.",
                **said,
            },
        )
        for line in lines:
            TariffLine.objects.create(tariff=tariff, **line)
    return tariff


def an_ask(**said):
    """A piece of 10 ct to cut with 57 facets, at 45.00 an hour and 12.00 of wear; nothing typed over."""
    typed = {name: said.pop(name) for name in list(said) if name in Typed.__dataclass_fields__}
    given = {"rough_ct": D(10), "facets": 57, "hourly_rate": D(45), "material_cost": D(12), **said}
    if typed:
        given.setdefault("reason", "seen under the loupe")
    return Ask(typed=Typed(**typed), **given)


def make_draft(commission=None, tariff=None, asks=None, by=None, at=makers.NOON, **said):
    """A draft with a line for each piece."""
    commission = commission or makers.make_commission(by=by)
    quote = quotes.draft_quote(commission, tariff=tariff or make_tariff(), by=by, at=at, **said)
    for item in commission.items.all():
        if item.is_open:
            quotes.set_line(quote, item, (asks or {}).get(item.number) or an_ask(), by=by, at=at)
    quote.refresh_from_db()
    return quote


def make_sent(commission=None, at=makers.NOON, by=None, **said):
    """A sent version."""
    return quotes.send_quote(make_draft(commission, at=at, by=by, **said), by=by, at=at, base_url=BASE_URL)


def accept(quote, at=LATER, **said):
    """The client says yes."""
    return quotes.accept_quote(
        quote,
        **{
            "name": "Mara Quill", "wording": "I accept.", "answered_from": "client's page", "by": None, "at": at,
            **said,
        },
    )  # fmt: skip
