"""An assessment as terminal text."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import Caution
from triage.domain.counts import in_twenty
from triage.domain.money import money_text
from triage.policy.answer.assessment import Assessment, PlanStep, Verdict
from triage.reports.charts.answer import dotplot_words
from triage.reports.wording.plan import first_check_words, otherwise_words, step_words, stop_words
from triage.reports.wording.step import (
    behind_words,
    check_words,
    flip_lines,
    limit_words,
    part_words,
    plan_words,
    presence_words,
    spread_words,
    step_figures,
)
from triage.reports.wording.verdict import VERDICT_WORDS

# A mark, so that the verdict does not hang on colour.
_MARKS = {Verdict.TAKE: "+", Verdict.CHECK: "?", Verdict.PARTS: "~", Verdict.LEAVE: "x"}


def printable(text: str) -> str:
    """Keep a user's words from steering the terminal: control characters become marks."""
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)


def print_assessment(
    assessment: Assessment, catalogue: Catalogue, console: Console, invented: tuple[str, ...] = ()
) -> None:
    """Print the whole answer: verdict first, then the plan, then what stands behind it."""
    for part in (_head, _money, _plan, _behind):
        part(assessment, catalogue, console)
    if invented:
        console.print()
        _line(console, f"Invented demo figures stand behind this: {', '.join(invented)}.")


def _line(console: Console, text: str, style: str = "", indent: int = 0) -> None:
    console.print(Padding(Text(printable(text), style=style), (0, 0, 0, indent), expand=False))


def _title(console: Console, text: str) -> None:
    console.print()
    _line(console, text, "bold")


def _head(assessment: Assessment, catalogue: Catalogue, console: Console) -> None:
    verdict = f"{_MARKS[assessment.verdict]} {VERDICT_WORDS[assessment.verdict].upper()}"
    _line(console, f"{verdict}: {assessment.unit.name or 'this device'}", "bold")
    _line(console, assessment.sentence)
    for caution in assessment.first_cautions:
        _caution(console, caution, indent=0, whole=True)
    console.print()
    label, figure = limit_words(assessment)
    asked = "" if assessment.price is None or assessment.route != "buy" else (
        f"; asked {money_text(assessment.price, assessment.currency)}"
    )  # fmt: skip
    _line(console, f"{label}: {figure} ({assessment.limit_words}{asked})", "bold")
    _line(console, f"First check: {first_check_words(assessment, catalogue)}")
    _line(console, f"Stop point: {stop_words(assessment, catalogue)}")


def _money(assessment: Assessment, catalogue: Catalogue, console: Console) -> None:
    currency = assessment.currency
    if assessment.expected_margin is None:
        return
    _title(console, "Money")
    _line(console, f"Expected margin {money_text(assessment.expected_margin, currency)}; "
                   f"loses money in {assessment.losses_in_20} of 20")  # fmt: skip
    if assessment.dots:
        _line(console, f"{dotplot_words(assessment.dots, currency)} {spread_words(assessment)}")
    table = Table(box=None, show_header=False, padding=(0, 2, 0, 0))
    table.add_column()
    table.add_column(justify="right")
    table.add_column(style="dim")
    for line in assessment.lines:
        table.add_row(*(Text(printable(cell)) for cell in (
            line.label, money_text(line.amount, currency), line.note
        )))  # fmt: skip
    console.print(table)


def _plan(assessment: Assessment, catalogue: Catalogue, console: Console) -> None:
    if not assessment.steps_now:
        return
    _title(console, "Plan")
    _line(console, plan_words(assessment))
    for number, step in enumerate(assessment.steps_now, start=1):
        _step(number, step, assessment, catalogue, console)


def _step(
    number: int, step: PlanStep, assessment: Assessment, catalogue: Catalogue, console: Console
) -> None:
    figures = step_figures(step)
    _line(console, f"{number:>2}. {step_words(step, catalogue)}" + (f" ({figures})" if figures else ""))
    for caution in step.cautions:
        _caution(console, caution, indent=4, whole=caution.always)
    for line in step.parts:
        _line(console, f"part: {part_words(line, catalogue, assessment.currency)}", indent=4)
    for check in step.verify:
        _line(console, f"measure: {check.name}: {check.limit}", indent=4)
    if words := otherwise_words(step, catalogue, assessment.route):
        mark = "STOP POINT. " if step.stop_point else ""
        _line(console, mark + words, "bold" if step.stop_point else "", indent=4)


def _caution(console: Console, caution: Caution, indent: int, whole: bool) -> None:
    _line(console, f"! {caution.title}", indent=indent)
    for words in caution.lines if whole else ():
        _line(console, words, indent=indent + 2)


def _behind(assessment: Assessment, catalogue: Catalogue, console: Console) -> None:
    if assessment.findings:
        _title(console, "What is wrong, and the chance of putting it right")
        for finding in assessment.findings:
            chance = (
                f"{in_twenty(finding.mean)}, {behind_words(finding)}"
                if finding.repair
                else "no work of its own"
            )
            _line(
                console, f"{finding.name}, severity {finding.severity} ({presence_words(finding)}): {chance}"
            )
    _listed(console, "Worth checking first", (
        f"{check.name}: {check_words(check, assessment.currency)}"
        for check in assessment.checks
    ))  # fmt: skip
    _listed(console, "Part prices that turn the verdict", flip_lines(assessment, catalogue))
    _listed(console, "Notes", (*assessment.notes, f"Behind the chances: {assessment.source}."))


def _listed(console: Console, title: str, lines: Iterable[str]) -> None:
    words = [line for line in lines if line]
    if words:
        _title(console, title)
    for line in words:
        _line(console, line)
