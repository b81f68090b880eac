"""An assessment as terminal text: on one screen, or whole."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from rich.console import Console
from rich.table import Table
from rich.text import Text

from triage.domain.catalogue import Catalogue
from triage.domain.counts import in_twenty
from triage.domain.money import money_text
from triage.policy.answer.assessment import Assessment, Verdict
from triage.reports.charts.answer import dotplot_words
from triage.reports.terminal.lines import SCREEN, Line, print_lines, printable, rows
from triage.reports.terminal.plan import GIVING_WAY, WHOLE, Detail, PlanLines
from triage.reports.wording.cautions import CautionsSaid, whole_words
from triage.reports.wording.left import left_line
from triage.reports.wording.parts import PARTS_HEAD, PARTS_TITLE, part_rows, strip_words
from triage.reports.wording.plan import first_check_words, lower, stop_words
from triage.reports.wording.right_to_sell import HEADINGS, TITLE, question_rows, right_words
from triage.reports.wording.step import (
    at_price,
    behind_words,
    check_words,
    flip_lines,
    limit_words,
    loss_words,
    plan_words,
    planned_words,
    presence_words,
    spread_words,
)
from triage.reports.wording.verdict import WAYS_HEAD, others_line, verdict_title, way_rows, ways_title

# A mark, so that the verdict does not hang on colour.
_MARKS = {Verdict.TAKE: "+", Verdict.CHECK: "?", Verdict.PARTS: "~", Verdict.LEAVE: "x"}
_EMPTY = Line("")


def print_screen(
    assessment: Assessment, catalogue: Catalogue, console: Console, invented: tuple[str, ...] = ()
) -> None:
    """Print what decides, and the plan as a path, on one screen.

    Where that is too long, the plan gives way step by step, in the order of `GIVING_WAY`. What must be
    said of battery, liquid and ownership never does: where it alone fills the screen, the answer is longer.
    """
    for detail in GIVING_WAY:
        lines = list(_screen(assessment, catalogue, detail, invented))
        if len(rows(lines, console)) <= SCREEN:
            break
    print_lines(lines, console)


def print_whole(
    assessment: Assessment, catalogue: Catalogue, console: Console, invented: tuple[str, ...] = ()
) -> None:
    """Print the whole answer: verdict first, then the money and the plan, then what stands behind it."""
    said = CautionsSaid(assessment.first_cautions)
    plan = PlanLines(assessment, catalogue, WHOLE, said)
    print_lines((*_head(assessment), *_decides(assessment, catalogue)), console)
    _right(assessment, console)
    _ways(assessment, console)
    _money(assessment, console)
    _parts(assessment, console)
    if assessment.steps_now:
        told = filter(None, (plan_words(assessment), left_line(assessment)))
        print_lines((*_title("Plan"), *map(Line, told), *plan.lines()), console)
    print_lines(_behind(assessment, plan, catalogue), console)
    if invented:
        words = f"Invented demo figures used: {', '.join(invented)}."
        print_lines((_EMPTY, Line(words)), console)


def _screen(
    assessment: Assessment, catalogue: Catalogue, detail: Detail, invented: tuple[str, ...]
) -> Iterator[Line]:
    """The lines of the short answer."""
    plan = PlanLines(assessment, catalogue, detail, CautionsSaid(assessment.first_cautions))
    yield from _head(assessment, detail.reasons or assessment.expected_margin is None)
    yield from _decides(assessment, catalogue, detail.reasons)
    if assessment.expected_margin is not None:
        margin, currency = money_text(assessment.expected_margin, assessment.currency), assessment.currency
        words = f"{_margin_label(assessment)} {margin}; risk of loss {loss_words(assessment)}"
        if assessment.shortfall is not None:
            worst = money_text(assessment.shortfall, currency, whole=True)
            words += f"; worst 2 in 20 average {worst}"
        yield Line(words)
    if detail.reasons and (others := others_line(assessment)):
        yield Line(others)
    if detail.reasons and assessment.unit.model:
        yield Line(f"Resale value by: {assessment.priced_by}")
    for check in assessment.checks[:1]:
        yield from plan.cautions(check.cautions, 0, 0)
    if assessment.steps_now:
        yield Line(f"Plan: {lower(plan_words(assessment)).removesuffix('.')}", style="bold")
        if words := left_line(assessment, detail.reasons):
            yield Line(words)
        yield from plan.lines()
    yield Line(
        ("Invented demo figures. " if invented else "")
        + "--full adds branches, margin, chances, parts and notes."
    )


def _margin_label(assessment: Assessment) -> str:
    price = at_price(assessment)
    return f"Expected margin{price}:" if price else "Expected margin"


def _title(text: str) -> tuple[Line, Line]:
    return _EMPTY, Line(text, style="bold")


def _head(assessment: Assessment, reasons: bool = True) -> Iterator[Line]:
    """Verdict, its reason, and what stops work."""
    verdict, _, ending = verdict_title(assessment).partition(": ")
    head = f"{_MARKS[assessment.verdict]} {verdict.upper()}: {assessment.unit.name or 'this device'}"
    yield Line(f"{head}; {ending}" if ending else head, style="bold")
    if reasons:
        yield Line(assessment.sentence)
    for caution in assessment.first_cautions:
        yield Line(whole_words(caution), head="! ")


def _decides(assessment: Assessment, catalogue: Catalogue, reasons: bool = True) -> Iterator[Line]:
    """Price, first check and stop point."""
    label, figure = limit_words(assessment)
    # What binds is always told, in short where room is short: the price need not follow from the margin.
    why = [assessment.limit_words]
    if not reasons:
        above = assessment.limit_words.startswith("above it, the ")
        why = [assessment.limit_words.replace(" the ", " ").replace(" is ", " ")] if above else []
    if assessment.price is not None and assessment.route == "buy":
        why.append(
            f"{'asking price' if reasons else 'ask'} {money_text(assessment.price, assessment.currency)}"
        )
    yield Line(f"{label}: {figure}" + (f" ({'; '.join(why)})" if why else ""), style="bold")
    first = f"First check: {first_check_words(assessment, catalogue)}"
    stop = f"Stop point: {stop_words(assessment, catalogue, reasons)}"
    yield from map(Line, (first, stop) if reasons else (f"{first}. {stop}",))


def _money(assessment: Assessment, console: Console) -> None:
    currency = assessment.currency
    if assessment.expected_margin is None:
        return
    margin = money_text(assessment.expected_margin, currency)
    words = [f"{_margin_label(assessment)} {margin}; risk of loss {loss_words(assessment)}"]
    if assessment.dots:
        words.append(f"{dotplot_words(assessment.dots, currency)} {spread_words(assessment)}")
    print_lines((*_title("Margin breakdown (average over all outcomes)"), *map(Line, words)), console)
    table = Table(box=None, show_header=False, padding=(0, 2, 0, 0))
    table.add_column()
    table.add_column(justify="right")
    table.add_column(style="dim")
    for line in assessment.lines:
        table.add_row(*(Text(printable(cell)) for cell in (
            line.label, money_text(line.amount, currency), line.note
        )))  # fmt: skip
    console.print(table)


def _right(assessment: Assessment, console: Console) -> None:
    """What is open of the right to sell it: a row a question."""
    rows = question_rows(assessment)
    if not rows:
        return
    print_lines((*_title(TITLE), Line(right_words(assessment))), console)
    table = Table(box=None, padding=(0, 2, 0, 0))
    for heading in HEADINGS:
        table.add_column(heading)
    for row in rows:
        table.add_row(*(Text(printable(cell)) for cell in row))
    console.print(table)


def _ways(assessment: Assessment, console: Console) -> None:
    """The ways to go with a device to buy, side by side."""
    if not assessment.ways:
        return
    print_lines(_title(ways_title(assessment)), console)
    table = Table(box=None, header_style="dim", padding=(0, 2, 0, 0))
    for place, name in enumerate(WAYS_HEAD):
        table.add_column(name, justify="left" if place == 0 else "right")
    for cells in way_rows(assessment):
        table.add_row(*(Text(printable(cell)) for cell in cells))
    console.print(table)


def _parts(assessment: Assessment, console: Console) -> None:
    """What each part of the device is worth, where the price book lists them."""
    found = part_rows(assessment)
    if not found:
        return
    print_lines((*_title(PARTS_TITLE), Line(strip_words(assessment))), console)
    table = Table(box=None, header_style="dim", padding=(0, 2, 0, 0))
    for place, name in enumerate(PARTS_HEAD):
        table.add_column(name, justify="left" if place in (0, len(PARTS_HEAD) - 1) else "right")
    for cells in found:
        table.add_row(*(Text(printable(cell)) for cell in cells))
    console.print(table)


def _behind(assessment: Assessment, plan: PlanLines, catalogue: Catalogue) -> Iterator[Line]:
    if assessment.findings:
        yield from _title("Damage and repair chances (severity 3 is the worst)")
    for finding in assessment.findings:
        chance = (
            f"repair works {in_twenty(finding.chance)}, {behind_words(finding)}"
            f"{planned_words(finding, assessment, catalogue)}"
            if finding.repair
            else "no repair of its own"
        )
        yield Line(f"{finding.name}, severity {finding.severity} of 3 ({presence_words(finding)}): {chance}")
    if assessment.checks:
        yield from _title("Checks worth doing first")
    for check in assessment.checks:
        yield Line(f"{check.name}: {check_words(check, assessment.currency)}")
        yield from plan.cautions(check.cautions, 0, 2)
    yield from _listed("Prices of parts that would change the verdict", flip_lines(assessment, catalogue))
    priced = f"Resale value by: {assessment.priced_by}." if assessment.priced_by else ""
    yield from _listed("Notes", (priced, *assessment.notes, f"Source of the chances: {assessment.source}."))


def _listed(title: str, lines: Iterable[str]) -> Iterator[Line]:
    words = [line for line in lines if line]
    if words:
        yield from _title(title)
    yield from map(Line, words)
