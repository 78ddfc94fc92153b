"""XML of an answer: every section with its own units, and nothing that no XML may hold."""

from __future__ import annotations

from xml.etree import ElementTree as ET

from dosewright.engine.run import run
from dosewright.present.xml import as_xml
from sites import site


def test_every_section_has_its_units_as_attributes() -> None:
    answer = run("site/plan", site("cottage"))
    root = ET.fromstring(as_xml(answer))  # noqa: S314 - of our own making
    units = answer.equipment[0].units
    flows = root.findall("equipment/item/derated_flow")
    assert [flow.get("unit") for flow in flows] == [units["derated_flow"]] * len(answer.equipment)
    assert [float(flow.text or "") for flow in flows] == [unit.derated_flow for unit in answer.equipment]
    assert root.find("condensation/dew_point").get("unit") == answer.condensation.units["dew_point"]
    assert {name for name in ("units", "inputs", "defaults") if root.findall(f".//{name}")} == set()


def test_a_sign_that_no_xml_may_hold_is_replaced() -> None:
    answer = run("pipe/velocity", {"flow": "9 gal/min", "bore": "20 mm"})
    answer.question = "a\x00b\x1b<&\"'\ud800\n"
    read = ET.fromstring(as_xml(answer))  # noqa: S314 - of our own making
    assert read.findtext("question") == "a\ufffdb\ufffd<&\"'\ufffd\n"
