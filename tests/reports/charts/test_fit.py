"""The chart of predictive checks and its words come from the same figures."""

from __future__ import annotations

from triage.posterior.manifest import PredictiveCheck
from triage.reports.charts.fit import chart_words, checks_chart

CHECKS = (
    PredictiveCheck("parts at over twice the price book", "count", 41, 2, 10, 0.0, 4094),
    PredictiveCheck("mean minutes", "minutes", 58, 50, 60, 0.3),
    PredictiveCheck("never", "count", 3, 0, 0, 0.0, 10),
    PredictiveCheck("spread", "ratio", 0.1, 0.1, 0.1, 0.5),
)


def test_every_record_stands_where_its_words_say():
    chart = checks_chart(CHECKS).to_dict()
    rows = next(iter(chart["datasets"].values())) if "datasets" in chart else chart["data"]["values"]
    assert [row["place"] for row in rows] == ["far outside", "inside", "far outside", "inside"]
    # The middle of 50 to 60 is 55, its half width 5; what is too far out stands at the edge.
    assert [row["at"] for row in rows] == [3.0, 0.6, 3.0, 0.0]
    assert all(row["place"] != "inside" or -1 <= row["at"] <= 1 for row in rows)
    words = chart_words(CHECKS)
    assert words.startswith("2 of 4 figures of the record are inside the bars; parts at over twice")
    assert "41 of 4,094 is far outside the fit's 90 % range (2 to 10)" in words
    assert chart_words(CHECKS[1:2]) == "1 of 1 figures of the record are inside the bars."
