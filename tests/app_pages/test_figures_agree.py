"""On each office page chart, text, sentences and table show the same figures under the same names."""

from __future__ import annotations

import json

import pyarrow as pa
import pytest

from triage.app_pages.shared.pages import PAGES
from triage.domain.counts import in_twenty
from triage.reports.charts.assumption import SIDES
from triage.reports.wording.calibration import BRIER, FORECASTER_NAMES, LOG_ATTEMPT, LOG_JOB
from triage.shipped import shipped

pytestmark = pytest.mark.usefixtures("few_draws")


@pytest.fixture
def opened(page):
    def opened(name):
        page.run().switch_page(str(PAGES[name])).run()
        assert not page.exception, page.exception
        return page

    return opened


def charts(page):
    """(text for screen readers, rows of its largest data, axis titles) of every chart, in order."""
    found = []
    for chart in page.get("vega_lite_chart"):
        spec = json.loads(chart.proto.spec)
        lists = [one for key, one in walked(spec) if key == "values" and rows_in(one)]
        packed = [
            chart.proto.data,
            *(one.data for one in chart.proto.datasets),
        ]  # the framework takes them out
        lists += [pa.ipc.open_stream(one.data).read_pandas().to_dict("records") for one in packed if one.data]
        titles = {one["title"] for key, one in walked(spec) if key == "axis" and one and one.get("title")}
        found.append((chart.proto.alt, max(lists, key=len), titles))
    return found


def walked(node):
    """Every key and value of a tree."""
    pairs = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for key, value in pairs:
        yield key, value
        yield from walked(value)


def rows_in(values):
    return isinstance(values, list) and bool(values) and isinstance(values[0], dict)


def table(page, column):
    """The first table that has a column of this name."""
    return next(one.value for one in page.dataframe if column in one.value)


def sentences(page):
    kinds = (page.title, page.header, page.subheader, page.markdown, page.caption)
    return "\n".join(one.value for kind in kinds for one in kind).replace("\\", "")


def one_line(label):
    return " ".join(label.split())


@pytest.mark.slow
def test_assumptions(opened):
    page = opened("assumptions")
    ((words, marks, titles),) = charts(page)
    shown = table(page, SIDES[0])
    assert titles == {"fixed, of 20"} and {mark["side"] for mark in marks} == set(SIDES) < set(shown)
    for row in shown.to_dict("records"):
        told = f"{row['damage kind']}: " + ", ".join(f"{side} {row[side]}" for side in SIDES)
        assert told in words
    cells = [row[side] for row in shown.to_dict("records") for side in SIDES if row[side] != "none attempted"]
    assert [mark["words"] for mark in marks] == cells
    assert all(in_twenty(mark["of_20"] / 20) in mark["words"] for mark in marks if mark["side"] != SIDES[1])
    # The cards above the chart: the same fit and record as the table's.
    first = shown.to_dict("records")[0]
    card = next(one.value for one in page.markdown if one.value.startswith(f"**{first['damage kind']}**"))
    said = card.replace("\\", "")
    assert f"Record at severity 2: {first['record']}" in said and f"Fit: {first['fit']}" in said


def test_track_record(opened):
    page = opened("track_record")
    demo = json.loads(shipped("models/backtests/demo.json").read_text())
    (points_words, points, titles), (family_words, families, _) = charts(page)
    assert titles == {"forecast, of 20", "worked, of 20"}
    said = sentences(page)
    for bin_, point in zip(demo["reliability"], points, strict=True):
        assert point["forecast"] == 20 * bin_["forecast"] and point["words"] in points_words
        assert f"{bin_['happened']['held']:,} of {bin_['happened']['of']:,} worked" in point["words"]
        assert point["words"].removeprefix("forecast ") in said
    scores = table(page, LOG_JOB).set_index("forecast by")
    assert list(scores)[:3] == [BRIER, LOG_ATTEMPT, LOG_JOB]
    for name, one in demo["scores"].items():
        row = scores.loc[FORECASTER_NAMES[name]]
        assert row.tolist()[:3] == [f"{one[key]:.4f}" for key in ("brier", "log", "joint_log")]
    # The parts of the Brier score add up to the table's.
    assert f"{BRIER} {scores.loc['this model', BRIER]} = reliability" in said
    groups = table(page, "group")
    for row, mark in zip(groups.to_dict("records"), families, strict=True):
        assert mark["group"] == f"{row['group']}, {row['attempts']:,} attempts"
        assert (in_twenty(mark["forecast"] / 20), in_twenty(mark["worked"] / 20)) == (
            row["forecast"],
            row["worked"],
        )
        assert f"{row['group']}: {mark['words']}" in family_words
    declined = table(page, "margin of declined").set_index("rule").loc["this model"]
    made = declined["margin of declined"]
    made = f"lost {made.removeprefix('−')}" if made.startswith("−") else f"made {made}"
    assert f"would have declined {declined['declined']:,}; they {made}" in said


def test_margin_by_damage(opened):
    page = opened("margin_by_damage")
    ((words, marks, _),) = charts(page)
    shown = table(page, "total, EUR").set_index("damage kind")
    lost = int((shown["total, EUR"] < 0).sum())
    said = sentences(page)
    assert f"{lost} of {len(shown)} damage kinds lost money" in said
    for mark in marks:
        name, jobs = one_line(mark["line"]).rsplit(", ", 1)
        row = shown.loc[name]
        assert jobs == f"{row['jobs']} job{'' if row['jobs'] == 1 else 's'}"
        assert (
            round(mark["mean"]) == row["attributed margin a job, EUR"]
            and row["90 % interval"] in mark["money"]
        )
    assert f"{sum(mark['outcome'] == 'loss' for mark in marks)} of the {len(marks)} means drawn" in words
    worst = shown.iloc[0]
    assert f"lost €{-worst['total, EUR']:,} over {worst['jobs']} jobs" in said
    assert f"true mean is below 0 is {worst['chance that the mean is below 0']}" in said
    assert one_line(marks[0]["line"]) in words and marks[0]["money"] in words


def test_model_check(opened):
    page = opened("model_check")
    shown = [one.value for one in page.dataframe if "p-value" in one.value]
    drawn = charts(page)
    assert len(drawn) == len(shown) == 6
    said = sentences(page)
    for (words, marks, _), rows in zip(drawn, shown, strict=True):
        inside = (rows["record is"] == "inside").sum()
        assert words.startswith(f"{inside} of {len(rows)} figures of the record are inside")
        assert words[1:] in said
        for mark, row in zip(marks, rows.to_dict("records"), strict=True):
            assert one_line(mark["line"]) == row["figure of the record"]
            assert (mark["record"], mark["expected"], mark["place"]) == (
                row["record"],
                row["90 % range of the fit"],
                row["record is"],
            )
            if row["record is"] != "inside":
                told = f"the record's {row['record']} is {row['record is']}"
                assert f"{row['figure of the record']}: {told}" in words
            assert (-1 <= mark["at"] <= 1) == (row["record is"] == "inside")
    diagnostics = {name.replace("\\", "") for one in page.table for name in one.value.index}
    assert {"R-hat", "Effective sample size, bulk", "Divergences"} <= diagnostics
