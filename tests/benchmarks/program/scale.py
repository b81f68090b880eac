"""Bytes and seconds per job, and the number of distinct jobs as the record grows.

`python -m tests.benchmarks.program.scale`.

The demo record is imported into a SQLite file and, where `TRIAGE_TEST_POSTGRES` names a
server, into a database of its own there; bytes are the growth of the store. Then the record
is read back as a fit reads it. Then more and more invented jobs are simulated, and jobs
alike in every attempt are counted once: a fit's time depends on that count. Written to
`results/scale.json`, which `docs/scale.md` quotes. Run by hand.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
import tracemalloc
from collections.abc import Callable
from pathlib import Path
from time import process_time
from typing import Any
from uuid import uuid4

from sqlalchemy import create_engine

from synthetic_cases.generate import generate_history, write_history
from synthetic_cases.truth import load_truth
from triage.domain.catalogue import load_catalogue
from triage.ledger.history.history_csv import read_history
from triage.ledger.history.history_rows import history_of
from triage.ledger.opening import open_ledger
from triage.outcome_models import success
from triage.priors.prior_set import load_priors
from triage.shipped import shipped
from triage.workflows.jobs.import_history import import_past_jobs, read_past_jobs
from triage.workflows.shop.shop import DEMO_PRIORS

RESULTS = Path(__file__).parents[1] / "results" / "scale.json"
COMMAND = "python -m tests.benchmarks.program.scale"
SIZES = (2_000, 8_000, 32_000)
SEED = 20261


def store(address: str, size: Callable[[], int]) -> dict[str, Any]:
    """Import the demo record and read it back; seconds are processor time of this process."""
    catalogue = load_catalogue()
    ledger = open_ledger(address)
    empty = size()
    data = shipped("synthetic_cases/past-jobs.csv").read_bytes()
    start = process_time()
    done = import_past_jobs(read_past_jobs(data, "past-jobs.csv", catalogue, "EUR"), ledger, "bench")
    imported = process_time()
    with ledger.reading() as reading:
        history_of(reading.jobs(), catalogue)
    read = process_time()
    tracemalloc.start()
    with ledger.reading() as reading:
        held = reading.jobs()
    held_bytes = tracemalloc.get_traced_memory()[0]
    tracemalloc.stop()
    grown = size() - empty
    ledger.close()
    return {
        "jobs": len(held),
        "rows": done.rows,
        "bytes a job": round(grown / done.added),
        "import, jobs a second": round(done.added / (imported - start)),
        "read back for a fit, jobs a second": round(done.added / (read - imported)),
        "memory while read, bytes a job": round(held_bytes / done.added),
    }


def on_postgres(server: str) -> dict[str, Any]:
    """The same in a database of its own, dropped afterwards."""
    name = f"scale_{uuid4().hex[:12]}"
    engine = create_engine(
        server.replace("postgresql://", "postgresql+psycopg://"), isolation_level="AUTOCOMMIT"
    )
    with engine.connect() as connection:
        connection.exec_driver_sql(f"CREATE DATABASE {name}")
        try:
            return store(
                server.rsplit("/", 1)[0] + f"/{name}",
                lambda: int(connection.exec_driver_sql(f"SELECT pg_database_size('{name}')").scalar_one()),
            )
        finally:
            connection.exec_driver_sql(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")


def alike(jobs: int, folder: Path) -> dict[str, Any]:
    """How many of `jobs` invented jobs differ in their attempts or outcomes."""
    catalogue, truth = load_catalogue(), load_truth()
    priors = load_priors(shipped(DEMO_PRIORS), catalogue)
    write_history(generate_history(truth, SEED, jobs), folder / "history.csv")
    history = read_history(folder / "history.csv", catalogue)
    start = process_time()
    made = success.design(history, catalogue, priors)
    return {"jobs": jobs, "different": len(made.nodes), "seconds to sort": round(process_time() - start, 1)}


def main() -> None:
    """Measure, print and store the result."""
    result: dict[str, Any] = {"command": COMMAND, "machine": f"{os.cpu_count()} cores"}
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "record.sqlite"
        result["SQLite"] = store(str(file), lambda: sum(f.stat().st_size for f in Path(folder).iterdir()))
        if server := os.environ.get("TRIAGE_TEST_POSTGRES"):
            result["PostgreSQL"] = on_postgres(server)
        result["jobs alike"] = [alike(jobs, Path(folder)) for jobs in SIZES]
    RESULTS.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")
    sys.stdout.write(json.dumps(result, indent=1) + "\n")


if __name__ == "__main__":
    main()
