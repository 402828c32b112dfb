"""Addresses of the commissions room: taking in a client's goods."""

from __future__ import annotations

from django.urls import path

from .views import intake as views
from .views import intake_papers as papers

ONE = "<slug:code>/goods/<slug:intake_code>/"
urlpatterns = [
    path("goods-of-others/", views.goods_of_others, name="goods_of_others"),
    path("goods/<slug:intake_code>/", views.intake_by_code, name="intake_by_code"),
    path("<slug:code>/take-in/", views.take_in, name="take_in"),
    path(ONE, views.intake, name="intake"),
    path(f"{ONE}piece/", views.intake_piece, name="intake_piece"),
    path(f"{ONE}photographs/<int:pk>/", views.intake_photo, name="intake_photo"),
    path(f"{ONE}correct/<int:pk>/", views.intake_correct, name="intake_correct"),
    path(f"{ONE}mark/<int:pk>/", views.intake_mark, name="intake_mark"),
    path(f"{ONE}mark/<int:pk>/off/", views.intake_unmark, name="intake_unmark"),
    path(f"{ONE}receipt/", papers.intake_receipt, name="intake_receipt"),
    path(f"{ONE}receipt.pdf", papers.intake_pdf, name="intake_pdf"),
    path(f"{ONE}report/", papers.intake_report, name="intake_report"),
    path(f"{ONE}after/", papers.intake_after, name="intake_after"),
    path(f"{ONE}sign/", papers.intake_sign, name="intake_sign"),
]
