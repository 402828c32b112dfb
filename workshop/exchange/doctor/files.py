"""Pictures, documents and papers: everything a row speaks of is there, and is what it was."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator

from django.core.files.storage import default_storage

from workshop.common import photos
from workshop.common.models import Photo
from workshop.papers import actions as papers_of
from workshop.papers import keys
from workshop.papers.models import Paper
from workshop.rough import documents
from workshop.rough.models import LotDocument

Told = tuple[str, str, bool]
BRING_BACK = "Bring the file back from a backup (media)."


def pictures() -> Iterator[Told]:
    """Each size of each photograph, and each document, under the hash of what it holds."""
    for sha in Photo.objects.values_list("sha256", flat=True).iterator():
        for size in photos.SIZES:
            path = photos.path_of(sha, size)
            if not default_storage.exists(path):
                yield f"The {size} size of photograph {sha[:12]} is missing.", BRING_BACK, True
            elif size == "large" and _hash(path) != sha:
                yield f"Photograph {sha[:12]} is not the one that was kept.", BRING_BACK, True
    for sha, title in LotDocument.objects.values_list("sha256", "title").iterator():
        path = documents.path_of(sha)
        if not default_storage.exists(path) or _hash(path) != sha:
            yield f"The document “{title}” is missing or changed.", BRING_BACK, True


def papers() -> Iterator[Told]:
    """Record, bytes and signature of each paper; and that the key that signs today can be read."""
    try:
        keys.current()
    except keys.KeyDamaged as damage:
        yield damage.message, "Until then no paper can be issued.", True
    for paper in Paper.objects.select_related("key").prefetch_related("files").iterator(chunk_size=100):
        for fault in papers_of.faults(paper):
            yield fault, "Do not rely on it; restore a backup, or void it and issue it anew.", True


def _hash(path: str) -> str:
    with default_storage.open(path) as handle:
        return hashlib.sha256(handle.read()).hexdigest()
