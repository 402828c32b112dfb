"""The renderer is locked in: whatever a sheet asks for, no file is opened and nobody is called.

Watched from outside it: Python's own audit events for every file opened and every socket used, a server on this
machine that counts who calls, and what ends up in the PDF.
"""

import io
import threading
from http.server import BaseHTTPRequestHandler, HTTPServer

import pikepdf
import pytest

from tests import makers
from tests.makers import NOON, make_answered_gem, make_shop
from tests.papers.watch import watched
from workshop.gems import card_actions
from workshop.papers import actions, pdf
from workshop.papers.kinds import Sheet

pytestmark = pytest.mark.pdf

SECRET = "the shop's secret key"


@pytest.fixture
def server():
    calls = []

    class Answer(BaseHTTPRequestHandler):
        def do_GET(self):
            calls.append(self.path)
            self.send_response(302)
            self.send_header("Location", "file:///etc/hostname")
            self.end_headers()

        def log_message(self, *args):
            pass

    listening = HTTPServer(("127.0.0.1", 0), Answer)
    thread = threading.Thread(target=listening.serve_forever)
    thread.start()
    yield f"http://127.0.0.1:{listening.server_port}", calls
    listening.shutdown()
    thread.join()
    listening.server_close()


@pytest.fixture
def planted(tmp_path):
    (tmp_path / "secret.txt").write_text(SECRET)
    (tmp_path / "secret.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg"><text y="9">the shop</text></svg>'
    )
    (tmp_path / "secret.css").write_text("body { color: red }")
    return tmp_path


PAYLOADS = {
    "picture from a server": '<img src="{http}/a.png">',
    "picture from a file": '<img src="file://{path}/secret.svg">',
    "file in capitals": '<img src="FILE://{path}/secret.svg">',
    "style sheet from a server": '<link rel="stylesheet" href="{http}/a.css">',
    "style sheet from a file": '<link rel="stylesheet" href="file://{path}/secret.css">',
    "import": "<style>@import url('file://{path}/secret.css'); @import url('{http}/b.css');</style>",
    "background": "<style>body {{ background: url('{http}/a.png'), url('file://{path}/secret.svg') }}</style>",
    "font": "<style>@font-face {{ font-family: X; src: url('{http}/x.woff2'), url('file://{path}/secret.txt') }} body {{ font-family: X }}</style>",
    "list picture": "<ul style=\"list-style-image: url('file://{path}/secret.svg')\"><li>a</ul>",
    "content": "<style>p::before {{ content: url('{http}/c.png') }}</style>",
    "attachment": '<link rel="attachment" href="file://{path}/secret.txt">',
    "attached link": '<a rel="attachment" href="file://{path}/secret.txt">x</a>',
    "object": '<object data="file://{path}/secret.svg"></object><embed src="{http}/e.svg">',
    "svg image": '<svg><image href="file://{path}/secret.svg" width="9" height="9"/></svg>',
    "svg use": '<svg><use href="{http}/u.svg#a"/></svg>',
    "svg in data": '<img src="data:image/svg+xml,%3Csvg xmlns=\'http://www.w3.org/2000/svg\'%3E%3Cimage href=\'file://{path}/secret.svg\' width=\'9\' height=\'9\'/%3E%3C/svg%3E">',
    "entity": '<img src="data:image/svg+xml,%3C!DOCTYPE svg [%3C!ENTITY e SYSTEM \'file://{path}/secret.txt\'%3E]%3E%3Csvg xmlns=\'http://www.w3.org/2000/svg\'%3E%3Ctext%3E%26e;%3C/text%3E%3C/svg%3E">',
    "base": '<base href="file://{path}/"><img src="secret.svg">',
    "relative": '<img src="secret.svg"><img src="../../etc/hostname">',
    "other schemes": '<img src="ftp://127.0.0.1/x"><img src="gopher://127.0.0.1/x">',
    "colour profile": "<style>@color-profile --x {{ src: url('file://{path}/secret.txt') }} p {{ color: color(--x 1 0 0) }}</style>",
    "another paper's picture": '<img src="app:other.jpg">',
    "iframe and script": '<iframe src="{http}/f"></iframe><script src="{http}/s.js"></script>',
}  # fmt: skip


def render_hostile(settings, body):
    pdf._styles.cache_clear()
    settings.TEMPLATES = [
        {
            "BACKEND": "django.template.backends.django.DjangoTemplates",
            "OPTIONS": {
                "loaders": [
                    (
                        "django.template.loaders.locmem.Loader",
                        {
                            "hostile.html": f"<meta charset=utf-8><title>x</title><p>Words</p>{body}",
                            "hostile.css": "",
                        },
                    )
                ]
            },
        }
    ]
    return pdf.render(Sheet("a hostile sheet", "hostile.html", "hostile.css", pages=1), {})


@pytest.fixture(autouse=True)
def own_styles():
    yield
    pdf._styles.cache_clear()


@pytest.mark.parametrize("name", PAYLOADS)
def test_nothing_is_opened_and_nobody_is_called(settings, server, planted, name):
    address, calls = server
    body = PAYLOADS[name].format(http=address, path=planted)
    with watched() as seen:
        try:
            data = render_hostile(settings, body)
        except pdf.CannotRender:
            data = None
    assert calls == []
    assert [one for one in seen if one[0] != "open"] == []
    assert not [one for one in seen if str(planted) in one[1] or "/etc/hostname" in one[1]]
    if data is not None:
        assert SECRET.encode() not in data
        with pikepdf.open(io.BytesIO(data)) as read:
            assert len(read.attachments) == 0
            assert not [thing for thing in read.objects
                        if isinstance(thing, pikepdf.Stream) and thing.get("/Subtype") == "/Image"]  # fmt: skip


def test_the_watch_sees_what_it_should(planted, server):
    """The watch itself: an open file and a call do show, so their absence above says something."""
    import urllib.request

    address, calls = server
    with watched() as seen:
        with open(planted / "secret.txt") as handle:
            handle.read()
        with pytest.raises(Exception):  # noqa: B017  the redirect to a file is refused by urllib
            urllib.request.urlopen(f"{address}/x")
    assert calls == ["/x"]
    assert any(event == "open" and "secret.txt" in what for event, what in seen)
    assert any(event == "socket.connect" for event, what in seen)


HOSTILE = '"><img src="file:///etc/passwd"><link rel=attachment href="file:///etc/passwd">'


@pytest.mark.django_db
def test_hostile_names_and_notes_reach_the_card_as_words_only(planted):
    make_shop(name=HOSTILE[:119], cutter=HOSTILE[:119], base_url="https://cards.example")
    svg = '<svg onload="x"><image href="file:///etc/passwd"/></svg>'
    gem = make_answered_gem(cut=HOSTILE, colour=svg, clarity="{{ paper.shop }}{% load x %}", cut_by=HOSTILE)
    paper = card_actions.issue_card(gem, by=makers.somebody(), at=NOON)
    actions.bytes_of(paper, "id1", at=NOON)
    with watched() as seen:
        data = bytes(actions.bytes_of(paper, "a6", at=NOON).pdf)
    assert not [one for one in seen if one[0] != "open" or "passwd" in one[1]]
    with pikepdf.open(io.BytesIO(data)) as read:
        # Our own three, and nothing that a name or a note brought in.
        assert set(read.attachments) == {"record.json", "record.jsonld", "signature.json"}


@pytest.mark.django_db
def test_a_warm_render_opens_only_templates_fonts_and_its_own_pictures(settings):
    """Fonts of the system that stand in for a script, the colour profile, and the picture store: nothing else."""
    make_shop(base_url="https://cards.example")
    paper = card_actions.issue_card(make_answered_gem(), by=makers.somebody(), at=NOON)
    actions.bytes_of(paper, "id1", at=NOON)
    again = card_actions.revise_card(paper, reason="once more", by=makers.somebody(), at=NOON)
    with watched() as seen:
        actions.bytes_of(again, "id1", at=NOON)
    allowed = (
        "sRGB2014.icc",
        ".html",
        ".css",
        ".ttf",
        ".otf",
        ".woff2",
        str(settings.WORKSHOP_DATA),
        "weasyprint-",
    )
    strange = [what for event, what in seen if event != "open" or not any(part in what for part in allowed)]
    assert strange == []
