"""A user's words on a page, shown as they were typed."""

from __future__ import annotations

import re

# What markdown, its formulas and its directives are made of.
_PUNCTUATION = re.compile(r"([\\`*_{}\[\]<>()#+\-.!|~$&:^])")
# Replaced after mark-up is read, so an escape is not enough: short codes such as :smile:, addresses (which
# become links), and arrows and dashes that stand alone.
_READ_LATER = re.compile(
    r":(?=\w)|https?:(?=//)|www(?=\.)|@(?=[\w-])|(?<!\S)[<>~-](?=[->=](?!\S))", re.IGNORECASE
)
_WORD_JOINER = "\u2060"
# Turn about what is written after them, to the end of the line and not of the words.
_TURNS = re.compile("[\u202a-\u202e\u2066-\u2069]")


def literal(text: str) -> str:
    """Escape text for Streamlit's markdown: no mark-up, formula, tag, emoji or link comes of it."""
    line = _TURNS.sub("", " ".join(text.split()))
    line = _READ_LATER.sub(lambda found: found[0] + _WORD_JOINER, line)
    return _PUNCTUATION.sub(r"\\\1", line)
