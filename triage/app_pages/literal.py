"""A user's words on a page, shown as they were typed."""

from __future__ import annotations

import re

# What markdown, its formulas and its directives are made of.
_PUNCTUATION = re.compile(r"([\\`*_{}\[\]<>()#+\-.!|~$&:^])")
_WORD_JOINER = "\u2060"


def literal(text: str) -> str:
    """Escape text for Streamlit's markdown: no mark-up, formula, tag, emoji or link comes of it."""
    line = " ".join(text.split())
    # Short codes such as :smile: are replaced after mark-up is read, so an escape is not enough.
    line = re.sub(r":(?=\w)", ":" + _WORD_JOINER, line)
    return _PUNCTUATION.sub(r"\\\1", line)
