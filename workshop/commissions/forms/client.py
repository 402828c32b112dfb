"""What a client may type on their own page: a yes with their name, a no with a word, an answer to a question."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.validators import ProhibitNullCharactersValidator, RegexValidator

from workshop.common.deeds import DeedForm

#: A name holds a letter; a row of dots or a stray key is none.
HAS_A_LETTER = RegexValidator(r"[^\W\d_]", "Type your name, as you would sign it.")
ONE_LINE = RegexValidator(r"[\r\n\x00-\x1f\x7f\u2028\u2029]", "Keep this to one line.", inverse_match=True)


def _name(label: str = "Your name") -> forms.CharField:
    return forms.CharField(
        label=label,
        max_length=160,
        error_messages={"required": "Type your name."},
        validators=[HAS_A_LETTER, ONE_LINE],
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )


def _words(label: str) -> forms.CharField:
    return forms.CharField(
        label=label,
        max_length=2000,
        required=False,
        validators=[ProhibitNullCharactersValidator()],
        widget=forms.Textarea(attrs={"rows": 2}),
    )


class AcceptForm(DeedForm):
    """Yes: the name typed as a signature, and that the terms were read."""

    name = _name("Type your name to sign")
    read = forms.BooleanField(error_messages={"required": "Tick the box once you have read it."})
    words = _words("A word to the cutter, if you like")

    def __init__(self, *args: Any, statement: str, version: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.version, self.fields["read"].label = version, statement


class DeclineForm(DeedForm):
    """No, with a word."""

    words = _words("What should be different, or why not, if you like")
    name = _name()

    def __init__(self, *args: Any, version: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.version = version


class AnswerForm(DeedForm):
    """One of the answers offered, and a free word."""

    answer = forms.ChoiceField(
        error_messages={
            "required": "Press one of the answers.",
            "invalid_choice": "Press one of the answers.",
        }
    )
    words = _words("Anything you want to add")
    name = _name()

    def __init__(self, *args: Any, options: tuple[str, ...], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["answer"].choices = [(one, one) for one in options]  # type: ignore[attr-defined]
