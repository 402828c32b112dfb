"""The street door: which room answers which address. Each room names its own pages in its `urls.py`."""

from django.contrib import admin
from django.urls import include, path

urlpatterns = [
    path("", include("workshop.common.urls")),
    path("people/", include("workshop.people.urls")),
    path("materials/", include("workshop.materials.urls")),
    path("papers/", include("workshop.papers.urls")),
    path("rough/", include("workshop.rough.urls")),
    path("stones/", include("workshop.stones.urls")),
    path("gems/", include("workshop.gems.urls")),
    path("planning/", include("workshop.planning.urls")),
    path("commissions/", include("workshop.commissions.urls")),
    path("yours/", include("workshop.commissions.urls_client")),
    path("sales/", include("workshop.sales.urls")),
    path("", include("workshop.books.urls")),
    path("admin/", admin.site.urls),
]
