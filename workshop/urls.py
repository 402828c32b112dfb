"""The street door: which room answers which address. Each room names its own pages in its `urls.py`."""

from importlib.util import find_spec

from django.contrib import admin
from django.urls import include, path

ROOMS = {
    "workshop.common": "",
    "workshop.people": "people/",
    "workshop.materials": "materials/",
    "workshop.papers": "papers/",
    "workshop.rough": "rough/",
    "workshop.stones": "stones/",
    "workshop.gems": "gems/",
    "workshop.planning": "planning/",
    "workshop.commissions": "commissions/",
    "workshop.sales": "sales/",
    "workshop.exchange": "exchange/",
    "workshop.books": "",
}

urlpatterns = [
    *[
        path(prefix, include(f"{room}.urls"))
        for room, prefix in ROOMS.items()
        if find_spec(room) and find_spec(f"{room}.urls")
    ],
    path("admin/", admin.site.urls),
]
