"""The main pages against their floor: the same SQL on the bare connection, plus an empty answer of Django's.

The empty answer goes to the same signed-in person through the same middleware, so what it asks of the database
(session, hand, shop) is left out of the bare SQL.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from types import ModuleType

from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.test import Client
from django.test.utils import CaptureQueriesContext, override_settings
from django.urls import path

from workshop.common.models import Hand
from workshop.gems.models import FinishedGem
from workshop.rough.models import RoughLot
from workshop.sales.models import Sale
from workshop.stones.models import Stone

from .measure import Timed, against

#: The issue's own aim: a page costs under three times its floor.
AIM = 3.0


def bare(request: HttpRequest) -> HttpResponse:
    """An empty answer: what Django itself costs."""
    return HttpResponse(b"")


def _bare_urls() -> ModuleType:
    urls = ModuleType("workshop_bare_urls")
    urls.urlpatterns = [path("bare/", bare)]  # type: ignore[attr-defined]
    return urls


BARE = _bare_urls()


def main_pages() -> dict[str, str]:
    """Addresses of the pages people open most, by name."""
    stone = Stone.objects.order_by("pk")[Stone.objects.count() // 2]
    lot = RoughLot.objects.order_by("pk")[0]
    gem = FinishedGem.objects.order_by("pk")[0]
    sale = Sale.objects.order_by("pk")[0]
    return {
        "today": "/",
        "stones, first page": "/stones/",
        "stones on the bench, by weight": "/stones/?sort=weight",
        "one stone": stone.get_absolute_url(),
        "its bench page": f"/stones/bench/{stone.code}/",
        "its account": f"/books/account/{stone.code}/",
        "lots, first page": "/rough/",
        "one lot": lot.get_absolute_url(),
        "gems, first page": "/gems/",
        "one gem": gem.get_absolute_url(),
        "sales, first page": "/sales/",
        "one sale": sale.get_absolute_url(),
        "times": "/stones/times/",
        "stock at cost": "/books/stock/",
        "find a word": "/find/?q=plan+42",
        "materials": "/materials/",
    }


def measure_pages(owner: Hand, rounds: int, say: Callable[[str], None]) -> list[Timed]:
    """Each main page, and the last page of a long list, against its floor."""
    client = Client(SERVER_NAME="localhost")
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    pages = main_pages()
    pages["stones, a page deep in the list"] = _deep(client, "/stones/")
    measured = []
    for name, address in pages.items():
        say(name)
        measured.append(_measure(client, name, address, rounds))
    return measured


def _deep(client: Client, address: str) -> str:
    """The address of a page far down a list, reached by its own links to the next page."""
    start = address
    for _ in range(20):
        found = re.search(r'href="(\?[^"]*after=[^"]*)"', client.get(address).content.decode())
        if found is None:
            break
        address = start + found[1].replace("&amp;", "&")
    return address


def _measure(client: Client, name: str, address: str, rounds: int) -> Timed:
    with CaptureQueriesContext(connection) as caught:
        answer = client.get(address)
    if answer.status_code != 200:
        raise RuntimeError(f"{address} answered {answer.status_code}")
    asked = [query["sql"] for query in caught.captured_queries]
    reads = _without([sql for sql in asked if _reads(sql)], _asked_by_bare(client))

    def floor() -> None:
        with connection.cursor() as cursor:
            for sql in reads:
                cursor.execute(sql)
                cursor.fetchall()
        with override_settings(ROOT_URLCONF=BARE):
            client.get("/bare/")

    return against(
        name,
        lambda: client.get(address),
        floor,
        rounds=rounds,
        queries=len(asked),
        size=len(answer.content),
        aim=AIM,
    )


def _reads(sql: str) -> bool:
    return sql.lstrip("( ").upper().startswith(("SELECT", "WITH"))


def _asked_by_bare(client: Client) -> list[str]:
    with override_settings(ROOT_URLCONF=BARE), CaptureQueriesContext(connection) as caught:
        client.get("/bare/")
    return [query["sql"] for query in caught.captured_queries if _reads(query["sql"])]


def _without(reads: list[str], bare_reads: list[str]) -> list[str]:
    """The page's own reads: each of the bare page's is taken out once, known by its words before WHERE."""
    rest = list(reads)
    for sql in bare_reads:
        start = sql.partition(" WHERE ")[0]
        twin = next((one for one in rest if one.partition(" WHERE ")[0] == start), None)
        if twin is not None:
            rest.remove(twin)
    return rest
