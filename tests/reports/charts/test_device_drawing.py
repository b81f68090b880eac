"""The drawing of a device's zones."""

from __future__ import annotations

import xml.etree.ElementTree as tree

import pytest

from triage.domain.catalogue import load_catalogue
from triage.reports.charts import device_drawing as drawn
from triage.reports.charts.device_drawing import device_drawing, drawing_words

NAMES = {slug: zone.name for slug, zone in load_catalogue().zones.items()}


def test_every_zone_of_the_catalogue_has_its_place_and_no_two_share_one():
    assert set(drawn._ZONES) == set(NAMES)
    boxes = list(drawn._ZONES.values())
    for place, (x, y, w, h) in enumerate(boxes):
        for a, b, c, d in boxes[:place]:
            assert x >= a + c or a >= x + w or y >= b + d or b >= y + h


@pytest.mark.parametrize("zone", NAMES)
def test_damage_is_hatched_and_counted_and_said(zone):
    svg = tree.fromstring(device_drawing({zone: 3}, NAMES))
    space = "{http://www.w3.org/2000/svg}"
    hatched = [box for box in svg.iter(f"{space}rect") if box.get("fill") == "url(#hatch)"]
    assert len(hatched) == 1
    assert [mark.text for mark in svg.iter(f"{space}text")].count("3") == 1
    assert svg.get("aria-label") == f"Damage found: {NAMES[zone]} 3"


def test_nothing_placed_is_said():
    assert drawing_words({}, NAMES) == drawing_words({"front": 0}, NAMES) == "No damage located yet"
    assert "url(#hatch)" not in device_drawing({}, NAMES)
