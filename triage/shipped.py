"""Where the shipped data lie: inside an installed wheel, or at the top of a checkout."""

from __future__ import annotations

from pathlib import Path

_WHEEL = Path(__file__).parent / "_shipped"
_CHECKOUT = Path(__file__).parent.parent


def shipped(name: str) -> Path:
    """Path of a shipped file or folder, such as "models/priors/demo" or "app.py"."""
    root = _WHEEL if _WHEEL.is_dir() else _CHECKOUT
    return root / name
