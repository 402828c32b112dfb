"""Addresses of the books."""

from django.urls import path

from . import views

app_name = "books"
urlpatterns = [
    path("", views.today, name="today"),
    path("find/", views.find, name="find"),
    path("books/stock/", views.stock, name="stock"),
    path("books/account/<str:code>/", views.account, name="account"),
]
