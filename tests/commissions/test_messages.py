"""Writing to a client: from the records, sent once, never lost, never forged.

RFC 5322 (2.2 no line break in a heading, 3.6.4 one Message-ID for one message); OWASP ASVS 5.0.0, 1.3.11 (mail injection).
"""

import smtplib
import socket
import threading
from datetime import timedelta
from decimal import Decimal

import pytest
from django.conf import settings as django_settings
from django.core import mail
from django.core.mail.backends.base import BaseEmailBackend
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from tests.commissions.told import make_ask, make_open
from tests.makers import (
    DAY,
    NOON,
    make_answered_gem,
    make_clients_stone,
    make_commission,
    make_gem,
    make_hand,
    make_owner,
    make_reader,
    make_shop,
)
from workshop.commissions import links, messages
from workshop.commissions.actions import account, pieces
from workshop.commissions.actions import messages as actions
from workshop.commissions.actions.intake import PieceSpec, take_in
from workshop.commissions.actions.links import make_link, withdraw_link
from workshop.commissions.models import Commission, Delivery, Message, MessageState, Moment
from workshop.commissions.owed import owed
from workshop.common import tx
from workshop.common.errors import DeedRefused
from workshop.common.models import JournalEntry
from workshop.handbook.units import parse_weight
from workshop.stones import actions as stones

pytestmark = pytest.mark.django_db
HERE = "tests.commissions.test_messages"


@pytest.fixture
def owner(client):
    make_shop(
        name="Vale Cutting", email="bench@vale.example", cutter="Oona Vale", base_url="https://vale.example"
    )
    person = make_owner()
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return person


@pytest.fixture
def commission(owner):
    return make_open(by=owner)[0]


def written(commission, by, **said):
    told = {
        "moment": "other",
        "subject": "A word",
        "body": "Dear Mara, all is well.",
        "to": "mara@example.org",
        **said,
    }
    return actions.write_message(commission, by=by, at=timezone.now(), **told)


class Refusing(BaseEmailBackend):
    """A mail server that will not; ``fault`` says how."""

    fault: Exception = smtplib.SMTPException("no")

    def send_messages(self, letters):
        raise self.fault


class Slow(BaseEmailBackend):
    """A mail server that takes its time, and notes what it was given and in what state we are."""

    given: list = []
    began, may_go = threading.Event(), threading.Event()
    held: list = []

    def send_messages(self, letters):
        self.held.append((getattr(tx._held, "depth", 0), connection.in_atomic_block))
        self.given.extend(letters)
        self.began.set()
        self.may_go.wait(10)
        return len(letters)

    @classmethod
    def anew(cls):
        cls.given, cls.held = [], []
        cls.began.clear()
        cls.may_go.clear()


# --- The words ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("moment", Moment.values)
def test_every_moment_has_its_words_and_none_of_them_is_internal(commission, moment):
    subject, body = messages.wording(commission, moment)
    assert subject.startswith(f"{commission.code}: ")
    assert body.startswith("Dear Mara Quill,\n\n")
    assert body.endswith("With kind regards\nOona Vale\nVale Cutting")
    assert messages.LINK_HERE in body
    for word in ("SENTINEL", "77123", "77,123", "66456", "55789", "44321", "None", "13.579"):
        assert word not in subject + body


def test_received_tells_weight_and_size_by_scale(owner, commission):
    item = commission.items.get()
    spec = PieceSpec(
        stated_to_be="an aquamarine", seen_as="a pale blue crystal", weight=parse_weight("2.469 g"), item=item,
        length_mm=Decimal("10.2"), width_mm=Decimal("8.1"), depth_mm=Decimal("6"), declared_value=Decimal("77123"),
        declared_currency="EUR", declared_words="SENTINEL",
    )  # fmt: skip
    take_in(commission, pieces=[spec], handed_by="Mara Quill", received_at=NOON, by=owner, at=NOON)
    _, body = messages.wording(commission, "received")
    # 2.469 g / 0.2 g = 12.345 ct (the metric carat, 4th CGPM, 1907).
    assert "a pale blue crystal: 12.345\u00a0ct (2.469\u00a0g), 10.20 × 8.10 × 6.00 mm" in body
    assert "77" not in body and "SENTINEL" not in body


def test_the_quote_is_told_by_its_ranges_floor_deposit_and_last_day(commission):
    subject, body = messages.wording(commission, "quote")
    last = timezone.localdate() + timedelta(days=14)
    assert subject == f"{commission.code}: your quote, version 1"
    for words in (
        "180.00–260.00\u00a0EUR", "19\u00a0% tax", "2.50–3.10\u00a0ct", "below 2.40\u00a0ct I stop and ask you first",
        "Deposit: 90.00\u00a0EUR before the work begins", f"It stands until {last:%-d %b %Y}",
    ):  # fmt: skip
        assert words in body, words


def test_the_go_ahead_tells_what_came_and_what_is_missing_of_the_deposit(owner):
    commission, _ = make_open(by=owner, state="accepted")
    assert "As soon as the deposit, 90.00\u00a0EUR, is here" in messages.wording(commission, "go_ahead")[1]
    paid = {"paid_as": "deposit", "way": "transfer", "on": DAY, "note": "", "by": owner, "at": NOON}
    account.pay(commission, amount=Decimal("40"), **paid)
    body = messages.wording(commission, "go_ahead")[1]
    assert "Your deposit of 40.00\u00a0EUR arrived" in body
    assert "the rest of the deposit, 50.00\u00a0EUR, is here" in body
    account.pay(commission, amount=Decimal("50"), **paid)
    body = messages.wording(commission, "go_ahead")[1]
    assert "Your deposit of 90.00\u00a0EUR arrived" in body
    assert "As soon as" not in body


def test_a_question_is_told_with_its_figures_and_answers(owner):
    commission, _ = make_open(by=owner, state="accepted")
    ask = make_ask(commission, by=owner, options=["Cut it out", "Leave it in"])
    subject, body = messages.wording(commission, "surprise", ask=ask)
    assert "work has stopped" in subject
    for words in (
        "A veil reaches the table.",
        "2.10–2.40\u00a0ct",
        "200.00\u00a0EUR",
        "– Cut it out",
        "– Leave it in",
    ):
        assert words in body, words


def test_the_queue_the_bench_the_post_and_the_arrival_are_told_from_the_rows(owner):
    commission, _ = make_open(by=owner, state="accepted")
    Commission.objects.filter(pk=commission.pk).update(queue_place=3, due_on=DAY)
    commission.refresh_from_db()
    assert "number 3 in the queue" in messages.wording(commission, "queue")[1]
    assert "the week of 2 Mar 2026" in messages.wording(commission, "queue")[1]
    stone = make_clients_stone(commission.client, by=owner)
    pieces.link_stone(commission.items.get(), stone, by=owner, at=NOON)
    stones.move_on(stone, "first_polished", by=owner, at=NOON)
    assert "Your stone: pavilion polished" in messages.wording(commission, "pavilion")[1]
    delivery = Delivery.objects.create(
        code="D-1", commission=commission, on=DAY, how="registered post", tracking="RR 123 XX",
        declared_value=Decimal("77123"), insured_by="SENTINEL",
    )  # fmt: skip
    body = messages.wording(commission, "posted")[1]
    assert "left here on 2 Mar 2026: registered post" in body and "RR 123 XX" in body
    assert "77" not in body and "SENTINEL" not in body
    delivery.arrived_on = DAY + timedelta(days=3)
    delivery.save()
    assert "arrived on 5 Mar 2026" in messages.wording(commission, "arrived")[1]


def finished(owner, **said):
    commission, _ = make_open(by=owner, state="accepted")
    stone = make_clients_stone(commission.client, by=owner)
    pieces.link_stone(commission.items.get(), stone, by=owner, at=NOON)
    gem = make_answered_gem(stone=stone, by=owner, **said)
    return commission, gem


def test_a_finished_stone_is_told_by_scale_with_what_it_is_and_its_treatment(owner):
    """The name and the treatment stand together (16 CFR 23.24; CIBJO Gemstone Book 5.3: before the sale, in words)."""
    commission, gem = finished(owner)
    subject, body = messages.wording(commission, "finished")
    for words in ("2.34\u00a0ct by scale", "9.12 × 7.04 × 5.20\u00a0mm", "oval", "Tourmaline", "Treatment: "):
        assert words in body, (words, body)
    assert "Treatment: heated; permanent in normal wear" in body
    assert "Nature: natural, mined" in body
    assert "Not tested by the cutter: mined or grown and treatment." in body
    assert messages.findings(f"{subject}\n{body}", [gem]) == []
    assert (
        written(commission, owner, moment="finished", subject=subject, body=body).state == MessageState.READY
    )


def test_a_finished_stone_whose_questions_are_open_is_called_by_its_code(owner):
    commission, _ = make_open(by=owner, state="accepted")
    stone = make_clients_stone(commission.client, by=owner)
    pieces.link_stone(commission.items.get(), stone, by=owner, at=NOON)
    gem = make_gem(stone=stone, by=owner)
    body = messages.wording(commission, "finished")[1]
    assert gem.code in body
    assert "told on its card" in body
    assert messages.findings(body, [gem]) == []


@pytest.mark.parametrize(
    ("words", "rule"),
    [
        ("It is untreated.", "untreated"),  # 16 CFR 23.24: it was heated
        ("No faux of its kind.", "faux"),  # 16 CFR 23.25(b), note 1
        ("A semi-precious stone.", "semi"),  # decree 2002-65, art. 4
        ("It weighs 2.50 ct.", "23.18"),  # 16 CFR 23.18(c): it weighs 2.345 ct
        ("A flawless stone.", "flawless"),  # 16 CFR 23.28
    ],
)
def test_words_that_may_not_be_said_of_a_finished_stone_are_refused_beside_the_text(owner, words, rule):
    commission, _ = finished(owner)
    with pytest.raises(DeedRefused) as refusal:
        written(commission, owner, body=f"Dear Mara, {words}")
    assert refusal.value.field == "body"
    assert rule in refusal.value.message.lower()
    assert not Message.objects.exists()


def test_before_it_is_finished_the_same_words_are_nobodys_claim(owner, commission):
    assert written(commission, owner, body="You wrote that it is untreated.").pk


# --- Keeping and refusing -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("subject", "Hello\nBcc: all@example.org"),
        ("subject", "Hello\r\nBcc: all@example.org"),
        ("subject", "Hello\x00"),
        ("subject", "Hello\u2028Bcc: all@example.org"),
        ("subject", "   "),
        ("body", "  "),
        ("to", "mara.example.org"),
        ("to", "mara@example.org\nBcc: all@example.org"),
        ("to", "mara@example.org, all@example.org"),
        ("to", "Mara <mara@example.org>"),
    ],
)
def test_a_forged_heading_and_an_address_that_is_none_are_refused_beside_their_field(
    owner, commission, client, field, typed
):
    with pytest.raises(DeedRefused) as refusal:
        written(commission, owner, **{field: typed})
    assert refusal.value.field == field
    form = {"to": "mara@example.org", "subject": "A word", "body": "Dear Mara", field: typed}
    answer = client.post(f"/commissions/{commission.code}/messages/write/", {**form, "send": "1"})
    assert answer.status_code == 422
    assert answer.context["form"].errors[field]
    assert not Message.objects.exists()
    assert mail.outbox == []


def test_a_shop_with_a_line_break_in_its_name_forges_no_heading(owner, commission):
    make_shop(
        name="Vale\r\nBcc: all@example.org", email="bench@vale.example", base_url="https://vale.example"
    )
    sent = actions.send_message(written(commission, owner), by=owner, at=timezone.now())
    assert sent.state == MessageState.SENT
    raw = mail.outbox[0].message().as_string()
    assert "\nBcc:" not in raw
    assert mail.outbox[0].recipients() == ["mara@example.org"]


def test_a_private_link_is_put_in_only_when_it_leaves(owner, commission):
    link = commission.links.get()
    address = links.full_address(link, "https://vale.example")
    message = written(
        commission, owner, body=f"See {messages.LINK_HERE}\nor {address} or {links.address_of(link)}"
    )
    assert message.body == f"See {messages.LINK_HERE}\nor {messages.LINK_HERE} or {messages.LINK_HERE}"
    actions.send_message(message, by=owner, at=timezone.now())
    assert mail.outbox[0].body == f"See {address}\nor {address} or {address}"
    token = links.token_of(link)
    rows = [*Message.objects.values_list(), *JournalEntry.objects.values_list()]
    assert not [row for row in rows if token in repr(row)], "the database alone opens nothing"


def test_without_an_open_link_a_text_that_holds_one_waits(owner, commission):
    withdraw_link(commission.links.get(), by=owner, at=timezone.now())
    message = written(commission, owner, body=f"See {messages.LINK_HERE}")
    with pytest.raises(DeedRefused, match="no private link is open"):
        actions.send_message(message, by=owner, at=timezone.now())
    message.refresh_from_db()
    assert (message.state, message.tries) == (MessageState.READY, 0)
    make_link(commission, by=owner, at=timezone.now())
    assert actions.send_message(message, by=owner, at=timezone.now()).state == MessageState.SENT


# --- Sending ------------------------------------------------------------------------------------------------------


def test_a_letter_goes_out_with_its_own_id_from_the_shop_and_answers_come_to_it(owner, commission):
    message = written(
        commission, owner, subject="Grüße aus der Werkstatt", body="Liebe Mara, alles gut: 5 × 7 mm."
    )
    sent = actions.send_message(message, by=owner, at=timezone.now())
    assert (sent.state, sent.tries, sent.error) == (MessageState.SENT, 1, "")
    assert sent.sent_at is not None
    letter = mail.outbox[0]
    assert letter.to == ["mara@example.org"]
    assert letter.reply_to == ["bench@vale.example"]
    assert letter.from_email == f"Vale Cutting <{django_settings.DEFAULT_FROM_EMAIL}>"
    head = letter.message()
    assert head["Message-ID"] == message.message_id
    assert head["Message-ID"].endswith("@vale.example>")
    with pytest.raises(DeedRefused, match="was sent on"):
        actions.send_message(message, by=owner, at=timezone.now())
    assert len(mail.outbox) == 1


FAULTS = [
    (smtplib.SMTPAuthenticationError(535, b"no"), "user name or password"),
    (smtplib.SMTPRecipientsRefused({"mara@example.org": (550, b"no")}), "refused the client's address"),
    (smtplib.SMTPSenderRefused(550, b"no", "x"), "refused the shop's own address"),
    (smtplib.SMTPDataError(554, b"no"), "refused the message itself"),
    (smtplib.SMTPServerDisconnected("gone"), "look before you send it again"),
    (smtplib.SMTPException("?"), "did not take the message"),
    (socket.gaierror(-2, "no"), "name is not known"),
    (TimeoutError("slow"), "did not answer in time"),
    (ConnectionRefusedError(111, "no"), "cannot be reached"),
    (ValueError("heading"), "cannot be written as e-mail"),
    (RuntimeError("SECRET password"), "RuntimeError"),
]


@pytest.mark.parametrize(
    ("fault", "words"), FAULTS, ids=lambda one: type(one).__name__ if isinstance(one, Exception) else ""
)
def test_a_refusal_is_kept_in_plain_words_and_the_same_message_can_be_sent_again(
    owner, commission, settings, monkeypatch, fault, words
):
    settings.EMAIL_BACKEND = f"{HERE}.Refusing"
    monkeypatch.setattr(Refusing, "fault", fault)
    message = written(commission, owner)
    failed = actions.send_message(message, by=owner, at=timezone.now())
    assert (failed.state, failed.tries) == (MessageState.FAILED, 1)
    assert words in failed.error
    assert "SECRET" not in failed.error
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    again = actions.send_message(message, by=owner, at=timezone.now())
    assert (again.state, again.tries, again.error) == (MessageState.SENT, 2, "")
    assert mail.outbox[0].message()["Message-ID"] == message.message_id


@pytest.mark.django_db(transaction=True)
def test_eight_senders_at_once_send_once_and_hold_nothing_while_they_wait(owner, settings):
    settings.EMAIL_BACKEND = f"{HERE}.Slow"
    Slow.anew()
    message = written(make_open(by=owner)[0], owner)
    together, done, refused = threading.Barrier(8), [], []

    def send():
        together.wait()
        try:
            done.append(actions.send_message(message, by=owner, at=timezone.now()).state)
        except DeedRefused as refusal:
            refused.append(refusal.message)
        finally:
            connection.close()

    threads = [threading.Thread(target=send) for _ in range(8)]
    for thread in threads:
        thread.start()
    assert Slow.began.wait(10)
    # While the server takes its time another deed is done at once: nobody holds the write lock.
    before = timezone.now()
    written(Commission.objects.get(), owner, subject="Another")
    assert timezone.now() - before < timedelta(seconds=5)
    Slow.may_go.set()
    for thread in threads:
        thread.join()
    assert done == [MessageState.SENT]
    assert len(refused) == 7
    assert all("being sent just now" in one or "was sent on" in one for one in refused)
    assert len(Slow.given) == 1
    assert Slow.held == [(0, False)], "sent outside every transaction"


def stuck(commission, owner, minutes=10):
    """A message whose sender died between claim and answer."""
    message = written(commission, owner)
    Message.objects.filter(pk=message.pk).update(
        state=MessageState.SENDING, claimed_at=timezone.now() - timedelta(minutes=minutes), tries=1
    )
    message.refresh_from_db()
    return message


def test_a_send_nobody_answers_for_is_looked_at_by_a_person(owner, commission, client):
    message = stuck(commission, owner)
    page = client.get(message.get_absolute_url()).content.decode()
    assert "look in the shop" in page and "mark as sent" in page and "send again" in page
    with pytest.raises(DeedRefused, match="look whether it went, then send it again or mark it as sent"):
        actions.send_message(message, by=owner, at=timezone.now())
    assert mail.outbox == []
    assert actions.send_message(message, by=owner, at=timezone.now(), again=True).state == MessageState.SENT
    assert mail.outbox[0].message()["Message-ID"] == message.message_id
    other = stuck(commission, owner)
    assert actions.mark_sent(other, by=owner, at=timezone.now()).state == MessageState.SENT
    assert len(mail.outbox) == 1


def test_what_is_being_sent_just_now_is_touched_by_nobody(owner, commission):
    message = stuck(commission, owner, minutes=1)
    now = timezone.now()
    for deed in (
        lambda: actions.send_message(message, by=owner, at=now, again=True),
        lambda: actions.mark_sent(message, by=owner, at=now),
        lambda: actions.mark_copied(message, by=owner, at=now),
        lambda: actions.drop_message(message, by=owner, at=now),
    ):
        with pytest.raises(DeedRefused, match="being sent just now"):
            deed()
    assert mail.outbox == []


def test_a_late_refusal_does_not_undo_a_later_try_that_went(owner, commission, settings, monkeypatch):
    """The first try waits for its refusal so long that somebody tried again meanwhile, and that one went."""
    message = written(commission, owner)

    class TakenOver(BaseEmailBackend):
        def send_messages(self, letters):
            Message.objects.filter(pk=message.pk).update(claimed_at=timezone.now() - timedelta(minutes=10))
            settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
            fresh = Message.objects.get(pk=message.pk)
            assert (
                actions.send_message(fresh, by=owner, at=timezone.now(), again=True).state
                == MessageState.SENT
            )
            raise TimeoutError

    monkeypatch.setattr(f"{HERE}.TakenOver", TakenOver, raising=False)
    settings.EMAIL_BACKEND = f"{HERE}.TakenOver"
    actions.send_message(message, by=owner, at=timezone.now())
    message.refresh_from_db()
    assert (message.state, message.tries, message.error) == (MessageState.SENT, 2, "")
    assert len(mail.outbox) == 1


def test_it_may_be_given_another_way_or_left(owner, commission):
    copied = actions.mark_copied(written(commission, owner, to=""), by=owner, at=timezone.now())
    assert copied.state == MessageState.COPIED
    dropped = actions.drop_message(written(commission, owner), by=owner, at=timezone.now())
    assert dropped.state == MessageState.DROPPED
    for closed in (copied, dropped):
        for deed in (actions.send_message, actions.mark_copied, actions.drop_message):
            with pytest.raises(DeedRefused):
                deed(closed, by=owner, at=timezone.now())
    with pytest.raises(DeedRefused, match="No address stands on it"):
        actions.send_message(written(commission, owner, to=""), by=owner, at=timezone.now())
    assert mail.outbox == []


def test_what_the_client_told_is_kept_and_counts_as_heard(owner, commission, client):
    answer = client.post(
        f"/commissions/{commission.code}/messages/told/", {"words": "Make it a cushion, she said."}
    )
    assert answer.status_code == 302
    told = commission.messages.get()
    commission.refresh_from_db()
    assert (told.from_client, told.state, told.body) == (
        True,
        MessageState.TOLD,
        "Make it a cushion, she said.",
    )
    assert commission.heard_at == told.made_at
    assert client.post(f"/commissions/{commission.code}/messages/told/", {"words": " "}).status_code == 422
    with pytest.raises(DeedRefused):
        actions.send_message(told, by=owner, at=timezone.now())


# --- The pages ----------------------------------------------------------------------------------------------------


def test_one_tap_fills_in_the_text_and_one_more_sends_it_once(owner, commission, client):
    at = f"/commissions/{commission.code}/messages/write/?moment=quote"
    form = client.get(at).context["form"]
    typed = {name: form[name].value() for name in ("to", "subject", "body", "once")}
    assert typed["to"] == "mara@example.org"
    answers = [client.post(at, {**typed, "send": "1"}) for _ in range(2)]
    assert [one.status_code for one in answers] == [302, 302]
    assert len(mail.outbox) == 1
    assert links.full_address(commission.links.get(), "https://vale.example") in mail.outbox[0].body
    message = commission.messages.get()
    assert (message.moment, message.state) == ("quote", MessageState.SENT)
    page = client.get(message.get_absolute_url()).content.decode()
    assert links.token_of(commission.links.get()) not in page, "what is closed is not offered to copy"


def test_a_kept_message_can_be_copied_by_the_owner_alone(owner, commission, client):
    at = f"/commissions/{commission.code}/messages/write/?moment=quote"
    form = client.get(at).context["form"]
    client.post(at, {name: form[name].value() for name in ("to", "subject", "body")})
    message = commission.messages.get()
    assert message.state == MessageState.READY
    token = links.token_of(commission.links.get())
    assert token in client.get(message.get_absolute_url()).content.decode()
    reader = Client()
    reader.force_login(make_reader(), backend="django.contrib.auth.backends.ModelBackend")
    page = reader.get(message.get_absolute_url())
    assert page.status_code == 200
    assert token not in page.content.decode()


def test_a_press_that_comes_too_late_shows_the_message_as_it_is(owner, commission, client):
    message = written(commission, owner)
    send = f"{message.get_absolute_url()}send/"
    assert client.post(send).status_code == 302
    late = client.post(send)
    assert late.status_code == 409
    assert "It was sent on" in late.content.decode()
    assert client.post(f"{message.get_absolute_url()}copied/").status_code == 409
    assert client.get(send).status_code == 405
    assert len(mail.outbox) == 1


def test_a_failed_one_shows_why_and_offers_another_try(owner, commission, client, settings):
    settings.EMAIL_BACKEND = f"{HERE}.Refusing"
    message = written(commission, owner)
    answer = client.post(f"{message.get_absolute_url()}send/", follow=True)
    assert "Not sent: The mail server did not take the message." in answer.content.decode()
    assert "Send it again" in answer.content.decode()
    listed = client.get("/commissions/messages/?state=open").content.decode()
    assert "failed" in listed


def test_without_a_mail_server_the_page_says_that_nothing_leaves(owner, commission, client, settings, capsys):
    settings.EMAIL_BACKEND = "django.core.mail.backends.console.EmailBackend"
    message = written(commission, owner)
    page = client.get(message.get_absolute_url()).content.decode()
    assert "No mail server is set up" in page
    answer = client.post(f"{message.get_absolute_url()}send/", follow=True)
    assert "no mail left" in answer.content.decode()
    assert "Dear Mara, all is well." in capsys.readouterr().out


@pytest.mark.parametrize(
    "query", ["moment=nonsense", "moment=quote&item=9", "moment=quote&item=x", "moment=surprise&ask=999", "like=1", "item=" + "9" * 30]
)  # fmt: skip
def test_nonsense_in_the_address_of_a_new_message_is_not_found(owner, commission, client, query):
    assert client.get(f"/commissions/{commission.code}/messages/write/?{query}").status_code == 404


def test_a_message_belongs_to_its_commission_and_to_whoever_may_see_it(owner, commission, client):
    message = written(commission, owner)
    other = make_commission(by=owner)
    assert client.get(f"/commissions/{other.code}/messages/{message.pk}/").status_code == 404
    assert client.post(f"/commissions/{other.code}/messages/{message.pk}/send/").status_code == 404
    hand, reader = Client(), Client()
    hand.force_login(make_hand(), backend="django.contrib.auth.backends.ModelBackend")
    reader.force_login(make_reader(), backend="django.contrib.auth.backends.ModelBackend")
    for at in ("/commissions/messages/", message.get_absolute_url()):
        assert (hand.get(at).status_code, reader.get(at).status_code) == (403, 200)
    for at in (f"{message.get_absolute_url()}send/", f"/commissions/{commission.code}/messages/write/"):
        assert (hand.post(at).status_code, reader.post(at).status_code) == (403, 403)
    assert mail.outbox == []


def test_the_list_finds_by_words_state_and_day_and_asks_as_often_for_many(owner, commission, client):
    written(commission, owner, subject="About a veil")
    client.get("/commissions/messages/")
    counts = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as asked:
            client.get("/commissions/messages/")
        counts.append(len(asked))
        for number in range(12):
            written(commission, owner, subject=f"More {number}")
    assert counts[0] == counts[1]
    found = client.get("/commissions/messages/?words=veil").context["page"]
    assert found.total == 1
    assert client.get("/commissions/messages/?state=sent").context["page"].total == 0
    assert client.get(f"/commissions/messages/?words={commission.code.lower()}").context["page"].total == 25
    assert client.get("/commissions/messages/?since=nonsense").status_code == 422


# --- What is owed -------------------------------------------------------------------------------------------------


def test_a_word_is_owed_from_its_moment_until_it_is_told(owner):
    commission, _ = make_open(by=owner)
    assert [one.moment for one in owed(commission)] == [Moment.QUOTE]
    assert "moment=quote" in owed(commission)[0].query
    message = written(commission, owner, moment="quote")
    assert owed(commission) == []
    actions.drop_message(message, by=owner, at=timezone.now())
    assert [one.moment for one in owed(commission)] == [Moment.QUOTE]
    agreed, _ = make_open("Odo Other", by=owner, state="accepted")
    ask = make_ask(agreed, by=owner)
    (one,) = owed(agreed)
    assert (one.moment, one.item, one.ask) == (Moment.SURPRISE, ask.item, ask)
    written(agreed, owner, moment="surprise", item=ask.item)
    assert owed(agreed) == []
