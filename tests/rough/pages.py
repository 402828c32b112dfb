"""What a page says, without the random marks that could hold any figure by chance."""

import re


def said(answer):
    """The page's text with plain spaces, one-time keys and tokens left out."""
    page = answer.content.decode().replace("\xa0", " ")
    return re.sub(r"\b[A-Za-z0-9]{32,64}\b", "", page)
