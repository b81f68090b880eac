"""Import of 100,000 rows: seconds and peak memory, written to `results/import-rows.json`.

    python -m tests.benchmarks.program.import_rows

Imports the demo record repeatedly under other labels into a SQLite file, exports it again
and compares the two.
"""

from __future__ import annotations

import json
import resource
import sys
import tempfile
import time
from pathlib import Path

from triage.domain.catalogue import load_catalogue
from triage.ledger.export import write_csv
from triage.ledger.history.history_rows import rows_of
from triage.ledger.opening import open_ledger
from triage.shipped import shipped
from triage.workflows.jobs.import_history import import_past_jobs, read_past_jobs

RESULTS = Path(__file__).parents[1] / "results" / "import-rows.json"
ROWS = 100_000


def main() -> None:
    """Measure, print and store the result."""
    head, *lines = shipped("synthetic_cases/past-jobs.csv").read_text(encoding="utf-8").splitlines()
    copies = -(-ROWS // len(lines))
    many = [f"{copy}-{line}" for copy in range(copies) for line in lines][:ROWS]
    text = "\n".join([head, *many]) + "\n"
    seconds: dict[str, float] = {}

    def lap(name: str, since: float) -> float:
        now = time.perf_counter()
        seconds[name] = round(now - since, 1)
        return now

    with tempfile.TemporaryDirectory() as folder:
        ledger = open_ledger(Path(folder) / "record.sqlite")
        at = time.perf_counter()
        past = read_past_jobs(text.encode(), "many.csv", load_catalogue(), "EUR")
        at = lap("read and check", at)
        done = import_past_jobs(past, ledger, "bench")
        at = lap("write", at)
        imported = _peak_megabytes()
        again = import_past_jobs(past, ledger, "bench")
        at = lap("import again, all there", at)
        with ledger.reading() as reading:
            rows = [row for job in reading.jobs() for row in rows_of(job)]
        write_csv(rows, Path(folder) / "out.csv")
        lap("export", at)
        result = {
            "rows": done.rows,
            "jobs": done.added,
            "already_there_the_second_time": again.already,
            "same_bytes_out": (Path(folder) / "out.csv").read_text(encoding="utf-8") == text,
            "seconds": seconds,
            "peak_megabytes_import": imported,
            "peak_megabytes_export": _peak_megabytes(),
            "file_megabytes": round((Path(folder) / "record.sqlite").stat().st_size / 1e6, 1),
        }
        ledger.close()
    RESULTS.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")
    sys.stdout.write(json.dumps(result, indent=1) + "\n")


def _peak_megabytes() -> int:
    """Peak resident memory of this process so far (Linux counts in kilobytes)."""
    return round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)


if __name__ == "__main__":
    main()
