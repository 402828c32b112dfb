"""The look: contrast in both themes, nothing written into pages that the content policy refuses, small files."""

import gzip
import re
from pathlib import Path

import pytest
from django.conf import settings

STATIC = Path(settings.BASE_DIR, "workshop", "common", "static", "common")
TEMPLATES = sorted(Path(settings.BASE_DIR, "templates").rglob("*.html"))
SHEETS = ("paper.css", "pieces.css", "print.css")


def themes():
    """The colours of the light sheet, and of the dark one as the device asks for it and as the switch does."""
    text = (STATIC / "paper.css").read_text()
    blocks = re.findall(r"\{\s*color-scheme: (?:light|dark);(.*?)\}", text, re.DOTALL)
    return [dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", block)) for block in blocks]


def luminance(colour):
    """Relative luminance: WCAG 2.2, section "Terms", relative luminance."""
    channels = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    """Contrast ratio: WCAG 2.2, section "Terms", contrast ratio."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_measure_of_contrast_is_the_published_one():
    # WCAG 2.2: black on white is 21:1; #767676 on white is the lightest grey that reaches 4.5:1 (from memory).
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") > 4.5 > contrast("#777777", "#ffffff")


def test_the_two_ways_to_the_dark_sheet_are_one():
    light, asked, switched = themes()
    assert asked == switched
    assert set(light) == set(asked)
    assert luminance(light["paper"]) > 0.8 > 0.1 > luminance(asked["paper"])


@pytest.mark.parametrize("theme", [0, 1], ids=["light", "dark"])
def test_words_stand_out_from_what_they_lie_on(theme):
    # WCAG 2.2, success criterion 1.4.3: 4.5:1 for text.
    colours = themes()[theme]
    pairs = [
        (ink, on) for ink in ("ink", "soft", "accent", "alert", "wait") for on in ("paper", "leaf", "tint")
    ]
    pairs += [("on-accent", "accent"), ("on-accent", "accent-deep")]
    pairs += [(ink, f"{tone}-soft") for tone in ("accent", "alert", "wait") for ink in ("ink", "soft", tone)]
    weak = {pair: contrast(colours[pair[0]], colours[pair[1]]) for pair in pairs}
    assert {pair: ratio for pair, ratio in weak.items() if ratio < 4.5} == {}


@pytest.mark.parametrize("theme", [0, 1], ids=["light", "dark"])
def test_the_edges_of_fields_and_buttons_can_be_seen(theme):
    # WCAG 2.2, success criterion 1.4.11: 3:1 for what shows where a control is.
    colours = themes()[theme]
    for edge in ("edge", "accent", "alert"):
        for on in ("paper", "leaf"):
            assert contrast(colours[edge], colours[on]) >= 3, (edge, on)


@pytest.mark.parametrize(
    "refused",
    [
        r"<[^>{%]*\sstyle\s*=",
        r"<[^>{%]*\son[a-z]+\s*=",
        r"<style\b",
        r"<script\b(?![^>]*\ssrc=)",
        r"javascript:",
        r"hx-on",
    ],
)
def test_no_page_writes_what_the_content_policy_refuses(refused):
    faulty = [
        str(file.relative_to(settings.BASE_DIR))
        for file in TEMPLATES
        # What is printed to PDF never meets a browser.
        if "papers/label_sheet" not in str(file) and re.search(refused, file.read_text(encoding="utf-8"))
    ]
    assert faulty == []


def test_nothing_is_loaded_from_another_host():
    addresses = [
        (file.name, address)
        for file in [*STATIC.glob("*.css"), *STATIC.glob("*.js")]
        for address in re.findall(r"(?:https?:)?//[\w.-]+\.\w+", file.read_text(encoding="utf-8"))
    ]
    assert addresses == []


def test_the_look_is_light_to_carry():
    sheets = b"".join((STATIC / name).read_bytes() for name in SHEETS)
    assert len(gzip.compress(sheets)) < 15_000
    assert (STATIC / "workshop.js").stat().st_size < 12_000


def test_every_file_a_sheet_asks_for_is_there():
    for name in SHEETS:
        for asked in re.findall(r'url\("([^"]+)"\)', (STATIC / name).read_text()):
            assert (STATIC / asked).is_file(), asked
