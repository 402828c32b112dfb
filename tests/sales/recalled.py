"""A parcel of sapphire of which something is learned later, after acceptance scenario 8 of the trade notes."""

from datetime import date, timedelta
from decimal import Decimal

from django.db import connection

from tests.commissions.quoted import an_ask, make_sent
from tests.makers import (
    DAY,
    NOON,
    make_commission,
    make_contact,
    make_gem,
    make_item_spec,
    make_lot,
    make_stone,
)
from workshop.commissions.actions.pieces import link_stone
from workshop.gems.card_actions import issue_card
from workshop.materials.models import Material
from workshop.rough import actions as rough
from workshop.sales import actions as sales
from workshop.stones import actions as stones

D = Decimal
#: When the laboratory's report came.
LEARNED = NOON + timedelta(days=18)
LEARNED_ON = date(2026, 3, 20)
BASE_URL = "https://cards.example"


def sapphire():
    return Material.objects.get(key="corundum-sapphire-blue")


def state_lot(lot, question, evidence=1, by=None, at=NOON, **said):
    said = {"said_by": "Imaginary Stones", "said_on": DAY, "evidence": evidence, "question": question, **said}
    return rough.state_about_lot(lot, said, by=by, at=at)


def state_stone(stone, question, evidence=5, by=None, at=LEARNED, **said):
    said = {
        "said_by": "a laboratory",
        "said_on": LEARNED_ON,
        "evidence": evidence,
        "question": question,
        **said,
    }
    return stones.state_about_stone(stone, {"how": "report 4711", **said}, by=by, at=at)


def heated(stone, by, **said):
    return state_stone(stone, "treatment", by=by, **{"treated": "treated", "treatments": ["heat"], **said})


class Parcel:
    """A lot of sapphire sold to us with no treatment stated; one gem of it sold with its card, one in the safe, one
    stone on the bench that is quoted to another client at 640.00."""

    def __init__(self, owner):
        self.owner = owner
        self.lot = make_lot("60 ct", by=owner, sold_as="blue sapphire", material=sapphire())
        state_lot(self.lot, "nature", 2, by=owner, nature="mined", how="invoice 17")
        state_lot(self.lot, "species", 3, by=owner, material=sapphire(), how="RI 1.762–1.770, SG 4.00")
        state_lot(
            self.lot, "treatment", by=owner, treated="not_tested", words="no treatment stated by seller"
        )
        self.stone, self.sister, self.bench = (
            make_stone(weight, lot=self.lot, by=owner) for weight in ("6 ct", "7 ct", "8 ct")
        )
        sides = {"length_mm": D("7.40"), "width_mm": D("6.10"), "depth_mm": D("4.30"), "colour": "blue"}
        self.gem = make_gem("1.87 ct", stone=self.stone, by=owner, **sides)
        self.card = issue_card(self.gem, by=owner, at=NOON, base_url=BASE_URL)
        self.buyer = make_contact("Ana Buyer", email="ana@example.org", is_buyer=True)
        self.sale = sales.sell(
            [sales.Asked(self.gem, D("1196.80"))], buyer=self.buyer, sold_on=DAY, paid_in_full=True, by=owner, at=NOON
        )  # fmt: skip
        self.other = make_gem("2.10 ct", stone=self.sister, by=owner, **sides)
        self.client = make_contact("Ilse Client", email="ilse@example.org", is_client=True)
        wanted = make_item_spec(work="cut_own", wanted="a blue oval")
        self.commission = make_commission(self.client, [wanted], by=owner)
        link_stone(self.commission.items.get(), self.bench, by=owner, at=NOON)
        ask = an_ask(price_low=D(640), price=D(640), price_high=D(640))
        self.quote = make_sent(self.commission, by=owner, asks={1: ask})


def rows(but=()):
    """Every row of every table as it lies there, but for what a recall itself writes."""
    apart = ("sales_recall", "common_journal", "common_series", "django_", "axes_", *but)
    found = {}
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            if not table.startswith(apart):
                cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")
                found[table] = sorted(map(repr, cursor.fetchall()))
    return found
