"""Addresses of the stones room."""

from __future__ import annotations

from django.urls import include, path

from .views import bench, clock, lists, pieces, stages, stone, times, weights, words

app_name = "stones"

urlpatterns = [
    path("", include("workshop.stones.urls_label")),
    path("", lists.stones, name="stones"),
    path("", include("workshop.stones.urls_lots")),
    path("clock/start/", clock.start_clock, name="start_clock"),
    path("clock/stop/", clock.stop_clock, name="stop_clock"),
    path("times/", times.times, name="times"),
    path("times/add/", times.add_time, name="add_time"),
    path("times/<int:pk>/correct/", times.time_correct, name="time_correct"),
    path("times/<int:pk>/strike/", times.time_strike, name="time_strike"),
    path("times/<int:pk>/keep/", times.time_keep, name="time_keep"),
    path("bench/", bench.wheel, name="wheel"),
    path("bench/<str:code>/", bench.bench, name="bench"),
    path("weighings/<int:pk>/correct/", weights.correct_weight, name="correct_weight"),
    path("steps/<int:pk>/take-back/", stages.take_back, name="take_back"),
    path("<str:code>/", stone.stone, name="stone"),
    path("<str:code>/weigh/", weights.weigh, name="weigh"),
    path("<str:code>/move/", stages.move, name="move"),
    path("<str:code>/back/", stages.back, name="back"),
    path("<str:code>/wait/", stages.wait, name="wait"),
    path("<str:code>/resume/", stages.resume, name="resume"),
    path("<str:code>/stop-note-done/", stages.stop_note_done, name="stop_note_done"),
    path("<str:code>/split/", pieces.split, name="split"),
    path("<str:code>/break/", pieces.break_, name="break"),
    path("<str:code>/end/", stages.end, name="end"),
    path("<str:code>/again/", stages.again, name="again"),
    path("<str:code>/note/", words.note, name="note"),
    path("<str:code>/plan/", words.plan, name="plan"),
    path("<str:code>/statement/", words.statement, name="statement"),
    path("<str:code>/photo/", words.photo, name="photo"),
    path("<str:code>/extra/", words.extra, name="extra"),
    path("<str:code>/buy/", words.buy, name="buy"),
]
