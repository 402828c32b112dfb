"""Addresses of the commissions room: quotes, from the draft to the answer."""

from __future__ import annotations

from django.urls import path
from django.urls.resolvers import URLPattern

from .views import quote_lines, quotes

urlpatterns: list[URLPattern] = [
    path("<slug:code>/quote/", quotes.draft, name="quote_draft"),
    path("<slug:code>/quotes/<int:version>/", quotes.quote, name="quote"),
    path("<slug:code>/quotes/<int:version>/terms/", quotes.terms, name="quote_terms"),
    path("<slug:code>/quotes/<int:version>/send/", quotes.send, name="quote_send"),
    path("<slug:code>/quotes/<int:version>/withdraw/", quotes.withdraw, name="quote_withdraw"),
    path("<slug:code>/quotes/<int:version>/answer/", quotes.answer, name="quote_answer"),
    path("<slug:code>/quotes/<int:version>/drop/", quotes.drop, name="quote_drop"),
    path("<slug:code>/quotes/<int:version>/paper.pdf", quotes.pdf, name="quote_pdf"),
    path("<slug:code>/quotes/<int:version>/<int:number>/", quote_lines.line, name="quote_line"),
    path("<slug:code>/quotes/<int:version>/<int:number>/out/", quote_lines.out, name="quote_line_out"),
]
