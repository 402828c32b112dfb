"""Human codes without gaps: L-0007, S-0123, G-0101."""

from __future__ import annotations

from .models import Series


def take(prefix: str) -> str:
    """The next code of a series. Call inside ``write_tx``: a deed that fails gives its number back."""
    series, _ = Series.objects.select_for_update().get_or_create(prefix=prefix)
    series.last += 1
    series.save(update_fields=["last"])
    return f"{prefix}-{series.last:04d}"
