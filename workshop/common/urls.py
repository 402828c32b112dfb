"""Addresses of the shop's own pages."""

from django.urls import path, register_converter

from . import views


class Sha256:
    """A content's hash in an address."""

    regex = "[0-9a-f]{64}"

    def to_python(self, value: str) -> str:
        return value

    def to_url(self, value: str) -> str:
        return value


register_converter(Sha256, "sha256")

app_name = "common"
urlpatterns = [
    path("sign-in/", views.SignIn.as_view(), name="sign_in"),
    path("sign-out/", views.SignOut.as_view(), name="sign_out"),
    path("open/<str:token>/", views.open_shop, name="open_shop"),
    path("first-steps/", views.first_steps, name="first_steps"),
    path("shop/", views.shop, name="shop"),
    path("hands/", views.hands, name="hands"),
    path("hands/add/", views.add_hand, name="add_hand"),
    path("hands/<int:pk>/", views.change_hand, name="change_hand"),
    path("hands/<int:pk>/password/", views.password, name="password"),
    path("journal/", views.journal, name="journal"),
    path("photos/<sha256:sha>/<slug:size>.jpg", views.photo, name="photo"),
]
