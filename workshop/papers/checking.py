"""A file handed in to be checked: is it the one that was issued, to the last bit, and does that paper still stand?"""

from __future__ import annotations

from dataclasses import dataclass

from . import keys, sealing
from .models import Paper, PaperFile, PaperKey
from .record import sha256_of


@dataclass(frozen=True)
class Verdict:
    """Whether a file is what it says it is, why, and the paper it belongs to where that is known."""

    good: bool
    words: str
    paper: Paper | None = None


def judge(data: bytes, expected: Paper | None = None) -> Verdict:
    """What a file is, against all that was issued here, or against one ``expected`` paper. Never raises.

    Kept bytes answer first; a file of ours that is not among them (drawn on another day by another version of the
    renderer) is told by its signatures.
    """
    rows = PaperFile.objects.select_related("paper__superseded_by", "paper__key")
    kept = rows.filter(sha256=sha256_of(data)).first()
    if kept is not None and is_whole(kept):
        good = Verdict(
            True, f"This file is {kept.paper.number}, to the last bit as it was issued.", kept.paper
        )
        return _against(good, expected)
    reading = sealing.read(data)
    if reading.record is None:
        return Verdict(
            False, " ".join((*reading.faults, "Ask for the file again, or compare the printed card."))
        )
    if reading.faults:
        return Verdict(False, " ".join(reading.faults) + " Do not rely on it.")
    if not PaperKey.objects.filter(public=reading.public).exists():
        return Verdict(
            False,
            f"It was signed with the key {reading.fingerprint}, which is none of this shop's. Do not rely on it.",
        )
    paper = (
        Paper.objects.select_related("superseded_by")
        .filter(number=str(reading.record.get("number", "")))
        .first()
    )
    if paper is None or reading.text != paper.content:
        return Verdict(False, "This shop signed it, and keeps no such paper: ask the cutter.")
    good = Verdict(True, f"This file holds {paper.number} as it was issued, signed and unchanged.", paper)
    return _against(good, expected)


def is_whole(kept: PaperFile) -> bool:
    """Whether kept bytes are those that were issued. Their hash lies beside them, so whoever changed the one could
    change the other: the shop's seal over them, and the record they were sealed with, have to fit too."""
    data, paper = bytes(kept.pdf), kept.paper
    if sha256_of(data) != kept.sha256:
        return False
    if paper.key is None:
        return True
    stamp = sealing.stamp(data)
    if stamp is None or stamp.record_sha256 != paper.content_sha256:
        return False
    return stamp.public == paper.key.public or PaperKey.objects.filter(public=stamp.public).exists()


def _against(verdict: Verdict, expected: Paper | None) -> Verdict:
    if expected is None or verdict.paper == expected:
        return verdict
    assert verdict.paper is not None
    return Verdict(
        False, f"This is a file of {verdict.paper.number}, not of {expected.number}.", verdict.paper
    )


def signature_words(paper: Paper) -> str:
    """What is to be said of a paper's signature, in a sentence."""
    if paper.key is None:
        return "It was issued before this shop signed its papers."
    holds = keys.verifies(paper.key.public, paper.content.encode(), paper.signature)
    word = "holds" if holds else "does not hold"
    return f"Signed with the shop's key {paper.key.fingerprint} (Ed25519); the signature {word}."
