"""Signing in, the shop, its hands, the journal, and pictures for who may see them."""

from __future__ import annotations

from datetime import timedelta

from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import LoginView, LogoutView
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.decorators import method_decorator
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from . import actions, photos
from .access import hand_of, owner_only
from .deeds import posted, posted_files, status_of, try_deed
from .forms import FirstOwnerForm, HandForm, NewHandForm, PasswordFields, ShopForm
from .models import Hand, JournalEntry, Photo, Role, Shop
from .paging import page_of


@method_decorator(login_not_required, name="dispatch")
class SignIn(LoginView):
    """Name and password. Repeated failures lock the name for a while (django-axes)."""

    template_name = "registration/login.html"
    redirect_authenticated_user = True


class SignOut(LogoutView):
    """Ends the session; a POST, so that no link can do it."""


@login_not_required
@never_cache
@require_http_methods(["GET", "POST"])
def open_shop(request: HttpRequest, token: str) -> HttpResponse:
    """The one-time link from the terminal: makes the first owner, signs them in, leads to the first steps."""
    if Hand.objects.filter(role=Role.OWNER).exists():
        messages.info(request, "This shop has its owner already; sign in.")
        return redirect("common:sign_in")
    form = FirstOwnerForm(posted(request))
    if request.method == "POST" and form.is_valid() and (password_hash := _hashed(form)):
        name = form.cleaned_data["username"]

        def deed() -> str:
            return actions.open_shop(
                token, username=name, password_hash=password_hash, at=timezone.now()
            ).username

        if made := try_deed(request, form, deed, anyone=True):
            owner = Hand.objects.get(username=made)
            login(request, owner, backend="django.contrib.auth.backends.ModelBackend")
            return redirect("common:first_steps")
    return render(request, "common/open_shop.html", {"form": form}, status=status_of(form))


def _hashed(form: PasswordFields, hand: Hand | None = None) -> str | None:
    """The hash of the password typed, or None with the form saying what is wrong with it."""
    try:
        return actions.hashed(
            form.cleaned_data["password"], hand or Hand(username=form.cleaned_data["username"])
        )
    except ValidationError as error:
        form.add_error("password", error)
        return None


@owner_only
@require_http_methods(["GET", "POST"])
def first_steps(request: HttpRequest) -> HttpResponse:
    """A short page for a new shop: name, currency, unit habits, hourly rate, the scale's step."""
    return _shop_form(request, "common/first_steps.html", then="/")


@owner_only
@require_http_methods(["GET", "POST"])
def shop(request: HttpRequest) -> HttpResponse:
    """The shop's own words and figures."""
    return _shop_form(request, "common/shop.html", then="common:shop")


def _shop_form(request: HttpRequest, template: str, *, then: str) -> HttpResponse:
    shop = Shop.the()
    form = ShopForm(posted(request), posted_files(request), shop=shop)
    if request.method == "POST" and form.is_valid():

        def deed() -> str:
            by, now, changes = hand_of(request), timezone.now(), form.changes()
            for sizes in form.cleaned_data["mark"]:
                changes["mark"] = photos.keep(sizes, by=by, at=now)
            actions.describe_shop(changes, by=by, at=now)
            return "done"

        if try_deed(request, form, deed):
            messages.success(request, "Kept.")
            return redirect(then)
    return render(request, template, {"form": form, "shop": shop}, status=status_of(form))


@owner_only
@require_safe
def hands(request: HttpRequest) -> HttpResponse:
    """Who may sign in, as what."""
    return render(request, "common/hands.html", {"hands": Hand.objects.all()})


@owner_only
@require_http_methods(["GET", "POST"])
def add_hand(request: HttpRequest) -> HttpResponse:
    """Let somebody in."""
    form = NewHandForm(posted(request), currency=Shop.the().currency)
    if request.method == "POST" and form.is_valid() and (password_hash := _hashed(form)):
        typed = form.cleaned_data

        def deed() -> str:
            actions.add_hand(
                username=typed["username"],
                password_hash=password_hash,
                role=typed["role"],
                full_name=typed["full_name"],
                rate=typed["hourly_rate"],
                by=hand_of(request),
                at=timezone.now(),
            )
            return "done"

        if try_deed(request, form, deed):
            messages.success(request, f"{typed['username']} may sign in now.")
            return redirect("common:hands")
    return render(request, "common/add_hand.html", {"form": form}, status=status_of(form))


@owner_only
@require_http_methods(["GET", "POST"])
def change_hand(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a hand's part, rate, or whether they may sign in."""
    hand = get_object_or_404(Hand, pk=pk)
    form = HandForm(posted(request), hand=hand, currency=Shop.the().currency)
    if request.method == "POST" and form.is_valid():
        changes = {name: form.cleaned_data[name] for name in ("role", "hourly_rate", "is_active")}

        def deed() -> str:
            actions.change_hand(hand, changes, by=hand_of(request), at=timezone.now())
            return "done"

        if try_deed(request, form, deed):
            messages.success(request, "Kept.")
            return redirect("common:hands")
    return render(request, "common/change_hand.html", {"form": form, "hand": hand}, status=status_of(form))


@require_http_methods(["GET", "POST"])
def password(request: HttpRequest, pk: int) -> HttpResponse:
    """A new password: one's own, or as the owner anybody's."""
    by = hand_of(request)
    hand = get_object_or_404(Hand, pk=pk if by.runs_the_shop else by.pk)
    if hand.pk != pk:
        raise Http404
    form = PasswordFields(posted(request))
    if request.method == "POST" and form.is_valid() and (password_hash := _hashed(form, hand)):

        def deed() -> str:
            actions.set_password(hand, password_hash, by=by, at=timezone.now())
            return "done"

        if try_deed(request, form, deed):
            if hand.pk == by.pk:
                login(request, hand, backend="django.contrib.auth.backends.ModelBackend")
            messages.success(request, "The new password holds from now on.")
            return redirect("common:hands" if by.runs_the_shop else "/")
    return render(request, "common/password.html", {"form": form, "hand": hand}, status=status_of(form))


@owner_only
@require_safe
def journal(request: HttpRequest) -> HttpResponse:
    """Every deed: who, when, what, before and after."""
    entries = JournalEntry.objects.select_related("by")
    about = request.GET.get("about", "").strip()[:40]
    if about:
        entries = entries.filter(about__iexact=about)
    page = page_of(request, entries, sorts={"written": "pk"}, default="-written")
    return render(request, "common/journal.html", {"page": page, "entries": page.rows, "about": about})


@require_safe
def photo(request: HttpRequest, sha: str, size: str) -> HttpResponse:
    """A picture, for who is signed in. Its name is its content, so it may be kept by the browser for good."""
    if size not in photos.SIZES:
        raise Http404
    picture = get_object_or_404(Photo, sha256=sha)
    try:
        data = photos.read(picture, size)
    except FileNotFoundError as error:
        raise Http404 from error
    response = HttpResponse(data, content_type="image/jpeg")
    response["Cache-Control"] = f"private, max-age={int(timedelta(days=365).total_seconds())}, immutable"
    return response
