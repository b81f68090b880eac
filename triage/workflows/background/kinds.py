"""Which long work there is: a kind's name, and the function that does it.

Each function is `run(arguments, tell) -> dict`: it is given a JSON object, says how far it is
with `tell({"words": ..., "done": ..., "total": ...})` (the numbers only where there is a true
count), and returns a JSON object. A TriageError becomes the reason that the user reads. The
names are imported by the child process alone.
"""

from __future__ import annotations

KINDS = {
    "fit": "triage.workflows.background.fit:run",
    "backtest": "triage.workflows.background.backtest:run",
    "compare": "triage.workflows.background.compare:run",
    "lot": "triage.workflows.background.lot:run",
    "propose": "triage.workflows.background.propose:run",
}
