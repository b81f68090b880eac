"""A lot from file to file: resumed after a kill, bad rows aside, the same from several processes."""

from __future__ import annotations

import csv
from datetime import date

import pytest

from triage.errors import ClusterError, LotFileError
from triage.lot_selection.scored_table import COLUMNS
from triage.workflows.lots import score_file as module
from triage.workflows.lots import workers
from triage.workflows.lots.score import score_rows
from triage.workflows.lots.score_file import score_file, unfinished
from triage.workflows.shop.shop import open_shop

SHOP = open_shop(today=date(2026, 11, 25))
HEAD = "unit,tier,ask,findings\n"
ROWS = [
    "a,middle,20,cell-worn",
    "b,middle,9.5,earpiece-weak",
    "c,middle,20,cell-wrn",
    "d,upper,,housing-scuffed",
    "e,upper,60,cell-worn",
    "f,top,80,vibration-motor-dead",
]


@pytest.fixture
def lot(tmp_path, monkeypatch):
    monkeypatch.setattr(module, "PART", 2)
    path = tmp_path / "lot.csv"
    path.write_text(HEAD + "\n".join(ROWS) + "\n")
    return path


@pytest.fixture
def scored(monkeypatch):
    """Labels of the units that were scored, in order."""
    labels = []

    def counted(rows, *arguments):
        labels.extend(row.unit.name for row in rows)
        return score_rows(rows, *arguments)

    monkeypatch.setattr(workers, "score_rows", counted)
    return labels


def test_rows_in_file_order_and_bad_rows_beside_them(lot, tmp_path):
    told = []
    table = score_file(lot, SHOP, tmp_path / "out.csv", tell=told.append)
    assert told == [2, 4, 6]
    assert [row.unit for row in table.rows] == ["a", "b", "d", "e", "f"]
    with (tmp_path / "out.csv").open() as file:
        written = list(csv.DictReader(file))
    assert [row["unit"] for row in written] == ["a", "b", "d", "e", "f"]
    assert tuple(written[0])[:-1] == COLUMNS
    assert written[2]["ask"] == "" and float(written[0]["margin"]) == table.rows[0].margin
    with (tmp_path / "out.csv.bad.csv").open() as file:
        (bad,) = csv.DictReader(file)
    assert bad["line"] == "4" and bad["row"] == ROWS[2] and "nearest known: cell-worn" in bad["faults"]


@pytest.mark.parametrize("lines", [1, 2, 4])
@pytest.mark.parametrize("torn", [0, 10])
def test_a_killed_run_goes_on_to_the_same_file(lot, tmp_path, scored, lines, torn):
    out = tmp_path / "out.csv"
    score_file(lot, SHOP, out)
    whole, bad = out.read_bytes(), (tmp_path / "out.csv.bad.csv").read_bytes()
    kept = whole.splitlines(keepends=True)
    out.unlink()
    (tmp_path / "out.csv.part").write_bytes(b"".join(kept[:lines]) + kept[lines][:torn])
    assert unfinished(out)
    scored.clear()
    table = score_file(lot, SHOP, out, resume=True)
    assert out.read_bytes() == whole and (tmp_path / "out.csv.bad.csv").read_bytes() == bad
    assert table.taken_over == lines - 1 and len(scored) == 5 - (lines - 1)
    assert not unfinished(out)


def test_killed_twice_nothing_is_lost(lot, tmp_path, scored, monkeypatch):
    out = tmp_path / "out.csv"

    def killed_after(parts):
        def write(writer, row, code):
            written.append(row)
            if len(written) > parts:
                raise KeyboardInterrupt
            before(writer, row, code)

        written = []
        before = module._Writer.write
        return write

    for parts in (2, 3):
        with monkeypatch.context() as patch:
            patch.setattr(module._Writer, "write", killed_after(parts))
            with pytest.raises(KeyboardInterrupt):
                score_file(lot, SHOP, out, resume=True)
    scored.clear()
    score_file(lot, SHOP, out, resume=True)
    assert "a" not in scored and "b" not in scored
    assert len(out.read_text().splitlines()) == 6


def test_only_what_changed_is_scored_again(lot, tmp_path, scored):
    out = tmp_path / "out.csv"
    score_file(lot, SHOP, out)
    lot.write_text(HEAD + "\n".join([ROWS[0], ROWS[1].replace("9.5", "10"), *ROWS[2:]]) + "\n")
    scored.clear()
    score_file(lot, SHOP, out, resume=True)
    assert scored == ["b"]
    scored.clear()
    dearer = SHOP.settings.__class__(**{**vars(SHOP.settings), "bench_rate": 45.0})
    other = SHOP.__class__(**{**{f: getattr(SHOP, f) for f in SHOP.__dataclass_fields__}, "settings": dearer})
    score_file(lot, other, out, resume=True)
    assert scored == ["a", "b", "d", "e", "f"]


def test_a_lot_of_bad_rows_only_is_refused(lot, tmp_path):
    lot.write_text(HEAD + ROWS[2] + "\n")
    with pytest.raises(LotFileError, match="cell-wrn"):
        score_file(lot, SHOP, tmp_path / "out.csv")
    assert not (tmp_path / "out.csv").exists()


@pytest.mark.slow
def test_two_processes_give_the_same_file(lot, tmp_path):
    score_file(lot, SHOP, tmp_path / "one.csv")
    score_file(lot, SHOP, tmp_path / "two.csv", workers=2)
    assert (tmp_path / "two.csv").read_bytes() == (tmp_path / "one.csv").read_bytes()


@pytest.mark.slow
def test_a_cluster_of_two_processes_gives_the_same_file(lot, tmp_path):
    distributed = pytest.importorskip("distributed")
    score_file(lot, SHOP, tmp_path / "one.csv")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None, processes=True
    ) as cluster:
        score_file(lot, SHOP, tmp_path / "two.csv", scheduler=cluster.scheduler_address)
    assert (tmp_path / "two.csv").read_bytes() == (tmp_path / "one.csv").read_bytes()


def test_a_cluster_that_is_not_there_is_refused(lot):
    pytest.importorskip("distributed")
    with pytest.raises(ClusterError, match="no Dask scheduler responds"):
        score_file(lot, SHOP, scheduler="tcp://127.0.0.1:1")


def test_nothing_that_a_spreadsheet_would_run_is_written_and_it_is_read_back_as_it_was(lot, tmp_path, scored):
    names = ('=HYPERLINK("http://x")', "+1", "-2", "@SUM(A1)", "\t=3", "'=already")
    lines = [f'"{name.replace(chr(34), chr(34) * 2)}",middle,20,cell-worn' for name in names]
    lot.write_text(HEAD + "\n".join([*lines, "=cmd,middle,20,cell-wrn"]) + "\n")
    out = tmp_path / "out.csv"
    table = score_file(lot, SHOP, out)
    with out.open(newline="") as file:
        written = [row["unit"] for row in csv.DictReader(file)]
    with (tmp_path / "out.csv.bad.csv").open(newline="") as file:
        (bad,) = csv.DictReader(file)
    for cell in (*written, bad["unit"], bad["faults"], bad["row"]):
        assert cell[0] not in "=+-@\t\r", cell
    # A run that goes on takes the rows over under their own names.
    again = score_file(lot, SHOP, out, resume=True)
    assert [row.unit for row in again.rows] == [row.unit for row in table.rows] and scored == [
        row.unit for row in table.rows
    ]


def test_a_folder_that_is_not_there_is_said_before_anything_is_scored(lot, tmp_path, scored):
    with pytest.raises(LotFileError, match="No such file"):
        score_file(lot, SHOP, tmp_path / "nowhere" / "out.csv")
    assert scored == []
