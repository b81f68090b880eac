"""Past jobs and mappings, and what `review`, `fit`, `backtest` and `record import` are told of them."""

from __future__ import annotations

from tests.cli.hostile.case import JOBS, Case, Content, changed

FIRST = JOBS.splitlines()[1]
IMPORT = "record import bad.csv"
MAPPING = 'delimiter = ";"\n[columns]\njob = "No."\ndate = "In"\nfinding = "Damage"\n'
SHEET = "No.;In;Damage;outcome\nA 1;2026-01-03;frame-bent;fixed\n"


def jobs(text: Content, *says: str, code: int = 2, line: str = "review --past-jobs bad.csv") -> Case:
    return Case(line, says, {"bad.csv": text}, code)


def cell(
    before: str, after: str, *says: str, code: int = 2, line: str = "review --past-jobs bad.csv"
) -> Case:
    return jobs(JOBS.replace(FIRST, changed(FIRST, (before, after))), *says, code=code, line=line)


def mapping(text: Content, *says: str, sheet: Content = SHEET) -> Case:
    return Case("record import sheet.csv --mapping map.toml", says, {"map.toml": text, "sheet.csv": sheet})


def option(line: str, *says: str) -> Case:
    return Case(line, says)


CASES = {
    "missing, to import": option("record import none.csv", "none.csv", "No such file"),
    "missing, to backtest": option("backtest --past-jobs none.csv", "none.csv", "No such file"),
    "empty": jobs("", "bad.csv", "is empty"),
    "empty, to import": jobs("", "bad.csv", "is empty", line=IMPORT),
    "a header only": jobs(JOBS.splitlines()[0], "has no rows", line="fit --out draws --past-jobs bad.csv"),
    "no header": jobs(JOBS.split("\n", 1)[1], "line 1", "is not a known column"),
    "semicolons": jobs(JOBS.replace(",", ";"), "line 1", "header"),
    "a header twice": jobs(JOBS.splitlines()[0] + "\n" + JOBS, "line 2", "date"),
    "a column twice": jobs(JOBS.replace("zone", "tier"), "'tier' is given twice", line=IMPORT),
    "UTF-16": jobs(JOBS.encode("utf-16"), "is not UTF-8 text"),
    "UTF-16, to import": jobs(JOBS.encode("utf-16"), "is not UTF-8 text", line=IMPORT),
    "UTF-16, to fit": jobs(JOBS.encode("utf-16"), "is not UTF-8", line="fit --out draws --past-jobs bad.csv"),
    "UTF-16, behind draws": jobs(JOBS.encode("utf-16"), "UTF-8", line="priors conflict --past-jobs bad.csv"),
    "NUL bytes": jobs(JOBS.replace("sl-00001", "sl\0"), "line 2", "job", "control character"),
    "a quote never closed": jobs(JOBS.replace("sl-00003", '"sl-00003'), "row", "has 1 cells"),
    "a cell of a megabyte": jobs(JOBS.replace("sl-00001", "x" * 1_000_000), "bad.csv", "field"),
    "a row of three": jobs(JOBS + "a,b,c\n", "line 10", "has 3 cells"),
    "a mark of byte order and line ends of Windows": jobs("\ufeff" + JOBS.replace("\n", "\r\n"), "", code=0),
    # cells
    "a day in year 0": cell("2023-09-01", "0000-01-01", "line 2", "date"),
    "a day in 9999": cell("2023-09-01", "9999-12-31", "line 2", "date"),
    "a day in 2200": cell(",2023-09-07,", ",2200-01-01,", "line 2", "closed"),
    "a day that is none": cell("2023-09-01", "2023-02-30", "line 2", "date"),
    "a day of a week": cell("2023-09-01", "2023-W35-5", "", code=0),
    "a day to come": cell("2023-09-01", "2150-01-01", "line 2", "date", line=IMPORT),
    "closed before it came": cell(",2023-09-07,", ",2023-08-07,", "line 2", "closed"),
    "minutes that are no number": cell(",56,", ",nan,", "line 2", "minutes"),
    "minutes without end": cell(",56,", ",inf,", "line 2", "minutes"),
    "negative minutes": cell(",56,", ",-56,", "line 2", "minutes"),
    "minutes of thousands of digits": cell(",56,", f",{'9' * 5000},", "line 2", "minutes"),
    "minutes in other digits": cell(",56,", ",٥٦,", "line 2", "minutes"),
    "money of 1e400": cell(",57.00,", ",1e400,", "line 2", "sold"),
    "huge money": cell(",57.00,", ",99999999999999,", "line 2", "sold"),
    "money with a comma": cell(",57.00,", ',"57,00",', "line 2", "sold", line=IMPORT),
    "a severity of 4": cell("corner,1", "corner,4", "line 2", "severity"),
    "an unknown damage": cell(
        "display-glass-cracked", "display-glas-cracked", "nearest known: display-glass-cracked"
    ),
    "an unknown outcome": cell(",fixed,", ",repaired,", "line 2", "outcome"),
    "a label that steers the terminal": cell("sl-00001", "\x1b[31m", "line 2", "job", "control character"),
    "a bench that steers the terminal": cell("north-bench", "\x1b]0;x\x07", "line 2", "technician"),
    "a bench that turns letters round": cell(
        "north-bench", "\u202ehcneb", "technician", line="review --past-jobs bad.csv --by technician"
    ),
    "a bench that is a formula": cell("north-bench", '"=HYPERLINK(""x"")"', "", code=0),
    "a job that contradicts itself": jobs(
        JOBS + JOBS.splitlines()[2].replace("25.00", "26.00") + "\n", "line 10"
    ),
    # mappings
    "no mapping": option("record import jobs.csv --mapping none.toml", "none.toml", "No such file"),
    "an unknown encoding": mapping(f'encoding = "klingon"\n{MAPPING}', "line 1", "encoding"),
    "another encoding": mapping(
        f'encoding = "utf-16"\n{MAPPING}', "map.toml", "is not a column of sheet.csv"
    ),
    "an unknown delimiter": mapping(MAPPING.replace('";"', '"\\n"'), "line 1", "delimiter"),
    "days of no day": mapping(f'dates = "%Y-%m"\n{MAPPING}', "line 1", "dates", "DD.MM.YYYY"),
    "a column that is not there": mapping(
        MAPPING.replace("Damage", "Demage"), "columns, finding", "nearest known: Damage"
    ),
    "a column of no name of ours": mapping(f'{MAPPING}finnding = "x"\n', "line 6", "nearest known: finding"),
    "a word of no meaning": mapping(f'{MAPPING}[words.outcome]\nyes = "repaired"\n', "line 7"),
    "a currency of no code": mapping(f'currency = "euro"\n{MAPPING}', "line 1", "currency"),
    "columns that are a list": mapping('columns = ["job"]\n', "line 1", "columns"),
    "a name of a column that steers the terminal": mapping(
        MAPPING.replace("Damage", "\\u001b[31m"),
        "columns, finding",
        sheet=SHEET.replace("Damage", "\x1b[32m"),
    ),
    # options
    "no source": option("review", "--past-jobs", "--record"),
    "two sources": option(
        "fit --out draws --past-jobs jobs.csv --record none.sqlite", "--past-jobs", "--record"
    ),
    "review by nothing known": option("review --past-jobs jobs.csv --by colour", "--by"),
    "review of an unknown group": option("review --past-jobs jobs.csv --group frame-bend", "--group"),
    "review before the first job": option("review --past-jobs jobs.csv --as-of 1999-01-01", "no job"),
    "review at no day": option("review --past-jobs jobs.csv --as-of 2026-13-01", "not a date"),
    "a backtest of no block": option("backtest --past-jobs jobs.csv --blocks 0", "--blocks"),
    "a backtest of nine rows": option("backtest --past-jobs jobs.csv", "no job was received"),
    "a backtest from no seed": option("backtest --past-jobs jobs.csv --seed -1", "--seed"),
    "a fit to no folder": option("fit --past-jobs jobs.csv", "--out"),
    "a fit below a file": option("fit --past-jobs jobs.csv --out unit.toml/draws", "unit.toml", "--out"),
    "a half-life that is no number": option(
        "fit --past-jobs jobs.csv --out draws --half-life nan", "--half-life"
    ),
    "a half-life without end": option("fit --past-jobs jobs.csv --out draws --half-life inf", "--half-life"),
    "a half-life of 0": option("fit --past-jobs jobs.csv --out draws --half-life 0", "--half-life"),
    "a huge seed": option("fit --past-jobs jobs.csv --out draws --seed 99999999999999999999", "--seed"),
    "from a day after all": option("fit --past-jobs jobs.csv --out draws --from 2199-01-01", "--from"),
    "quick with a label": option("fit --quick --label x --past-jobs jobs.csv --out draws", "--quick"),
    "quick from no fit": option("fit --quick --past-jobs jobs.csv --out draws", "run a fit first"),
    "a proposal over the past jobs": option(
        "priors propose --past-jobs jobs.csv --out jobs.csv", "jobs.csv", "--out"
    ),
    "who imports steers the terminal": Case(
        "record import jobs.csv --dry-run --by '\x1b[31m'", ("jobs.csv would be imported",), code=0
    ),
}
