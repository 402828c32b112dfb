"""The one door to PDF: a template, its context and its pictures in; the same bytes out, every time.

Locked down: the renderer may fetch only what was handed to it (``app:`` names) and ``data:`` addresses; no file,
no network, no redirect. One shared FontConfiguration, because a fresh one for each paper costs time and leaks
memory. Written as PDF/A-3a: tagged, fonts and colour profile inside, made to be read in ten years; that is what the
renderer intends, and no outside validator has confirmed it.
"""

from __future__ import annotations

import atexit
import os
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any, Final

from django.conf import settings
from django.template.loader import render_to_string

from workshop.common.errors import DeedRefused

from . import sealing
from .kinds import Sheet

VARIANT: Final = "pdf/a-3a"
DENSITIES: Final = (0, 1, 2, 3)
TIGHTEST: Final = 4
"""How tightly a sheet is set, loosest first; at the tightest, long readings are cut (the check page has them)."""

SHORT: Final = 4
"""A document of so few pages is set a little closer where that saves a page with a few lines on it."""

WHOLE: Final[dict[str, int | None]] = dict.fromkeys(("fact", "text", "basis", "shop", "treatment"))
"""Nothing is cut."""

FONTS: Final = Path(__file__).parent / "fonts"
PDF_MISSING: Final = (
    "PDFs cannot be made on this machine, because the system library Pango is missing; on Debian or Ubuntu run: "
    "apt-get install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu-core, then start again."
)

# A fallback font (a name in Hebrew, an emoji) is cut down by fontTools, which writes today's date into it unless
# told one; a date of our own keeps the bytes of a paper the same on every day.
os.environ.setdefault("SOURCE_DATE_EPOCH", "1764028800")

# Pango's font map is shared, and two renders at once on two cores gain nothing that a shop would notice.
_one_at_a_time = threading.BoundedSemaphore(1)


class PdfUnavailable(DeedRefused):
    """No PDF can be made here; the sentence says what to install."""


class CannotRender(DeedRefused):
    """The renderer refused the content, or it does not fit its sheet."""


@dataclass(frozen=True)
class Sealed:
    """The record that travels inside a file, who signed it, its moment, and the hand that seals the whole."""

    record: str
    signed: sealing.Signed
    issued_at: datetime
    sign: Callable[[bytes], str]


def render(
    sheet: Sheet,
    context: Mapping[str, Any],
    files: Mapping[str, bytes] | None = None,
    sealed: Sealed | None = None,
) -> bytes:
    """The PDF of a sheet. ``files`` are the pictures its template may name, each as ``app:<name>``: JPEG or SVG.
    ``sealed`` attaches the record and signs the file.

    Raises PdfUnavailable without Pango, CannotRender where the content does not fit or cannot be drawn.
    """
    if not settings.PDF_AVAILABLE:
        raise PdfUnavailable(PDF_MISSING)
    try:
        import weasyprint  # noqa: F401  it looks for Pango when it is imported
    except (ImportError, OSError) as error:
        raise PdfUnavailable(PDF_MISSING) from error
    with _one_at_a_time:
        try:
            return _render(sheet, context, dict(files or {}), sealed)
        except DeedRefused:
            raise
        except Exception as error:  # the renderer's own parsers raise all sorts for input made to harm
            raise CannotRender("This paper could not be drawn; check its texts and pictures.") from error


def _render(
    sheet: Sheet, context: Mapping[str, Any], files: dict[str, bytes], sealed: Sealed | None
) -> bytes:
    densities = DENSITIES[:1] if sheet.runs_on else DENSITIES
    types = [(density, WHOLE) for density in densities] + [(TIGHTEST, cut) for cut in sheet.cuts]
    for density, cut in types:
        laid_out = _lay_out(sheet, {**context, "density": density, "cut": cut}, files)
        if sheet.fits(len(laid_out.pages)):
            if sheet.runs_on and 1 < len(laid_out.pages) <= SHORT:
                laid_out = _shortest(sheet, context, files, laid_out)
            return _written(laid_out, _options(sheet), sealed)
    raise CannotRender(f"It does not fit {sheet.words}: shorten the longest texts.")


def _shortest(sheet: Sheet, context: Mapping[str, Any], files: dict[str, bytes], loosest: Any) -> Any:
    """The loosest setting of those that make the fewest pages."""
    found = [loosest]
    for density in sheet.closer:
        found.append(_lay_out(sheet, {**context, "density": density, "cut": WHOLE}, files))
        if len(found[-1].pages) == 1:
            break
    return min(found, key=lambda one: len(one.pages))


def _written(laid_out: Any, options: dict[str, Any], sealed: Sealed | None) -> bytes:
    if sealed is None:
        return bytes(laid_out.write_pdf(**options))
    laid_out.metadata.attachments = sealing.attachments(sealed.record, sealed.signed, sealed.issued_at)
    made = bytes(laid_out.write_pdf(finisher=sealing.leave_readable, **options))
    return sealing.seal(made, sealed.sign)


def _lay_out(sheet: Sheet, context: Mapping[str, Any], files: dict[str, bytes]) -> Any:
    from weasyprint import HTML

    fetcher = _fetcher(files)
    html = HTML(string=render_to_string(sheet.template, context), url_fetcher=fetcher, base_url=None)
    document = html.render(stylesheets=[_styles(sheet.styles)], font_config=_font_config(), **_options(sheet))
    if fetcher.refused:
        # The renderer would go on without a picture; a paper is whole or it is not drawn.
        raise CannotRender(f"This paper asks for something it was not given: {fetcher.refused[0]}.")
    return document


def _options(sheet: Sheet) -> dict[str, Any]:
    return {"pdf_variant": VARIANT, "dpi": sheet.photo_dpi}


@cache
def _font_config() -> Any:
    from weasyprint.text.fonts import FontConfiguration

    # It keeps the faces in a folder of its own and takes it away when it goes: let it go before Python does.
    atexit.register(_let_go)
    return FontConfiguration()


def _let_go() -> None:
    _styles.cache_clear()
    _font_config.cache_clear()


@cache
def _styles(name: str) -> Any:
    from weasyprint import CSS

    faces = {path.name: path.read_bytes() for path in FONTS.glob("*.woff2")}
    return CSS(
        string=render_to_string(name),
        font_config=_font_config(),
        url_fetcher=_fetcher(faces),
        base_url=None,
    )


def _fetcher(files: Mapping[str, bytes]) -> Any:
    from weasyprint.urls import URLFetcher, URLFetcherResponse

    class Locked(URLFetcher):
        """Hands out what it was given and nothing else, and remembers what else was asked for."""

        refused: list[str]

        def fetch(self, url: str, headers: Any = None) -> Any:
            name = url.removeprefix("app:")
            if url.startswith("app:") and name in files:
                return URLFetcherResponse(url, files[name], {"Content-Type": _kind_of(name)})
            if url.startswith("data:"):
                return super().fetch(url, headers)
            self.refused.append(url[:80])
            raise ValueError("A paper fetches nothing from outside.")

    fetcher = Locked(allowed_protocols=("data", "app"), allow_redirects=False)
    fetcher.refused = []
    return fetcher


def _kind_of(name: str) -> str:
    kinds = {".svg": "image/svg+xml", ".jpg": "image/jpeg", ".woff2": "font/woff2"}
    return kinds.get(Path(name).suffix, "application/octet-stream")
