"""A plain drawing of a handheld's zones, with what was found in each as a number.

Three outlines: the front, the back, the inside. It shows where, not what: a
zone with damage is hatched and carries its count, so nothing hangs on colour.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from xml.sax.saxutils import escape

INK, DAMAGED, QUIET = "#0b0f13", "#fdeee6", "#c9d0d6"
# Zone of the catalogue -> view, then left, top, width, height in the drawing's own units.
_ZONES: dict[str, tuple[int, int, int, int]] = {
    # front
    "top-edge": (18, 24, 44, 10),
    "bottom-edge": (18, 136, 44, 10),
    "left-side": (8, 34, 10, 102),
    "right-side": (62, 34, 10, 102),
    "corner": (8, 24, 10, 10),
    "front": (18, 34, 44, 102),
    # back
    "camera-bump": (94, 30, 26, 22),
    "back": (94, 56, 52, 46),
    "hinge": (94, 106, 52, 12),
    # inside
    "board-upper": (176, 30, 52, 26),
    "board-lower": (176, 58, 26, 26),
    "inside": (204, 58, 24, 26),
    "battery-well": (176, 86, 52, 36),
    "sub-board": (176, 124, 52, 16),
}
_VIEWS = (("front", 8), ("back", 88), ("inside", 170))
_WIDTH, _TOP, _HEIGHT = 64, 24, 122


def drawing_words(found: Mapping[str, int], names: Mapping[str, str]) -> str:
    """Say the drawing: "Damage found: front 2, corner 1"."""
    told = [f"{names.get(zone, zone)} {count}" for zone, count in found.items() if count]
    return f"Damage found: {', '.join(told)}" if told else "No damage located yet"


def device_drawing(found: Mapping[str, int], names: Mapping[str, str]) -> str:
    """Draw the zones as SVG.

    Parameters
    ----------
    found : by zone, how many findings lie there. names : by zone, its name.
    """
    parts = [
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 242 156" width="242" height="156" '
        f'role="img" aria-label="{escape(drawing_words(found, names), {chr(34): "&quot;"})}" '
        'font-family="sans-serif">',
        '<defs><pattern id="hatch" width="5" height="5" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)">'
        f'<rect width="5" height="5" fill="{DAMAGED}"/>'
        '<line x1="0" y1="0" x2="0" y2="5" stroke="#D55E00" stroke-width="1.4"/></pattern></defs>',
    ]
    for view, left in _VIEWS:
        parts.append(
            f'<text x="{left + _WIDTH / 2}" y="14" font-size="11" text-anchor="middle" '
            f'fill="{INK}">{view}</text>'
            f'<rect x="{left}" y="{_TOP}" width="{_WIDTH}" height="{_HEIGHT}" rx="9" fill="#ffffff" '
            f'stroke="{INK}" stroke-width="1.5"/>'
        )
    parts += [_zone(box, found.get(zone, 0)) for zone, box in _ZONES.items()]
    return "".join([*parts, "</svg>"])


def _zone(box: Sequence[int], count: int) -> str:
    left, top, width, height = box
    fill, stroke = ("url(#hatch)", INK) if count else ("#ffffff", QUIET)
    drawn = (
        f'<rect x="{left}" y="{top}" width="{width}" height="{height}" rx="2" fill="{fill}" '
        f'stroke="{stroke}"/>'
    )
    if not count:
        return drawn
    x, y = left + width / 2, top + height / 2
    return (
        f'{drawn}<circle cx="{x}" cy="{y}" r="7" fill="#ffffff" stroke="{INK}"/>'
        f'<text x="{x}" y="{y + 3.6}" font-size="10" font-weight="bold" text-anchor="middle" '
        f'fill="{INK}">{count}</text>'
    )
