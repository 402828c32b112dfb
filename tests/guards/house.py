"""A small shop with one of everything, so that every address of the house leads somewhere, and how to ask it."""

import hashlib
import os
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from django.db import connection, transaction
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from tests.commissions import intakes
from tests.commissions.agreed import make_agreed, with_stone
from tests.commissions.deliveries import bring_spinel, finish_spinel, make_spinel_commission
from tests.commissions.quoted import make_draft, make_sent
from tests.commissions.told import add_paper, add_picture, make_ask, make_open, make_quote
from tests.makers import (
    DAY,
    NOON,
    make_answered_gem,
    make_clients_stone,
    make_commission,
    make_contact,
    make_hand,
    make_item,
    make_item_spec,
    make_lot,
    make_owner,
    make_reader,
    make_shop,
    make_stone,
)
from tests.planning.conftest import ASKED, MONEY
from tests.rough.pictures import jpeg
from tests.sales.recalled import LEARNED, Parcel, heated
from workshop.commissions import ical
from workshop.commissions.actions import account, changes, delivery, invoices, messages, pieces, tariffs
from workshop.commissions.actions import hours as bench_hours
from workshop.commissions.actions import links as client_links
from workshop.commissions.models import Message
from workshop.common import photos
from workshop.common.actions import owner_token
from workshop.gems import actions as gems
from workshop.gems.card_actions import issue_card
from workshop.gems.certificate_actions import issue_certificate, issue_suite_certificate
from workshop.gems.papers import PHOTO
from workshop.gems.suite_actions import make_suite
from workshop.handbook.tariffs import Rate, RateKind
from workshop.handbook.units import parse_weight
from workshop.materials.models import Material
from workshop.papers.invoicing import Terms
from workshop.rough import actions as rough
from workshop.rough import documents
from workshop.sales import actions as sales
from workshop.sales.actions import holds, memos, recalls
from workshop.stones import actions as stones

#: Tables that a page may touch: the session's own, and what sign-in counts.
APART = ("django_session", "axes_")
DRAFT_PAGES = ("quote", "quote_terms", "quote_send", "quote_drop", "quote_line", "quote_line_out")
SENT_PAGES = ("quote_withdraw", "quote_answer", "quote_pdf")
DELIVERY_PAGES = ("deliver", "delivery", "arrived", "close_account", "learned")
MESSAGE_PAGES = ("message", "message_send", "message_copied", "message_drop")
INTAKE_PAGES = (
    "take_in", "intake", "intake_piece", "intake_receipt", "intake_pdf", "intake_report", "intake_after", "intake_sign",
    "intake_by_code",
)  # fmt: skip
TARIFF_PAGES = ("tariff", "edit_tariff", "end_tariff", "delete_tariff")


@dataclass
class House:
    """The shop's people, and what stands in its addresses: {name of a part of an address: value}."""

    owner: Any
    hand: Any
    reader: Any
    parts: dict[str, Any] = field(default_factory=dict)
    #: What an address takes instead, by the name of its page.
    instead: dict[str, dict[str, Any]] = field(default_factory=dict)
    clients: dict[str, Client] = field(default_factory=dict)

    def client(self, role: str) -> Client:
        """A browser signed in as that role; a stranger's is fresh each time."""
        return Client(raise_request_exception=False) if role == "stranger" else self.clients[role]

    def sign_in(self) -> None:
        """Once, before any test: a session begun in a test would end with it."""
        for role in ("owner", "hand", "reader"):
            client = self.clients[role] = Client(raise_request_exception=False)
            client.force_login(getattr(self, role), backend="django.contrib.auth.backends.ModelBackend")
            # The first page writes the hour of signing in to the session.
            client.get("/")

    def address(self, name: str) -> str:
        """The address of a page, with this shop's rows in it."""
        wanted = names_of_parts()[name]
        room = name.partition(":")[0]
        known = {**self.parts, **self.instead.get(room, {}), **self.instead.get(name, {})}
        return reverse(name, kwargs={part: known[part] for part in wanted})


def pages() -> list[str]:
    """The names of all pages in the address book, Django's own admin left out."""
    return [name for name in names_of_parts() if not name.startswith("admin:")]


def names_of_parts() -> dict[str, list[str]]:
    """{name of a page: the parts its address takes}, read from the address book itself."""
    found: dict[str, list[str]] = {}

    def walk(resolver: URLResolver, room: str) -> None:
        for one in resolver.url_patterns:
            if isinstance(one, URLResolver):
                walk(one, one.namespace or room)
            elif isinstance(one, URLPattern):
                name = f"{room}:{one.name}" if room else str(one.name or one.pattern)
                found[name] = list(one.pattern.converters)

    walk(get_resolver(), "")
    return found


def fingerprint() -> str:
    """A hash over every row of every table, but for sessions and counted sign-ins."""
    told = hashlib.sha256()
    with connection.cursor() as cursor:
        for table in sorted(connection.introspection.table_names(cursor)):
            if table.startswith(APART):
                continue
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")
            told.update(f"{table}{sorted(map(repr, cursor.fetchall()))}".encode())
    return told.hexdigest()


def rows_touched() -> int | None:
    """How many rows SQLite wrote so far, also those taken back: no more of them, and nothing changed. Else unknown.

    A hash over every table takes a hundred times as long, and most of what is sent is refused before anything is written.
    """
    return connection.connection.total_changes if connection.vendor == "sqlite" else None


@contextmanager
def undone() -> Any:
    """What happens inside never was."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def build() -> House:
    """One of everything, through the deeds."""
    make_shop(
        zone="Europe/Lisbon",
        base_url="https://cards.example",
        tax_percent=Decimal(20),
        address="5 Slate Lane",
    )
    house = House(make_owner(), make_hand(), make_reader())
    owner, hand = house.owner, house.hand
    # As `common.actions` lets an owner in.
    owner.is_staff = owner.is_superuser = True
    owner.save()
    picture = photos.keep(photos.prepare(jpeg()), by=owner, at=NOON)
    contact, client = (
        make_contact(is_supplier=True, is_buyer=True),
        make_contact("Ada Invented", is_client=True),
    )
    lot = _lot(owner, contact, picture)
    stone = _worked_stone(owner, hand, lot, picture)
    clients = make_stone(
        "3 ct", lot=make_lot("3 ct", ownership="client", owner=client, came="left"), by=owner
    )
    ready = make_stone("8 ct", lot=lot, group=lot.groups.get(name="A"), by=owner)
    stones.move_on(ready, "off_dop", by=owner, at=NOON)
    gem, sold = make_answered_gem(by=owner), make_answered_gem(by=owner, weight="1.5 ct")
    shown = stones.add_stone_photo(gem.stone, picture, caption="finished", by=owner, at=NOON)
    gems.describe_gem(gem, {"public_photo": shown}, by=owner, at=NOON)
    gems.set_price(gem, Decimal("480"), by=owner, at=NOON)
    paper = issue_card(gem, by=owner, at=NOON, picture=PHOTO)
    sale = sales.sell(
        [sales.Asked(sold, Decimal("310"))], buyer=contact, sold_on=DAY, paid=Decimal(100), by=owner, at=NOON
    )
    time, weighing = stone.time_shares.first().time, stone.weighings.last()
    house.sign_in()
    house.parts = {
        "token": owner_token(),
        "sha": picture.sha256,
        "key": Material.objects.get(key="tourmaline-elbaite").key,
        "number": paper.number,
        "check_code": paper.check_code,
    }
    house.instead = {
        "common": {"pk": hand.pk, "size": "thumb"},
        "people": {"code": contact.code},
        "papers": {"size": "a6"},
        "rough": {"code": lot.code, "pk": lot.documents.get().pk},
        "stones": {"code": stone.code, "pk": time.pk},
        "gems": {"code": gem.code},
        "sales": {"code": sale.code},
        "books": {"code": stone.code},
        "planning": {"code": stone.code, "name": "weight"},
        "planning:plan": {"code": _plan(house, stone)},
        "planning:lot_options": {"code": lot.code},
        "planning:choose_in_lot": {"code": lot.code},
        "gems:finish": {"code": ready.code},
        "sales:sell": {"code": gem.code},
        **_together(owner),
        **_lent(owner, contact),
        **_prices_and_weeks(owner),
        **_enquired(owner, picture),
        **_handed_over(owner),
        **_taken_in(),
        **_quoted(owner),
        **_changed(owner),
        **_talked_with(owner),
        **_recalled(owner),
        "stones:buy": {"code": clients.code},
        "stones:correct_weight": {"pk": weighing.pk},
        "stones:take_back": {"pk": stone.stage_changes.last().pk},
        **{
            f"stones:{deed}": {"code": lot.code} for deed in ("sort", "charge", "lose", "draw", "correct_lot")
        },
    }
    return house


def _together(owner: Any) -> dict[str, dict[str, Any]]:
    """A pair with its certificate, and a gem with its own: {page: the parts of its address}."""
    pair = make_suite(
        [make_answered_gem(by=owner), make_answered_gem(by=owner)],
        name="Twins",
        kind="pair",
        by=owner,
        at=NOON,
    )
    of_pair = issue_suite_certificate(pair, by=owner, at=NOON)
    of_gem = issue_certificate(make_answered_gem(by=owner), by=owner, at=NOON)
    pages = ("suite", "change_suite", "replace_member", "break_up_suite", "issue_suite_paper")
    return {
        **{f"gems:{name}": {"code": pair.code} for name in pages},
        "gems:revise_certificate": {"number": of_gem.number},
        "gems:revise_suite_paper": {"number": of_pair.number},
    }


def _lent(owner: Any, contact: Any) -> dict[str, dict[str, Any]]:
    """A memo that is out, one that waits for its signature, and a hold: {page: the parts of its address}."""
    out, waits = (
        memos.prepare_memo(
            [memos.Lent(make_answered_gem(by=owner), Decimal("87.65"))], party=contact, return_by=DAY,
            loss_words="The receiver bears loss.", by=owner, at=NOON,
        )
        for _ in range(2)
    )  # fmt: skip
    memos.send_memo(out, signed_by="I. Penned", on=DAY, by=owner, at=NOON)
    held = holds.hold_gem(make_answered_gem(by=owner), contact, until=DAY, by=owner, at=NOON)
    return {
        **{f"sales:{name}": {"code": out.code} for name in ("memo", "memo_extend", "memo_settle")},
        **{f"sales:{name}": {"code": waits.code} for name in ("memo_send", "memo_drop")},
        "sales:memo_back": {"pk": out.lines.get().pk},
        "sales:hold": {"code": held.gem.code},
        "sales:lift": {"pk": held.pk},
    }


def _prices_and_weeks(owner: Any) -> dict[str, dict[str, Any]]:
    """A tariff, the hours of a week and a calendar's address: {page: the parts of its address}."""
    facts = tariffs.TariffFacts("Bench prices", DAY, "EUR")
    tariff = tariffs.add_tariff(facts, [Rate(RateKind.PIECE, amount=Decimal("87.65"))], by=owner, at=NOON)
    said = bench_hours.say_hours(DAY, Decimal(24), by=owner, at=NOON)
    link = bench_hours.make_calendar_link(owner, at=NOON)
    return {
        **{f"commissions:{name}": {"code": tariff.code} for name in TARIFF_PAGES},
        "commissions:strike_hours": {"pk": said.pk},
        "commissions:calendar_feed": {"key": ical.token_of(link)},
    }


def _enquired(owner: Any, picture: Any) -> dict[str, dict[str, Any]]:
    """An enquiry for two pieces, a stone for the first, a photograph kept: {page: the parts of its address}."""
    asked = make_commission(
        make_contact("Ilse Penned", is_client=True),
        [make_item_spec(), make_item_spec(work="cut_own")],
        by=owner,
    )
    stone = make_clients_stone(asked.client, by=owner)
    link = pieces.link_stone(asked.items.first(), stone, by=owner, at=NOON)
    pieces.add_commission_photo(asked, picture, by=owner, at=NOON)
    return {
        "commissions": {"code": asked.code, "number": 1},
        "commissions:unlink": {"pk": link.pk},
        "commissions:share": {"pk": picture.pk},
        "commissions:of_stone": {"code": stone.code},
    }


def _taken_in() -> dict[str, dict[str, Any]]:
    """A client's goods with a marked photograph and both papers: {page: the parts of its address}."""
    asked = intakes.make_enquiry("recut", "repolish", client=intakes.make_client("Runa Penned"))
    made = intakes.photographed(commission=asked)
    piece = made.pieces.get()
    photo = piece.photos.get()
    mark = intakes.mark(photo)
    intakes.deeds.issue_receipt(made, by=made.taken_by, at=NOON)
    intakes.deeds.issue_condition_report(made, by=made.taken_by, at=NOON)
    at = {"code": asked.code, "intake_code": made.code}
    rows = {"intake_photo": piece, "intake_correct": piece, "intake_mark": photo, "intake_unmark": mark}
    return {
        **{f"commissions:{name}": at for name in INTAKE_PAGES},
        **{f"commissions:{name}": at | {"pk": row.pk} for name, row in rows.items()},
    }


def _changed(owner: Any) -> dict[str, dict[str, Any]]:
    """A commission in work with a question open and a charge: {page: the parts of its address}."""
    agreed = make_agreed(by=owner)
    item, stone = with_stone(agreed, by=owner)
    ask = changes.ask_client(item, why="chip", words="It chipped. Go on?", by=owner, at=NOON)
    row = account.charge(
        agreed, kind="extra", words="rush", gross=Decimal("45.67"), on=DAY, by=owner, at=NOON
    )
    asks = ("ask_answer", "ask_withdraw", "ask_version")
    paid = account.pay(agreed, amount=Decimal("50"), paid_as="deposit", on=DAY, by=owner, at=NOON, sure=True)
    told = invoices.issue_invoice(agreed, [row], terms=Terms(simplified=True), by=owner, at=NOON)
    return {
        "commissions:invoice_deposit": {"pk": paid.pk},
        "commissions:credit_note": {"pk": told.pk},
        "commissions:at_the_wheel": {"stone_code": stone.code},
        "commissions:charge_back": {"pk": row.pk},
        **{f"commissions:{name}": {"pk": ask.pk} for name in asks},
    }


def _quoted(owner: Any) -> dict[str, dict[str, Any]]:
    """A commission with a draft, and one whose version is with the client: {page: the parts of its address}."""
    now = datetime.now(UTC)
    draft = make_draft(
        make_commission(make_contact("Nils Penned", is_client=True), by=owner), by=owner, at=now
    )
    sent = make_sent(make_commission(make_contact("Ada Penned", is_client=True), by=owner), by=owner, at=now)
    at = {"code": draft.commission.code, "version": 1, "number": 1}
    return {
        **{f"commissions:{name}": at for name in DRAFT_PAGES},
        **{f"commissions:{name}": {"code": sent.commission.code, "version": 1} for name in SENT_PAGES},
    }


def _handed_over(owner: Any) -> dict[str, dict[str, Any]]:
    """A commission with one piece handed over and one ready: {page: the parts of its address}."""
    commission, first, _gem = make_spinel_commission(owner, make_contact("Orla Penned", is_client=True))
    second = make_item(commission, by=owner, work="recut", wanted="the small one, too")
    finish_spinel(bring_spinel(commission, second, owner, "2.9 ct"), owner, "2.6 ct")
    made = delivery.deliver(commission, items=[first], on=DAY, how="by hand", by=owner, at=NOON)
    at = {"code": commission.code, "delivery_code": made.code}
    return {f"commissions:{name}": at for name in DELIVERY_PAGES}


def _talked_with(owner: Any) -> dict[str, dict[str, Any]]:
    """A commission in work with a private link, a new version, a question and a message: {page: its parts}."""
    now = datetime.now(UTC)
    commission, address = make_open("Mara Quill", by=owner, state="accepted")
    paper = add_paper(commission, commission.quotes.get(), by=owner)
    picture = add_picture(commission, (20, 90, 60), by=owner)
    ask, sent = make_ask(commission, by=owner), make_quote(commission, version=2)
    said = {"moment": "other", "subject": "A word", "body": "All is well.", "to": "mara@example.org"}
    message, stuck = (messages.write_message(commission, by=owner, at=now, **said) for _ in range(2))
    Message.objects.filter(pk=stuck.pk).update(state="sending", claimed_at=now - timedelta(hours=1))
    link = commission.links.get()
    # That the page was seen is noted once an hour; here it was seen just now.
    client_links.note_seen(link, at=now)
    code, token = {"code": commission.code}, {"token": address.split("/")[2]}
    return {
        **{f"commissions:{name}": code for name in ("write_message", "note_told", "link_make")},
        **{f"commissions:{name}": code | {"pk": message.pk} for name in MESSAGE_PAGES},
        "commissions:message_mark_sent": code | {"pk": stuck.pk},
        "commissions:link_withdraw": code | {"pk": link.pk},
        "client": token | {"version": sent.version, "pk": ask.pk, "sha": picture.sha256, "size": "card"},
        "client:paper": {"number": paper.number},
    }


def _recalled(owner: Any) -> dict[str, dict[str, Any]]:
    """A recall of a sold gem, its sister and an open quote, and a statement without one: {page: its parts}."""
    parcel, second = Parcel(owner), Parcel(owner)
    recall = recalls.open_recall(heated(parcel.stone, owner), by=owner, at=LEARNED)
    at = {"code": recall.code}
    buyer = at | {"pk": recall.entries.get(kind="buyer").pk}
    kinds = {"reprice": {"kind": "gem", "code": parcel.other.code}, "withdraw": {"kind": "quote"}}
    return {
        "sales:open_recall": {"about": "stone", "pk": heated(second.stone, owner).pk},
        **{f"sales:{name}": at for name in ("recall", "recall_table", "close_recall")},
        **{
            f"sales:recall_{name}": buyer
            for name in ("entry", "tell", "choice", "settle", "lower", "take_back")
        },
        **{f"sales:recall_{name}": at | {"pk": recall.entries.get(**row).pk} for name, row in kinds.items()},
    }


def _lot(owner: Any, seller: Any, picture: Any) -> Any:
    lot = make_lot(
        "100 ct", by=owner, seller=seller, unit_price=Decimal("777.77"), price_basis="lot", currency="EUR", pieces=12,
        material=Material.objects.get(key="tourmaline-elbaite"),
    )  # fmt: skip
    groups = [
        stones.GroupSpec("A", Decimal(60), pieces=8, factor=Decimal(3)),
        stones.GroupSpec("rejects", Decimal(40), kind="reject"),
    ]
    lot = stones.sort_lot(lot, groups, rule="grade", by=owner, at=NOON)
    rough.add_lot_photo(lot, picture, caption="the parcel", by=owner, at=NOON)
    paper = documents.ReadDocument(b"invoice 17", hashlib.sha256(b"invoice 17").hexdigest(), "text/plain")
    documents.keep(paper)
    stones.lose_from_lot(
        lot,
        parse_weight("1 ct"),
        group=lot.groups.get(name="A"),
        cause="trimmed",
        on=DAY,
        pieces=0,
        by=owner,
        at=NOON,
    )
    rough.add_lot_document(
        lot,
        title="Invoice 17",
        sha256=paper.sha256,
        byte_count=10,
        media_type="text/plain",
        by=owner,
        at=NOON,
    )
    said = {
        "question": "nature", "nature": "mined", "evidence": 2, "said_by": "the seller", "said_on": DAY,
        "how": "invoice 17",
    }  # fmt: skip
    rough.state_about_lot(lot, said, by=owner, at=NOON)
    return lot


def _worked_stone(owner: Any, hand: Any, lot: Any, picture: Any) -> Any:
    stone = make_stone(
        "10 ct", lot=lot, group=lot.groups.get(name="A"), by=owner, plan="oval, mixed cut", shape="oval"
    )
    stones.record_weight(stone, parse_weight("9 ct"), by=hand, at=NOON)
    stones.move_on(stone, "preformed", by=hand, at=NOON)
    stones.add_note(stone, "a veil near the rim", by=hand, at=NOON)
    stones.add_note(stone, "row 3, index 24 left", kind="stop", by=hand, at=NOON)
    stones.charge_stone(stone, kind="wear", amount=Decimal("6.53"), on=DAY, by=owner, at=NOON)
    stones.add_stone_photo(stone, picture, caption="as drawn", by=hand, at=NOON)
    said = {
        "question": "species",
        "material": lot.material,
        "evidence": 1,
        "said_by": "the seller",
        "said_on": DAY,
    }
    stones.state_about_stone(stone, said, by=owner, at=NOON)
    for by, hours in ((hand, 12), (owner, 1)):
        start = NOON - timedelta(hours=20)
        end = start + timedelta(hours=hours)
        stones.add_time(by=by, at=NOON, start=start, end=end, activity="preform", stones=[stone])
    # The clock of a hand runs, so that every page is seen with one.
    stones.start_clock(
        by=hand, at=datetime.now(UTC) - timedelta(hours=1), stones=[stone], activity="polish_crown"
    )
    stone.refresh_from_db()
    return stone


def _plan(house: House, stone: Any) -> str:
    """A cut plan, chosen on the page of options: only there is one worked out."""
    asked = urlencode(ASKED | MONEY | {"weight": "9 ct"})
    answer = house.client("owner").post(f"/planning/stones/{stone.code}/choose/?{asked}", {"outline": "oval"})
    assert answer.status_code == 302, answer.content.decode()
    return str(answer["Location"].strip("/").split("/")[-1])


@contextmanager
def standing(django_db_blocker: Any) -> Any:
    """The shop, built once and taken away with the transaction it lives in."""
    with django_db_blocker.unblock():
        outer = transaction.atomic()
        outer.__enter__()
        try:
            yield build()
        finally:
            transaction.set_rollback(True)
            outer.__exit__(None, None, None)


def in_ci() -> bool:
    return os.environ.get("CI", "").lower() in {"1", "true"}
