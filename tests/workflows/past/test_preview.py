"""A messy file brought in: what is in order is kept whole, the rest comes back to be mended."""

from __future__ import annotations

import csv
import io

import pytest

from triage.domain.catalogue import load_catalogue
from triage.ledger.history.mapping_guess import guess_mapping
from triage.ledger.opening import open_ledger
from triage.workflows.jobs.import_history import import_past_jobs
from triage.workflows.past.preview import WRONG, preview
from triage.workflows.past.remembered import mapping_file, remember, remembered_mapping

CATALOGUE = load_catalogue()
MESSY = """\
Ticket,Date,Problem,Result,Price paid
1,2026-01-02,cracked screen,fixed,20
2,2026-01-03,cracked screen,perhaps,20
2,2026-01-03,bent frame,fixed,20
3,2026-13-45,bent frame,fixed,20
4,2026-01-05,gremlins,no,20
5,2026-01-06,bent frame,fixed,=HYPERLINK("x")
6,2026-01-07,bent frame,no,30,extra
7,2026-01-08,bent frame,no,30
"""


def seen(text, known=None):
    data = text.encode()
    return preview(data, "messy.csv", CATALOGUE, "EUR", guess_mapping(data, CATALOGUE, known=known).mapping)


def test_good_jobs_go_in_and_every_other_row_comes_back_with_its_reason():
    told = seen(MESSY)
    assert [job.label for job in told.past.jobs] == ["1", "7"] and not told.whole
    rows = list(csv.DictReader(io.StringIO(told.to_mend)))
    assert [row["Ticket"] for row in rows] == ["2", "2", "3", "4", "5", "6"] and told.rows_out == 6
    assert "perhaps" in rows[0][WRONG] and "another row of this job" in rows[1][WRONG]
    assert rows[4]["Price paid"].startswith("'=") and "7 cells" not in rows[5][WRONG]
    assert sum(group.count for group in told.groups) == 5


def test_the_mended_file_is_brought_in_beside_what_is_there(tmp_path):
    told = seen(MESSY)
    mended = told.to_mend.replace("perhaps", "fixed").replace("2026-13-45", "2026-01-04")
    mended = mended.replace("gremlins", "bent frame").replace('\'=HYPERLINK(""x"")', "20")
    mended = mended.replace('"20"', "20")
    again = seen(mended)
    assert not again.groups and again.past.ignored == (WRONG,)
    ledger = open_ledger(str(tmp_path / "record.sqlite"))
    assert import_past_jobs(told.past, ledger, "Ada").added == 2
    assert import_past_jobs(again.past, ledger, "Ada").added == 5
    assert import_past_jobs(seen(MESSY).past, ledger, "Ada").already == 2
    ledger.close()


def test_a_doubtful_value_is_asked_in_the_words_of_the_page():
    told = seen("Ticket,Date,Problem,Result\n1,2150-01-02,bent frame,fixed\n2,2026-01-02,bent frame,fixed\n")
    assert len(told.past.jobs) == 1
    assert "--sure" not in told.groups[0].allowed and "doubtful" in told.groups[0].allowed


@pytest.mark.parametrize("text", ["Ticket,Date,Problem\n1,2026-01-02,bent frame\n", "Ticket,Ticket\n1,2\n"])
def test_a_file_that_lacks_a_column_says_which(text):
    told = seen(text)
    assert told.past is None and any("missing" in fault.wrong for fault in told.whole)


def test_matches_are_kept_beside_the_record_and_grow(tmp_path):
    where = str(tmp_path / "record.sqlite")
    first = guess_mapping(MESSY.encode(), CATALOGUE).mapping
    remember(first, CATALOGUE, where)
    other = "Ticket,Date,Problem,Result\n1,2026-01-02,bent frame,Repaired\n"
    remember(guess_mapping(other.encode(), CATALOGUE).mapping, CATALOGUE, where)
    kept = remembered_mapping(CATALOGUE, where)
    assert kept.words["finding"] == {
        "cracked screen": "display-glass-cracked",
        "bent frame": "frame-bent",
    }
    assert kept.words["outcome"] == {"no": "not-fixed", "Repaired": "fixed"}
    mapping_file(where).write_text("not = [toml")
    assert remembered_mapping(CATALOGUE, where) is None
