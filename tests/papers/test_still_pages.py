"""Check pages as plain files: under any plain web host and in a browser, and never over somebody's other files."""

import http.server
import threading
from functools import partial

import pytest
from django.core.management import CommandError, call_command
from django.urls import reverse

from tests import makers
from tests.makers import NOON, make_answered_gem, make_shop
from tests.papers.documents import a_quote, issued
from workshop.gems import card_actions
from workshop.papers import actions


@pytest.fixture
def site(tmp_path, settings, request):
    """A folder of pages: a card that stands, one superseded, one void, and a quote."""
    request.getfixturevalue("transactional_db" if "transactional_db" in request.fixturenames else "db")
    settings.WORKSHOP_DATA = tmp_path / "data"
    settings.WORKSHOP_DATA.mkdir()
    shop = make_shop(name="Wren & Alder", base_url="https://cards.example")
    owner = makers.somebody()
    old = card_actions.issue_card(make_answered_gem(), by=owner, at=NOON)
    new = card_actions.revise_card(old, reason="the weight was read again", by=owner, at=NOON)
    void = card_actions.issue_card(make_answered_gem(), by=owner, at=NOON)
    actions.void(void, reason="the species was another", by=owner, at=NOON)
    papers = {"old": old, "new": new, "void": void, "quote": issued(a_quote(shop))}
    call_command("write_check_pages", str(tmp_path / "site"))
    return tmp_path / "site", papers


@pytest.mark.django_db
@pytest.mark.parametrize("name", ["letter.txt", ".git", "papers.bak"])
def test_a_folder_with_other_things_is_left_alone(site, tmp_path, name):
    """The pages are written anew each time, so what else lay there would be gone."""
    folder, papers = site
    mine = tmp_path / "mine"
    mine.mkdir()
    (mine / name).write_text("dear to me")
    with pytest.raises(CommandError, match="other things than check pages"):
        call_command("write_check_pages", str(mine))
    assert (mine / name).read_text() == "dear to me"
    call_command("write_check_pages", str(folder))
    (mine / name).unlink()
    call_command("write_check_pages", str(mine))
    page = reverse("papers:check", args=[papers["new"].check_code]).strip("/")
    assert (mine / page / "index.html").is_file()


@pytest.fixture
def host(site):
    """A plain web host of files, which tells what was asked of it."""
    folder, papers = site
    asked = []

    class Plain(http.server.SimpleHTTPRequestHandler):
        def log_request(self, code="-", size="-"):
            asked.append((self.path, int(code)))

        def log_message(self, *args):
            pass

    serving = http.server.ThreadingHTTPServer(("127.0.0.1", 0), partial(Plain, directory=str(folder)))
    thread = threading.Thread(target=serving.serve_forever)
    thread.start()
    yield f"http://127.0.0.1:{serving.server_port}", papers, asked
    serving.shutdown()
    thread.join()
    serving.server_close()


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_a_buyer_reads_them_from_a_plain_host_on_a_telephone(host, chromium):
    base, papers, asked = host
    # Not `open_page`, which takes every host but the shop's own server for another one.
    context = chromium.new_context(viewport={"width": 390, "height": 844})
    page = context.new_page()
    requests, told = [], []
    page.on("request", lambda request: requests.append(request.url))
    page.on("console", lambda message: told.append(message.text))
    for name, words in {
        "new": "stands as it was issued",
        "old": "Superseded by",
        "void": "the species was another",
        "quote": "stands as it was issued",
    }.items():
        page.goto(base + reverse("papers:check", args=[papers[name].check_code]))
        assert page.get_by_text(words).first.is_visible()
        assert page.evaluate("() => document.documentElement.scrollWidth - window.innerWidth") <= 0
        assert page.evaluate("() => document.scripts.length") == 0
    assert "Ada Lund" not in page.content()
    page.goto(base + reverse("papers:check", args=[papers["old"].check_code]))
    page.get_by_role("link", name=papers["new"].number).first.click()
    page.get_by_text(f"{papers['new'].number} stands as it was issued").wait_for()
    links = page.eval_on_selector_all("a[href]", "links => links.map(link => link.href)")
    assert requests and all(url.startswith((base, "data:")) for url in requests)
    assert all(link.startswith(base) for link in links)
    missing = [path for path, code in asked if code >= 400]
    assert missing == [] and told == []
    assert any(path.endswith(".woff2") for path, _ in asked), "its own faces come from its own host"
    context.close()
