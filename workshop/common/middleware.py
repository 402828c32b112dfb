"""What every request passes: headers, the size of a body, the age of a session, the client's address."""

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import logout
from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse, HttpResponseBase, HttpResponseRedirect
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme

GetResponse = Callable[[HttpRequest], HttpResponseBase]

# Nothing in the shop listens, watches or asks where one is; the camera is reached through a file field, not by script.
PERMISSIONS_POLICY = "camera=(), geolocation=(), microphone=(), payment=(), usb=(), browsing-topics=()"
RENEW_AFTER = timedelta(minutes=15)
SIGNED_IN_AT = "signed_in_at"
SEEN_AT = "seen_at"


def content_security_policy(directives: dict[str, list[str]]) -> str:
    return "; ".join(f"{name} {' '.join(sources)}" for name, sources in directives.items())


class HeadersMiddleware:
    """The constant headers. On Django 6 the policy moves to Django's own middleware; its setting has that shape."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response
        self.policy = content_security_policy(settings.SECURE_CSP)

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", self.policy)
        response.headers.setdefault("Permissions-Policy", PERMISSIONS_POLICY)
        response.headers.setdefault("Cross-Origin-Resource-Policy", "same-origin")
        # Whitenoise sets a lifetime of its own; of what is left, nothing shown to a person signed in may be kept.
        user = getattr(request, "user", None)
        if user is not None and user.is_authenticated:
            response.headers.setdefault("Cache-Control", "no-store")
        return response


class RequestSizeMiddleware:
    """Refuses, unread, a body larger than any of our forms can need."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        if _body_size(request) > settings.REQUEST_MAX_BYTES:
            limit = settings.REQUEST_MAX_BYTES // (1024 * 1024)
            return HttpResponse(
                f"What was sent is larger than {limit} MB. Go back and send fewer or smaller files.\n",
                status=413,
                content_type="text/plain; charset=utf-8",
            )
        return self.get_response(request)


def _body_size(request: HttpRequest) -> int:
    try:
        return int(request.META.get("CONTENT_LENGTH") or 0)
    except ValueError:
        return 0


class SessionAgeMiddleware:
    """Ends a session that is old, and keeps one in use alive without a write on every page.

    Django could renew at each request, but on SQLite that makes every page that only reads wait for the write lock.
    """

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        if request.user.is_authenticated:
            self._keep_or_end(request, timezone.now())
        return self.get_response(request)

    def _keep_or_end(self, request: HttpRequest, now: datetime) -> None:
        began = _moment(request, SIGNED_IN_AT)
        if began is None:
            request.session[SIGNED_IN_AT] = request.session[SEEN_AT] = now.isoformat()
        elif now - began > settings.SESSION_LONGEST_AGE:
            logout(request)
        elif now - (_moment(request, SEEN_AT) or began) > RENEW_AFTER:
            request.session[SEEN_AT] = now.isoformat()


class SignInFirstMiddleware(LoginRequiredMiddleware):
    """Sends a stranger to the door, and whoever tapped on a page left open over night back to that page.

    Django would lead on to the address of the deed itself, and most deeds have no page to look at.
    """

    def handle_no_permission(self, request: HttpRequest, view_func: Any) -> HttpResponseRedirect:
        page = "" if request.method in {"GET", "HEAD"} else _page_before(request)
        if not page:
            return super().handle_no_permission(request, view_func)
        messages.warning(request, "You had been signed out, and nothing was kept. Do it once more.")
        return redirect_to_login(
            page, self.get_login_url(view_func), self.get_redirect_field_name(view_func) or "next"
        )


def _page_before(request: HttpRequest) -> str:
    """The page of this shop that a deed was sent from, as its browser says; nothing for any other."""
    said = request.headers.get("Referer", "")
    if not url_has_allowed_host_and_scheme(said, {request.get_host()}, require_https=request.is_secure()):
        return ""
    parts = urlsplit(said)
    return f"{parts.path}?{parts.query}" if parts.query else parts.path


def _moment(request: HttpRequest, key: str) -> datetime | None:
    said = request.session.get(key)
    return datetime.fromisoformat(said) if said else None


def client_address(request: HttpRequest) -> str:
    """Where a request comes from: the peer, or what our own proxies (TRUSTED_PROXIES of them) say of it.

    Only the last entries of X-Forwarded-For were written by our proxies; what stands before them anyone may have typed.
    """
    peer = str(request.META.get("REMOTE_ADDR", ""))
    if not settings.TRUSTED_PROXIES:
        return peer
    hops = [
        hop.strip() for hop in str(request.META.get("HTTP_X_FORWARDED_FOR", "")).split(",") if hop.strip()
    ]
    return hops[-settings.TRUSTED_PROXIES] if len(hops) >= settings.TRUSTED_PROXIES else peer
