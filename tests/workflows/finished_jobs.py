"""Jobs decided on an answer and finished, written through the desk as a bench would."""

from __future__ import annotations

from datetime import date, timedelta

from triage.domain.job.records import Attempt, Intake, Payment
from triage.workflows.jobs.intake import consider, consider_and_decide, take
from triage.workflows.jobs.record_keeper import move
from triage.workflows.jobs.stripping import strip
from triage.workflows.jobs.work import attempt, look_inside


def finish(keeper, answer, description, tried, on=date(2026, 3, 2), paid=4000, sold=None):
    """Take, work on and strip a bought unit.

    answer : the assessment kept with the decision; None to take it without one.
    tried : (finding, outcome, method, minutes) of each attempt, in order.
    sold : what its parts brought, minor units.
    """
    intake = Intake(on, description, battery_looked_at=True)
    if answer is None:
        file = consider(keeper, intake, "bought")
        file = take(keeper, file.id, file.version, on, paid)
    else:
        file, refused = consider_and_decide(keeper, intake, "bought", answer, "take", paid)
        assert not refused, refused
    file = move(keeper, file.id, file.version, "start", on)
    file = look_inside(keeper, file.id, file.version)
    for finding, outcome, method, minutes in tried:
        done = Attempt(finding, outcome, method, minutes=minutes, parts_minor=900, book_minor=900)
        file = attempt(keeper, file.id, file.version, done)
    done_on = on + timedelta(days=3)
    if sold is not None:
        with keeper.changing(file.id, file.version) as change:
            change.append(Payment("sale", sold, done_on))
            file = change.now()
    return strip(keeper, file.id, file.version, done_on, ())
