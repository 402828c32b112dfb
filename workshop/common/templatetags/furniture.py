"""Page furniture: ``{% load furniture %}`` and a page has its links, tables, forms, figures and small pieces.

Blocks of ``base.html``: title, crumbs, heading, lead, actions, content, aside, body_class.

Moving about   room_link "rough:lots" "Rough"; crumb "Rough" "rough:lots"; code_link lot
Forms          form_open form … form_end "Save" back; fieldset "Title" form "a b c"; field form.a unit="ct";
               form_fields form; post_button url "Stop" icon="stop"; more "Add time" … endmore
Lists          table "Lots" … endtable; sort_header "weight" "Weight" num=True; filter_count filter;
               often "In stock" "state=stock"
Facts          fact "Weight" … endfact; figure_with_table "Title" svg … endfigure_with_table; drawing svg "words"
Small pieces   icon "scale"; badge "Client's" tone="quiet"; state_badge stone; photo url "words"; caution … endcaution
Figures        |ct |ct:2 |g |ct_g |mm |money:"EUR" |percent |hours |when |number:2 |dash; money amount currency

Pieces to include: ``common/_form.html _filter.html _paging.html _empty.html _facts.html _timeline.html``.
Everything works without JavaScript, and nothing writes a style, a script or a handler into a page.
"""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django import template
from django.contrib.messages.storage.base import Message
from django.http import QueryDict
from django.template import Context
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from workshop.common import icons, say

from . import form_furniture

register = template.Library()
register.tags.update(form_furniture.register.tags)

# Each tone has its own sign, so that a state is never told by colour alone.
TONES = {
    "rough": "tone-rough",
    "work": "tone-work",
    "wait": "tone-wait",
    "done": "tone-done",
    "sold": "tone-sold",
    "gone": "tone-gone",
    "alert": "caution",
    "quiet": "",
}
# Where a page stands in a list; a new order or filter starts again from the top.
PLACE_KEYS = ("after", "before", "page")


# --- Moving about -------------------------------------------------------------------------------------------------


@register.simple_tag(takes_context=True)
def room_link(context: Context, url_name: str, words: str, exact: bool = False, but: str = "") -> SafeString:
    """A link to a room, marked when the page is in it; nothing while the room has no such address.

    ``exact`` marks only that very page; ``but`` names pages of the room that count as elsewhere.
    """
    try:
        url = reverse(url_name)
    except NoReverseMatch:
        return SafeString("")
    here = getattr(context.get("request"), "resolver_match", None)
    room = url_name.partition(":")[0]
    inside = here is not None and (
        here.view_name == url_name if exact else here.namespace == room and here.view_name not in but.split()
    )
    current = mark_safe(' aria-current="page"') if inside else ""
    return format_html('<li><a href="{}"{}>{}</a></li>', url, current, words)


@register.simple_tag
def crumb(words: str, url_name: str = "", *args: Any) -> SafeString:
    """One step of the path to this page; the last step has no address."""
    if not url_name:
        return format_html('<li aria-current="page">{}</li>', words)
    try:
        return format_html('<li><a href="{}">{}</a></li>', reverse(url_name, args=args), words)
    except NoReverseMatch:
        return format_html("<li>{}</li>", words)


@register.simple_tag
def code_link(thing: Any, words: str = "") -> SafeString:
    """The code of a thing, leading to its page."""
    if not thing:
        return SafeString(say.DASH)
    return format_html('<a class="code" href="{}">{}</a>', thing.get_absolute_url(), words or thing.code)


@register.simple_tag
def address(*url_names: str) -> str:
    """The first of these pages that exists, for furniture that stands in rooms built one after another."""
    for name in url_names:
        try:
            return reverse(name)
        except NoReverseMatch:
            continue
    return ""


@register.filter
def undo_of(message: Message) -> str:
    """The address that undoes what a message tells, from ``extra_tags="undo=/…"``."""
    tags = [tag for tag in (message.extra_tags or "").split() if tag.startswith("undo=/")]
    return tags[0].removeprefix("undo=") if tags else ""


# --- Lists --------------------------------------------------------------------------------------------------------


@register.simple_block_tag
def table(content: str, caption: str, cards: bool = True, show_caption: bool = False) -> SafeString:
    """A table in a frame that scrolls on its own when narrow; with ``cards`` its rows become cards on a phone."""
    return format_html(
        '<div class="table-frame" role="region" aria-label="{}" tabindex="0"><table class="table{}">'
        "<caption{}>{}</caption>{}</table></div>",
        caption,
        " table--cards" if cards else "",
        "" if show_caption else mark_safe(' class="unseen"'),
        caption,
        content,
    )


def _query_without_place(request: Any) -> QueryDict:
    query = request.GET.copy() if request else QueryDict(mutable=True)
    for key in PLACE_KEYS:
        query.pop(key, None)
    return query


@register.simple_tag(takes_context=True)
def sort_header(context: Context, key: str, words: str, num: bool = False) -> SafeString:
    """A column header that sorts by its column, and back on the second press; keeps the filter."""
    query = _query_without_place(context.get("request"))
    now = query.get("sort") or context.get("sort") or ""
    state = {key: "ascending", f"-{key}": "descending"}.get(now, "")
    query["sort"] = f"-{key}" if state == "ascending" else key
    return format_html(
        '<th scope="col"{}{}><a class="sort" href="?{}">{}{}</a></th>',
        mark_safe(' class="num"') if num else "",
        format_html(' aria-sort="{}"', state) if state else "",
        query.urlencode(),
        words,
        icons.icon({"ascending": "up", "descending": "down"}.get(state, "sort")),
    )


@register.simple_tag(takes_context=True)
def often(context: Context, words: str, query: str = "") -> SafeString:
    """A question often asked of a list, as a link that is marked while it is the one being answered."""
    request = context["request"]
    asked = _query_without_place(request)
    asked.pop("sort", None)
    answered = {key: value for key, value in asked.items() if value}
    current = mark_safe(' aria-current="true"') if answered == QueryDict(query).dict() else ""
    url = f"?{query}" if query else request.path
    return format_html('<a class="button button--quiet" href="{}"{}>{}</a>', url, current, words)


@register.filter
def filter_count(filterset: Any) -> int:
    """How many questions of a filter are answered, the order aside."""
    form = filterset.form
    if not form.is_bound:
        return 0
    return sum(1 for name in form.fields if name != "sort" and any(form.data.getlist(form.add_prefix(name))))


@register.simple_tag(takes_context=True)
def keep_sort(context: Context) -> SafeString:
    """The order in force as a hidden field, so that a filter does not lose it."""
    request = context.get("request")
    now = request.GET.get("sort", "") if request else ""
    return format_html('<input type="hidden" name="sort" value="{}">', now) if now else SafeString("")


# --- Facts and drawings -------------------------------------------------------------------------------------------


@register.simple_block_tag
def fact(content: SafeString, label: str) -> SafeString:
    """One line of ``<dl class="facts">``."""
    return format_html("<div><dt>{}</dt><dd>{}</dd></div>", label, content if content.strip() else say.DASH)


@register.simple_tag
def drawing(svg: str, words: str, css: str = "") -> SafeString:
    """One of our own drawings, with the words for whoever does not see it."""
    return format_html(
        '<div class="drawing {}" role="img" aria-label="{}">{}</div>',
        css,
        words,
        mark_safe(svg),  # noqa: S308  drawn by the handbook, which escapes its own words
    )


@register.simple_block_tag
def figure_with_table(content: str, title: str, svg: str, open: bool = False) -> SafeString:
    """A drawing with its figures as a table beneath."""
    return format_html(
        '<figure class="figure"><figcaption>{}</figcaption>{}'
        '<details class="figures"{}><summary>The figures</summary>{}</details></figure>',
        title,
        drawing(svg, title),
        mark_safe(" open") if open else "",
        content,
    )


# --- Small pieces -------------------------------------------------------------------------------------------------


@register.simple_tag
def icon(name: str, words: str = "") -> SafeString:
    """One of our own icons."""
    if name not in icons.drawings():
        raise template.TemplateSyntaxError(f"icon: no drawing is called {name!r}")
    return icons.icon(name, words)


@register.simple_block_tag
def more(content: str, summary: str, open: bool = False) -> SafeString:
    """A panel that opens without a script."""
    return format_html(
        '<details class="more"{}><summary>{}</summary><div class="more-body stack">{}</div></details>',
        mark_safe(" open") if open else "",
        summary,
        content,
    )


@register.simple_tag
def badge(words: str, tone: str = "quiet") -> SafeString:
    """A short word in a frame, with the sign of its tone."""
    sign = TONES.get(tone, "")
    return format_html(
        '<span class="badge badge--{}">{}{}</span>', tone, icons.icon(sign) if sign else "", words
    )


@register.simple_tag
def state_badge(thing: Any) -> SafeString:
    """Where a thing stands: its ``state_word`` with the sign of its ``state_tone``."""
    return badge(thing.state_word, thing.state_tone)


@register.simple_tag
def photo(url: str, words: str, caption: str = "") -> SafeString:
    """A framed photograph that opens in full."""
    below = format_html("<figcaption>{}</figcaption>", caption) if caption else ""
    return format_html(
        '<figure class="photo"><a href="{}"><img src="{}" alt="{}" loading="lazy"></a>{}</figure>',
        url,
        url,
        words,
        below,
    )


@register.simple_block_tag
def caution(content: str) -> SafeString:
    """What can hurt someone, or what the law says first."""
    return format_html(
        '<div class="caution" role="note">{}<div>{}</div></div>', icons.icon("caution", "Caution"), content
    )


@register.filter
def seconds_since(value: datetime) -> str:
    """Seconds between a moment and now; text, because a template would group the thousands of a number."""
    return str(max(0, int((timezone.now() - value).total_seconds())))


# --- Figures ------------------------------------------------------------------------------------------------------

register.filter("ct", say.carats)
register.filter("g", say.grams)
register.filter("ct_g", say.carats_and_grams)
register.filter("mm", say.millimetres)
register.filter("percent", say.percent)
register.filter("hours", say.hours)
register.filter("number", say.number)


@register.filter
def dash(value: Any) -> Any:
    """A dash for nothing."""
    return say.DASH if say.nothing(value) else value


@register.filter
def when(value: date | datetime | None, part: str = "") -> SafeString:
    """A day or moment in the shop's zone, readable by machines too."""
    if say.nothing(value):
        return SafeString(say.DASH)
    assert value is not None
    return format_html('<time datetime="{}">{}</time>', value.isoformat(), say.moment(value, part))


@register.filter("money")
def money_filter(amount: Any, currency: str = "") -> str:
    """1,234.50 EUR, with the places of its currency."""
    return say.money(amount, currency)


@register.simple_tag(takes_context=True)
def money(context: Context, amount: Decimal | Any, currency: str = "") -> SafeString:
    """A price, for those who see prices; the shop's currency unless told."""
    if not context.get("sees_money"):
        return format_html('<span class="hush" title="Prices are not shown to you">{}</span>', say.DASH)
    own = currency or getattr(context.get("shop"), "currency", "")
    figure, _, unit = say.money(amount, own).partition(say.GAP)
    return format_html('<span class="money">{}{}</span>', figure, _small_unit(unit))


def _small_unit(unit: str) -> SafeString:
    return format_html('{}<span class="unit">{}</span>', say.GAP, unit) if unit else SafeString("")
