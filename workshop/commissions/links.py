"""The client's private link: a random key and its signature, so that the database alone opens nothing.

OWASP ASVS 5.0.0, 7.2.3: a reference token has 128 random bits at the least. The signature (HMAC-SHA256, FIPS 198-1
and 180-4) is under a key derived from the shop's secret key, which lies outside the database; the cutter can
therefore copy a link again as long as it lasts, and a stolen copy of the rows gives nobody a way in.
"""

from __future__ import annotations

import ipaddress
import re
import secrets
from datetime import datetime, timedelta
from typing import Final
from urllib.parse import urljoin

from django.urls import reverse
from django.utils.crypto import constant_time_compare, salted_hmac

from .models import ClientLink, Commission, WrongAddress

KEY_BYTES: Final = 16
_SALT: Final = "workshop.commissions.links.client"
_PLACE_SALT: Final = "workshop.commissions.links.place"
#: 16 bytes in base64 are 22 letters; a SHA-256 in hexadecimal has 64.
_SHAPE: Final = re.compile(r"(?P<key>[A-Za-z0-9_-]{22})\.(?P<signature>[0-9a-f]{64})", re.ASCII)

WRONG_MOST: Final = 20
WRONG_WITHIN: Final = timedelta(minutes=10)
#: An IPv6 site commonly holds a whole /64, any address of which one person may use (RFC 6177, RFC 4291 2.5.4).
SITE_BITS: Final = 64


def new_key() -> str:
    """A key nobody guesses: 128 random bits."""
    return secrets.token_urlsafe(KEY_BYTES)


def token_of(link: ClientLink) -> str:
    """What stands in the address: the key and its signature."""
    return f"{link.key}.{_signature(link.key)}"


def address_of(link: ClientLink) -> str:
    """The path of the client's page."""
    return reverse("client:page", args=[token_of(link)])


def full_address(link: ClientLink, base_url: str) -> str:
    """The whole address, as the client opens it; ``base_url`` is where the shop is reached from outside."""
    return urljoin(base_url.rstrip("/") + "/", address_of(link).lstrip("/"))


def link_of(token: str, now: datetime) -> ClientLink | None:
    """The link a token opens; None alike for one malformed, forged, unknown, withdrawn or run out."""
    shape = _SHAPE.fullmatch(token)
    key, signature = (shape["key"], shape["signature"]) if shape else ("", "")
    # Compared even where the shape is wrong, and before any row is looked for: no answer comes sooner than another.
    if not constant_time_compare(signature, _signature(key)) or shape is None:
        return None
    link = ClientLink.objects.select_related("commission__client").filter(key=key).first()
    return link if link is not None and is_open(link, now) else None


def is_open(link: ClientLink, now: datetime) -> bool:
    """Whether it still opens the page."""
    return link.withdrawn_at is None and now < link.expires_at


def open_link(commission: Commission, now: datetime) -> ClientLink | None:
    """The newest link of a commission that still opens its page."""
    found = commission.links.filter(withdrawn_at__isnull=True, expires_at__gt=now)
    return found.order_by("-expires_at", "-pk").first()


def place_of(client_address: str) -> str:
    """Where somebody asks from, as a keyed hash: enough to count by, and no address is kept."""
    return salted_hmac(_PLACE_SALT, _site(client_address), algorithm="sha256").hexdigest()


def is_busy(place: str, now: datetime) -> bool:
    """Whether too many wrong addresses were asked for from a place lately."""
    recent = WrongAddress.objects.filter(place=place, at__gt=now - WRONG_WITHIN)
    return recent.count() >= WRONG_MOST


def _site(client_address: str) -> str:
    try:
        address = ipaddress.ip_address(client_address)
    except ValueError:
        return client_address
    if isinstance(address, ipaddress.IPv6Address):
        if address.ipv4_mapped is not None:
            return str(address.ipv4_mapped)
        return str(ipaddress.ip_network((address, SITE_BITS), strict=False))
    return str(address)


def _signature(key: str) -> str:
    return salted_hmac(_SALT, key, algorithm="sha256").hexdigest()
