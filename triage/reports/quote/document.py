"""A quote's letter as a tagged PDF and as an HTML page.

The templates are constant and ship beside this file; a letter reaches them as
data, so no word of a user's is ever read as markup. Neither needs a network,
and the same letter gives the same bytes.
"""

from __future__ import annotations

import json
import re
from dataclasses import asdict
from functools import lru_cache
from importlib.resources import files

import typst
from jinja2 import Environment, StrictUndefined, Template

from triage.errors import DocumentError
from triage.reports.quote.letter import Letter

_NO_GLYPH = re.compile(r"the text `\"(.+?)\"` could not be displayed")


def quote_pdf(letter: Letter) -> bytes:
    """Set the letter as a PDF, tagged and made to PDF/UA-1.

    The typesetter's own fonts give the same pages on every machine; letters
    that they lack are looked for among the fonts of this one.

    Raises
    ------
    DocumentError : no font here has some letter of it.
    """
    try:
        return _compiled(letter, ignore_system_fonts=True)
    except typst.TypstError:
        try:
            return _compiled(letter, ignore_system_fonts=False)
        except typst.TypstError as refusal:
            missing = _NO_GLYPH.findall(str(refusal))
            if not missing:
                raise
            raise DocumentError(
                f"the PDF cannot show {', '.join(dict.fromkeys(missing))}: no font on this machine has it; "
                "use other characters, or use the web page"
            ) from refusal


def quote_html(letter: Letter) -> str:
    """Set the letter as one HTML page that needs nothing else."""
    return _html_template().render(letter=letter)


def _compiled(letter: Letter, ignore_system_fonts: bool) -> bytes:
    return typst.compile(
        _source("quote.typ").encode(),
        sys_inputs={"letter": json.dumps(asdict(letter))},
        pdf_standards="ua-1",
        ignore_system_fonts=ignore_system_fonts,
    )


@lru_cache(maxsize=1)
def _html_template() -> Template:
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    return environment.from_string(_source("quote.html.jinja"))


def _source(name: str) -> str:
    return files("triage.reports.quote").joinpath(name).read_text(encoding="utf-8")
