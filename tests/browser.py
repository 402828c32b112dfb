"""A real browser for the tests: Debian's Chromium driven by playwright, at the width of a phone and of a desk."""

import os
import shutil
from collections.abc import Callable, Iterator
from typing import Any
from urllib.parse import urlsplit

import pytest
from django.conf import settings
from django.test import Client

from tests.absent import absent

FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
]
PHONE = {
    "viewport": {"width": 390, "height": 844},
    "has_touch": True,
    "is_mobile": True,
    "device_scale_factor": 2,
}
DESK = {"viewport": {"width": 1280, "height": 800}}
WIDTHS = {390: PHONE, 1280: DESK}
OVERFLOW = "document.documentElement.scrollWidth - document.documentElement.clientWidth"


def chromium_path() -> str | None:
    return shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """The browser, one for each worker."""
    program = chromium_path()
    if program is None:
        absent("Chromium is not installed (on Debian: apt-get install chromium)")
    from playwright.sync_api import sync_playwright

    # Playwright keeps an event loop in this thread, and Django would take each query for one made inside it.
    before = os.environ.get("DJANGO_ALLOW_ASYNC_UNSAFE")
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=FLAGS)
        yield browser
        browser.close()
    if before is None:
        del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


@pytest.fixture
def open_page(chromium: Any, live_server: Any) -> Iterator[Callable[..., Any]]:
    """`open_page(390, hand=owner)` → a playwright page at that width, signed in as that hand (or a stranger).

    The test fails at its end if a page raised an error, broke the content policy, lacked a file, or asked another host.
    """
    contexts: list[Any] = []
    faults: list[str] = []

    def open_(width: int = 1280, *, hand: Any = None, **more: Any) -> Any:
        context = chromium.new_context(base_url=live_server.url, **{**WIDTHS[width], **more})
        contexts.append(context)
        context.set_default_timeout(10_000)
        if hand is not None:
            context.add_cookies([_session_cookie(hand, live_server.url)])
        page = context.new_page()
        _watch(page, urlsplit(live_server.url).netloc, faults)
        return page

    yield open_
    for context in contexts:
        context.close()
    assert not faults, "the browser complained:\n" + "\n".join(faults)


@pytest.fixture(params=sorted(WIDTHS), ids=lambda width: f"{width}px")
def width(request: pytest.FixtureRequest) -> int:
    """Runs the test at each width."""
    return int(request.param)


#: Widths with and without scripts: the first two by default, so that each is tried once; `--deep` tries all.
WAYS = [(390, False), (1280, True), (390, True), (1280, False)]


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """A test that takes a `way` runs at a width, with scripts or without: `width, script = way`."""
    if "way" in metafunc.fixturenames and metafunc.definition.get_closest_marker("browser"):
        ways = WAYS if metafunc.config.getoption("--deep") else WAYS[:2]
        names = [f"{width} px, {'' if script else 'no '}script" for width, script in ways]
        metafunc.parametrize("way", ways, ids=names)


class Person:
    """Somebody at a page: says what is pressed and typed by the words that stand there."""

    def __init__(self, page, pixels):
        self.page, self.pixels = page, pixels

    def at(self, path):
        from playwright.sync_api import TimeoutError

        try:
            self.page.wait_for_url(lambda url: urlsplit(url).path == path)
        except TimeoutError as late:
            told = self.page.locator("main").inner_text()[:1500]
            raise AssertionError(f"still at {self.page.url}, not at {path}; the page says:\n{told}") from late
        assert self.page.evaluate(OVERFLOW) <= 0, f"{path} is wider than {self.pixels} px"

    def press(self, name):
        self.page.locator("main").get_by_role("button", name=name, exact=True).first.click()

    def follow(self, name):
        self.page.locator("main").get_by_role("link", name=name, exact=True).first.click()

    def type(self, **typed):
        for name, value in typed.items():
            self.page.fill(f"#id_{name}", value)

    def choose(self, **chosen):
        for name, value in chosen.items():
            self.page.select_option(f"#id_{name}", str(value))

    def tick(self, name, value):
        self.page.check(f"input[name={name}][value='{value}']")

    def sees(self, *words):
        text = self.page.locator("main").inner_text().replace("\xa0", " ")
        for word in words:
            assert word in text, f"{word} is not on {self.page.url}, which says:\n{text[:1500]}"


def _session_cookie(hand: Any, url: str) -> dict[str, Any]:
    client = Client()
    client.force_login(hand)
    name = settings.SESSION_COOKIE_NAME
    return {
        "name": name,
        "value": client.cookies[name].value,
        "url": url,
        "httpOnly": True,
        "sameSite": "Lax",
    }


def _watch(page: Any, own_host: str, faults: list[str]) -> None:
    def heard(message: Any) -> None:
        # That a page answered 4xx is often the very thing a test is about; missing files are told apart below.
        if message.type == "error" and not message.text.startswith("Failed to load resource"):
            faults.append(f"console: {message.text}")

    def answered(response: Any) -> None:
        if response.status >= 500:
            faults.append(f"{response.status}: {response.url}")
        if response.status == 404 and response.request.resource_type not in ("document", "fetch", "xhr"):
            faults.append(f"missing: {response.url}")

    def asked(request: Any) -> None:
        parts = urlsplit(request.url)
        if parts.scheme in ("http", "https", "ws", "wss") and parts.netloc != own_host:
            faults.append(f"another host: {request.url}")

    page.on("console", heard)
    page.on("pageerror", lambda error: faults.append(f"script: {error}"))
    page.on("response", answered)
    page.on("request", asked)
