"""Device descriptions, and what else `assess`, `quote` and `priors show` are told of a device."""

from __future__ import annotations

from tests.cli.hostile.case import UNIT, Case, changed

NAME, TIER, KIND = 'name = "Grey handset"', 'tier = "upper"', 'kind = "frame-bent"'
LONG = "9" * 5000


def unit(text: str | bytes, *says: str, code: int = 2, line: str = "assess bad.toml") -> Case:
    return Case(line, says, {"bad.toml": text}, code)


def device(more: str, *says: str, code: int = 2) -> Case:
    return unit(changed(UNIT, (TIER, f"{TIER}\n{more}")), *says, code=code)


def name(value: str, *says: str, code: int = 2) -> Case:
    return unit(changed(UNIT, (NAME, f"name = {value}")), *says, code=code)


def finding(more: str, *says: str, code: int = 2) -> Case:
    return unit(f"{UNIT}{more}\n", *says, code=code)


def option(line: str, *says: str, code: int = 2) -> Case:
    return Case(line, says, code=code)


CHECK = '[[check]]\ncheck = "cell-look"\nfound = '
CASES = {
    # the file
    "missing, to quote": option("quote none.toml", "none.toml", "No such file"),
    "missing, to show": option("priors show none.toml", "none.toml", "No such file"),
    "empty": unit("", "bad.toml", "device", "is missing"),
    "only a comment": unit("# nothing\n", "device", "is missing"),
    "UTF-16": unit(UNIT.encode("utf-16"), "is not UTF-8 text"),
    "unreadable bytes": unit(b"\xff\xfe\x00\x80" * 9, "is not UTF-8 text"),
    "NUL bytes": unit(UNIT.encode() + b"\0\0", "bad.toml, line 6", "well-formed TOML"),
    "a mark of byte order": unit("\ufeff" + UNIT, "Grey handset", code=0),
    "line ends of Windows": unit(UNIT.replace("\n", "\r\n"), "Grey handset", code=0),
    "lists in lists": unit("a = " + "[" * 100_000, "bad.toml, file", "well-formed TOML"),
    "tables in tables": unit("a = " + "{a = " * 50_000, "bad.toml, file", "well-formed TOML"),
    "names in names": unit("a" + ".a" * 100_000 + " = 1", "bad.toml"),
    "a bracket of a megabyte": unit("[" + " " * 1_000_000 + "x", "bad.toml", "well-formed TOML"),
    "a key of a megabyte": unit("a" * 1_000_000 + " = 1\n", "bad.toml, line 1", "is not a known field"),
    "a table twice": unit(f"{UNIT}[device]\n", "line 6", "well-formed TOML"),
    "a key twice": device(TIER, "line 4", "well-formed TOML"),
    "nothing on stdin": Case("assess -", ("stdin", "device", "is missing"), stdin=b""),
    "UTF-16 on stdin": Case("quote -", ("stdin", "is not UTF-8 text"), stdin=UNIT.encode("utf-16")),
    # wrong types
    "a device that is a number": unit("device = 3\n", "device", "3 is not accepted", "a table"),
    "devices": unit(UNIT.replace("[device]", "[[device]]"), "device", "a table"),
    "a finding that is a text": unit('finding = "frame-bent"\n' + UNIT[: UNIT.index("[[")], "finding"),
    "a finding that is a number": unit("finding = [1]\n" + UNIT[: UNIT.index("[[")], "finding 1"),
    "a symptom that is a number": unit(f"symptom = [1]\n{UNIT}", "symptom 1"),
    "symptoms that are a text": unit(f'symptom = "no-charge"\n{UNIT}', "symptom", "a list"),
    "a name that is true": name("true", "line 2", "device, name", "string"),
    "a name that is a list": name('["a", "b"]', "line 2", "device, name", "string"),
    "a name that is a date": name("2026-01-01", "line 2", "device, name", "string"),
    "a yes in words": device('data_wanted = "yes"', "line 4", "data_wanted"),
    "a yes as a number": device("data_wanted = 1", "line 4", "data_wanted"),
    "a listing in words": unit(f'[ownership]\nlisted = "no"\n{UNIT}', "line 2", "ownership, listed"),
    "a lock that is no word of ours": unit(
        f'[ownership]\nlock = "cleer"\n{UNIT}', "lock", "nearest known: clear"
    ),
    "a severity in words": finding('severity = "2"', "line 6", "finding 1, severity"),
    "a severity of true": finding("severity = true", "line 6", "finding 1, severity"),
    "a severity of a half": finding("severity = 1.5", "line 6", "finding 1, severity"),
    "a severity of 400 digits": finding("severity = 1" + "0" * 400, "line 6", "finding 1, severity"),
    # numbers
    "a chance that is no number": finding("chance = nan", "line 6", "finding 1, chance"),
    "a chance without end": finding("chance = inf", "line 6", "finding 1, chance"),
    "a negative chance": finding("chance = -0.1", "line 6", "finding 1, chance"),
    "a chance of true": finding("chance = true", "line 6", "finding 1, chance"),
    "a chance of 0 in 0": finding('chance = "0 in 0"', "line 6", "8 in 20"),
    "a chance of thousands of digits": finding(f'chance = "1 in {LONG}"', "line 6", "finding 1, chance"),
    "a chance in other digits": finding('chance = "٨ in ٢٠"', "line 6", "finding 1, chance"),
    "a price of true": device("working_price = true", "line 4", "working_price"),
    "a price in words": device('working_price = "300"', "line 4", "working_price", "number"),
    "a price that is no number": device("working_price = nan", "line 4", "working_price"),
    "a price without end": device("parts_value = inf", "line 4", "parts_value"),
    "a huge price": device("parts_value = 1e300", "line 4", "parts_value", "less than"),
    # dates
    "a check in year 0": unit(f"{UNIT}{CHECK}true\non = 0000-01-01\n", "line 9"),
    "a check on 30 February": unit(f"{UNIT}{CHECK}true\non = 2026-02-30\n", "line 9"),
    "a check in 9999": unit(f"{UNIT}{CHECK}true\non = 9999-12-31\n", "check 1, on", "line 9"),
    "a check at a day in words": unit(f'{UNIT}{CHECK}true\non = "May"\n', "check 1, on"),
    "a result in words": unit(f'{UNIT}{CHECK}"true"\n', "line 8", "check 1, found"),
    "two opposite results": unit(f"{UNIT}{CHECK}true\n{CHECK}false\n", "Grey handset", code=0),
    # words
    "an unknown cause": device('cause = "drooped"', "line 4", "nearest known: dropped"),
    "an unknown check": unit(f"{UNIT}{CHECK.replace('look', 'lock')}true\n", "nearest known: cell-look"),
    "an unknown symptom": unit(f'symptom = ["no-chrge"]\n{UNIT}', "symptom", "nearest known: no-charge"),
    "a misspelt table": unit(UNIT.replace("[device]", "[devise]"), "line 1", "nearest known: device"),
    "a damage twice": unit(f"{UNIT}[[finding]]\n{KIND}\nseverity = 3\n", "Grey handset", code=0),
    "a name of 201 letters": name(f'"{"x" * 201}"', "line 2", "200"),
    "a name that steers the terminal": name('"\\u001b[31mred\\u0007"', "[31mred", code=0),
    "a name that turns letters round": name('"\\u202Egnirts"', "gnirts", code=0),
    "a name of two lines": name('"""a\nb"""', "a", code=0),
    "an unknown word that steers the terminal": device('cause = "\\u001b]0;x\\u0007"', "device, cause"),
    "a key that steers the terminal": device('"\\u001b[2J" = 1', "is not a known field"),
    "a thousand findings": unit(UNIT + f"[[finding]]\n{KIND}\n" * 1000, "Grey handset", code=0),
    # options
    "a price in other digits": option("assess unit.toml --ask １２", "not an amount of money"),
    "a price with a comma": option("assess unit.toml --ask 1,5", "not an amount of money"),
    "a blank price": option("assess unit.toml --ask ''", "not an amount of money"),
    "an ask of thousands of digits": option(f"assess unit.toml --ask {LONG}", "not an amount of money"),
    "a quote at a huge price": option("quote unit.toml --price 1e300", "not an amount of money"),
    "a data quote of no device": option("quote-data none.toml", "none.toml", "No such file"),
    "a fee for trying of no number": option("quote-data unit.toml --fee nan", "not an amount of money"),
    "what matters, without end": option(f"quote-data unit.toml --matters {'x' * 201}", "at most 200"),
    "data of nobody known": option("quote-data unit.toml --authority finder", "finder", "estate"),
    "a quote at no number": option("quote unit.toml --price nan", "not an amount of money"),
    "a day in year 0": option("assess unit.toml --as-of 0000-01-01", "not a date", "2026-11-25"),
    "a day that is none": option("assess unit.toml --as-of 2026-02-30", "not a date"),
    "a day without dashes": option("quote unit.toml --as-of 20261125", "not a date"),
    "the first day of all": option("assess unit.toml --as-of 0001-01-01", "--as-of", "1970"),
    "the last day of all": option("quote unit.toml --as-of 9999-12-31", "--as-of", "2199"),
    "a customer that steers the terminal": option(
        "quote unit.toml --customer '\x1b[31mred'", "Quote", code=0
    ),
    "show a walk-in with a price": option("priors show unit.toml --ask 5 --walk-in", "not both"),
    "show no device at a price": option("priors show --ask 5", "give its DEVICE.toml"),
    "show no device as a walk-in": option("priors show --walk-in", "give its DEVICE.toml"),
}
