"""Commissions with a client's link, quotes, questions, photographs and papers, full of words the client must not see."""

import io
from datetime import timedelta
from decimal import Decimal

from django.utils import timezone
from PIL import Image

from tests.makers import DAY, NOON, make_clients_stone, make_commission, make_contact, make_item_spec
from workshop.commissions import links
from workshop.commissions.actions import pieces
from workshop.commissions.actions.asks import ask_client
from workshop.commissions.actions.links import make_link
from workshop.commissions.models import Commission, Quote, QuoteLine
from workshop.common import photos
from workshop.common.models import Shop
from workshop.papers import actions as papers
from workshop.papers.document import Document, Text
from workshop.papers.models import PaperKind

D = Decimal
#: Planted wherever only the cutter looks; none may ever reach a client.
HIDDEN = [
    "SENTINEL-NOTE", "SENTINEL-OVERRIDE", "SENTINEL-BASIS", "SENTINEL-CAMERA", "SENTINEL-CONTACT-NOTE",
    "SENTINEL-REASON", "SENTINEL-PAYMENT-NOTE", "77123", "77,123", "66456", "66,456", "55789", "55,789", "44,321", "44321", "13.579",
]  # fmt: skip


def make_quote(commission, *, version=1, state="sent", days=14, prices=("180", "220", "260"), **said):
    """A version the client was sent, with the cutter's own figures behind it."""
    now = timezone.now()
    low, middle, high = map(D, prices)
    items = list(commission.items.all())
    count = len(items)
    quote = Quote.objects.create(
        commission=commission, version=version, currency=commission.currency, made_at=now, price_low=low * count,
        price=middle * count, price_high=high * count,
        **{
            "deposit": D("90"), "tax_percent": D("19"), "terms": "Work on included stones is at your risk.",
            "risk_lines": ["A hidden fissure may open."], "note": "A lovely piece.", **said,
        },
    )  # fmt: skip
    for item in items:
        QuoteLine.objects.create(
            quote=quote, item=item, what=item.wanted, price_low=low, price=middle, price_high=high,
            weight_low_ct=D("2.5"), weight_ct=D("2.8"), weight_high_ct=D("3.1"), floor_ct=D("2.4"),
            length_low_mm=D("8.20"), length_high_mm=D("8.60"), width_low_mm=D("6.90"), width_high_mm=D("7.20"),
            seconds=3600, seconds_high=7200, hourly_rate=D("77123"), material_cost=D("66456"), cost_low=D("55789"),
            cost=D("55789"), cost_high=D("55789"), chance_percent=D("13.579"), earned_low=D("44321"),
            earned=D("44321"), earned_high=D("44321"), overridden=True, override_reason="SENTINEL-OVERRIDE",
            basis=[["SENTINEL-BASIS", "1"]],
        )  # fmt: skip
    answered = (
        {"answered_at": now, "answered_name": "Mara Quill"} if state in {"accepted", "declined"} else {}
    )
    last = timezone.localdate() + timedelta(days=days)
    Quote.objects.filter(pk=quote.pk).update(
        state=state, sent_at=now - timedelta(days=1), valid_until=last, **answered
    )
    if commission.state == "enquiry" and state == "sent":
        set_state(commission, "quoted")
    return Quote.objects.get(pk=quote.pk)


def set_state(commission, state):
    Commission.objects.filter(pk=commission.pk).update(state=state)
    commission.refresh_from_db()


def make_open(name="Mara Quill", *, by, state="sent", notes="SENTINEL-NOTE", **said):
    """A commission with a quote and a private link: (commission, address of its page)."""
    client = make_contact(name, is_client=True, email="mara@example.org", notes="SENTINEL-CONTACT-NOTE")
    commission = make_commission(client, by=by, notes=notes, asked_on=DAY)
    make_quote(commission, state=state, **said)
    if state == "accepted":
        set_state(commission, "in_work")
    return commission, links.address_of(make_link(commission, by=by, at=timezone.now()))


def make_picture(colour, *, by):
    """A photograph as a telephone writes it, with words of the camera's."""
    out, exif = io.BytesIO(), Image.Exif()
    exif[0x010E] = "SENTINEL-CAMERA"
    exif[0x010F] = "SENTINEL-CAMERA"
    Image.new("RGB", (320, 240), colour).save(out, "JPEG", exif=exif)
    assert b"SENTINEL-CAMERA" in out.getvalue()
    return photos.keep(photos.prepare(out), by=by, at=NOON)


def add_picture(commission, colour, *, by, shared=True, caption=""):
    """A photograph of the commission, shared with the client or not."""
    picture = make_picture(colour, by=by)
    pieces.add_commission_photo(commission, picture, caption=caption, by=by, at=NOON)
    if shared:
        pieces.share_photo(commission, picture, by=by, at=NOON)
    return picture


def add_paper(commission, quote, *, by, words="What we agreed."):
    """The quote's paper."""
    document = Document(
        title="Quote", shop=Shop.the(), blocks=[Text([words])], reference=commission.code, role="Our own."
    )
    paper = papers.issue(
        PaperKind.QUOTE, commission.code, document.content(), by=by, at=NOON, base_url="https://cut.example"
    )
    Quote.objects.filter(pk=quote.pk).update(paper=paper)
    return paper


def make_ask(commission, *, by, picture=None, why="inclusion", **said):
    """Work on the first piece stopped by a question, its stone waiting."""
    item = commission.items.get(number=1)
    if not item.links.exists():
        stone = make_clients_stone(commission.client, weight="9 ct", by=by)
        pieces.link_stone(item, stone, by=by, at=NOON)
    return ask_client(
        item, why=why, words="A veil reaches the table. May I cut it out?", photo=picture,
        by=by, at=timezone.now(), **{"weight_low_ct": D("2.1"), "weight_high_ct": D("2.4"), "new_price": D("200"), **said},
    )  # fmt: skip


def two_pieces():
    return [make_item_spec(wanted="an oval"), make_item_spec(wanted="a round")]
