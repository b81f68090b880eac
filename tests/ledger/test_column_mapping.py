"""A foreign spreadsheet read by a mapping; faults of the mapping or the sheet with their lines."""

from __future__ import annotations

import pytest

from triage.domain.catalogue import load_catalogue
from triage.errors import HistoryError
from triage.ledger.history.column_mapping import load_mapping, parse_mapping
from triage.workflows.jobs.import_history import read_past_jobs

CATALOGUE = load_catalogue()
# An invented shop's sheet, as a spreadsheet in a German locale writes it.
MAPPING = """\
delimiter = ";"
encoding = "cp1252"
decimal = ","
dates = "DD.MM.YYYY"
currency = "CHF"
round_money = true

[columns]
job = "Auftrag"
date = "Eingang"
finding = "Schaden"
outcome = "Ergebnis"
paid = "Einkauf"
closed = "Fertig"
hidden_faults = "Beim Öffnen"

[words.finding]
"Glas gebrochen" = "display-glass-cracked"
"Rahmen krumm" = "frame-bent"
"Lötstelle" = "joint-cracked"

[words.outcome]
repariert = "fixed"
"ging nicht" = "not-fixed"

[words.hidden_faults]
nichts = "none"
"-" = ""

[always]
route = "bought"
"""
SHEET = """\
Auftrag;Eingang;Schaden;Ergebnis;Einkauf;Fertig;Beim Öffnen;Bemerkung
A 1;03.01.2026;Glas gebrochen;repariert;1.234,5 €;5.1.2026;nichts;"Kratzer; links"
A 1;03.01.2026;Rahmen krumm;ging nicht;1234,50;05.01.2026;nichts;
A 2;04.01.2026;Rahmen krumm;fixed;84,333;;Lötstelle;
A 3;04.01.2026;Rahmen krumm;repariert;;;-;
"""


def mapping(text=MAPPING):
    return parse_mapping(text, "map.toml", CATALOGUE)


def past(sheet=SHEET, how=None):
    return read_past_jobs(sheet.encode("cp1252"), "sheet.csv", CATALOGUE, "EUR", how or mapping())


def test_a_sheet_with_foreign_words_and_number_formats_is_read():
    read = past()
    assert (read.currency, read.rows, read.ignored) == ("CHF", 4, ("Bemerkung",))
    one, two, three = read.jobs
    assert [job.label for job in read.jobs] == ["A 1", "A 2", "A 3"]
    assert str(one.intake.on) == "2026-01-03" and one.route == "bought"
    kinds = [getattr(r, "finding", None) for r in one.records if type(r).__name__ == "Attempt"]
    assert kinds == ["display-glass-cracked", "frame-bent"]
    paid = {job.label: r.amount_minor for job in read.jobs for r in job.records if hasattr(r, "purpose")}
    assert paid == {"A 1": -123450, "A 2": -8433}
    looks = {
        job.label: r.found for job in read.jobs for r in job.records if type(r).__name__ == "LookedInside"
    }
    assert looks == {"A 1": "", "A 2": "joint-cracked"}


def test_faults_of_a_sheet_name_its_own_columns_and_what_the_mapping_allows():
    bad = SHEET.replace("5.1.2026", "2026/5/1").replace("ging nicht", "kaputt").replace("84,333", "vierzig")
    with pytest.raises(HistoryError) as problem:
        past(bad)
    assert [str(fault).split(": ")[0] for fault in problem.value.faults] == [
        "sheet.csv, line 2, Fertig (closed)",
        "sheet.csv, line 3, Ergebnis (outcome)",
        "sheet.csv, line 4, Einkauf (paid)",
    ]
    said = str(problem.value)
    assert "allowed: a date written as DD.MM.YYYY" in said
    assert "allowed: digits, with a ',' before decimals" in said


def test_a_missing_column_is_reported_with_the_existing_ones():
    with pytest.raises(
        HistoryError, match="'Einkaufspreis' is not a column of sheet.csv; nearest known: Eink"
    ):
        past(how=mapping(MAPPING.replace('"Einkauf"', '"Einkaufspreis"')))


def test_more_decimals_than_the_currency_has_are_refused_unless_to_be_rounded():
    with pytest.raises(HistoryError, match=r"'84.333' has more than 2 decimals; allowed: .*CHF"):
        past(how=mapping(MAPPING.replace("round_money = true", "")))


@pytest.mark.parametrize(
    ("change", "line", "said"),
    [
        (('";"', '";;"'), 1, "delimiter"),
        (('"cp1252"', '"morse"'), 2, "encoding"),
        (("DD.MM.YYYY", "MM.YYYY"), 4, "YYYY or YY, MM and DD"),
        (('"CHF"', '"francs"'), 5, "three letters"),
        (('job = "Auftrag"', 'jop = "Auftrag"'), 9, "nearest known: job"),
        (('"display-glass-cracked"', '"display-glass"'), 17, "nearest known: display-glass-cracked"),
        (('repariert = "fixed"', 'repariert = "mended"'), 23, "fixed, not-fixed, not-attempted"),
        (('route = "bought"', 'route = "found"'), 31, "bought, walk-in"),
        (('route = "bought"', 'paid = "3"'), 31, "is also in [columns]"),
        (("round_money = true", "rounding = true"), 6, "round_money"),
        (("decimal", "decimal = ["), 3, "well-formed TOML"),
    ],
)
def test_an_unusable_mapping_is_reported_by_line(change, line, said):
    with pytest.raises(HistoryError) as problem:
        mapping(MAPPING.replace(*change))
    told = [str(fault) for fault in problem.value.faults]
    assert any(f"map.toml, line {line}," in fault and said in fault for fault in told), told


def test_a_missing_mapping_file_is_named(tmp_path):
    with pytest.raises(HistoryError, match="none.toml"):
        load_mapping(tmp_path / "none.toml", CATALOGUE)
