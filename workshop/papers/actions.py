"""What people do with papers: issue one, revise it, void it, and fetch or check its bytes."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any, Final

from django.urls import reverse

from workshop.common import journal, numbers
from workshop.common.errors import DeedRefused
from workshop.common.models import Hand, Shop
from workshop.common.tx import write_tx

from . import checking, keys, qr
from .kinds import SERIES, SHEETS
from .models import Paper, PaperFile, PaperKey, PaperKind
from .record import canonical, plain, sha256_of
from .rendering import PaperDamaged, content_of, draw

CHECK_BYTES: Final = 16
"""128 random bits: nobody guesses the address of a check page."""

QR_SIDE_MM: Final = Decimal(20)
"""The width of the code on the smallest card, quiet zone included."""


def issue(
    kind: PaperKind,
    about: str,
    content: dict[str, Any],
    *,
    by: Hand | None,
    at: datetime,
    base_url: str = "",
    supersedes: Paper | None = None,
    reason: str = "",
    sizes: Sequence[str] = (),
) -> Paper:
    """Give a content its number, check code and date and freeze it. The bytes are drawn later, by ``bytes_of``.

    ``base_url`` is where the check page is reached when the shop has not said so itself. Numbers run without a
    gap: a paper that is refused gives its number back.
    """
    with write_tx():
        shop = Shop.the()
        number = numbers.take(SERIES[kind])
        check_code = secrets.token_urlsafe(CHECK_BYTES)
        record = plain(content) | {
            "about": about,
            "check_code": check_code,
            "check_url": _check_url(shop.base_url or base_url, check_code),
            "issued_at": at.isoformat(),
            "issued_on": shop.day_of(at).isoformat(),
            "kind": kind.value,
            "number": number,
            "sizes": list(sizes or SHEETS[kind]),
            "supersedes": supersedes.number if supersedes else "",
        }
        text = canonical(record)
        key = keys.current()
        paper = Paper.objects.create(
            number=number,
            kind=kind,
            about=about,
            content=text,
            content_sha256=sha256_of(text),
            check_code=check_code,
            issued_at=at,
            issued_by=by,
            key=_known(key, at),
            signature=key.sign(text.encode()),
            supersedes=supersedes,
            revision_reason=reason,
        )
        said = {"paper": number, "sha256": paper.content_sha256}
        journal.note(f"issue {kind.label}", about, by=by, at=at, after=said, reason=reason)
    return paper


def _known(key: keys.ShopKey, at: datetime) -> PaperKey:
    return PaperKey.objects.get_or_create(public=key.public, defaults={"since": at})[0]


def change_key(*, reason: str, by: Hand | None, at: datetime) -> PaperKey:
    """Sign with a new key from now on. What the old one signed stays valid; its file is laid aside, not deleted."""
    if not reason.strip():
        raise DeedRefused("Say why: the reason stays with the key.", field="reason")
    with write_tx():
        old, new = keys.rotate()
        if old is not None:
            row = _known(old, at)
            row.until, row.why = at, reason.strip()
            row.save(update_fields=["until", "why"])
        known = _known(new, at)
        before = {"key": old.fingerprint if old else ""}
        journal.note(
            "changed the key of papers", "papers", by=by, at=at, before=before,
            after={"key": new.fingerprint}, reason=reason,
        )  # fmt: skip
    return known


def revise(
    paper: Paper, content: dict[str, Any], *, reason: str, by: Hand | None, at: datetime, base_url: str = ""
) -> Paper:
    """Issue a paper that takes the place of one that stands, with a reason; the old one stays as it is."""
    with write_tx():
        old = _standing(paper)
        _refuse_of_account(old)
        reason = _reasoned(reason)
        sizes = content_of(old)["sizes"]
        return issue(
            PaperKind(old.kind), old.about, content, by=by, at=at, base_url=base_url, supersedes=old,
            reason=reason, sizes=sizes,
        )  # fmt: skip


def void(paper: Paper, *, reason: str, by: Hand | None, at: datetime) -> Paper:
    """Withdraw a paper that stands, with a reason that its check page shows."""
    with write_tx():
        paper = _standing(paper)
        _refuse_of_account(paper)
        paper.voided_at, paper.voided_by, paper.void_reason = at, by, _reasoned(reason)
        paper.save(update_fields=Paper.LATER)
        journal.note(
            "void paper", paper.about, by=by, at=at, after={"paper": paper.number}, reason=paper.void_reason
        )
    return paper


def bytes_of(paper: Paper, size: str, *, at: datetime) -> PaperFile:
    """The PDF of a paper in one size, as stored; drawn and stored now when nobody asked for it yet.

    Drawing happens outside every write. Raises PaperDamaged when what is stored is not what was issued.
    """
    if size not in content_of(paper)["sizes"]:
        raise DeedRefused(f"{paper.number} was not issued in the size “{size}”.")
    kept = PaperFile.objects.filter(paper=paper, size=size).first()
    if kept is None:
        data = draw(paper, size)
        with write_tx():
            kept = PaperFile.objects.filter(paper=paper, size=size).first() or PaperFile.objects.create(
                paper=paper, size=size, pdf=data, sha256=sha256_of(data), rendered_at=at
            )
            if paper.key is not None and keys.holding(paper.key.public) is None:
                # The file of its key is lost: what vouches for it now has to be among the keys the shop knows.
                _known(keys.current(), at)
    if not checking.is_whole(kept):
        raise PaperDamaged(f"The PDF of {paper.number} is not the one that was issued.")
    return kept


def faults(paper: Paper) -> list[str]:
    """What is not as it was issued; an empty list when record and all bytes are."""
    found = []
    try:
        content = content_of(paper)
        said = (content["number"], content["about"], content["kind"], content["check_code"])
        if said != (paper.number, paper.about, paper.kind, paper.check_code):
            found.append(f"The record speaks of {content['number']}, the row of {paper.number}.")
    except PaperDamaged as damage:
        found.append(damage.message)
    if paper.key is not None and not keys.verifies(paper.key.public, paper.content.encode(), paper.signature):
        found.append(f"The signature of {paper.number} does not hold.")
    found += [
        f"The PDF in size {kept.size} is not the one that was issued."
        for kept in paper.files.all()
        if not checking.is_whole(kept)
    ]
    return found


def _standing(paper: Paper) -> Paper:
    fresh = Paper.objects.select_related("superseded_by").get(pk=paper.pk)
    if fresh.voided_at is not None:
        raise DeedRefused(f"{fresh.number} was voided already: {fresh.void_reason}")
    if not fresh.stands:
        raise DeedRefused(f"{fresh.number} was superseded by {fresh.superseded_by.number}.")
    return fresh


def _refuse_of_account(paper: Paper) -> None:
    if paper.is_of_account:
        raise DeedRefused(
            f"{paper.number} is a paper of account: it is put right by a credit note that names it, "
            "never withdrawn or changed."
        )


def _reasoned(reason: str) -> str:
    if not reason.strip():
        raise DeedRefused("Say why: the reason stays with the paper.", field="reason")
    return reason.strip()


def _check_url(base_url: str, check_code: str) -> str:
    if not base_url:
        raise DeedRefused("Say in the shop's settings where a buyer reaches the check pages.")
    url = base_url.rstrip("/") + reverse("papers:check", args=[check_code])
    if qr.module_mm(url, QR_SIDE_MM) < qr.LEAST_MODULE_MM:
        raise DeedRefused("The address of the check pages is too long for a code that a telephone reads.")
    return url
