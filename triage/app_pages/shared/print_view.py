"""How a page prints: the answer alone, on A4, with every folded caution open."""

from __future__ import annotations

import streamlit as st

# Hooks are widget keys and plain elements only: the framework's own class names change with it.
_HIDDEN = (
    "header",
    "nav",
    "button",
    "[class*='st-key-device-intake'] details > :not(summary)",
    "[class*='st-key-device-decision']",
    "[class*='st-key-device-what-if']",
    "[class*='st-key-device-turning']",
    "[class*='st-key-first-steps']",
    "[class*='st-key-next-']",
)
_SHEET = f"""<style>
@page {{ size: A4; margin: 14mm; }}
@media print {{
    html {{ font-size: 12.5px; }}
    {", ".join(_HIDDEN)} {{ display: none !important; }}
    details {{ border: none !important; }}
    details::details-content {{ content-visibility: visible !important; block-size: auto !important; }}
    [role='graphics-document'] :is(canvas, svg) {{ max-width: 170mm !important; height: auto !important; }}
    [class*='st-key-device-step-'], canvas, svg {{ break-inside: avoid; }}
    h1, h2, h3 {{ break-after: avoid; }}
}}
</style>"""


def print_view() -> None:
    """Say how this page prints."""
    st.html(_SHEET)
