"""What is shipped: its version, and where its data lie (inside a wheel, or at the top of a checkout)."""

from __future__ import annotations

from importlib.metadata import version
from pathlib import Path

_WHEEL = Path(__file__).parent / "_shipped"
_CHECKOUT = Path(__file__).parent.parent


def program_version() -> str:
    """Version of the program, which pyproject.toml states."""
    return version("bench-triage")


def shipped(name: str) -> Path:
    """Path of a shipped file or folder, such as "models/priors/demo" or "app.py"."""
    root = _WHEEL if _WHEEL.is_dir() else _CHECKOUT
    return root / name
