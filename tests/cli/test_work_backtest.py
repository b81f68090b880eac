"""The long work of the page: the same object as the command prints, and words for where it stands."""

from __future__ import annotations

import json

from tests.cli.test_backtest import looms  # noqa: F401
from triage.workflows.background.backtest import run


def test_page_and_command_show_the_same(triage, looms):  # noqa: F811
    history, catalogue = map(str, looms)
    told = []
    found = run({"record": {"history": history}, "catalogue": catalogue, "blocks": 3}, told.append)
    said = triage("backtest", "--past-jobs", history, "--catalogue", catalogue, "--blocks", "3", "--json")
    again = json.loads(said.out)
    # The stand-in's third fit fails, its fourth to sixth do not.
    assert found["failed_fits"] == 1 and again["failed_fits"] == 0
    for name in ("record", "currency", "money", "jobs", "attempts", "lacks"):
        assert found[name] == again[name], name
    assert json.loads(json.dumps(found)).keys() == again.keys()
    assert [event["words"] for event in told][0] == "reading the past jobs"
    assert any("block 2 of 3: 4" in event["words"] for event in told[1:])
    assert any("this fit failed, the previous fit used instead" in event["words"] for event in told)
