"""Addresses of the planning room."""

from __future__ import annotations

from django.urls import path

from .views import budget, calculators, options, plans

app_name = "planning"
urlpatterns = [
    path("", plans.plans, name="plans"),
    path("plans/<slug:code>/", plans.plan, name="plan"),
    path("stones/<slug:code>/", options.of_stone, name="options"),
    path("stones/<slug:code>/choose/", options.choose, name="choose"),
    path("lots/<slug:code>/", options.of_lot, name="lot_options"),
    path("lots/<slug:code>/choose/", options.choose_in_lot, name="choose_in_lot"),
    path("depth/", budget.depth_budget, name="depth"),
    path("recut/", budget.recut_or_accept, name="recut"),
    path("calculators/", calculators.index, name="calculators"),
    path("calculators/<slug:name>/", calculators.calculator, name="calculator"),
]
