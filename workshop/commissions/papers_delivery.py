"""From the rows of a delivery to the content of its handing-over note: what goes back, what it lost, what it is.

The note is the cutter's own statement to the owner: it carries the declared value and is private. What each stone is
said to be follows the rules of the information card; what nobody tested is said to be untested.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from workshop.common import say
from workshop.common.models import Shop
from workshop.gems.models import FinishedGem
from workshop.gems.papers import cut_words, size_words, what_stands
from workshop.handbook.weights import state_weight
from workshop.materials.disclosure import ROLE_LINE
from workshop.materials.naming import choice, listed
from workshop.papers.document import (
    Block,
    Column,
    Document,
    Facts,
    Party,
    Photos,
    Picture,
    Signatures,
    Table,
    Text,
)
from workshop.papers.models import Paper, PaperKind
from workshop.people.models import Contact

from .handing_over import Going
from .models import Commission, Delivery, OffCuts

TITLE: Final = gettext_lazy("Handing-over note")

#: What settles "not my stone" and "that chip was not there" is weight and photographs on both sides of the post;
#: common practice, and a returns page that calls photographs before posting the proof of condition:
#: phoenixrisinggems.com/refund_returns.
ON_RECEIPT: Final = gettext_lazy(
    "Please look at each stone under a lamp and weigh it as soon as it arrives, before it is set, and tell me at "
    "once if anything differs from this note. Keep the packing of a damaged parcel."
)
KEEPS: Final = {
    OffCuts.BACK: gettext_lazy("goes back with this delivery"),
    OffCuts.SHOP: gettext_lazy("stays with the shop, as agreed"),
    OffCuts.PAYMENT: gettext_lazy("kept as part of the payment, as agreed"),
}


def note_content(
    delivery: Delivery, commission: Commission, pieces: Sequence[Going], *, condition: str, shop: Shop
) -> dict[str, Any]:
    """The content record of a handing-over note."""
    gems = [gem for piece in pieces for gem in piece.gems]
    cards = _cards(gems)
    return Document(
        title=str(TITLE),
        shop=shop,
        reference=_("%(code)s, commission %(commission)s")
        % {"code": delivery.code, "commission": commission.code},
        parties=[Party(_("Handed over to"), _address(commission.client))],
        facts=_facts(delivery, commission),
        blocks=[
            *_weights(pieces, shop),
            *_stones(pieces, cards),
            *_condition(gems, condition),
            _signatures(),
        ],
        role=str(ROLE_LINE),
    ).content()


def _address(client: Contact) -> list[str]:
    return [client.name, client.firm, client.address, client.country]


def _facts(delivery: Delivery, commission: Commission) -> list[tuple[str, str]]:
    value = delivery.declared_value
    return [
        (_("Day"), say.moment(delivery.on)),
        (_("How"), delivery.how),
        (_("Tracking"), delivery.tracking),
        (_("Declared value"), say.money(value, commission.currency) if value is not None else ""),
        (_("Insured by"), delivery.insured_by),
    ]


def _cards(gems: Sequence[FinishedGem]) -> dict[str, str]:
    """The number of the information card that stands for each gem."""
    standing = Paper.objects.standing().filter(about__in=[gem.code for gem in gems], kind=PaperKind.INFO_CARD)
    return dict(standing.values_list("about", "number"))


def _weights(pieces: Sequence[Going], shop: Shop) -> Iterable[Block]:
    theirs = any(piece.in_ct is not None for piece in pieces)
    columns = [Column(_("Piece")), Column(_("Stone")), Column(_("Size"))]
    columns += [Column(_("Weight in"), numeric=True)] if theirs else []
    columns += [Column(_("Weight out"), numeric=True)]
    columns += [Column(_("Loss"), numeric=True)] if theirs else []
    rows = [row for piece in pieces for row in _rows(piece, shop, theirs=theirs)]
    yield Table(
        columns, rows, heading=_("What is handed over"),
        note=_("Weights by scale. The loss is the weight in less the finished stones and all that is left of it below.")
        if theirs
        else _("Weights by scale."),
    )  # fmt: skip
    yield Facts(
        [(_("Piece %(number)s") % {"number": piece.item.number}, piece.range_words) for piece in pieces],
        heading=_("Against what was agreed"),
    )
    parts = [(piece, part) for piece in pieces for part in piece.parts]
    yield Table(
        [Column(_("Piece")), Column(_("What")), Column(_("Weight"), numeric=True), Column(_("What happens to it"))],
        [
            [str(piece.item.number), f"{part.code}, {part.words}", say.carats(part.weight_ct),
             str(KEEPS[OffCuts(piece.item.off_cuts)])]
            for piece, part in parts
        ],
        heading=_("Off-cuts, fragments and rough not worked"),
    )  # fmt: skip


def _rows(piece: Going, shop: Shop, *, theirs: bool) -> Iterable[list[str]]:
    for at, gem in enumerate(piece.gems):
        first = at == 0
        weight = state_weight(gem.weight_ct, scale_step=shop.scale_step_ct)
        row = [str(piece.item.number) if first else "", _called(gem), size_words(gem)]
        row += [_once(first, say.carats(piece.in_ct))] if theirs else []
        row += [f"{say.number(weight)}{say.GAP}ct"]
        row += [_once(first, _loss(piece))] if theirs else []
        yield row


def _once(first: bool, text: str) -> str:
    return text if first else ""


def _called(gem: FinishedGem) -> str:
    return f"{gem.code}, {cut_words(gem)}, {gem.colour}"


def _loss(piece: Going) -> str:
    if piece.loss_ct is None:
        return say.DASH
    return f"{say.carats(piece.loss_ct)} ({say.percent(piece.loss_percent)})"


def _stones(pieces: Sequence[Going], cards: dict[str, str]) -> Iterable[Block]:
    for piece, gem in [(one, gem) for one in pieces for gem in one.gems]:
        said, open_ones = what_stands(gem)
        lines = [
            (
                _("Stated by the owner"),
                "; ".join(_("“%(words)s”") % {"words": words} for words in piece.stated),
            )
        ]
        lines += [(line.label, _line(line.text, line.basis)) for line in (said.nature, said.species)]
        lines += [(line.label, _line(line.text, line.basis)) for line in said.treatments]
        lines += [(_("Remark"), remark) for remark in said.remarks]
        lines += [(_("Not tested"), said.not_tested)] if said.not_tested else []
        lines += [(_("Still open"), _open_words(open_ones))] if open_ones else []
        lines += [(_("Care"), " ".join(said.care))]
        lines += [(_("Information card"), cards.get(gem.code, _("none was issued")))]
        yield Facts(lines, heading=f"{gem.code}: {said.name_line}")


def _line(text: str, basis: str) -> str:
    return f"{text} ({basis})" if basis else text


def _open_words(questions: Sequence[str]) -> str:
    named = {"questions": listed([choice(question) for question in questions])}
    return _("nobody has answered the question of %(questions)s; nothing is claimed of it here.") % named


def _condition(gems: Sequence[FinishedGem], condition: str) -> Iterable[Block]:
    seen = [(gem.code, gem.clarity) for gem in gems if gem.clarity.strip()]
    yield Facts(seen, heading=_("As seen when it left") if seen else "")
    yield Text([condition], heading=_("Condition"))
    yield Photos(
        [
            Picture(gem.public_photo.photo, _("%(gem)s when finished") % {"gem": gem.code})
            for gem in gems
            if gem.public_photo
        ],
        heading=_("As it left"),
    )
    yield Text([str(ON_RECEIPT)], heading=_("On receipt"))


def _signatures() -> Block:
    return Signatures(
        [_("Handed over for the shop: name, day"), _("Received, looked at and weighed: name, day")],
        words=_(
            "The receiver signs for what can be seen and weighed at the counter; rights by law are not affected."
        ),
    )
