"""Kill writers repeatedly and check what is left: `python -m tests.ledger.killed`.

Each round a child process works on a SQLite record and is killed (SIGKILL) at
a random moment. Then the file must open, its integrity must hold, and every
transaction must be complete or absent: a saved job, a file of past jobs
imported as `triage record import` does it, a step of an upgrade. Prints one
JSON line.
"""

from __future__ import annotations

import argparse
import itertools
import json
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path

import sqlalchemy as sa

from triage.domain.catalogue import load_catalogue
from triage.domain.job.records import Intake, Moved, Place
from triage.ledger import migrating
from triage.ledger.history.history_rows import content_key, rows_of
from triage.ledger.migrating import Step, steps
from triage.ledger.opening import open_ledger
from triage.ledger.record import Ledger
from triage.shipped import shipped
from triage.workflows.jobs.import_history import import_past_jobs, read_past_jobs

DAY = date(2026, 1, 2)
# Records of one save, and jobs of one imported file.
SAVED, IMPORTED = 7, 100
PAST_JOBS = "past-jobs.csv"
# Numbers of steps that a later program might bring.
LATER = tuple(steps("sqlite")[-1].number + n for n in (1, 2, 3))
# Before any fork, so that a kill hits the work and not its start.
CATALOGUE = load_catalogue()


def save(file: Path) -> None:
    """Save job after job, each with its records in one transaction."""
    ledger = open_ledger(file)
    number = len(_labels(ledger))
    while True:
        number += 1
        with ledger.writing("ada") as writing:
            job = writing.open_job(f"S-{number:06d}", "bought", "EUR", Intake(DAY, "x"))
            for place in range(SAVED):
                writing.append(job, Place(f"shelf {place}"))
            writing.flush()
            writing.append(job, Moved("take", "taken", DAY))


def write_past_jobs(file: Path) -> None:
    """Make the file that is imported: the first jobs of the invented shop, labels sl-00001 and on."""
    head, *lines = shipped("synthetic_cases/past-jobs.csv").read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if line.split(",", 1)[0] <= f"sl-{IMPORTED:05d}"]
    file.write_text("\n".join([head, *kept, ""]), encoding="utf-8")


def import_files(file: Path, times: int | None = None) -> None:
    """Import the file of past jobs `times` times, or for ever; each time under new labels."""
    ledger = open_ledger(file)
    first = len(_labels(ledger)) // IMPORTED
    text = (file.parent / PAST_JOBS).read_text(encoding="utf-8")
    for turn in itertools.count(first) if times is None else range(first, first + times):
        data = text.replace("\nsl-", f"\n{turn}-sl-").encode()
        import_past_jobs(read_past_jobs(data, PAST_JOBS, CATALOGUE, "EUR"), ledger, "import")


def upgrade(file: Path) -> None:
    """Open a new file, with more migration steps than the program has."""
    _more_steps()
    open_ledger(file)
    while True:
        time.sleep(1)


def _more_steps() -> None:
    """Three further steps; the n-th makes its table and puts 2,000 n rows into it."""
    later = [
        Step(
            n, f"later-{n}",
            (f"CREATE TABLE extra_{n} (a)",
             "WITH RECURSIVE k(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM k WHERE i < "
             f"{2000 * n}) INSERT INTO extra_{n} SELECT hex(randomblob(20)) FROM k"),
        )
        for n in LATER
    ]  # fmt: skip
    migrating.steps = lambda _: (*steps("sqlite"), *later)  # type: ignore[assignment]


def _labels(ledger: Ledger) -> list[str]:
    with ledger.reading() as reading:
        return sorted(reading.labels())


def look(file: Path, kind: str) -> int:
    """Check what a killed writer left; return the number of complete transactions."""
    if kind == "upgrade":
        _more_steps()
        return _look_at_steps(file)
    ledger = open_ledger(file, create=False)
    with ledger.reading() as reading:
        sound = reading.connection.exec_driver_sql("PRAGMA integrity_check").scalar()
        assert sound == "ok", sound
        assert not reading.connection.exec_driver_sql("PRAGMA foreign_key_check").all()
        jobs, keys = reading.jobs(), reading.import_keys()
    ledger.close()
    if kind == "save":
        assert all(len(job.places) == SAVED and job.state == "taken" for job in jobs)
        return len(jobs)
    whole = len(jobs) // IMPORTED
    assert {job.label for job in jobs} == {
        f"{turn}-sl-{number:05d}" for turn in range(whole) for number in range(1, IMPORTED + 1)
    }
    # A key hashes every cell that was read; what the records say now must give it again.
    assert {content_key(job.label, rows_of(job)) for job in jobs} == set(keys)
    return whole


def _look_at_steps(file: Path) -> int:
    engine = sa.create_engine(f"sqlite:///{file}")
    with engine.connect() as connection:
        assert connection.exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"
        tables = set(sa.inspect(connection).get_table_names())
        done = migrating.applied(connection)
        assert tables >= {"job", "entry"} if done else tables == set(), (done, tables)
        for n in LATER:
            assert (f"extra_{n}" in tables) == (n <= done)
            if n <= done:
                rows = connection.exec_driver_sql(f"SELECT count(*) FROM extra_{n}").scalar()
                assert rows == 2000 * n
    engine.dispose()
    open_ledger(file).close()  # the steps that were cut off are made good
    with engine.connect() as connection:
        assert migrating.applied(connection) == LATER[-1]
    engine.dispose()
    return done


WORK: dict[str, Callable[[Path], None]] = {"save": save, "import": import_files, "upgrade": upgrade}
# Longest time a child works before it is killed, seconds. An import is killed within the time of two.
LONGEST = {"save": 0.12, "upgrade": 0.12}


def seconds_of_an_import(folder: Path) -> float:
    """Time one whole import, with the current load of the machine."""
    file = folder / "timed.sqlite"
    open_ledger(file).close()
    began = time.monotonic()
    import_files(file, times=1)
    return time.monotonic() - began


def kill_once(file: Path, kind: str, after: float) -> None:
    """Let a child work for `after` seconds, then kill it."""
    child = os.fork()
    if child == 0:
        try:
            WORK[kind](file)
        except BaseException as problem:  # a worker that fails by itself must be seen
            print(f"{kind}: {problem!r}", file=sys.stderr, flush=True)  # noqa: T201
        os._exit(1)
    time.sleep(after)
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status), f"the {kind} worker ended by itself"


def run(rounds: int, seed: int) -> dict[str, int]:
    """Kill and check, `rounds` times; count the kills during an operation."""
    random_ = random.Random(seed)
    counts = {"kills": 0, "whole": 0, "whole_imports": 0, "before_anything": 0}
    folder = Path(tempfile.mkdtemp())
    write_past_jobs(folder / PAST_JOBS)
    longest = LONGEST | {"import": 2 * seconds_of_an_import(folder)}
    left_in: dict[Path, int] = {}
    kinds = ("save", "import", "upgrade")
    try:
        for turn in range(rounds):
            kind = kinds[turn % 3]
            file = folder / f"{kind}{turn if kind == 'upgrade' else turn // 12}.sqlite"
            if kind != "upgrade" and not file.exists():
                open_ledger(file).close()
            before = left_in.get(file, 0)
            kill_once(file, kind, random_.uniform(0.005, longest[kind]))
            left = look(file, kind) if file.exists() else 0
            assert left >= before, "what was there before is there still"
            left_in[file] = left
            counts["kills"] += 1
            counts["whole"] += left - before
            counts["whole_imports"] += left - before if kind == "import" else 0
            counts["before_anything"] += left == before
    finally:
        shutil.rmtree(folder)
    return counts


def main() -> None:
    """Run the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    print(json.dumps(run(options.rounds, options.seed)))  # noqa: T201


if __name__ == "__main__":
    main()
