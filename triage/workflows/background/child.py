"""The child process of one long work: runs it, and leaves what came of it in the work's folder.

`python -m triage.workflows.background.child FOLDER`, started by `runner.start` only.
What to do comes on standard input, so that no address of a record is on disk or in the list
of processes. A file of the folder is locked for as long as this process works.
"""

from __future__ import annotations

import importlib
import json
import os
import sys
from pathlib import Path
from typing import Any

import psutil
from filelock import FileLock

from triage.errors import TriageError

# LIVES is locked while the work runs. EVENTS is there from then on: how far it is.
LIVES, EVENTS, RESULT = "lives.lock", "events.jsonl", "result.json"


def main() -> int:
    """Do the work that standard input names; the exit code is 0, or that of the refusal."""
    folder = Path(sys.argv[1])
    lock = FileLock(folder / LIVES, mode=0o600)
    lock.acquire(timeout=10, poll_interval=0.01)  # a page that looks at it holds it for a moment
    with (folder / EVENTS).open("a", encoding="utf-8", buffering=1) as events:
        _let_pages_go_first()
        request = json.load(sys.stdin)

        def tell(event: dict[str, Any]) -> None:
            events.write(json.dumps(event) + "\n")

        try:
            module, function = request["target"].split(":")
            run = getattr(importlib.import_module(module), function)
            write_json(folder / RESULT, run(request["arguments"], tell))
        except TriageError as refusal:
            tell({"failed": str(refusal)})
            return refusal.exit_code
    lock.release()  # done: the next may begin while this process still clears up
    return 0


def _let_pages_go_first() -> None:
    """Lower this process's priority, in the terms of the system it runs on."""
    process = psutil.Process()
    if sys.platform == "win32":
        process.nice(psutil.BELOW_NORMAL_PRIORITY_CLASS)
    else:
        process.nice(min(process.nice() + 10, 19))


def write_json(path: Path, value: Any) -> None:
    """Write a file whole or not at all."""
    waiting = path.with_suffix(".tmp")
    waiting.write_text(json.dumps(value), encoding="utf-8")
    os.replace(waiting, path)


if __name__ == "__main__":
    sys.exit(main())
