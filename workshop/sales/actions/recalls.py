"""Recalls: open one on what was learned, tell everybody, note what they chose, put things right, close it.

Opening one changes no paper, price or quote. Each of those is put right by its own deed, one entry at a time, so that
nothing is changed silently.
"""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import Any

from workshop.commissions.actions.answers import withdraw_quote
from workshop.commissions.actions.messages import write_message
from workshop.commissions.models import Moment
from workshop.common import journal, numbers
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand, Shop
from workshop.common.tx import write_tx
from workshop.gems import actions as gems
from workshop.materials.models import Statement
from workshop.rough.models import LotStatement
from workshop.stones.models import StoneStatement

from ..models import Choice, EntryKind, EntryState, PaymentWay, Recall, RecallEntry
from ..pedigree import Pedigree, basis_words, differs, is_learned, lot_of, pedigrees, same_statement
from ..touched import Touch, recall_scope
from .selling import cancel_sale, lower_price

ZERO = Decimal(0)
#: A deed of nobody's (an import, the demo) is allowed; a blank author is no error of the person at the form.
BY_NOBODY = ("opened_by", "done_by")
ENTRY_ROWS = (
    "contact", "gem", "quote__commission", "line__sale__commission", "line__gem", "commission", "paper__superseded_by",
    "recall",
)  # fmt: skip


def why_no_recall(statement: LotStatement | StoneStatement) -> str:
    """Why a statement opens no recall, or nothing where it may."""
    pedigree = pedigrees([lot_of(statement)])[lot_of(statement)]
    if hasattr(statement, "recall"):
        return f"{statement.recall.code} was opened on it already."
    if is_learned(statement, pedigree):
        return ""
    about = pedigree.stones[statement.stone_id] if isinstance(statement, StoneStatement) else None
    now = pedigree.now(statement.question, about)
    if now is None or not same_statement(now, statement):
        held = f" What holds is: {basis_words(now)}." if now is not None else ""
        return f"It overthrows nothing: it is weaker than, or older than, what holds today.{held}"
    old = pedigree.before(statement, about)
    if old is not None and not differs(statement, old):
        return f"It says what was known before: {basis_words(old)}."
    return ""


def open_recall(statement: LotStatement | StoneStatement, *, by: Hand | None, at: datetime) -> Recall:
    """Open a recall on what a statement says, with an entry for everybody and everything it touches."""
    with write_tx():
        statement = _fresh_statement(statement)
        if why := why_no_recall(statement):
            raise DeedRefused(why)
        pedigree = pedigrees([lot_of(statement)])[lot_of(statement)]
        key = "lot_statement" if isinstance(statement, LotStatement) else "stone_statement"
        recall = Recall(
            code=numbers.take("RC"), question=statement.question, answer=str(statement.answer)[:400],
            before=_before(statement, pedigree)[:400], evidence=statement.evidence, said_by=statement.said_by,
            said_on=statement.said_on, how=statement.how, lot_id=lot_of(statement), opened_at=at, opened_by=by,
            **{key: statement},
        )  # fmt: skip
        recall.full_clean(exclude=BY_NOBODY)
        recall.save()
        entries = [_entry(recall, touch) for touch in recall_scope(statement)]
        RecallEntry.objects.bulk_create(entries)
        journal.note(
            "opened recall", recall.code, by=by, at=at,
            after={
                "about": recall.about.code, "question": recall.question, "answer": recall.answer,
                "evidence": recall.evidence, "entries": len(entries),
            },
        )  # fmt: skip
    return recall


def _fresh_statement(statement: LotStatement | StoneStatement) -> LotStatement | StoneStatement:
    if isinstance(statement, LotStatement):
        return LotStatement.objects.select_related("lot", "material", "recall").get(pk=statement.pk)
    return StoneStatement.objects.select_related("stone", "material", "recall").get(pk=statement.pk)


def _before(statement: Statement, pedigree: Pedigree) -> str:
    about = pedigree.stones[statement.stone_id] if isinstance(statement, StoneStatement) else None
    old = pedigree.before(statement, about)
    return basis_words(old) if old is not None else ""


def _entry(recall: Recall, touch: Touch) -> RecallEntry:
    return RecallEntry(
        recall=recall, kind=touch.kind, code=touch.code, why=touch.verdict.why[:600], touched=touch.verdict.touched,
        contact=touch.contact, stone=touch.stone, gem=touch.gem, paper=touch.paper, quote=touch.quote, line=touch.line,
        commission=touch.commission, state=EntryState.TO_DO if touch.verdict.needs else EntryState.NOTHING,
    )  # fmt: skip


# --- One entry ----------------------------------------------------------------------------------------------------


def _open_entry(entry: RecallEntry) -> RecallEntry:
    fresh = RecallEntry.objects.select_related(*ENTRY_ROWS).get(pk=entry.pk)
    if not fresh.recall.is_open:
        raise DeedRefused(f"{fresh.recall.code} is closed since {fresh.recall.closed_on}.")
    return fresh


def _day(on: date, recall: Recall, at: datetime, field: str = "on") -> date:
    shop = Shop.the()
    if on > shop.day_of(at):
        raise DeedRefused("The day lies in the future.", field=field)
    if on < recall.said_on:
        raise DeedRefused(f"Nobody knew of it before {recall.said_on}.", field=field)
    return on


def _keep(entry: RecallEntry, verb: str, *, by: Hand | None, at: datetime, **changes: Any) -> RecallEntry:
    before = {name: getattr(entry, name) for name in changes}
    for name, value in changes.items():
        setattr(entry, name, value)
    entry.full_clean(exclude=BY_NOBODY)
    entry.save(update_fields=list(changes))
    told = {name: value for name, value in changes.items() if name not in {"letter", "done_by"}}
    journal.note(
        verb, entry.recall.code, by=by, at=at, before={name: before[name] for name in told},
        after={"entry": f"{entry.get_kind_display()} {entry.code}"} | told,
    )  # fmt: skip
    return entry


def tell(
    entry: RecallEntry, *, how: str, on: date, letter: str = "", by: Hand | None, at: datetime
) -> RecallEntry:
    """Note that somebody was told, when, how, and in which words."""
    if not how.strip():
        raise DeedRefused("Say how they were told: by letter, by telephone, in person.", field="how")
    with write_tx():
        entry = _open_entry(entry)
        if entry.contact is None and not entry.is_person:
            raise DeedRefused(f"Nobody stands behind {entry.code}; say what was done with it.")
        return _keep(
            entry, "told", by=by, at=at, state=_told_state(entry), told_on=_day(on, entry.recall, at),
            told_how=how.strip(), letter=letter.strip() or entry.letter, done_by=by,
        )  # fmt: skip


def _told_state(entry: RecallEntry) -> str:
    """A second letter does not take an answer back; and telling of a quote is not yet withdrawing it."""
    if entry.state in {EntryState.ANSWERED, EntryState.DONE}:
        return entry.state
    return EntryState.TO_DO if entry.kind == EntryKind.QUOTE and entry.is_to_do else EntryState.TOLD


def prepare_message(
    entry: RecallEntry, *, subject: str, body: str, by: Hand | None, at: datetime
) -> RecallEntry:
    """Keep the letter as a message of the commission, ready to be sent or copied there."""
    with write_tx():
        entry = _open_entry(entry)
        if entry.commission is None or entry.contact is None:
            raise DeedRefused("There is no commission to write on; copy the letter.")
        message = write_message(
            entry.commission, moment=Moment.OTHER, subject=subject, body=body, to=entry.contact.email, by=by, at=at
        )  # fmt: skip
        return _keep(entry, "wrote message", by=by, at=at, message=message, letter=message.body)


def note_choice(
    entry: RecallEntry, choice: str, *, words: str = "", on: date, by: Hand | None, at: datetime
) -> RecallEntry:
    """Note what somebody chose. What follows from it (a refund, a return) is a deed of its own."""
    if choice not in Choice.values:
        raise DeedRefused("Say what was chosen.", field="choice")
    if choice == Choice.OTHER and not words.strip():
        raise DeedRefused("Say what it is.", field="words")
    with write_tx():
        entry = _open_entry(entry)
        if not entry.is_person:
            raise DeedRefused(f"Nobody stands behind {entry.code}; say what was done with it.")
        return _answered(entry, choice, words, on=on, by=by, at=at)


def _answered(
    entry: RecallEntry, choice: str, words: str, *, on: date, by: Hand | None, at: datetime
) -> RecallEntry:
    return _keep(
        entry, "noted choice", by=by, at=at, state=EntryState.ANSWERED, choice=choice, words=words.strip(),
        done_on=_day(on, entry.recall, at), done_by=by,
    )  # fmt: skip


def settle(
    entry: RecallEntry, *, words: str, nothing: bool = False, by: Hand | None, at: datetime
) -> RecallEntry:
    """Say what was done with an entry, or why nothing is to be done."""
    if not words.strip():
        raise DeedRefused("Say what was done, or why nothing is.", field="words")
    with write_tx():
        entry = _open_entry(entry)
        if entry.is_person and not nothing:
            raise DeedRefused("Somebody is told, and chooses; note that.")
        state = EntryState.NOTHING if nothing else EntryState.DONE
        return _keep(
            entry, "settled", by=by, at=at, state=state, words=words.strip(), done_on=Shop.the().day_of(at), done_by=by
        )  # fmt: skip


# --- Putting things right -----------------------------------------------------------------------------------------


def withdraw_open_quote(entry: RecallEntry, *, reason: str, by: Hand | None, at: datetime) -> RecallEntry:
    """Withdraw the quote of an entry; the client's copy stays as it was, marked void."""
    with write_tx():
        entry = _open_entry(entry)
        if entry.quote is None:
            raise DeedRefused(f"{entry.code} is no quote.")
        withdraw_quote(entry.quote, reason=reason, by=by, at=at)
        return _keep(
            entry, "settled", by=by, at=at, state=EntryState.DONE, words=f"Withdrawn: {reason.strip()}"[:600],
            done_on=Shop.the().day_of(at), done_by=by,
        )  # fmt: skip


def keep_at_lower_price(
    entry: RecallEntry,
    price: Decimal,
    *,
    reason: str,
    on: date,
    by: Hand | None,
    at: datetime,
    refund: Decimal = ZERO,
    way: str = PaymentWay.TRANSFER,
    words: str = "",
    credit_note: bool = False,
    base_url: str = "",
) -> RecallEntry:
    """The buyer keeps the gem for less: the sale is lowered, what goes back is booked, the choice is noted."""
    with write_tx():
        entry = _open_entry(entry)
        lower_price(
            _line(entry),
            price,
            reason=reason,
            on=on,
            by=by,
            at=at,
            refund=refund,
            way=way,
            credit_note=credit_note,
            base_url=base_url,
        )
        return _answered(entry, Choice.LOWER, words, on=on, by=by, at=at)


def take_back(
    entry: RecallEntry,
    *,
    reason: str,
    on: date,
    by: Hand | None,
    at: datetime,
    refund: Decimal = ZERO,
    way: str = PaymentWay.TRANSFER,
    words: str = "",
    credit_note: bool = False,
    base_url: str = "",
) -> RecallEntry:
    """The buyer returns it: the whole sale is taken back, the refund booked, the choice noted."""
    with write_tx():
        entry = _open_entry(entry)
        cancel_sale(
            _line(entry).sale,
            reason=reason,
            on=on,
            by=by,
            at=at,
            refund=refund,
            way=way,
            credit_note=credit_note,
            base_url=base_url,
        )
        return _answered(entry, Choice.RETURNED, words, on=on, by=by, at=at)


def _line(entry: RecallEntry) -> Any:
    if entry.line is None:
        raise DeedRefused(f"{entry.code} was not sold.")
    return entry.line


def reprice(
    entry: RecallEntry, amount: Decimal, *, reason: str, by: Hand | None, at: datetime
) -> RecallEntry:
    """Ask another price for a gem on the books, with the reason; the older prices stay in its history."""
    if not reason.strip():
        raise DeedRefused("Say why the price changes.", field="reason")
    with write_tx():
        entry = _open_entry(entry)
        if entry.gem is None or entry.kind != EntryKind.GEM:
            raise DeedRefused(f"{entry.code} is no gem.")
        gems.set_price(entry.gem, amount, reason=reason.strip()[:200], by=by, at=at)
        return _keep(
            entry, "settled", by=by, at=at, state=EntryState.DONE, words=reason.strip(),
            done_on=Shop.the().day_of(at), done_by=by,
        )  # fmt: skip


def close_recall(recall: Recall, *, on: date, why: str = "", by: Hand | None, at: datetime) -> Recall:
    """Close it. While somebody or something is still to do, only with a reason."""
    with write_tx():
        recall = Recall.objects.get(pk=recall.pk)
        if not recall.is_open:
            raise DeedRefused(f"{recall.code} is closed since {recall.closed_on}.")
        _day(on, recall, at)
        left = recall.entries.still_to_do().count()  # type: ignore[attr-defined]
        if left and not why.strip():
            raise DeedRefused(
                f"{left} of its entries {'is' if left == 1 else 'are'} still to do. Do them, or say why it is closed "
                "all the same.",
                field="why",
            )  # fmt: skip
        recall.closed_on, recall.closed_why, recall.closed_by = on, why.strip(), by
        recall.full_clean(exclude=[*BY_NOBODY, "closed_by"])
        recall.save(update_fields=["closed_on", "closed_why", "closed_by"])
        journal.note(
            "closed recall",
            recall.code,
            by=by,
            at=at,
            after={"on": on, "still_to_do": left},
            reason=why.strip(),
        )
    return recall
