"""With the real storage every file a template names is in the manifest: its absence would show in the shop alone."""

import json
import re
from pathlib import Path

import pytest
from django.core.management import call_command
from django.template.loader import render_to_string
from django.test import RequestFactory, override_settings

BASE_DIR = Path(__file__).resolve().parent.parent
NAMED = re.compile(r"""{%\s*static\s+["']([^"']+)["']""")
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}


@pytest.fixture(scope="module")
def collected(tmp_path_factory):
    root = tmp_path_factory.mktemp("static")
    # The storage follows each url() and import in our style sheets and scripts, and stops at one that leads nowhere.
    with override_settings(STATIC_ROOT=root, STORAGES=STORAGES):
        call_command("collectstatic", verbosity=0, interactive=False)
        yield root


def test_every_file_a_template_names_was_collected(collected):
    manifest = json.loads((collected / "staticfiles.json").read_text())["paths"]
    named = {
        (template.name, name)
        for template in (BASE_DIR / "templates").rglob("*.html")
        for name in NAMED.findall(template.read_text())
    }
    assert named, "the pattern finds what the templates write"
    assert {(template, name) for template, name in named if name not in manifest} == set()


def test_style_sheets_and_scripts_have_a_compressed_copy(collected):
    manifest = json.loads((collected / "staticfiles.json").read_text())["paths"]
    ours = [
        kept
        for name, kept in manifest.items()
        if name.startswith("common/") and name.endswith((".css", ".js"))
    ]
    assert ours
    large = [kept for kept in ours if (collected / kept).stat().st_size > 1000]
    assert [kept for kept in large if not (collected / f"{kept}.gz").exists()] == []


@pytest.mark.parametrize("page", ["400.html", "403.html", "404.html", "500.html"])
def test_the_pages_for_trouble_need_no_missing_file(collected, page):
    html = render_to_string(page, request=RequestFactory().get("/") if page != "500.html" else None)
    assert "<html" in html
