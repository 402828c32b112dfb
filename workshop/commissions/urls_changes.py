"""Addresses of the commissions room: the account, stop-and-ask, and everything that changes after the yes."""

from __future__ import annotations

from django.urls import path
from django.urls.resolvers import URLPattern

from .views import account, asks, changes

PIECE = "<slug:code>/piece/<int:number>"

urlpatterns: list[URLPattern] = [
    path("at-the-wheel/<slug:stone_code>/", asks.at_the_wheel, name="at_the_wheel"),
    path("charges/<int:pk>/take-it-back/", account.charge_back, name="charge_back"),
    path("questions/<int:pk>/they-answered/", asks.ask_answer, name="ask_answer"),
    path("questions/<int:pk>/take-it-back/", asks.ask_withdraw, name="ask_withdraw"),
    path("questions/<int:pk>/new-version/", asks.ask_version, name="ask_version"),
    path("<slug:code>/account/", account.account, name="account"),
    path("<slug:code>/go-ahead/", account.go_ahead, name="go_ahead"),
    path("<slug:code>/charge/", account.charge, name="charge"),
    path("<slug:code>/pay/", account.pay, name="pay"),
    path("<slug:code>/refund/", account.refund, name="refund"),
    path("<slug:code>/cancel/", changes.cancel, name="cancel"),
    path("<slug:code>/hold/", changes.hold, name="hold"),
    path("<slug:code>/heard/", changes.off_hold, name="off_hold"),
    path(f"{PIECE}/ask/", asks.ask, name="ask"),
    path(f"{PIECE}/differs/", asks.differs, name="differs"),
    path(f"{PIECE}/charge/", account.charge_work, name="charge_work"),
    path(f"{PIECE}/unworked/", changes.unworked, name="unworked"),
    path(f"{PIECE}/broken/", changes.broken, name="broken"),
    path(f"{PIECE}/lost/", changes.lost, name="lost"),
    path(f"{PIECE}/found/", changes.found, name="found"),
    path(f"{PIECE}/drop/", changes.drop, name="drop"),
    path(f"{PIECE}/give-back/", changes.give_back, name="give_back"),
    path(f"{PIECE}/buy/", changes.buy, name="buy"),
    path(f"{PIECE}/off-cut/", changes.off_cut, name="off_cut"),
    path(f"{PIECE}/replace/", changes.replace, name="replace"),
    path(f"{PIECE}/design/", changes.design, name="design"),
]
