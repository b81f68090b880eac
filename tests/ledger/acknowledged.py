"""Kill writers and count the jobs confirmed to them: `python -m tests.ledger.acknowledged ADDRESS`.

Each round a child process saves job after job in the record at ADDRESS, on SQLite or PostgreSQL, and says so
after each commit; it is killed (SIGKILL) at a random moment. In the end every job that was confirmed
must be stored, and every stored job must be complete. Prints one JSON line.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import signal
import sys
import time
from datetime import date

from triage.domain.job.records import Intake, Moved, Place
from triage.ledger.opening import open_ledger

DAY = date(2026, 1, 2)
RECORDS = 7  # of each job, besides its intake and its move


def save_on(address: str, turn: int, acknowledge: int) -> None:
    """Save jobs for ever, and print the label of each confirmed one."""
    ledger = open_ledger(address)
    number = 0
    while True:
        number += 1
        label = f"K-{turn:03d}-{number:04d}"
        with ledger.writing("ada") as writing:
            job = writing.open_job(label, "bought", "EUR", Intake(DAY, "x", person="Ada Nobody"))
            for place in range(RECORDS):
                writing.append(job, Place(f"shelf {place}"))
            writing.flush()
            writing.append(job, Moved("take", "taken", DAY))
        os.write(acknowledge, f"{label}\n".encode())


def killed(address: str, turn: int, after: float) -> list[str]:
    """Labels that were confirmed to one writer before it was killed."""
    told, acknowledge = os.pipe()
    child = os.fork()
    if not child:
        os.close(told)
        try:
            save_on(address, turn, acknowledge)
        finally:
            os._exit(1)
    os.close(acknowledge)
    time.sleep(after)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    with os.fdopen(told, encoding="utf-8") as file:
        return [line.strip() for line in file if line.endswith("\n")]


def main() -> None:
    """Kill, check, and print the counts."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("address")
    parser.add_argument("--rounds", type=int, default=200)
    given = parser.parse_args()
    open_ledger(given.address).close()  # its tables are there before the first kill
    rng = random.Random(1)
    kept: list[str] = []
    for turn in range(given.rounds):
        kept += killed(given.address, turn, rng.uniform(0.02, 0.2))
    ledger = open_ledger(given.address, create=False)
    with ledger.reading() as reading:
        jobs = {job.label: job for job in reading.jobs()}
    ledger.close()
    lost = sorted(set(kept) - jobs.keys())
    torn = [
        label for label, job in jobs.items()
        if len(job.places) != RECORDS or job.state != "taken" or job.intake.record.person != "Ada Nobody"
    ]  # fmt: skip
    counted = {
        "kills": given.rounds,
        "acknowledged": len(kept),
        "kept": len(jobs),
        "lost": lost,
        "torn": torn,
    }
    sys.stdout.write(json.dumps(counted) + "\n")


if __name__ == "__main__":
    main()
