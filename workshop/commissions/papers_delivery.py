"""From the rows of a delivery to the content of its handing-over note: what goes back, what it lost, what it is.

The note is the cutter's own statement to the owner: it carries the declared value and is private. What each stone is
said to be follows the rules of the information card; what nobody tested is said to be untested.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, Final

from workshop.common import say
from workshop.common.models import Shop
from workshop.gems.models import FinishedGem
from workshop.gems.papers import size_words, what_stands
from workshop.handbook.weights import state_weight
from workshop.materials.disclosure import ROLE_LINE
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

TITLE: Final = "Handing-over note"

#: What settles "not my stone" and "that chip was not there" is weight and photographs on both sides of the post;
#: common practice, and a returns page that calls photographs before posting the proof of condition:
#: phoenixrisinggems.com/refund_returns.
ON_RECEIPT: Final = (
    "Please look at each stone under a lamp and weigh it as soon as it arrives, before it is set, and tell me at "
    "once if anything differs from this note. Keep the packing of a damaged parcel."
)
KEEPS: Final = {
    OffCuts.BACK: "goes back with this delivery",
    OffCuts.SHOP: "stays with the shop, as agreed",
    OffCuts.PAYMENT: "kept as part of the payment, as agreed",
}


def note_content(
    delivery: Delivery, commission: Commission, pieces: Sequence[Going], *, condition: str, shop: Shop
) -> dict[str, Any]:
    """The content record of a handing-over note."""
    gems = [gem for piece in pieces for gem in piece.gems]
    cards = _cards(gems)
    return Document(
        title=TITLE,
        shop=shop,
        reference=f"{delivery.code}, commission {commission.code}",
        parties=[Party("Handed over to", _address(commission.client))],
        facts=_facts(delivery, commission),
        blocks=[
            *_weights(pieces, shop),
            *_stones(pieces, cards),
            *_condition(gems, condition),
            _signatures(),
        ],
        role=ROLE_LINE,
    ).content()


def _address(client: Contact) -> list[str]:
    return [client.name, client.firm, client.address, client.country]


def _facts(delivery: Delivery, commission: Commission) -> list[tuple[str, str]]:
    value = delivery.declared_value
    return [
        ("Day", say.moment(delivery.on)),
        ("How", delivery.how),
        ("Tracking", delivery.tracking),
        ("Declared value", say.money(value, commission.currency) if value is not None else ""),
        ("Insured by", delivery.insured_by),
    ]


def _cards(gems: Sequence[FinishedGem]) -> dict[str, str]:
    """The number of the information card that stands for each gem."""
    standing = Paper.objects.standing().filter(about__in=[gem.code for gem in gems], kind=PaperKind.INFO_CARD)
    return dict(standing.values_list("about", "number"))


def _weights(pieces: Sequence[Going], shop: Shop) -> Iterable[Block]:
    theirs = any(piece.in_ct is not None for piece in pieces)
    columns = [Column("Piece"), Column("Stone"), Column("Size")]
    columns += [Column("Weight in", numeric=True)] if theirs else []
    columns += [Column("Weight out", numeric=True)]
    columns += [Column("Loss", numeric=True)] if theirs else []
    rows = [row for piece in pieces for row in _rows(piece, shop, theirs=theirs)]
    yield Table(
        columns, rows, heading="What is handed over",
        note="Weights by scale. The loss is the weight in less the finished stones and all that is left of it below."
        if theirs
        else "Weights by scale.",
    )  # fmt: skip
    yield Facts(
        [(f"Piece {piece.item.number}", piece.range_words) for piece in pieces],
        heading="Against what was agreed",
    )
    parts = [(piece, part) for piece in pieces for part in piece.parts]
    yield Table(
        [Column("Piece"), Column("What"), Column("Weight", numeric=True), Column("What happens to it")],
        [
            [str(piece.item.number), f"{part.code}, {part.words}", say.carats(part.weight_ct),
             KEEPS[OffCuts(piece.item.off_cuts)]]
            for piece, part in parts
        ],
        heading="Off-cuts, fragments and rough not worked",
    )  # fmt: skip


def _rows(piece: Going, shop: Shop, *, theirs: bool) -> Iterable[list[str]]:
    for at, gem in enumerate(piece.gems):
        first = at == 0
        weight = state_weight(gem.weight_ct, scale_step=shop.scale_step_ct)
        row = [str(piece.item.number) if first else "", _called(gem), size_words(gem)]
        row += [_once(first, say.carats(piece.in_ct))] if theirs else []
        row += [f"{weight}\u00a0ct"]
        row += [_once(first, _loss(piece))] if theirs else []
        yield row


def _once(first: bool, text: str) -> str:
    return text if first else ""


def _called(gem: FinishedGem) -> str:
    cut = ", ".join(filter(None, [gem.get_shape_display(), gem.cut]))
    return f"{gem.code}, {cut}, {gem.colour}"


def _loss(piece: Going) -> str:
    if piece.loss_ct is None:
        return say.DASH
    return f"{say.carats(piece.loss_ct)} ({say.percent(piece.loss_percent)})"


def _stones(pieces: Sequence[Going], cards: dict[str, str]) -> Iterable[Block]:
    for piece, gem in [(one, gem) for one in pieces for gem in one.gems]:
        said, open_ones = what_stands(gem)
        lines = [("Stated by the owner", "; ".join(f"“{words}”" for words in piece.stated))]
        lines += [(line.label, _line(line.text, line.basis)) for line in (said.nature, said.species)]
        lines += [(line.label, _line(line.text, line.basis)) for line in said.treatments]
        lines += [("Remark", remark) for remark in said.remarks]
        lines += [("Not tested", said.not_tested)] if said.not_tested else []
        lines += [("Still open", _open_words(open_ones))] if open_ones else []
        lines += [("Care", " ".join(said.care))]
        lines += [("Information card", cards.get(gem.code, "none was issued"))]
        yield Facts(lines, heading=f"{gem.code}: {said.name_line}")


def _line(text: str, basis: str) -> str:
    return f"{text} ({basis})" if basis else text


def _open_words(questions: Sequence[str]) -> str:
    named = " and ".join(filter(None, [", ".join(questions[:-1]), questions[-1]]))
    return f"nobody has answered the question of {named}; nothing is claimed of it here."


def _condition(gems: Sequence[FinishedGem], condition: str) -> Iterable[Block]:
    seen = [(gem.code, gem.clarity) for gem in gems if gem.clarity.strip()]
    yield Facts(seen, heading="As seen when it left" if seen else "")
    yield Text([condition], heading="Condition")
    yield Photos(
        [Picture(gem.public_photo.photo, f"{gem.code} when finished") for gem in gems if gem.public_photo],
        heading="As it left",
    )
    yield Text([ON_RECEIPT], heading="On receipt")


def _signatures() -> Block:
    return Signatures(
        ["Handed over for the shop: name, day", "Received, looked at and weighed: name, day"],
        words="The receiver signs for what can be seen and weighed at the counter; rights by law are not affected.",
    )
