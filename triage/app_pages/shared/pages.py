"""Where each page lies: the router and every link between pages read it here."""

from __future__ import annotations

from pathlib import Path

_FOLDERS = {
    "device": "device",
    "jobs": "jobs",
    "job": "jobs",
    "quote": "quote",
    "lot": "lot",
    "parts": "parts",
    "model_prices": "",
    "margin_by_damage": "review",
    "track_record": "review",
    "assumptions": "assumptions",
    "model_check": "fitting",
    "past_jobs": "past",
    "settings": "",
}
_HOME = Path(__file__).parent.parent

# Each page's script by its name, which is also its address.
PAGES = {name: _HOME / folder / f"{name}.py" for name, folder in _FOLDERS.items()}
# Pages of a table that is wider than a text.
WIDE = frozenset({"model_prices"})
