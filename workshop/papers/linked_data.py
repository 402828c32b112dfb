"""A paper's record in the terms of schema.org <https://schema.org>, as JSON-LD, for machines of others.

Only terms that exist there: a stone is an ``IndividualProduct``, every other paper a ``DigitalDocument``. What has no
term of its own, such as a treatment, stands as ``additionalProperty``. Weights carry the unit code ``CTM`` (metric
carat) and lengths ``MMT`` of UN/ECE Recommendation 20 (codes from memory). The cutter's own card is ``subjectOf``,
never ``hasCertification``: that is for a third party's report.
"""

from __future__ import annotations

from typing import Any

from .record import canonical

CONTEXT = "https://schema.org"


def of(record: dict[str, Any]) -> str:
    """The linked data of a content record, canonically spelled. A record of a sort it does not know is a document."""
    paper = _paper(record)
    if "name_line" not in record:
        return canonical({"@context": CONTEXT, **paper})
    stone = {
        "@context": CONTEXT,
        "@type": "IndividualProduct",
        "name": record["name_line"],
        "sku": record.get("gem", ""),
        "description": _description(record),
        **_sizes(record),
        "additionalProperty": _length(record)
        + [_property(line["label"], line["text"]) for line in record.get("lines", [])]
        + [_property(fact["label"], fact["text"]) for fact in record.get("facts", [])],
        "subjectOf": paper,
    }
    return canonical({key: value for key, value in stone.items() if value})


def _paper(record: dict[str, Any]) -> dict[str, Any]:
    shop = record.get("shop") or {}
    issuer = {"@type": "Organization", "name": shop.get("name", ""), "url": shop.get("website", "")}
    said = {
        "@type": "DigitalDocument",
        "name": record.get("title", ""),
        "identifier": record.get("number", ""),
        "url": record.get("check_url", ""),
        "dateCreated": record.get("issued_on", ""),
        "inLanguage": record.get("language", ""),
        "publisher": {key: value for key, value in issuer.items() if value},
    }
    return {key: value for key, value in said.items() if value}


def _description(record: dict[str, Any]) -> str:
    parts = [line["text"] for line in record.get("lines", []) if _topic(line) in {"nature", "treatment"}]
    return "; ".join([*parts, *record.get("remarks", []), record.get("role", "")]).strip("; ")


def _topic(line: dict[str, str]) -> str:
    """What a line is about. Papers from before they had a language say it in their English label alone."""
    return line.get("topic") or line.get("label", "").lower()


def _sizes(record: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    if record.get("weight_ct"):
        found["weight"] = _quantity(record["weight_ct"], "CTM", "ct")
    sizes = record.get("size_mm") or ()
    for name, value in zip(("width", "depth"), sizes[1:], strict=False):
        found[name] = _quantity(value, "MMT", "mm")
    return found


def _length(record: dict[str, Any]) -> list[dict[str, str]]:
    """Length has no term of its own there."""
    sizes = record.get("size_mm") or ()
    return [{**_property("Length", sizes[0]), "unitCode": "MMT", "unitText": "mm"}] if sizes else []


def _quantity(value: str, code: str, words: str) -> dict[str, str]:
    return {"@type": "QuantitativeValue", "value": value, "unitCode": code, "unitText": words}


def _property(name: str, value: str) -> dict[str, str]:
    return {"@type": "PropertyValue", "name": name, "value": value}
