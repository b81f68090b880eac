"""The text of a tagged PDF, read from its content streams through each font's map to Unicode."""

from __future__ import annotations

import io
import re

import pikepdf


def pdf_text(content: bytes) -> str:
    """All text of all pages, in the order it is drawn."""
    with pikepdf.open(io.BytesIO(content)) as pdf:
        return "\n".join(_page_text(page) for page in pdf.pages)


def _page_text(page) -> str:
    maps = {name: _unicode(font) for name, font in page.Resources.Font.items()}
    current, said = {}, []
    for operands, operator in pikepdf.parse_content_stream(page):
        match str(operator):
            case "Tf":
                current = maps[str(operands[0])]
            case "Tj":
                said.append(_decoded(operands[0], current))
            case "TJ":
                said += [_decoded(o, current) for o in operands[0] if isinstance(o, pikepdf.String)]
            case "ET":
                said.append(" ")
    return "".join(said)


def _decoded(codes, known: dict[int, str]) -> str:
    raw = bytes(codes)
    return "".join(known.get(int.from_bytes(raw[i : i + 2], "big"), "?") for i in range(0, len(raw), 2))


def _unicode(font) -> dict[int, str]:
    """Glyph codes to text, from the font's ToUnicode map."""
    table = font.ToUnicode.read_bytes().decode("latin-1")
    known = {}
    for block in re.findall(r"beginbfchar(.*?)endbfchar", table, re.S):
        for code, text in re.findall(r"<(\w+)>\s*<(\w+)>", block):
            known[int(code, 16)] = bytes.fromhex(text).decode("utf-16-be")
    for block in re.findall(r"beginbfrange(.*?)endbfrange", table, re.S):
        for first, last, text in re.findall(r"<(\w+)>\s*<(\w+)>\s*<(\w+)>", block):
            start = bytes.fromhex(text).decode("utf-16-be")
            for step in range(int(last, 16) - int(first, 16) + 1):
                known[int(first, 16) + step] = start[:-1] + chr(ord(start[-1]) + step)
    return known
