"""One of several writers: `python -m tests.ledger.writer ADDRESS NAME TIMES JOB...`.

Each time it reads a random job, adds the place after the last one, and tries again when another writer
was faster. Prints how often it was refused, by kind of refusal.
"""

from __future__ import annotations

import json
import random
import sys
from collections import Counter

from triage.domain.job.records import Place
from triage.errors import LedgerBusyError, LedgerConflictError
from triage.ledger.opening import open_ledger


def main() -> None:
    """Add the places."""
    address, name, times, *jobs = sys.argv[1:]
    ledger = open_ledger(address)
    pick = random.Random(name)
    refused: Counter[str] = Counter()
    done = 0
    while done < int(times):
        # Two jobs in either order: another writer may take the same two in reverse.
        some = pick.sample([int(job) for job in jobs], 2)
        with ledger.reading() as reading:
            files = [reading.job(job) for job in some]
        try:
            with ledger.writing(name) as writing:
                for file in files:
                    writing.expect(file.id, file.version)
                    writing.append(file.id, Place(str(len(file.places) + 1)))
            done += 1
        except (LedgerConflictError, LedgerBusyError) as refusal:
            refused[type(refusal).__name__] += 1
    print(json.dumps(refused))  # noqa: T201


if __name__ == "__main__":
    main()
