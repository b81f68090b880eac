"""Which long work there is: a kind's name, and the function that does it.

Each function is `run(arguments, tell) -> dict`: it is given a JSON object, says how far it is
with `tell({"words": ..., "done": ..., "total": ...})` (the numbers only where there is a true
count), and returns a JSON object. A TriageError becomes the reason that the user reads. The
names are imported by the child process alone.
"""

from __future__ import annotations

KINDS = {
    "fit": "triage.workflows.work_fit:run",
    "backtest": "triage.workflows.work_backtest:run",
    "compare": "triage.workflows.work_compare:run",
    "lot": "triage.workflows.work_lot:run",
    "propose": "triage.workflows.work_propose:run",
}
