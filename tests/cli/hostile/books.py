"""Settings, price books, catalogues and beliefs that cannot be meant."""

from __future__ import annotations

import json

from tests.cli.hostile.case import PRICES, SETTINGS, Case, Content, changed, circle, folder, link

KIND = '[[kind]]\nslug = "hinge-loose"\nname = "hinge loose"\nfamily = "hinges"\nhidden = false\n'
REPAIR = '[[repair]]\nslug = "tighten-hinge"\nname = "tighten hinge"\ncloses = ["hinge-loose"]\n'
SUCCESS = '[[kind]]\nslug = "frame-bent"\nchance = 0.5\njobs = 3\n'
STATE = "priors state frame-bent --about"


def settings(before: str, after: str, *says: str, line: str = "assess unit.toml", code: int = 2) -> Case:
    return Case(f"{line} --settings bad.toml", says, {"bad.toml": changed(SETTINGS, (before, after))}, code)


def prices(before: str, after: str, *says: str) -> Case:
    return Case("assess unit.toml --prices bad.toml", says, {"bad.toml": changed(PRICES, (before, after))})


def catalogue(text: Content, *says: str, code: int = 2, line: str = "chances") -> Case:
    return Case(f"{line} --catalogue bad.toml", says, {"bad.toml": text}, code)


def beliefs(text: str, *says: str, line: str = f"{STATE} '15 in 20'") -> Case:
    return Case(f"{line} --priors bad", says, {"bad/success.toml": text})


def tuned(text: str, *says: str) -> Case:
    return Case("priors sets --json --priors bad", says, {"bad/tuned_on.json": text}, code=0)


def tuned_on(**more: object) -> str:
    return json.dumps({"schema": 1, "until": "2026-01-01", "jobs": ["a"]} | more)


def option(line: str, *says: str) -> Case:
    return Case(line, says)


CASES = {
    # settings
    "no settings": Case("assess unit.toml --settings none.toml", ("none.toml", "No such file")),
    "empty settings": Case(
        "review --past-jobs jobs.csv --settings bad.toml", ("shop: is missing",), {"bad.toml": ""}
    ),
    "settings that are a folder": Case(
        "quote unit.toml --settings bad.toml", ("bad.toml, file",), {"bad.toml": folder}
    ),
    "a rate of true": settings("bench_rate = 30", "bench_rate = true", "bench_rate"),
    "a rate in words": settings("bench_rate = 30", 'bench_rate = "30"', "line 5", "bench_rate"),
    "a negative rate": settings("bench_rate = 30", "bench_rate = -1", "line 5", "bench_rate"),
    "a rate without end": settings("bench_rate = 30", "bench_rate = inf", "line 5", "bench_rate"),
    "a rate that is no number": settings("bench_rate = 30", "bench_rate = nan", "line 5", "bench_rate"),
    "a margin in words": settings("margin = 20", 'margin = "20"', "go_rule, margin"),
    "a margin that is no number": settings("margin = 20", "margin = nan", "go_rule, margin"),
    "a margin of 1e308": settings("margin = 20", "margin = 1e308", "go_rule, margin"),
    "losses in words": settings("losses_in_20 = 6", 'losses_in_20 = "6"', "losses_in_20"),
    "21 losses in 20": settings("losses_in_20 = 6", "losses_in_20 = 21", "losses_in_20"),
    "days in words": settings("days_to_sell = 22", 'days_to_sell = "22"', "days_to_sell"),
    "a warranty in words": settings("warranty_days = 90", 'warranty_days = "90"', "warranty_days"),
    "payment takes the rest": settings("payment_share = 0.02", "payment_share = 0.92", "payment_share below"),
    "a buyer's premium of 100 %": settings(
        "buyer_fee_share = 0.0", "buyer_fee_share = 1.0", "Grey handset", code=0
    ),
    "a fee of 150 %": settings("buyer_fee_share = 0.0", "buyer_fee_share = 1.5", "buyer_fee_share"),
    "a currency in small letters": settings('"EUR"', '"eur"', "line 2", "currency"),
    "currencies": settings('"EUR"', '["EUR", "USD"]', "line 2", "currency"),
    "a tax that is none of ours": settings('"second-hand-margin"', '"second-hand"', "tax, scheme"),
    "a misspelt rate": settings("bench_rate =", "bench_rat =", "line 5", "nearest known: bench_rate"),
    "a misspelt table": settings("[fees]", "[feees]", "nearest known: fees"),
    "settings to show a belief in money": settings('"EUR"', "5", "currency", line="priors show unit.toml"),
    "settings of a backtest": settings('"EUR"', "5", "currency", line="backtest --past-jobs jobs.csv"),
    "settings of an import": settings('"EUR"', '"E"', "currency", line="record import jobs.csv"),
    "a currency in small letters to import": option(
        "record import jobs.csv --currency usd", "--currency", "'usd'"
    ),
    "a currency sign to import": option("record import jobs.csv --currency €", "--currency", "EUR"),
    "an empty price book": Case("assess unit.toml --prices bad.toml", ("tier", "missing"), {"bad.toml": ""}),
    "a price book without tiers": Case(
        "assess unit.toml --prices bad.toml", ("tier",), {"bad.toml": "tier = []\n"}
    ),
    "a tier twice": prices('slug = "middle"', 'slug = "budget"', "tier 2", "budget"),
    "a price of true": prices("working_price = 70", "working_price = true", "tier 1, working_price"),
    "a negative price": prices("working_price = 70", "working_price = -70", "tier 1, working_price"),
    "a part's price in words": prices("budget = 16,", 'budget = "16",', "part 1, price, budget"),
    "a part's price without end": prices("budget = 16,", "budget = inf,", "part 1, price, budget"),
    "a part of no tier": prices("budget = 16,", "bugdet = 16,", "nearest known: budget"),
    "days that go back": prices("lead_days = [1, 2, 3]", "lead_days = [3, 2, 1]", "usual and longest"),
    "two days": prices("lead_days = [1, 2, 3]", "lead_days = [1, 2]", "lead_days"),
    "days without end": prices("lead_days = [1, 2, 3]", "lead_days = [1, 2, inf]", "lead_days"),
    "a part dead in 2": prices("dead_on_arrival = 0.035", "dead_on_arrival = 2", "dead_on_arrival"),
    "prices of another shop": Case(
        "assess unit.toml --prices bad.toml",
        ("device, tier", "'upper' is not a known tier"),
        {"bad.toml": PRICES.replace("upper", "higher").replace("Upper", "Higher")},
    ),
    # catalogue
    "no catalogue": Case("chances --catalogue none.toml", ("none.toml", "No such file")),
    "a folder of no catalogue": Case(
        "chances --catalogue bad", ("bad, kind", "no damage kind is given"), {"bad": folder}
    ),
    "an empty catalogue": catalogue("", "bad.toml", "kind"),
    "a catalogue of repairs only": catalogue(REPAIR, "hinge-loose"),
    "a kind twice": catalogue(KIND + KIND + REPAIR, "hinge-loose"),
    "a repair of an unknown damage": catalogue(
        KIND + REPAIR.replace('["hinge-loose"]', '["hinge"]'), "closes", "'hinge'"
    ),
    "a repair after itself": catalogue(
        KIND + REPAIR + 'after = ["tighten-hinge"]\n', "tighten-hinge", "circle"
    ),
    "a damage that raises itself": catalogue(f'{KIND}raises = ["hinge-loose"]\n{REPAIR}', "raises"),
    "a slug that steers the terminal": catalogue(
        (KIND + REPAIR).replace("hinge-loose", "\\u001b[31m"), "slug"
    ),
    "kinds that are a text": catalogue('kind = "hinge-loose"\n', "kind"),
    "a catalogue of other draws": catalogue(KIND + REPAIR, "fitted for another catalogue"),
    "a catalogue that does not know the damage": catalogue(
        KIND + REPAIR, "hinge-loose", line="fit --past-jobs jobs.csv --out draws"
    ),
    "a catalogue in a circle": catalogue(circle, "bad.toml", "symbolic links"),
    "a catalogue with a link to nowhere": Case(
        "chances --catalogue bad", ("x.toml",), {"bad/x.toml": link("none")}
    ),
    # beliefs
    "no beliefs": Case("priors show --priors none", ("none", "is not a folder")),
    "beliefs that are a file": Case(
        "priors conflict --past-jobs jobs.csv --priors unit.toml", ("is not a folder",)
    ),
    "a belief of a misspelt kind": beliefs(SUCCESS.replace("bent", "bend"), "nearest known: frame-bent"),
    "a belief twice": beliefs(SUCCESS + SUCCESS, "frame-bent"),
    "a chance of 1.5": beliefs(SUCCESS.replace("0.5", "1.5"), "line 3", "kind 1, chance"),
    "a chance in words": beliefs(SUCCESS.replace("0.5", '"0.5"'), "line 3", "kind 1, chance"),
    "a chance that is no number": beliefs(SUCCESS.replace("0.5", "nan"), "line 3", "kind 1, chance"),
    "jobs without end": beliefs(SUCCESS.replace("= 3", "= inf"), "line 4", "kind 1, jobs"),
    "1e300 jobs": beliefs(SUCCESS.replace("= 3", "= 1e300"), "line 4", "kind 1, jobs"),
    "jobs of true": beliefs(SUCCESS.replace("= 3", "= true"), "kind 1, jobs"),
    "beliefs of no model": Case(
        "priors show --priors bad", ("sucess.toml", "success"), {"bad/sucess.toml": SUCCESS}
    ),
    "beliefs in UTF-16": Case(
        "priors show --priors bad",
        ("UTF-8",),
        {"bad/success.toml": SUCCESS.encode("utf-16")},
    ),
    "jobs as a list": tuned("[]", "cannot be understood"),
    "jobs in lists in lists": tuned("[" * 100_000, "cannot be understood"),
    "jobs up to the end of time": tuned(tuned_on(until="9999-12-31"), "cannot be understood"),
    "jobs in a text": tuned(tuned_on(jobs="abc"), "cannot be understood"),
    "jobs of a number": tuned(tuned_on(jobs=3), "cannot be understood"),
    "jobs as no text": Case(
        "priors sets --json --priors bad", ("understood",), {"bad/tuned_on.json": b"\xff\xfe"}, 0
    ),
    # statements
    "a count of nothing": option(f"{STATE} '15 in 0'", "of", "from 2 to 1000"),
    "a count of thousands of digits": option(f"{STATE} '1 in {'9' * 5000}'", "--about"),
    "a count in other digits": option(f"{STATE} '١٥ in ٢٠'", "--about", "15 in 20"),
    "more than all": option(f"{STATE} '25 in 20'", "leaves no uncertainty"),
    "fewer than no number": option(f"{STATE} '15 in 20' --fewer-than nan", "fewer"),
    "more than no number": option(f"{STATE} '15 in 20' --more-than nan", "more"),
    "a surprise of no number": option(f"{STATE} '15 in 20' --surprise nan", "surprise"),
    "a belief of an unknown kind": option(
        "priors state frame-bend --about '15 in 20'", "nearest known: frame-bent"
    ),
    "a belief in a file's place": option(
        f"{STATE} '15 in 20' --reason x --save unit.toml", "unit.toml", "is taken"
    ),
    "a belief below a file": option(f"{STATE} '15 in 20' --reason x --save unit.toml/new", "unit.toml/new"),
    "sets of unknown names": option("priors sets --apart a b", "'a' is not a readable set"),
    "no kind nor all": option("priors accept none.json --save new", "--kind", "--all"),
    "kinds and all": option("priors accept none.json --save new --all --kind frame-bent", "--kind", "--all"),
    "no proposal": option("priors accept none.json --save new --all", "none.json", "priors propose"),
    "a proposal in UTF-16": Case(
        "priors accept bad.json --save new --all", ("bad.json",), {"bad.json": "{}".encode("utf-16")}
    ),
    "a proposal of lists in lists": Case(
        "priors accept bad.json --save new --all", ("bad.json",), {"bad.json": "[" * 100_000}
    ),
    "a proposal that is a list": Case(
        "priors accept bad.json --save new --all", ("bad.json", "a table"), {"bad.json": "[]"}
    ),
    "a proposal of nothing": Case(
        "priors accept bad.json --save new --all", ("bad.json", "missing"), {"bad.json": "{}"}
    ),
    "one set compared": option("priors compare a --past-jobs jobs.csv", "two sets or more"),
    "sets that are not there": option("priors compare a b --past-jobs jobs.csv", "is not a folder"),
    "a proposal for no attempts": option(
        "priors propose --past-jobs jobs.csv --out p.json --little 0", "--little"
    ),
    "a fit of its own and draws": option(
        "priors propose --past-jobs jobs.csv --out p.json --until 2025-01-01 --posterior d", "--until"
    ),
    "a proposal until a day that is none": option(
        "priors propose --past-jobs jobs.csv --out p.json --until x", "not a date"
    ),
}
