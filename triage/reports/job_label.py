"""The label on a unit: its number, what it is, where it is, and how to treat its battery."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from importlib.resources import files

import typst

from triage.errors import DocumentError


@dataclass(frozen=True)
class JobLabel:
    """What a label says. No person's name is on it: it lies about in the shop."""

    number: str
    device: str
    shop: str
    came_in: str
    lines: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


def job_label_pdf(label: JobLabel) -> bytes:
    """Set a label of 100 by 60 mm as a tagged PDF.

    Raises
    ------
    DocumentError : no font here has some letter of it.
    """
    source = files("triage.reports").joinpath("job_label.typ").read_bytes()
    for ignored in (True, False):  # the typesetter's own fonts, then those of this machine
        try:
            return typst.compile(
                source,
                sys_inputs={"label": json.dumps(asdict(label))},
                pdf_standards="ua-1",
                ignore_system_fonts=ignored,
            )
        except typst.TypstError as refusal:
            problem = refusal
    raise DocumentError(
        "the label cannot show some characters: no font on this machine has them"
    ) from problem
