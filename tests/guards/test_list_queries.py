"""No page asks the database more often because the shop has grown: 3 rows or 300, the same questions.

The rooms' own tests look closer at single pages; this one looks at every page of the house that shows more than one row,
so that a new list cannot be forgotten. ``MOST`` is the budget: what one look may ask at all, whatever the shop's size.
"""

import secrets
from datetime import timedelta

import pytest
from django.apps import apps
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.guards.house import pages
from tests.guards.test_doors import DOORS
from workshop.common.models import Hand
from workshop.gems.models import FinishedGem
from workshop.rough.models import SortGroup
from workshop.sales.models import Sale, SaleLine
from workshop.stones.models import BenchTime, DayHours, Stone, Weighing

pytestmark = [pytest.mark.django_db, pytest.mark.xdist_group("guards")]

FEW, MANY = 3, 300
#: Two for the session and the person, one each for the shop and the running clock with its stones (three), then the
#: page's own: one for its rows, one for their number and sums, one for each kind of thing that hangs on a row.
MOST_OF_A_LIST, MOST = 12, 25

#: What is copied, the parents first; a copy belongs to the copy of its parent where that is copied too.
WIDE = [
    "common.Hand", "common.Photo", "common.JournalEntry", "people.Contact", "rough.RoughLot", "rough.LotCost",
    "rough.SortGroup", "rough.Draw", "rough.LotPhoto", "stones.Stone", "stones.Weighing", "stones.StageChange",
    "stones.StoneNote", "stones.StoneStatement", "stones.StonePhoto", "stones.BenchTime", "stones.TimeShare",
    "stones.DayHours", "gems.FinishedGem", "gems.PriceChange", "planning.CutPlan", "papers.Paper",
    "sales.Sale", "sales.SaleLine", "sales.Payment", "commissions.Commission", "commissions.CommissionItem",
    "commissions.ItemStone",
]  # fmt: skip
#: What may hang on one thing, and the pages that tell of it.
ON_ONE = {
    "a stone": (
        ["common.Photo", "common.JournalEntry", "stones.Weighing", "stones.Loss", "stones.StageChange", "stones.StoneNote",
         "stones.StoneExtra", "stones.StoneStatement", "stones.StonePhoto", "stones.BenchTime", "stones.TimeShare"],
        ["stones:stone", "stones:bench", "stones:weigh", "stones:add_time", "stones:time_correct", "books:account",
         "planning:options", "stones:times", "stones:wheel"],
    ),
    "a lot": (
        ["common.Photo", "common.JournalEntry", "rough.LotCost", "rough.SortGroup", "rough.LotLoss", "rough.Draw",
         "rough.LotStatement", "rough.LotPhoto", "rough.LotDocument", "stones.Stone", "stones.Weighing"],
        ["rough:lot", "stones:sort", "stones:draw", "stones:lose", "stones:charge", "stones:correct_lot", "rough:edit", "rough:statement"],
    ),
    "a gem": (
        ["common.Photo", "common.JournalEntry", "stones.StonePhoto", "stones.StoneStatement", "gems.PriceChange",
         "papers.Paper"],
        ["gems:gem", "gems:issue_card", "gems:price", "gems:describe", "gems:photo", "papers:paper", "papers:check"],
    ),
    "a sale": (
        ["common.JournalEntry", "rough.Draw", "stones.Stone", "gems.FinishedGem", "sales.SaleLine", "sales.Payment"],
        ["sales:sale", "sales:pay", "sales:lower", "sales:cancel"],
    ),
    "a contact": (
        ["rough.RoughLot", "rough.Draw", "stones.Stone", "gems.FinishedGem", "sales.Sale", "sales.SaleLine"],
        ["people:contact", "people:edit"],
    ),
}  # fmt: skip
#: Looked at with the whole shop grown: every page of looks, and the forms that offer people, stones or gems.
GROWN = [name for name, kind in DOORS.items() if kind.startswith("look")] + [
    "stones:add_time",
    "sales:sell",
    "rough:receive",
]
#: Not pages of rows: a PDF is drawn, and a file is read.
NO_ROWS = {"papers:pdf", "common:photo", "rough:document_file", "rough:label", "stones:label", "gems:label"}


def anchors_of(house, thing):
    """The things that stay as they are while more is hung on them."""
    stone, gem = (
        Stone.objects.get(code=house.instead["stones"]["code"]),
        FinishedGem.objects.get(code=house.instead["gems"]["code"]),
    )
    return {
        "a stone": [stone],
        "a lot": [stone.lot],
        "a gem": [gem, gem.stone],
        "a sale": [Sale.objects.get(code=house.instead["sales"]["code"])],
        "a contact": [stone.lot.seller],
    }.get(thing, [])


def template_of(model, anchors):
    """The row to copy: one that hangs on what stays as it is."""
    rows = model._default_manager.order_by("pk")
    if model is BenchTime:
        rows = rows.filter(ended_at__isnull=False)
    if model is Hand:
        rows = rows.filter(role="hand")
    for anchor in anchors:
        asked = [field.name for field in model._meta.concrete_fields if field.related_model is type(anchor)]
        near = [{name: anchor} for name in asked]
        near += [{"about": anchor.code}] if hasattr(model, "about") else []
        rows = next((found for one in near if (found := rows.filter(**one)).exists()), rows)
    return rows.first()


def grow(labels, anchors, first, last):
    """Copies number ``first`` to ``last`` of a row of each kind, written straight into the tables."""
    made = {}
    for label in labels:
        model = apps.get_model(label)
        template = template_of(model, anchors)
        assert template is not None, f"the guards' shop has no {label}"
        copies = [
            copied(template, number, {kind: rows[number - first].pk for kind, rows in made.items()})
            for number in range(first, last)
        ]
        made[model] = model._default_manager.bulk_create(copies)


def copied(template, number, parents):
    """A row like the template, belonging to those of ``parents`` that it has a kind of."""
    model, said = type(template), {}
    for field in model._meta.concrete_fields:
        value = getattr(template, field.attname)
        if field.primary_key:
            continue
        if field.is_relation and value is not None and field.related_model in parents:
            value = parents[field.related_model]
        elif field.is_relation and field.unique:
            value = None
        elif field.unique or (model, field.name) == (SortGroup, "name"):
            value = another(field, value, number)
        said[field.attname] = value
    if model is Weighing:
        said["order"] = 1000 + number
    elif model is DayHours:
        said["day"] -= timedelta(days=number)
    elif model is SaleLine and FinishedGem not in parents:
        said["stands"] = False
    return model(**said)


#: The lists proper: rows with filters, sums and pages.
LISTS = {
    "common:hands", "common:journal", "people:contacts", "materials:materials", "papers:papers", "rough:lots",
    "stones:stones", "gems:gems", "planning:plans", "sales:sales",
}  # fmt: skip
#: What a page is asked where it says nothing unasked.
QUESTION = {"books:find": "?q=tourmaline"}


#: A commission tells of its quote, goods, account, link, photographs and messages on one page; today's tells of stones by
#: stage, what waits, the hours of the week, and of each promise with its next step (counted in `books/test_today.py`),
#: and of what was learned later.
RICH = {"commissions:commission": 34, "books:today": 44}


def most_of(name):
    return MOST_OF_A_LIST if name in LISTS else RICH.get(name, MOST)


def another(field, value, number):
    longest = field.max_length or 64
    if longest >= 20 and len(str(value)) > 20:
        return secrets.token_hex(longest // 2)[:longest]
    head = str(value).split("-")[0]
    return f"{head}-{9000 + number}"[:longest] if "-" in str(value) else f"{value} {number}"[:longest]


def asked(house, names):
    """{page: how many questions one look asks}, each looked at once before, so that what is kept in memory is there."""
    found = {}
    for name in names:
        address, client = house.address(name) + QUESTION.get(name, ""), house.client("owner")
        assert client.get(address).status_code == 200, name
        with CaptureQueriesContext(connection) as queries:
            client.get(address)
        found[name] = [query["sql"] for query in queries]
    return found


def same_for_few_and_many(house, labels, names, thing=""):
    anchors = anchors_of(house, thing)
    grow(labels, anchors, 1, FEW)
    few = asked(house, names)
    grow(labels, anchors, FEW, MANY)
    many = asked(house, names)
    told = [
        f"{name}: {len(few[name])} questions of {FEW} rows, {len(many[name])} of {MANY}; the last: {many[name][-1][:200]}"
        for name in names
        if len(few[name]) != len(many[name])
    ]
    told += [f"{name}: {len(many[name])} questions" for name in names if len(many[name]) > most_of(name)]
    assert not told, "\n".join(told)


def lists():
    return [name for name in GROWN if name not in NO_ROWS]


def test_every_list_of_a_shop_that_has_grown(house):
    """Lists, today's page, the books: everything one looks at without having chosen one thing."""
    assert set(GROWN) <= set(pages())
    assert len(lists()) > 20
    assert set(lists()) > LISTS
    same_for_few_and_many(house, WIDE, lists())


@pytest.mark.parametrize("thing", ON_ONE)
def test_every_page_of_one_thing_on_which_much_hangs(house, thing):
    labels, names = ON_ONE[thing]
    same_for_few_and_many(house, labels, names, thing)


def test_the_guard_sees_a_page_that_asks_for_each_row(house, monkeypatch):
    """Planted: the list of lots without the join that brings their sellers along."""
    from django.db.models import QuerySet

    monkeypatch.setattr(QuerySet, "select_related", lambda self, *names: self)
    with pytest.raises(AssertionError, match="rough:lots: "):
        same_for_few_and_many(house, ["people.Contact", "rough.RoughLot"], ["rough:lots"])
