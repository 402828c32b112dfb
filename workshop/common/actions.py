"""What owners do with the shop itself and its hands."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from django.contrib.auth.hashers import make_password
from django.contrib.auth.password_validation import validate_password
from django.core import signing

from . import journal, public_words
from .errors import DeedRefused
from .models import Hand, Photo, Role, Shop
from .tx import write_tx

#: Signs the one-time link of the first owner, so that it cannot be taken for any other signed text.
OWNER_LINK_SALT = "workshop.owner-link"
OWNER_LINK_LIFE = timedelta(hours=24)

SHOP_WORDS = (
    "name", "cutter", "address", "email", "website", "tax_number", "currency", "zone", "weight_unit", "rough_unit",
    "hourly_rate", "scale_step_ct", "base_url", "tax_percent", "paper_language",
    "mark", "foot_words",
)  # fmt: skip


def owner_token() -> str:
    """A link text that makes the first owner. It is worth nothing once there is one."""
    return signing.TimestampSigner(salt=OWNER_LINK_SALT).sign(secrets.token_urlsafe(16))


def hashed(password: str, hand: Hand) -> str:
    """The strong hash of a good password. Slow on purpose: never call it inside a write transaction.

    Raises ValidationError for a password that is too short, too common or too like the name.
    """
    validate_password(password, hand)
    return make_password(password)


def open_shop(token: str, *, username: str, password_hash: str, at: datetime) -> Hand:
    """Make the first owner by the one-time link from the terminal."""
    try:
        signing.TimestampSigner(salt=OWNER_LINK_SALT).unsign(token, max_age=OWNER_LINK_LIFE)
    except signing.BadSignature as error:
        raise DeedRefused(
            "This link is not good any more; start the app again to get a fresh one."
        ) from error
    with write_tx():
        if Hand.objects.filter(role=Role.OWNER).exists():
            raise DeedRefused("This shop has its owner already; sign in instead.")
        return add_hand(username=username, password_hash=password_hash, role=Role.OWNER, by=None, at=at)


def add_hand(
    *,
    username: str,
    password_hash: str,
    role: str,
    by: Hand | None,
    at: datetime,
    full_name: str = "",
    rate: Any = None,
) -> Hand:
    """Let somebody in, as owner, hand or reader."""
    first, _, last = full_name.strip().partition(" ")
    hand = Hand(username=username, role=role, first_name=first, last_name=last, hourly_rate=rate)
    hand.password = password_hash
    _admin_flags(hand)
    with write_tx():
        hand.full_clean()
        hand.save()
        journal.note("let in", username, by=by, at=at, after={"role": role})
    return hand


def _admin_flags(hand: Hand) -> None:
    # Django's own admin is for the owner alone.
    hand.is_staff = hand.is_superuser = hand.role == Role.OWNER


def change_hand(hand: Hand, changes: Mapping[str, Any], *, by: Hand, at: datetime) -> Hand:
    """Change a hand's part, name, rate, or whether they may sign in. A shop keeps at least one owner."""
    with write_tx():
        hand = Hand.objects.get(pk=hand.pk)
        before = {name: getattr(hand, name) for name in changes}
        for name, value in changes.items():
            setattr(hand, name, value)
        _admin_flags(hand)
        owners = Hand.objects.filter(role=Role.OWNER, is_active=True).exclude(pk=hand.pk)
        if not owners.exists() and not (hand.is_active and hand.role == Role.OWNER):
            raise DeedRefused("A shop keeps at least one owner who can sign in.", field="role")
        hand.full_clean()
        hand.save()
        journal.note("changed hand", hand.username, by=by, at=at, before=before, after=dict(changes))
    return hand


def set_password(hand: Hand, password_hash: str, *, by: Hand, at: datetime) -> None:
    """Give somebody a new password; their other sessions end with it."""
    hand.password = password_hash
    with write_tx():
        hand.save(update_fields=["password"])
        journal.note("set password", hand.username, by=by, at=at)


def _plain(value: Any) -> Any:
    return value.sha256 if isinstance(value, Photo) else value


def describe_shop(changes: Mapping[str, Any], *, by: Hand | None, at: datetime) -> Shop:
    """Change the shop's own words and figures. Its currency is fixed once money was booked in it."""
    with write_tx():
        shop = Shop.the()
        changes = {name: value for name, value in changes.items() if name in SHOP_WORDS}
        if found := public_words.faults(changes.get("foot_words", "")):
            raise DeedRefused(" ".join(found), field="foot_words")
        before = {name: getattr(shop, name) for name in changes}
        for name, value in changes.items():
            setattr(shop, name, value)
        if shop.set_up_at is not None and changes.get("currency", before.get("currency")) != before.get(
            "currency"
        ):
            raise DeedRefused(
                "The shop's currency is fixed once it is set up: every sum is kept in it.", field="currency"
            )
        shop.set_up_at = shop.set_up_at or at
        shop.full_clean()
        shop.save()
        changed = [name for name, value in changes.items() if before[name] != value]
        journal.note(
            "described shop", "shop", by=by, at=at, before={name: _plain(before[name]) for name in changed},
            after={name: _plain(changes[name]) for name in changed},
        )  # fmt: skip
    return shop
