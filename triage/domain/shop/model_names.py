"""Names that a shop gives its models: when two are the same, and which is the nearest."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from difflib import get_close_matches


def model_key(name: str) -> str:
    """What two spellings of one model share: case and blanks around it do not count."""
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold()).strip()


def same_model(one: str, other: str) -> bool:
    """Whether two spellings are of one model; a model that is not named is no model."""
    return bool(model_key(one)) and model_key(one) == model_key(other)


def nearest_model(name: str, known: Iterable[str]) -> str:
    """The known name that looks most like one that is not known; "" where none does."""
    by_key = {model_key(one): one for one in known}
    match = get_close_matches(model_key(name), list(by_key), n=1, cutoff=0.6)
    return by_key[match[0]] if match else ""
