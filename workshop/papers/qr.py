"""QR codes as SVG, after ISO/IEC 18004: error correction level M, a quiet zone of four modules on each side."""

from __future__ import annotations

import io
from decimal import Decimal
from typing import Final

import segno

QUIET_ZONE: Final = 4
"""Modules left empty on each side (ISO/IEC 18004; <https://www.qrcode.com/en/howto/code.html>)."""

LEAST_MODULE_MM: Final = Decimal("0.33")
"""What a telephone reads without trouble; common practice, no source."""


def svg(text: str) -> bytes:
    """The code of a text as SVG without a size of its own, dark on white, quiet zone included."""
    out = io.BytesIO()
    _code(text).save(
        out, kind="svg", border=QUIET_ZONE, light="#fff", dark="#000", xmldecl=False, nl=False, omitsize=True
    )
    return out.getvalue()


def module_mm(text: str, side_mm: Decimal) -> Decimal:
    """How large one module gets when the code, quiet zone included, is printed ``side_mm`` wide."""
    modules = int(_code(text).symbol_size(scale=1, border=QUIET_ZONE)[0])
    return side_mm / modules


def _code(text: str) -> segno.QRCode:
    return segno.make(text, error="m", boost_error=False, micro=False)
