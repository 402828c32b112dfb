"""Choice lists written by ourselves are those Django writes."""

from django import forms
from django.forms.renderers import DjangoTemplates
from django.test.html import parse_html

from workshop.common.selects import FormRenderer

CHOICES = [
    ("", "any"),
    (1, 'Quote "and" <b>tag</b> & more'),
    ("Garnets", [("pyrope", "Pyrope"), ("almandine", "Almandine")]),
    (None, "nothing"),
    (True, "yes"),
    ('"><script>', "odd value"),
    (1234567, "a long number"),
]
ATTRS = {
    "class": 'a"b',
    "required": True,
    "disabled": False,
    "data-unit": 1234567,
    "aria-describedby": "id_x_error",
}


def both(widget, value):
    said = ("species", value, {"id": "id_species"})
    return widget.render(*said, renderer=FormRenderer()), widget.render(*said, renderer=DjangoTemplates())


def test_one_choice():
    for value in ("", 1, "pyrope", None, True, '"><script>', "not there"):
        ours, django = both(forms.Select(attrs=ATTRS, choices=CHOICES), value)
        assert parse_html(ours) == parse_html(django)
        assert "<b>" not in ours


def test_several_choices():
    ours, django = both(forms.SelectMultiple(choices=CHOICES), [1, "pyrope"])
    assert parse_html(ours) == parse_html(django)
    assert ours.count("selected") == 2


def test_the_forms_of_the_house_use_it():
    class Ask(forms.Form):
        shape = forms.ChoiceField(choices=CHOICES)

    assert isinstance(Ask().renderer, FormRenderer)
