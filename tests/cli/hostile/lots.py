"""Lots, and what `lot` and `choose` are told to do with them."""

from __future__ import annotations

from tests.cli.hostile.case import LOT, Case, Content, changed

A1 = "A1,upper,40,frame-bent"


def lot(text: Content, *says: str, code: int = 2, line: str = "lot bad.csv") -> Case:
    return Case(line, says, {"bad.csv": text}, code)


def row(after: str, *says: str) -> Case:
    """One unreadable row: it is listed, and the other is scored."""
    return lot(changed(LOT, (A1, after)), "line 2", *says, code=0)


def option(line: str, *says: str, code: int = 2, **files: Content) -> Case:
    return Case(line, says, {name.replace("_", "."): content for name, content in files.items()}, code)


CASES = {
    "missing": option("lot none.csv", "none.csv", "No such file"),
    "missing, to choose from": option("choose none.csv", "none.csv", "No such file"),
    "empty": lot("", "bad.csv", "is empty", "unit, tier, findings"),
    "blank lines": lot("\n\n , \n", "bad.csv", "is empty"),
    "a header only": lot("unit,tier,findings\n", "0 devices", code=0),
    "a header only, to choose from": lot("unit,tier,findings\n", "", code=0, line="choose bad.csv"),
    "no header": lot(LOT.split("\n", 1)[1], "line 1", "'A1' is not a known column"),
    "a header of semicolons": lot(LOT.replace(",", ";"), "line 1", "header"),
    "a column twice": lot(LOT.replace("ask", "tier"), "line 1", "'tier' is given twice"),
    "a misspelt column": lot(LOT.replace("ask", "aks"), "line 1", "nearest known: ask"),
    "UTF-16": lot(LOT.encode("utf-16"), "is not UTF-8 text"),
    "unreadable bytes further on": lot(LOT.encode() + b"\xff\xfe,upper,1,x\n", "is not UTF-8 text"),
    "NUL bytes": lot(LOT.replace("A1", "A\0"), "control character", code=0),
    "a quote never closed": lot(LOT + '"A3,upper,40,frame-bent\n' + "A4,upper,1,x\n" * 9, "line 4", code=0),
    "a cell of a megabyte": lot(LOT + "A" * 1_000_000 + ",upper,40,frame-bent\n", "bad.csv", "field"),
    "a mark of byte order and line ends of Windows": lot("\ufeff" + LOT.replace("\n", "\r\n"), "A1", code=0),
    "line ends of old": lot(LOT.replace("\n", "\r"), "A1", code=0),
    "no good row": lot(LOT.replace("upper", "uper").replace("middle", "midle"), "line 2", "line 3"),
    # rows
    "a header again": row("unit,tier,ask,findings", "'tier' is not a known tier"),
    "a cell less": row("A1,upper,40", "has 3 cells"),
    "a cell more": row(f"{A1},x", "has 5 cells"),
    "a label twice": row(A1.replace("A1", "A2") + "\nA2,upper,40,frame-bent", "is already on line"),
    "an ask that is no number": row(A1.replace("40", "nan"), "ask", "not an amount"),
    "an ask without end": row(A1.replace("40", "1e400"), "ask", "not an amount"),
    "a negative ask": row(A1.replace("40", "-40"), "ask", "not an amount"),
    "an ask in other digits": row(A1.replace("40", "４０"), "ask", "not an amount"),
    "an ask of thousands of digits": row(A1.replace("40", "9" * 5000), "ask", "not an amount"),
    "an ask with a sign": row(A1.replace("40", "€40"), "ask", "not an amount"),
    "a severity of 0": row(f"{A1}/0", "severity '0'"),
    "a chance of 0 in 0": row(f"{A1}/2/0 in 0", "chance '0 in 0'"),
    "a chance that is no number": row(f"{A1}/2/nan", "chance 'nan'"),
    "a chance of thousands of digits": row(f"{A1}/2/1 in {'9' * 5000}", "chance"),
    "a damage twice": lot(changed(LOT, (A1, f"{A1};frame-bent/3")), "A1", code=0),
    "a thousand damages": row(f"{A1};" + "cell-worn;" * 1000, "findings", "at most 40"),
    "a label that steers the terminal": row(A1.replace("A1", "\x1b[31mA1"), "unit", "control character"),
    "a label that turns letters round": row(A1.replace("A1", "\u202e1A"), "unit", "control character"),
    "a label that is a formula": lot(changed(LOT, ("A1", '"=HYPERLINK(""x"")"')), "HYPERLINK", code=0),
    "two opposite results": lot(
        "unit,tier,findings,checks\nA1,upper,frame-bent,cell-look=found;cell-look=not-found\nA2,upper,frame-bent,\n",
        "A1",
        code=0,
    ),
    # options
    "no worker": option("lot lot.csv --workers 0", "--workers"),
    "a negative count of workers": option("lot lot.csv --workers -5", "--workers"),
    "a negative count of rows": option("lot lot.csv --rows -1", "--rows"),
    "hours that are no number": option("choose lot.csv --hours nan", "--hours"),
    "hours that are no number, to score": option("lot lot.csv --hours nan", "--hours"),
    "hours without end": option("choose lot.csv --hours inf", "--hours"),
    "cash of no number": option("choose lot.csv --cash nan", "not an amount of money"),
    "negative cash": option("lot lot.csv --cash -5", "not an amount of money"),
    "freight without end": option("choose lot.csv --whole --freight inf", "not an amount of money"),
    "a negative count of a tier": option("choose lot.csv --most upper=-1", "--most", "upper=10"),
    "a raised count of a tier": option("choose lot.csv --most upper=²", "--most", "upper=10"),
    "a count of thousands of digits": option(f"choose lot.csv --most upper={'9' * 5000}", "--most"),
    "a count of an unknown tier": option("choose lot.csv --most uper=1", "uper", "upper"),
    "a unit that is not there": option("choose lot.csv --take A9", "A9"),
    "a unit both ways": option("choose lot.csv --take A1 --leave A1", "A1"),
    "a scheduler that is no address": option("lot lot.csv --scheduler nonsense", "cluster", code=1),
    "nobody at the scheduler's address": option(
        "lot lot.csv --scheduler tcp://127.0.0.1:1", "cluster", code=1
    ),
    "to go on with nothing": option("lot lot.csv --resume", "--resume", "--out"),
    "results over the lot": option("lot lot.csv --out lot.csv --force", "lot.csv", "--out"),
    "to go on over the lot": option("lot lot.csv --out lot.csv --resume", "lot.csv", "--out"),
    "bids over the lot": option("choose lot.csv --out ./lot.csv --force", "lot.csv", "--out"),
    "to go on over something else": option("lot lot.csv --out jobs.csv --resume", "jobs.csv", "--out"),
    "to go on over bytes": option("lot lot.csv --out old.csv --resume", "old.csv", old_csv=b"\xff\xfe\0" * 9),
    "to go on over a folder": option("lot lot.csv --out old --resume", "old", old=lambda path: path.mkdir()),
    "results into no folder": option("lot lot.csv --out none/out.csv", "none/out.csv"),
    "results below a file": option("lot lot.csv --out unit.toml/out.csv", "unit.toml/out.csv"),
    "bids below a file": option("choose lot.csv --out unit.toml/out.csv", "unit.toml/out.csv", code=1),
    "bids into no folder": option("choose lot.csv --out none/out.csv", "none/out.csv", code=1),
}
