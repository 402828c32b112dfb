"""Writing to a client, sending it once, and keeping what came of it.

A send is three steps: claim it in one transaction, hand it to the mail server outside of any, and write down what
came of it in another. Whoever else presses the button meanwhile is told that it is being sent. A process that dies
in between leaves a claim nobody answers for; a person then looks whether it went, and says so or sends it again,
under the same Message-ID, by which a mailbox knows the same letter (RFC 5322, 3.6.4).
"""

from __future__ import annotations

import logging
import re
import smtplib
import socket
import ssl
import uuid
from datetime import datetime, timedelta
from email.utils import formataddr
from typing import Final
from urllib.parse import urlsplit

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.mail import EmailMessage
from django.core.validators import validate_email

from workshop.common import journal, say
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand, Shop
from workshop.common.tx import write_tx

from .. import links, messages
from ..models import Commission, CommissionItem, Message, MessageState, Moment

log = logging.getLogger(__name__)

#: After this nobody can still be waiting for the mail server: every step of a send ends by EMAIL_TIMEOUT.
STUCK_AFTER: Final = timedelta(minutes=3)
SENDABLE: Final = (MessageState.READY, MessageState.FAILED)
LONGEST_DOMAIN: Final = 80
_BREAKS: Final = re.compile(r"[\x00-\x1f\x7f\x85\u2028\u2029]")


def write_message(
    commission: Commission,
    *,
    moment: str,
    subject: str,
    body: str,
    to: str,
    item: CommissionItem | None = None,
    by: Hand | None,
    at: datetime,
) -> Message:
    """Keep a message ready to be sent or copied; a private address in it is kept as its place only."""
    body = messages.without_links(body.strip())
    _check(subject, body, to)
    if item is not None and item.commission_id != commission.pk:
        raise DeedRefused("That piece is of another commission.", field="item")
    _check_words(f"{subject}\n{body}", commission, item)
    with write_tx():
        message = Message.objects.create(
            commission=commission,
            item=item,
            moment=Moment(moment),
            to=to,
            subject=subject.strip(),
            body=body,
            message_id=_new_message_id(),
            made_at=at,
            by=by,
        )
        journal.note(
            "wrote message", commission.code, by=by, at=at, after={"message": message.pk, "moment": moment}
        )
    return message


def send_message(
    message: Message, *, by: Hand | None, at: datetime, base_url: str = "", again: bool = False
) -> Message:
    """Send it by e-mail, once; a refusal of the mail server is kept in plain words. Never call it inside a deed.

    ``again``: somebody looked and it had not gone; only then is a send that nobody answers for repeated.
    """
    letter = _letter(message, base_url, at)
    _claim(message, by=by, at=at, again=again)
    try:
        letter.send(fail_silently=False)
    except Exception as fault:
        # Whatever a mail backend raises, the message must not stay claimed.
        log.warning("message %s was not sent: %s", message.pk, type(fault).__name__)
        return _failed(message, _in_plain_words(fault), by=by, at=at)
    return _sent(message, by=by, at=at)


def mark_sent(message: Message, *, by: Hand | None, at: datetime) -> Message:
    """Somebody looked: the send that nobody answers for did go out."""
    with write_tx():
        message = _fresh(message)
        if not is_stuck(message, at):
            raise DeedRefused(_why_not(message, at))
        return _close(message, MessageState.SENT, "marked as sent", by=by, at=at, sent_at=message.claimed_at)


def mark_copied(message: Message, *, by: Hand | None, at: datetime) -> Message:
    """The client was given the text another way: on paper, by telephone, in a chat."""
    with write_tx():
        message = _open_message(message, at)
        return _close(message, MessageState.COPIED, "gave another way", by=by, at=at, sent_at=at)


def drop_message(message: Message, *, by: Hand | None, at: datetime) -> Message:
    """Leave it unsent for good."""
    with write_tx():
        message = _open_message(message, at)
        return _close(message, MessageState.DROPPED, "dropped message", by=by, at=at, sent_at=None)


def note_told(
    commission: Commission, *, words: str, item: CommissionItem | None = None, by: Hand | None, at: datetime
) -> Message:
    """Keep what the client told by telephone, by letter or at the counter."""
    if not words.strip():
        raise DeedRefused("Write down what the client said.", field="words")
    if len(words) > 6000:
        raise DeedRefused("Keep it under 6,000 letters.", field="words")
    with write_tx():
        message = Message.objects.create(
            commission=commission,
            item=item,
            moment=Moment.OTHER,
            from_client=True,
            body=messages.without_links(words.strip()),
            state=MessageState.TOLD,
            message_id=_new_message_id(),
            made_at=at,
            by=by,
        )
        Commission.objects.filter(pk=commission.pk).update(heard_at=at)
        journal.note("client told", commission.code, by=by, at=at, after={"message": message.pk})
    return message


def is_stuck(message: Message, at: datetime) -> bool:
    """Whether a send was begun so long ago that nobody can still be at it."""
    return (
        message.state == MessageState.SENDING
        and message.claimed_at is not None
        and at - message.claimed_at >= STUCK_AFTER
    )


def as_given(message: Message, base_url: str, at: datetime) -> str:
    """The text with the client's private address in it, as it is sent or copied."""
    if messages.LINK_HERE not in message.body:
        return message.body
    link = links.open_link(message.commission, at)
    if link is None:
        raise DeedRefused(
            f"The text holds {messages.LINK_HERE}, and no private link is open: make one first, or write the "
            "message without it."
        )
    base = Shop.the().base_url or base_url
    if not base:
        raise DeedRefused("Say in the shop's settings where it is reached from outside.")
    return messages.with_link(message.body, links.full_address(link, base))


def _letter(message: Message, base_url: str, at: datetime) -> EmailMessage:
    if not message.to:
        raise DeedRefused("No address stands on it: write it anew with one, or copy the text.")
    shop = Shop.the()
    return EmailMessage(
        subject=message.subject,
        body=as_given(message, base_url, at),
        from_email=formataddr((" ".join(shop.name.split()), settings.DEFAULT_FROM_EMAIL)),
        to=[message.to],
        reply_to=[shop.email] if shop.email else None,
        headers={"Message-ID": message.message_id},
    )


def _claim(message: Message, *, by: Hand | None, at: datetime, again: bool) -> None:
    with write_tx():
        fresh = _fresh(message)
        if fresh.state not in SENDABLE and not (again and is_stuck(fresh, at)):
            raise DeedRefused(_why_not(fresh, at))
        fresh.state, fresh.claimed_at, fresh.error = MessageState.SENDING, at, ""
        fresh.tries += 1
        fresh.save(update_fields=["state", "claimed_at", "error", "tries"])
        message.tries = fresh.tries


def _sent(message: Message, *, by: Hand | None, at: datetime) -> Message:
    with write_tx():
        return _close(_fresh(message), MessageState.SENT, "sent message", by=by, at=at, sent_at=at)


def _failed(message: Message, why: str, *, by: Hand | None, at: datetime) -> Message:
    with write_tx():
        fresh = _fresh(message)
        # Another try may have taken over, or somebody closed it, while this one waited for its refusal.
        if fresh.state == MessageState.SENDING and fresh.tries == message.tries:
            _close(fresh, MessageState.FAILED, "message failed", by=by, at=at, sent_at=None, error=why[:300])
        return fresh


def _close(
    message: Message,
    state: MessageState,
    verb: str,
    *,
    by: Hand | None,
    at: datetime,
    sent_at: datetime | None,
    error: str = "",
) -> Message:
    message.state, message.sent_at, message.error = state, sent_at, error
    message.save(update_fields=["state", "sent_at", "error"])
    told = {"message": message.pk, "moment": message.moment, "try": message.tries}
    journal.note(verb, message.commission.code, by=by, at=at, after=told, reason=error)
    return message


def _open_message(message: Message, at: datetime) -> Message:
    fresh = _fresh(message)
    if fresh.state not in SENDABLE and not is_stuck(fresh, at):
        raise DeedRefused(_why_not(fresh, at))
    return fresh


def _fresh(message: Message) -> Message:
    return Message.objects.select_related("commission").get(pk=message.pk)


def _why_not(message: Message, at: datetime) -> str:
    if message.state == MessageState.SENDING:
        since = say.moment(message.claimed_at)
        if not is_stuck(message, at):
            return f"It is being sent just now, since {since}. Look again in a moment."
        return f"It is being sent since {since}: look whether it went, then send it again or mark it as sent."
    if message.state == MessageState.SENT:
        return f"It was sent on {say.moment(message.sent_at)} already."
    return f"It is closed: {message.get_state_display()}."


def _check(subject: str, body: str, to: str) -> None:
    if not subject.strip():
        raise DeedRefused("Give it a subject.", field="subject")
    if _BREAKS.search(subject):
        # A line break in a heading would begin another one (RFC 5322, 2.2; CWE-93).
        raise DeedRefused("Keep the subject to one line.", field="subject")
    if not body:
        raise DeedRefused("Write something.", field="body")
    if to:
        try:
            validate_email(to)
        except ValidationError as fault:
            raise DeedRefused(
                "That is no e-mail address; one looks like ada@example.org.", field="to"
            ) from fault


def _check_words(text: str, commission: Commission, item: CommissionItem | None) -> None:
    found = messages.findings(text, messages.gems_spoken_of(commission, item))
    if found:
        said = " ".join(f"“{one.words}”: {one.advice} ({one.rule})" for one in found)
        raise DeedRefused(
            f"It speaks of a finished stone in words that may not be used. {said}", field="body"
        )


def _new_message_id() -> str:
    """One for the life of the message; its right side is the shop's own mail domain."""
    domain = settings.DEFAULT_FROM_EMAIL.rpartition("@")[2]
    if not domain or domain == "localhost" or len(domain) > LONGEST_DOMAIN:
        domain = urlsplit(Shop.the().base_url).hostname or "workshop.invalid"
    return f"<{uuid.uuid4().hex}@{domain[:LONGEST_DOMAIN]}>"


def _in_plain_words(fault: Exception) -> str:
    """Why a send failed, for somebody who runs no mail servers."""
    for kinds, words in _FAULTS:
        if isinstance(fault, kinds):
            return words
    return f"The mail could not be handed over ({type(fault).__name__})."


#: Narrow ones first: several are kinds of OSError.
_FAULTS: Final[tuple[tuple[tuple[type[Exception], ...], str], ...]] = (
    ((smtplib.SMTPAuthenticationError,), "The mail server refused the shop's user name or password."),
    ((smtplib.SMTPRecipientsRefused,), "The mail server refused the client's address. Is it spelled right?"),
    ((smtplib.SMTPSenderRefused,), "The mail server refused the shop's own address (WORKSHOP_MAIL_FROM)."),
    ((smtplib.SMTPDataError,), "The mail server refused the message itself."),
    ((smtplib.SMTPNotSupportedError,), "The mail server does not offer what WORKSHOP_MAIL_TLS or _USER asks for."),
    ((smtplib.SMTPServerDisconnected,),
     "The mail server hung up. It may have taken the message all the same: look before you send it again."),
    ((smtplib.SMTPException,), "The mail server did not take the message."),
    ((ssl.SSLError,), "No safe connection to the mail server could be made (WORKSHOP_MAIL_TLS, WORKSHOP_MAIL_PORT)."),
    ((socket.gaierror,), "The mail server's name is not known (WORKSHOP_MAIL_HOST), or there is no network."),
    ((TimeoutError,),
     "The mail server did not answer in time. It may have taken it all the same: look before you send it again."),
    ((OSError,), "The mail server cannot be reached."),
    ((ValueError,), "The message cannot be written as e-mail: look at the subject and the addresses."),
)  # fmt: skip
