"""The forms a page shows, read off its HTML: what a browser would send, field by field."""

from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any
from urllib.parse import quote_plus, urljoin


@dataclass
class Field:
    """One thing a form sends: its name, its kind (text, select, checkbox ...), what it holds, what it offers."""

    name: str
    kind: str
    value: str = ""
    offers: list[str] = field(default_factory=list)

    @property
    def plausible(self) -> str:
        """What somebody might send: what stands there, or else something of the right sort."""
        if self.value or self.kind in {"hidden", "file"}:
            return self.value
        if self.offers:
            return next((offer for offer in self.offers if offer), "")
        kinds = {
            "decimal": "3",
            "numeric": "3",
            "number": "3",
            "date": "2026-03-02",
            "email": "ada@post.example",
        }
        more = {"datetime-local": "2026-03-02T10:00", "url": "https://cards.example", "checkbox": ""}
        return {**kinds, **more}.get(self.kind, "plain words")


@dataclass
class Form:
    """A form: where it goes, how, and what it sends. ``buttons`` are the named ones, one of which is pressed."""

    action: str
    method: str
    fields: list[Field] = field(default_factory=list)
    buttons: list[tuple[str, str]] = field(default_factory=list)

    @property
    def names(self) -> list[str]:
        return list(dict.fromkeys(one.name for one in self.fields if one.name not in NEVER))

    def filled(self) -> list[tuple[str, Any]]:
        """What somebody might send."""
        return [(one.name, one.plausible) for one in self.fields if one.name not in NEVER and one.plausible]


#: Checked by Django itself, which the tests' own browser is excused from.
NEVER = {"csrfmiddlewaretoken"}


def encoded(pairs: list[tuple[str, Any]]) -> bytes:
    """A form as a browser sends it; a value that is bytes is sent as it is, however little it is text."""
    return "&".join(f"{quote_plus(name)}={quote_plus(value)}" for name, value in pairs).encode()


def forms_of(page: str, address: str) -> list[Form]:
    """The forms of a page that stands at ``address``."""
    reader = _Reader(address)
    reader.feed(page)
    return reader.forms


class _Reader(HTMLParser):
    def __init__(self, address: str) -> None:
        super().__init__()
        self.address = address
        self.forms: list[Form] = []
        self.form: Form | None = None
        self.select: Field | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = {name: value or "" for name, value in attrs}
        if tag == "form":
            # A form may take in fields that stand elsewhere on the page (`form=`); ours do not.
            action = urljoin(self.address, said.get("action") or self.address)
            self.form = Form(action, said.get("method", "get").lower())
            self.forms.append(self.form)
        elif self.form is None:
            return
        elif tag == "option" and self.select is not None:
            self.select.offers.append(said.get("value", ""))
            if "selected" in said:
                self.select.value = said.get("value", "")
        elif tag in {"button", "input"} and said.get("type") in {"submit", "image"} | (
            {None} if tag == "button" else set()
        ):
            if said.get("name"):
                self.form.buttons.append((said["name"], said.get("value", "")))
        elif tag in {"input", "select", "textarea"} and said.get("name"):
            self._field(tag, said)

    def _field(self, tag: str, said: dict[str, str]) -> None:
        assert self.form is not None
        kind = tag if tag != "input" else said.get("inputmode") or said.get("type", "text")
        ticked = kind not in {"radio", "checkbox"} or "checked" in said
        found = Field(said["name"], kind, said.get("value", "on" if not ticked else "") if ticked else "")
        if kind in {"radio", "checkbox"} and not ticked:
            # One button of several, or a box left open: nothing is sent for it.
            found.kind = "hidden"
        self.form.fields.append(found)
        if tag == "select":
            self.select = found

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.form = None
        elif tag == "select":
            self.select = None
