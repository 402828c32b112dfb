"""Which year is asked about."""

from __future__ import annotations

from django import forms


class YearForm(forms.Form):
    """A year in which pieces ended."""

    year = forms.IntegerField(min_value=1900, max_value=2999)
