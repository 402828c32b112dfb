"""Every answer carries the same guard, whatever answered: page, refusal, error (OWASP ASVS 5.0.0, 3.4.1 to 3.4.6)."""

import pytest
from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.http import HttpResponse
from django.test import Client, RequestFactory
from django.urls import path, reverse

from workshop.common.middleware import HeadersMiddleware

WANTED = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=(), browsing-topics=()",
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; font-src 'self'; "
        "connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'; manifest-src 'self'; "
        "worker-src 'self'"
    ),
}


def broken(request):
    raise RuntimeError("secret figures")


urlpatterns = [path("broken", broken)]
handler404 = "django.views.defaults.page_not_found"


@pytest.mark.django_db
def test_a_missing_page_carries_them(client):
    answer = client.get("/no-such-page")
    assert {name: answer.headers.get(name) for name in WANTED} == WANTED


@pytest.mark.django_db
def test_a_refused_form_carries_them():
    answer = Client(enforce_csrf_checks=True).post(reverse("common:sign_in"), {"username": "ada"})
    assert answer.status_code == 403
    assert {name: answer.headers.get(name) for name in WANTED} == WANTED


@pytest.mark.django_db
@pytest.mark.urls("tests.common.test_headers")
def test_a_fault_of_ours_carries_them_and_tells_nothing(client, caplog):
    from django.contrib.auth import get_user_model

    client.raise_request_exception = False
    client.force_login(get_user_model().objects.create(username="ada"))
    answer = client.get("/broken")
    assert answer.status_code == 500
    assert b"secret figures" not in answer.content
    assert b"Traceback" not in answer.content
    assert {name: answer.headers.get(name) for name in WANTED} == WANTED


def test_the_policy_allows_nothing_inline_and_no_other_host():
    sources = [source for group in settings.SECURE_CSP.values() for source in group]
    assert set(sources) <= {"'none'", "'self'", "data:", "blob:"}
    assert settings.SECURE_CSP["script-src"] == settings.SECURE_CSP["style-src"] == ["'self'"]


class _SignedIn:
    is_authenticated = True


@pytest.mark.parametrize(("user", "kept"), [(_SignedIn(), "no-store"), (AnonymousUser(), None)])
def test_what_a_person_signed_in_saw_is_kept_nowhere(user, kept):
    request = RequestFactory().get("/")
    request.user = user
    answer = HeadersMiddleware(lambda request: HttpResponse("5.20 ct"))(request)
    assert answer.headers.get("Cache-Control") == kept


def test_a_view_may_say_otherwise():
    def view(request):
        return HttpResponse("a public card", headers={"Cache-Control": "public, max-age=60"})

    request = RequestFactory().get("/")
    request.user = _SignedIn()
    assert HeadersMiddleware(view)(request).headers["Cache-Control"] == "public, max-age=60"
