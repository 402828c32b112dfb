"""The memo note: what is lent, to whom, until when, at what price, and what each stone is.

Points of a sound memo after Rapaport, "How jewelry wholesalers can make a memo bullet-proof", and the AGTA/JVC guide
to memo transactions (2009): in writing, parties and addresses, exact terms, detailed description, who bears loss,
theft, damage and the post, insurance, signed by the receiver. A memo is a commercial paper: it carries the disclosure.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, Final

from workshop.common import say
from workshop.common.models import Shop
from workshop.gems.papers import size_words
from workshop.gems.trade_words import carats_words, cards_of, stone_facts
from workshop.handbook.weights import state_total
from workshop.materials.disclosure import ROLE_LINE, Disclosure
from workshop.papers.document import Block, Column, Document, Party, Points, Signatures, Table, Text

from .models import Memo, MemoLine
from .papers import customer_of

ZERO = Decimal(0)
#: The sender's own terms in plain words; what of them holds is settled by local law.
STANDS: Final = (
    "The stones stay the sender’s until they are sold and invoiced: no sale until invoiced.",
    "The prices are net. A stone that is sold, or not given back, is owed at its price here.",
    "The stones are not set, altered, treated, tested destructively or lent on without the sender’s word.",
    "Should the receiver’s business end or be seized, the stones are the sender’s and are given back.",
)


def memo_content(
    memo: Memo, lines: Sequence[MemoLine], said: dict[int, Disclosure], shop: Shop
) -> dict[str, Any]:
    """The content record of a memo note."""
    insured = say.money(memo.insured_value, memo.currency) if memo.insured_value is not None else ""
    return Document(
        title="Memo note", shop=shop, reference=f"memo {memo.code}",
        parties=[Party("Lent to", customer_of(memo.party).lines())],
        facts=[
            ("Made on", say.moment(memo.made_on)),
            ("To be returned by", say.moment(memo.return_by)),
            ("Currency", memo.currency),
            ("Insured value", insured),
            ("Insured by", memo.insured_by),
        ],
        blocks=[
            _table(memo, lines, shop),
            Text([memo.loss_words], heading="Loss, theft, damage and post", strong=True),
            Text([memo.terms], heading="Payment"),
            Points(STANDS, heading="What holds meanwhile", numbered=True),
            *_stones(lines, said),
            _outcomes(lines),
            Signatures(
                ["For the sender: name, day", "Received as described, for the receiver: name, day"],
                words="The sender’s own terms; local law comes first.",
            ),
        ],
        role=str(ROLE_LINE),
    ).content()  # fmt: skip


def _table(memo: Memo, lines: Sequence[MemoLine], shop: Shop) -> Table:
    total = sum((line.price for line in lines), ZERO)
    weight = state_total([line.weight_ct for line in lines], scale_step=shop.scale_step_ct)
    rows = [
        [line.words, carats_words(line.gem), size_words(line.gem), say.money(line.price, memo.currency)]
        for line in lines
        if line.gem is not None
    ]
    return Table(
        [
            Column("Stone"),
            Column("Weight", numeric=True),
            Column("Size", numeric=True),
            Column("Price, net", numeric=True),
        ],
        rows, heading="What is lent", note="Weights by scale. Please weigh each stone on receipt.",
        foot=[[f"{len(rows)} together", f"{weight}\u00a0ct", "", say.money(total, memo.currency)]],
    )  # fmt: skip


def _stones(lines: Sequence[MemoLine], said: dict[int, Disclosure]) -> list[Block]:
    gems = [line.gem for line in lines if line.gem is not None]
    cards = cards_of(gems)
    return [stone_facts(gem, said[gem.pk], cards.get(gem.code, "")) for gem in gems]


def _outcomes(lines: Sequence[MemoLine]) -> Table:
    rows = [[line.gem.code, "", ""] for line in lines if line.gem is not None]
    return Table(
        [Column("Stone"), Column("Sold on"), Column("Given back on")],
        rows,
        heading="To be ticked with the day",
    )
