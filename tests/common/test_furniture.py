"""Page furniture: what its tags write."""

import re
from pathlib import Path
from types import SimpleNamespace

import pytest
from django import forms
from django.conf import settings
from django.contrib.messages.storage.base import Message
from django.http import Http404, HttpResponse
from django.template import Context, Template, TemplateSyntaxError
from django.test import RequestFactory
from django.urls import include, path
from django.views import defaults

from workshop.common import icons
from workshop.common.deeds import DeedForm
from workshop.common.errors import PleaseConfirm
from workshop.common.formfields import WeightInput
from workshop.common.templatetags import furniture

NASTY = '"><script>alert(1)</script>'


def _page(request):
    return HttpResponse()


_room = ([path("", _page, name="lots"), path("other/", _page, name="other")], "rough")
urlpatterns = [path("rough/", include(_room, namespace="rough"))]
own_urls = pytest.mark.urls(__name__)


def written(text, **context):
    return Template("{% load furniture %}" + text).render(Context(context))


def asked(address="/", view_name=""):
    request = RequestFactory().get(address)
    room = view_name.partition(":")[0]
    request.resolver_match = SimpleNamespace(view_name=view_name, namespace=room)
    return request


class WeighForm(DeedForm):
    weight = WeightInput(unit="g", help_text="As on your scale.")
    basis = forms.ChoiceField(choices=[("said", "Said"), ("tested", "Tested")], widget=forms.RadioSelect)


# Moving about


@own_urls
def test_a_room_is_linked_only_when_it_has_an_address():
    assert written('{% room_link "rough:lots" "Rough" %}') == '<li><a href="/rough/">Rough</a></li>'
    assert written('{% room_link "cellar:lots" "Cellar" %}') == ""


@own_urls
def test_the_room_one_is_in_is_marked():
    inside = {"request": asked(view_name="rough:other")}
    assert 'aria-current="page"' in written('{% room_link "rough:lots" "Rough" %}', **inside)
    assert "aria-current" not in written('{% room_link "rough:lots" "Rough" exact=True %}', **inside)
    assert "aria-current" not in written('{% room_link "rough:lots" "Rough" but="rough:other" %}', **inside)


@own_urls
def test_the_first_address_there_is_serves():
    assert written('{% address "cellar:lots" "rough:lots" %}') == "/rough/"
    assert written('{% address "cellar:lots" %}') == ""


@pytest.mark.parametrize(
    ("tags", "address"),
    [("undo=/stones/S-1/undo/7/", "/stones/S-1/undo/7/"), ("undo=https://elsewhere.example/", ""), ("", "")],
)
def test_a_message_undoes_only_by_an_address_of_ours(tags, address):
    assert furniture.undo_of(Message(25, "Weighed", extra_tags=tags)) == address


# Forms


def test_help_unit_and_error_are_tied_to_their_field():
    form = WeighForm({"weight": "heavy", "basis": "said"})
    shown = written("{% field form.weight %}", form=form)
    told = re.search(r'<input[^>]*aria-describedby="([^"]+)"', shown)[1].split()
    assert told == ["id_weight_unit", "id_weight_helptext", "id_weight_error"]
    assert all(f'id="{place}"' in shown for place in told)
    assert 'value="heavy"' in shown, "what was typed stays"


def test_a_choice_of_radios_is_a_group_with_a_legend():
    shown = written("{% field form.basis %}", form=WeighForm({"weight": "1 g"}))
    assert "<fieldset" in shown
    assert "<legend" in shown
    assert "This field is required." in shown


def test_every_error_on_top_leads_to_a_field_that_is_there():
    form = WeighForm({})
    shown = written("{% form_open form %}{% form_fields form %}{% form_end %}", form=form, csrf_token="t")
    places = re.findall(r'<a href="#([^"]+)"', shown)
    assert len(places) == 2
    assert all(f'id="{place}"' in shown for place in places)


def test_a_doubt_is_answered_once_beside_it():
    form = WeighForm({"weight": "900 g", "basis": "said"})
    assert form.is_valid()
    form.ask(PleaseConfirm("Ten times the last weight?", field="weight"))
    shown = written("{% form_open form %}{% form_fields form %}{% form_end %}", form=form, csrf_token="t")
    assert shown.count('type="checkbox" name="sure"') == 1
    assert shown.count('name="once"') == 1


def test_a_field_that_is_not_there_is_a_fault():
    with pytest.raises(TemplateSyntaxError):
        written("{% field form.colour %}", form=SimpleNamespace(colour=""))


def test_a_form_with_a_file_says_so():
    class Picture(forms.Form):
        file = forms.FileField()

    assert 'enctype="multipart/form-data"' in written("{% form_open form %}", form=Picture())
    assert "enctype" not in written("{% form_open form %}", form=WeighForm())


def test_a_deed_behind_a_button_carries_a_new_key_each_time_and_plain_numbers():
    twice = written('{% post_button "/x/" "Go" stone=12345 %}' * 2, csrf_token="token")
    keys = re.findall(r'name="once" value="(\w+)"', twice)
    assert len(set(keys)) == 2
    assert twice.count('name="csrfmiddlewaretoken" value="token"') == 2
    assert 'name="stone" value="12345"' in twice, "no thousands separator in what is sent"


# Lists


def test_sorting_keeps_the_filter_and_begins_at_the_top():
    request = asked("/?species=spinel&after=abc&sort=code")
    shown = written('{% sort_header "weight" "Weight" num=True %}', request=request)
    assert 'href="?species=spinel&amp;sort=weight"' in shown
    assert "aria-sort" not in shown


@pytest.mark.parametrize(
    ("now", "state", "then"),
    [("weight", "ascending", "-weight"), ("-weight", "descending", "weight")],
)
def test_a_second_press_turns_the_order(now, state, then):
    shown = written('{% sort_header "weight" "Weight" %}', request=asked(f"/?sort={now}"))
    assert f'aria-sort="{state}"' in shown
    assert f'href="?sort={then}"' in shown


def test_the_question_being_answered_is_marked():
    tag = '{% often "Gone" "state=gone&no_card=on" %}'
    assert 'aria-current="true"' in written(tag, request=asked("/?no_card=on&state=gone&sort=code&q="))
    assert "aria-current" not in written(tag, request=asked("/?state=gone"))
    assert 'href="?state=gone&amp;no_card=on"' in written(tag, request=asked("/"))
    assert 'aria-current="true"' in written('{% often "All" %}', request=asked("/?after=abc"))


def test_a_table_names_its_scrolling_frame():
    shown = written('{% table "Lots" %}<tbody></tbody>{% endtable %}')
    assert 'role="region" aria-label="Lots" tabindex="0"' in shown
    assert "<caption" in shown


# Figures and small pieces


def test_prices_are_shown_only_to_those_who_see_prices():
    shop = SimpleNamespace(currency="EUR")
    assert "84.30" in written("{% money 84.3 %}", sees_money=True, shop=shop)
    assert "84" not in written("{% money 84.3 %}", sees_money=False, shop=shop)
    assert "84" not in written("{% money 84.3 %}", shop=shop), "closed where nobody said"


def test_a_state_is_told_by_a_sign_and_a_word_not_by_colour_alone():
    tones = [tone for tone in furniture.TONES if tone != "quiet"]
    signs = {
        re.search(
            r"<svg.*?</svg>",
            written("{% state_badge s %}", s=SimpleNamespace(state_word="x", state_tone=tone)),
        )[0]
        for tone in tones
    }
    assert len(signs) == len(tones)


def test_every_icon_that_a_template_names_is_drawn():
    named = set()
    for file in Path(settings.BASE_DIR, "templates").rglob("*.html"):
        text = file.read_text(encoding="utf-8")
        named |= set(re.findall(r'{% icon "([\w-]+)"', text)) | set(re.findall(r'icon="([\w-]+)"', text))
    assert named
    assert named <= set(icons.drawings())
    with pytest.raises(TemplateSyntaxError):
        written('{% icon "unicorn" %}')


def test_an_icon_that_stands_alone_speaks():
    assert 'aria-hidden="true"' in written('{% icon "scale" %}')
    assert 'role="img" aria-label="Weighed"' in written('{% icon "scale" "Weighed" %}')


@pytest.mark.parametrize(
    "text",
    [
        "{% crumb nasty %}",
        "{% badge nasty %}",
        "{% post_button nasty nasty x=nasty %}",
        "{% table nasty %}{{ nasty }}{% endtable %}",
        "{% fact nasty %}{{ nasty }}{% endfact %}",
        "{% more nasty %}{{ nasty }}{% endmore %}",
        "{% caution %}{{ nasty }}{% endcaution %}",
        "{% photo nasty nasty nasty %}",
        "{% sort_header nasty nasty %}",
        "{% code_link thing %}",
        "{% money 1 nasty %}{{ 1|money:nasty }}{{ nasty|ct }}{{ nasty|number }}",
        '{% include "common/_empty.html" with title=nasty text=nasty url=nasty action=nasty %}',
        '{% include "common/_facts.html" with facts=pairs %}',
    ],
)
def test_names_with_html_stay_words(text):
    thing = SimpleNamespace(code=NASTY, get_absolute_url=lambda: NASTY)
    shown = written(text, nasty=NASTY, thing=thing, pairs=[(NASTY, NASTY)], sees_money=True, request=asked())
    assert "<script" not in shown
    assert "alert(1)" in shown


def test_what_is_written_between_tags_is_kept_as_it_is():
    assert "<b>3</b>" in written('{% fact "Weight" %}<b>3</b>{% endfact %}')
    assert "\u2014" in written('{% fact "Weight" %} {% endfact %}')


# Pages that stand alone


@pytest.mark.parametrize(
    ("view", "fault", "status"),
    [
        (defaults.bad_request, ValueError(), 400),
        (defaults.permission_denied, PermissionError(), 403),
        (defaults.page_not_found, Http404(), 404),
    ],
)
def test_a_refusal_is_a_page_that_says_where_to_go(view, fault, status):
    answer = view(RequestFactory().get("/nowhere/"), fault)
    assert answer.status_code == status
    assert b'href="/"' in answer.content


def test_a_fault_of_ours_is_told_without_asking_anything():
    answer = defaults.server_error(RequestFactory().get("/"))
    assert answer.status_code == 500
    assert b"no half of it was saved" in answer.content
