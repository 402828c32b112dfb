"""Addresses of the commissions room: the client's link, and messages."""

from __future__ import annotations

from django.urls import path
from django.urls.resolvers import URLPattern

from .views import messages

urlpatterns: list[URLPattern] = [
    path("messages/", messages.outbox, name="messages"),
    path("<slug:code>/messages/write/", messages.write, name="write_message"),
    path("<slug:code>/messages/told/", messages.told, name="note_told"),
    path("<slug:code>/messages/<int:pk>/", messages.message, name="message"),
    path("<slug:code>/messages/<int:pk>/send/", messages.send, name="message_send"),
    path("<slug:code>/messages/<int:pk>/sent/", messages.mark_sent, name="message_mark_sent"),
    path("<slug:code>/messages/<int:pk>/copied/", messages.copied, name="message_copied"),
    path("<slug:code>/messages/<int:pk>/drop/", messages.drop, name="message_drop"),
    path("<slug:code>/link/", messages.link_make, name="link_make"),
    path("<slug:code>/link/<int:pk>/withdraw/", messages.link_withdraw, name="link_withdraw"),
]
