"""Addresses of pairs and suites, taken in by `gems/urls.py`."""

from __future__ import annotations

from django.urls import path

from .views import suite_papers, suites

urlpatterns = [
    path("suites/", suites.suites, name="suites"),
    path("suites/new/", suites.make_suite, name="make_suite"),
    path("suites/papers/<slug:number>/revise/", suite_papers.revise_suite_paper, name="revise_suite_paper"),
    path("suites/<slug:code>/", suites.suite, name="suite"),
    path("suites/<slug:code>/change/", suites.change_suite, name="change_suite"),
    path("suites/<slug:code>/replace/", suites.replace_member, name="replace_member"),
    path("suites/<slug:code>/break-up/", suites.break_up, name="break_up_suite"),
    path("suites/<slug:code>/certificate/", suite_papers.issue_suite_paper, name="issue_suite_paper"),
]
