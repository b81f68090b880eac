"""Files that are none, places that cannot be written, the server, and what the environment says."""

from __future__ import annotations

from tests.cli.hostile.case import UNIT, Case, Content, circle, fifo, folder
from tests.cli.hostile.records import SECRET, damaged, record


def option(line: str, *says: str, code: int = 2, **environment: str) -> Case:
    return Case(line, says, {}, code, environment)


def given(line: str, make: Content, *says: str) -> Case:
    return Case(line.replace("BAD", "bad"), says or ("bad",), {"bad": make})


READS = {
    "assess": "assess BAD",
    "quote": "quote BAD",
    "show": "priors show BAD",
    "settings": "assess unit.toml --settings BAD",
    "prices": "assess unit.toml --prices BAD",
    "catalogue": "chances --catalogue BAD",
    "lot": "lot BAD",
    "choose": "choose BAD",
    "review": "review --past-jobs BAD",
    "fit": "fit --out draws --past-jobs BAD",
    "backtest": "backtest --past-jobs BAD",
    "conflict": "priors conflict --past-jobs BAD",
    "import": "record import BAD",
    "mapping": "record import jobs.csv --mapping BAD",
    "accept": "priors accept BAD --all --save new",
}
CASES = {
    **{f"a pipe to {name}": given(line, fifo) for name, line in READS.items()},
    **{f"a folder to {name}": given(line, folder) for name, line in READS.items() if name != "catalogue"},
    **{
        f"a circle of links to {name}": given(line, circle)
        for name, line in READS.items()
        if name != "catalogue"
    },
    **{
        f"no end to {name}": option(line.replace("BAD", "/dev/zero"), "/dev/zero")
        for name, line in READS.items()
        if name in ("assess", "settings", "lot", "review", "import", "accept")
    },
    # places to write
    "a quote over its device": option("quote unit.toml --html unit.toml --force", "unit.toml", "--html"),
    "a quote over a pipe": Case("quote unit.toml --pdf p --force", ("p", "--pdf"), {"p": fifo}),
    "a data quote over its device": option("quote-data unit.toml --pdf unit.toml", "unit.toml", "--pdf"),
    "a quote below a file": option("quote unit.toml --pdf lot.csv/q.pdf", "lot.csv/q.pdf"),
    "one file for both": option("quote unit.toml --pdf q --html ./q", "--html"),
    "a name of 300 letters": option(f"assess {'x' * 300}.toml", "File name too long"),
    "a name of no letter": option("assess ''", "file"),
    "a name that steers the terminal": option("assess '\x1b[31m.toml'", ".toml"),
    "an option that steers the terminal": option("assess unit.toml '--\x1b[31m'", "No such option"),
    "a proposal into no folder": option("priors accept none --all --save none/new/set", "none"),
    # the server
    "port 0": option("app --port 0", "--port"),
    "port 70000": option("app --port 70000", "--port"),
    "a port in words": option("app --port web", "--port"),
    "an address that is none": option("app --address 'not an address'", "--address"),
    "a blank address": option("app --address ''", "--address"),
    "any name": option("app --name '*'", "--name"),
    "two names in one": option("app --name 'a,b'", "--name"),
    "a shared folder that is a file": option("app --shared unit.toml", "unit.toml", "--shared"),
    "settings that are none": option("app --settings unit.toml", "unit.toml", "is not a known field"),
    "a damaged record": Case("app --record r.sqlite", ("r.sqlite",), {"r.sqlite": damaged}, 1),
    # the environment
    "a record that is no address": option(
        "assess unit.toml", "mysql", code=1, TRIAGE_RECORD=f"mysql://a:{SECRET}@h/x"
    ),
    "a record that steers the terminal": option(
        "record status", "no record", code=1, TRIAGE_RECORD="\x1b[31m"
    ),
    "a record that is a folder": Case(
        "record status", ("bad",), {"bad": folder}, 1, {"TRIAGE_RECORD": "bad"}
    ),
    "beliefs that are a file": option("priors sets", "in use", code=0, TRIAGE_BELIEFS="unit.toml"),
    "settings that are not there": Case(
        "backup b.zip --record r.sqlite",
        ("none.toml",),
        {"r.sqlite": record},
        code=0,
        environment={"TRIAGE_SHOP_SETTINGS": "none.toml"},
    ),
    "photographs in a file": Case(
        "backup b.zip --record r.sqlite",
        ("checked backup",),
        {"r.sqlite": record},
        0,
        environment={"TRIAGE_PHOTOS": "unit.toml"},
    ),
    "an unknown command": option("asess unit.toml", "No such command"),
    "a command of a group that is none": option("ledger burn", "No such command"),
    "a file too many": Case("assess unit.toml b.toml", ("b.toml",), {"b.toml": UNIT}),
}
