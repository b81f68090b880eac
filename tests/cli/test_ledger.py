"""`triage record` and `fit --record`: what goes in comes out, what is refused is said and leaves no trace."""

from __future__ import annotations

import json
from datetime import date

import pytest

from triage.domain.catalogue import load_catalogue
from triage.domain.shop.settings import Settings
from triage.domain.shop.shelf import PartLeft, ShelfPart
from triage.ledger.history.history_csv import read_history
from triage.ledger.opening import open_ledger
from triage.shipped import shipped
from triage.workflows.jobs.shelf import sell_part, shelve

MAPPING = """\
delimiter = ";"
dates = "DD.MM.YYYY"
[columns]
job = "No."
date = "In"
finding = "Damage"
[words.finding]
glass = "display-glass-cracked"
[words.outcome]
yes = "fixed"
"""
SHEET = "No.;In;Damage;outcome;Remarks\nA 1;03.01.2026;glass;yes;\nA 2;04.01.2026;glass;fixed;blue\n"


@pytest.fixture
def record(tmp_path, monkeypatch):
    path = tmp_path / "record" / "record.sqlite"
    monkeypatch.setenv("TRIAGE_RECORD", str(path))
    return path


@pytest.fixture
def jobs(tmp_path):
    path = tmp_path / "jobs.csv"
    lines = shipped("synthetic_cases/past-jobs.csv").read_text(encoding="utf-8").splitlines()[:120]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_import_status_export_backup_restore(triage, record, jobs, tmp_path):
    dry = triage("record", "import", jobs, "--dry-run", "--json")
    assert dry.code == 0 and not json.loads(dry.out)["written"] and not record.parent.exists()
    done = triage("record", "import", jobs, "--by", "ada", "--json")
    told = json.loads(done.out)
    assert told["schema"] == 1 and told["written"] and told["rows"] == 119
    again = triage("record", "import", jobs)
    assert again.out.startswith(f"0 jobs of jobs.csv imported; {told['added']} already in the record")

    status = json.loads(triage("record", "status", "--json").out)
    assert status["jobs"] == told["added"] == sum(status["states"].values())
    assert "Invented demo record" in status["posterior"]["words"]

    out = tmp_path / "out.csv"
    assert triage("record", "export", "--out", out).code == 0
    assert out.read_bytes() == jobs.read_bytes()
    refused = triage("record", "export", "--out", out)
    assert refused.code == 1 and "--force" in refused.err
    assert triage("record", "export", "--out", tmp_path / "out.xls").code == 2
    assert triage("record", "export", "--out", tmp_path / "out.parquet", "--json").code == 0

    assert triage("record", "backup", tmp_path / "copy").code == 0
    back = triage("record", "restore", tmp_path / "copy", "--record", tmp_path / "new.sqlite", "--json")
    assert json.loads(back.out)["jobs"] == told["added"]
    assert triage("record", "restore", tmp_path / "copy").code == 1


def test_a_foreign_sheet_goes_in_by_its_mapping(triage, record, tmp_path):
    (tmp_path / "map.toml").write_text(MAPPING)
    (tmp_path / "sheet.csv").write_text(SHEET)
    said = triage(
        "record", "import", tmp_path / "sheet.csv", "--mapping", tmp_path / "map.toml", "--currency", "GBP"
    )
    assert said.code == 0, said.err
    assert "2 jobs of sheet.csv imported" in said.out and "amounts in GBP" in said.out
    assert "columns not used: Remarks" in said.out


def test_what_is_wrong_is_said_at_once_and_leaves_no_record(triage, record, jobs, tmp_path):
    jobs.write_text(jobs.read_text().replace("fixed", "mended", 2).replace("2023-09-01", "soon", 1))
    said = triage("record", "import", jobs)
    assert said.code == 2 and len(said.err.splitlines()) == 3 and "Traceback" not in said.err
    assert triage("record", "import", tmp_path / "none.csv").code == 2
    assert triage("record", "import", jobs, "--currency", "euro").code == 2
    assert not record.exists()
    missing = triage("record", "status")
    assert missing.code == 1 and "no record exists at" in missing.err


def test_a_fit_learns_from_the_record_what_it_learns_from_the_file(
    triage, record, jobs, tmp_path, monkeypatch
):
    seen = []

    class Enough(Exception):
        pass

    def fit_history(history, *rest, **more):
        seen.append(history.digest)
        raise Enough

    monkeypatch.setattr("triage.workflows.fitting.fit.fit_history", fit_history)
    triage("record", "import", jobs)
    for source in (("--past-jobs", jobs), ("--record", record)):
        for until in ((), ("--as-of", "2023-09-20")):
            with pytest.raises(Enough):
                triage("fit", *source, *until, "--out", tmp_path / "draws")
    assert seen[:2] == seen[2:] and seen[0] != seen[1]
    from triage.domain.catalogue import load_catalogue

    assert seen[0] == read_history(jobs, load_catalogue()).digest
    for source in ((), ("--past-jobs", jobs, "--record", record)):
        said = triage("fit", *source, "--out", tmp_path / "draws")
        assert said.code == 2 and "either by --past-jobs CSV or by --record URL" in said.err


def test_parts_sold_are_exported_without_their_buyers(triage, record, tmp_path):
    ledger, day = open_ledger(record), date(2026, 3, 2)
    shelve(ledger, "ada", ShelfPart("display", 900, "EUR", model="=Heron"))
    with ledger.reading() as reading:
        (part,) = reading.shelf()
    sale = PartLeft("sold", day, price_minor=3050, fees_minor=50, person="Ivo Quill")
    sell_part(ledger, load_catalogue(), Settings("bench", "EUR"), "ada", part.id, sale)
    ledger.close()
    out = tmp_path / "parts.csv"
    assert triage("record", "export", "--parts-sold", "--out", tmp_path / "parts.parquet").code == 2
    assert triage("record", "export", "--parts-sold", "--out", out).code == 0
    said = out.read_text(encoding="utf-8")
    assert "Quill" not in said and ",'=Heron,2026-03-02,EUR,30.50,,0.50,9.00," in said
    told = triage("record", "export", "--parts-sold", "--out", out, "--force", "--json")
    assert json.loads(told.out)["parts"] == 1
