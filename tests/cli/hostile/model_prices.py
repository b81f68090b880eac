"""Prices by model that cannot be meant, as a file to import and as the shop's own."""

from __future__ import annotations

from tests.cli.hostile.case import Case, Content, folder

HEAD = "model,item,price\n"
IMPORT = "prices import bad.csv --record none.sqlite"


def bad(text: Content, *says: str) -> Case:
    return Case(IMPORT, ("bad.csv", *says), {"bad.csv": text})


CASES = {
    "no prices": Case("prices import none.csv --record none.sqlite", ("none.csv", "No such file")),
    "prices that are a folder": bad(folder, "a readable CSV file"),
    "no line of prices": bad("", "is empty", "model, item, price"),
    "prices in another encoding": bad(b"model,item,price\nHer\xf6n,display,9\n", "line 2", "not UTF-8"),
    "prices without a column": bad(
        "model,itm,price\n", "line 1, header", "nearest known: item", "is missing"
    ),
    "a price of two meanings": bad(HEAD + "Heron 3,display,1.240\n", "line 2, price", "1240 or 1.24"),
    "a decimal comma between commas": bad(HEAD + "Heron 3,display,12,50\n", "line 2, row", "has 4 cells"),
    "a negative price": bad(HEAD + "Heron 3,display,-4\n", "line 2, price", "a number from 0"),
    "a price without end": bad(HEAD + "Heron 3,display,inf\n", "line 2, price"),
    "a part that is none": bad(HEAD + "Heron 3,dispaly,9\n", "line 2, item", "nearest known: display"),
    "a model that is a formula": bad(HEAD + "=1+1,display,9\n", "line 2, model", "a letter or digit"),
    "a price given twice": bad(HEAD + "Heron 3,display,9\nHERON 3,Display,8\n", "line 3", "on line 2"),
    "a price checked tomorrow": bad(
        "model,item,price,checked_on\nA,display,9,2999-01-01\n", "line 2, checked_on"
    ),
    "every fault at once": bad(HEAD + "A,display,x\nB,dispaly,9\n", "line 2, price", "line 3, item"),
    "own prices spoilt by hand": Case(
        "assess unit.toml --record none.sqlite",
        ("none-models.csv, line 2, price", "1240 or 1.24"),
        {"none-models.csv": HEAD + "Heron 3,display,1.240\n"},
    ),
    "no prices to undo": Case("prices undo --record none.sqlite", ("no earlier state",)),
    "prices exported over a file": Case(
        "prices export unit.toml --record none.sqlite", ("already exists", "--force"), code=1
    ),
}
