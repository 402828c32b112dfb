"""The part of the furniture that makes forms; ``{% load furniture %}`` brings it along.

form_open form action=url … form_end "Save" back; fieldset "Title" form "a b c"; field form.a unit="ct" size="s";
form_fields form; post_button url "Stop" icon="stop" kind="main". What a form asks stands beside its field, and every
deed behind a button carries the token against forged posts and a new one-time key.
"""

from __future__ import annotations

from typing import Any

from django import template
from django.forms import BaseForm, BoundField
from django.template import Context
from django.template.loader import render_to_string
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from workshop.common.once import new_key

register = template.Library()


def _unit_of(bound: BoundField) -> str:
    return getattr(bound.field, "unit", "") or bound.field.widget.attrs.get("data-unit", "")


def _kind_of(bound: BoundField) -> str:
    if bound.use_fieldset:
        return "group"
    kind = getattr(bound.field.widget, "input_type", "")
    return kind if kind in {"checkbox", "file"} else "plain"


@register.simple_tag
def field(bound: BoundField, label: str = "", help: str = "", unit: str = "", size: str = "") -> SafeString:
    """One field with its label, help, unit and errors; what is said beside it is tied to it for screen readers."""
    if not isinstance(bound, BoundField):
        raise template.TemplateSyntaxError("field: the form has no such field")
    if bound.is_hidden:
        return bound.as_hidden()
    unit, help = unit or _unit_of(bound), str(help or bound.help_text)
    told = [
        f"{bound.auto_id}_{part}"
        for part, there in (("unit", unit), ("helptext", help), ("error", bound.errors))
        if there
    ]
    kind = _kind_of(bound)
    attrs: dict[str, str | bool] = {"aria-describedby": " ".join(told)} if told and kind != "group" else {}
    return render_to_string(
        "common/_field.html",
        {
            "field": bound,
            "control": bound.as_widget(attrs=attrs),
            "kind": kind,
            "label": label or bound.label,
            "help": help,
            "unit": unit,
            "size": size,
            "told": " ".join(told),
        },
    )


def _chosen(form: BaseForm, names: str) -> list[BoundField]:
    # "sure" is asked beside the doubt it answers, on top of the form (_errors.html).
    return (
        [form[name] for name in names.split()]
        if names
        else [bound for bound in form.visible_fields() if bound.name != "sure"]
    )


@register.simple_tag
def form_fields(form: BaseForm, names: str = "") -> SafeString:
    """The named fields, or every visible one."""
    return format_html_join("", "{}", ((field(bound),) for bound in _chosen(form, names)))


@register.simple_tag
def fieldset(title: str, form: BaseForm, names: str, help: str = "") -> SafeString:
    """A titled group of fields."""
    line = format_html('<p class="field-help">{}</p>', help) if help else ""
    return format_html(
        '<fieldset class="group"><legend>{}</legend>{}{}</fieldset>', title, line, form_fields(form, names)
    )


@register.simple_tag(takes_context=True)
def form_open(
    context: Context, form: BaseForm, action: str = "", multipart: bool = False, **more: str
) -> SafeString:
    """The head of a form: its errors on top, the token against forged posts, hidden fields."""
    return render_to_string(
        "common/_form_open.html",
        {
            "form": form,
            "action": action,
            "multipart": multipart or form.is_multipart(),
            "css": more.get("class", ""),
            "csrf_token": context.get("csrf_token"),
        },
    )


@register.simple_tag
def form_end(submit: str = "Save", cancel_url: str = "", kind: str = "main") -> SafeString:
    """The buttons under a form, and its end."""
    return render_to_string(
        "common/_form_end.html", {"submit": submit, "cancel_url": cancel_url, "kind": kind}
    )


@register.simple_tag(takes_context=True)
def post_button(
    context: Context, url: str, words: str, icon: str = "", kind: str = "plain", **hidden: Any
) -> SafeString:
    """A deed behind one button: a form of its own, with what it sends in hidden fields."""
    return render_to_string(
        "common/_post_button.html",
        {
            "url": url,
            "words": words,
            "icon": icon,
            "kind": kind,
            "hidden": [(name, str(value)) for name, value in hidden.items()],
            "once": new_key(),
            "csrf_token": context.get("csrf_token"),
        },
    )
