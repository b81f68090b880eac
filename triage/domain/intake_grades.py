"""How severities judged at intake come out on the bench, counted from past jobs."""

from __future__ import annotations

from triage.domain.history import History

GradeCounts = tuple[tuple[int, int, int], ...]
NO_GRADES: GradeCounts = ((0, 0, 0),) * 3


def grade_counts(history: History | None) -> GradeCounts:
    """Findings by severity at intake (row) and on the bench (column); () where none has a severity.

    Counted are findings known at intake that were worked on, each once. Where no
    other severity was recorded, the bench kept that of the intake.
    """
    if history is None:
        return NO_GRADES
    if not history.has("severity"):
        return ()
    rows = history.as_seen_at_intake().rows[["severity"]].rename(columns={"severity": "intake"})
    rows = rows.join(history.rows)
    rows = rows[rows["outcome"] != "not-attempted"]
    if "known_at" in rows:
        rows = rows[rows["known_at"].isin(["intake", ""])]
    named = [name for name in ("job", "finding", "zone") if name in rows]
    last = rows.drop_duplicates(named, keep="last")
    told = last.groupby(["intake", "severity"]).size()
    first, second, third = (
        (int(told.get((grade, 1), 0)), int(told.get((grade, 2), 0)), int(told.get((grade, 3), 0)))
        for grade in (1, 2, 3)
    )
    return first, second, third
