"""Choice lists written without a template for every option.

Django renders three small templates for each option, and a list of species or time zones has hundreds: more work
than the rest of its page together. What is written is the same to the letter.
"""

from __future__ import annotations

from typing import Any

from django.forms.renderers import DjangoTemplates
from django.forms.utils import flatatt
from django.http import HttpRequest
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

SELECT = "django/forms/widgets/select.html"


class FormRenderer(DjangoTemplates):
    """Django's own form templates, except for the choice list."""

    def render(self, template_name: str, context: dict[str, Any], request: HttpRequest | None = None) -> str:
        if template_name == SELECT:
            return select(context["widget"])
        return super().render(template_name, context, request)


def select(widget: dict[str, Any]) -> SafeString:
    """A choice list with its groups and options."""
    return format_html(
        '<select name="{}"{}>{}</select>',
        widget["name"],
        flatatt(widget["attrs"]),
        format_html_join("", "{}", ((_group(name, options),) for name, options, _ in widget["optgroups"])),
    )


def _group(name: str | None, options: list[dict[str, Any]]) -> SafeString:
    written = format_html_join(
        "",
        '<option value="{}"{}>{}</option>',
        ((str(option["value"]), flatatt(option["attrs"]), option["label"]) for option in options),
    )
    return format_html('<optgroup label="{}">{}</optgroup>', name, written) if name else written
