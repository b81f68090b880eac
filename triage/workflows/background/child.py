"""The child process of one long work: runs it, and leaves what came of it in the work's folder.

`python -m triage.workflows.background.child FOLDER LOCK`, started by `long_work.start` only.
What to do comes on standard input, so that no address of a record is on disk or in the list
of processes. LOCK is an open file that this process keeps locked for as long as it works.
"""

from __future__ import annotations

import importlib
import json
import os
import sys
from pathlib import Path
from typing import Any

from triage.errors import TriageError

EVENTS = "events.jsonl"
RESULT = "result.json"


def main() -> int:
    """Do the work that standard input names; the exit code is 0, or that of the refusal."""
    folder, lock = Path(sys.argv[1]), int(sys.argv[2])
    os.set_inheritable(lock, False)
    os.nice(10)  # the bench's pages come first
    request = json.load(sys.stdin)
    with (folder / EVENTS).open("a", encoding="utf-8", buffering=1) as events:

        def tell(event: dict[str, Any]) -> None:
            events.write(json.dumps(event) + "\n")

        try:
            module, function = request["target"].split(":")
            run = getattr(importlib.import_module(module), function)
            write_json(folder / RESULT, run(request["arguments"], tell))
        except TriageError as refusal:
            tell({"failed": str(refusal)})
            return refusal.exit_code
    os.close(lock)  # done: the next may begin while this process still clears up
    return 0


def write_json(path: Path, value: Any) -> None:
    """Write a file whole or not at all."""
    waiting = path.with_suffix(".tmp")
    waiting.write_text(json.dumps(value), encoding="utf-8")
    os.replace(waiting, path)


if __name__ == "__main__":
    sys.exit(main())
