"""What people type instead of a name or a field is understood, or answered with what they may mean."""

from __future__ import annotations

from typing import Any

import pytest

from dosewright.engine.batch.columnwise import run_batch
from dosewright.engine.faults import RequestRefused
from dosewright.engine.fields.choice import ChoiceField
from dosewright.engine.fields.items import ItemsField
from dosewright.engine.fields.measure import MeasureField
from dosewright.engine.reading.reader import reader_for
from dosewright.engine.registry import calculations, find
from dosewright.engine.run import run
from dosewright.quantities import KINDS, read
from dosewright.tables import table
from dosewright_sdk import InProcess, InvalidRequestError
from sites import site


def messages(path: str, request: dict[str, Any]) -> dict[str, str]:
    with pytest.raises(RequestRefused) as refusal:
        run(path, request)
    return {fault.pointer: fault.message for fault in refusal.value.faults}


@pytest.mark.parametrize(
    ("path", "request_", "pointer", "names"),
    [
        ("demand/peak", {"fixtures": [{"fixture": "toilet"}]}, "/fixtures/0/fixture", ["water_closet_tank"]),
        ("demand/peak", {"fixtures": [{"fixture": "sink"}]}, "/fixtures/0/fixture", ["kitchen_sink", "lavatory"]),
        ("pipe/velocity", {"flow": "9 gpm", "material": "pex"}, "/material", ["pex_sdr9"]),
        ("pipe/velocity", {"flow": "9 gpm", "material": "copper"}, "/material", ["copper_type_l", "copper_type_m"]),
        (
            "chlorine/shock",
            {"product": {"kind": "listed", "name": "bleach"}, "free_chlorine": "50 ppm"},
            "/product/name",
            ["household_bleach_6"],
        ),
    ],
)
def test_a_word_of_every_day_is_answered_with_the_names_meant(
    path: str, request_: dict[str, Any], pointer: str, names: list[str]
) -> None:
    message = messages(path, request_)[pointer]
    assert "Did you mean" in message
    assert [name for name in names if name not in message] == []


def test_a_field_of_an_item_is_answered_with_its_place() -> None:
    assert "Use vessels=plain_volume;volume:" in messages("chlorine/shock", {"volume": "100 gal"})["/volume"]


def names_taken(reader: Any) -> set[str]:
    """Every field, name, kind and unit that a request or one of its items takes."""
    taken: set[str] = set()
    for field in reader.fields:
        taken.add(field.name)
        if isinstance(field, ChoiceField):
            taken.update(field.names)
        if isinstance(field, MeasureField):
            taken.update(field.kind.symbols)
        if isinstance(field, ItemsField):
            taken.update(field.readers)
            taken.update(*(names_taken(inner) for inner in field.readers.values()))
    return taken


def test_every_spoken_word_leads_to_a_name_that_a_request_takes() -> None:
    taken = set[str]().union(*(names_taken(reader_for(entry.request)) for entry in calculations().values()))
    for row in table("spoken_names").rows:
        start = row["name"]
        assert any(one == start or (start[-1] == "*" and one.startswith(start[:-1])) for one in taken), row


WORDS = [
    ("pex", "material", ["pex_sdr9"]),
    ("copper", "material", ["copper_type_k", "copper_type_l", "copper_type_m"]),
    ("cpvc", "material", ["cpvc_schedule_40", "cpvc_schedule_80", "cpvc_sdr11"]),
    ("galvanized", "material", ["galvanized_steel_schedule_40", "galvanized_steel_schedule_80"]),
    ("poly", "material", ["pe_sidr7", "pe_dr9"]),
    ("bleach", "product", ["household_bleach_6"]),
    ("pool shock", "product", ["calcium_hypochlorite_65", "calcium_hypochlorite_70"]),
    ("granules", "product", ["calcium_hypochlorite_65"]),
    ("toilet", "fixture", ["water_closet_tank", "water_closet_valve"]),
    ("sink", "fixture", ["kitchen_sink", "lavatory", "laundry_tray"]),
    ("washer", "fixture", ["clothes_washer"]),
    ("bath", "fixture", ["bathtub"]),
    ("showr", "fixture", ["shower"]),
]


@pytest.mark.parametrize(("word", "field", "names"), WORDS)
def test_each_word_is_answered_with_all_that_it_may_mean(word: str, field: str, names: list[str]) -> None:
    asked: dict[str, tuple[str, dict[str, Any], str]] = {
        "material": ("pipe/velocity", {"flow": "9 gpm", "material": word}, "/material"),
        "product": (
            "chlorine/feed",
            {"flow": "9 gpm", "free_chlorine": "1 ppm", "product": {"kind": "listed", "name": word}},
            "/product/name",
        ),
        "fixture": ("demand/peak", {"fixtures": [{"fixture": word}]}, "/fixtures/0/fixture"),
    }
    path, request, pointer = asked[field]
    message = messages(path, request)[pointer]
    assert [name for name in names if name not in message] == []


@pytest.mark.parametrize(
    ("word", "kinds"), [("bleach", ["listed", "liquid"]), ("pool shock", ["granules"]), ("liquids", ["liquid"])]
)
def test_an_unknown_kind_is_answered_with_the_kinds_meant(word: str, kinds: list[str]) -> None:
    message = messages("chlorine/product", {"product": {"kind": word}})["/product/kind"]
    assert [kind for kind in kinds if repr(kind)[1:-1] not in message.partition("Did you mean")[2]] == []


def test_a_column_of_names_says_what_each_may_mean() -> None:
    answer = run_batch(
        "pipe/velocity", {"flow": "9 gpm", "nominal_size": "1", "material": ["pex_sdr9", "copper", "pex"]}
    )
    found = {tuple(fault.rows or []): fault.message for fault in answer.errors}
    assert "copper_type_k, copper_type_l, copper_type_m" in found[1,]
    assert "'pex_sdr9'" in found[2,]


@pytest.mark.parametrize(
    ("field", "text", "guess"),
    [
        ("flow", "9 gallons per minute", "gal/min"),
        ("bore", "1 in.", "in"),
        ("length", "9 ft.", "ft"),
        ("static_pressure", "40 psig", "psi"),
        ("water_temperature", "50 deg F", "degF"),
    ],
)
def test_an_unknown_unit_is_answered_with_the_one_meant(field: str, text: str, guess: str) -> None:
    request = {"flow": "9 gpm", "bore": "20 mm", "length": "9 ft", field: text}
    assert f"Did you mean {guess!r}?" in messages("pipe/velocity", request)[f"/{field}"]


@pytest.mark.parametrize(
    ("kind", "texts"),
    [
        ("flow", ["9 gpm"]),
        ("concentration", ["9 ppm"]),
        ("pressure", ["9 psi"]),
        ("length", ["9 ft", "9 inch"]),
        ("hardness", ["9 gpg", "9 ppm"]),
        ("temperature", ["9 degF"]),
    ],
)
def test_units_that_people_type_are_read(kind: str, texts: list[str]) -> None:
    for text in texts:
        assert read(text, KINDS[kind], None)[0] == 9.0


@pytest.mark.parametrize(
    ("path", "field", "place"),
    [
        ("pipe/velocity", "hold_time", "chlorine/shock"),
        ("demand/peak", "arc_length", "uv/derated-flow"),
        ("uv/transmittance", "water_column", "chlorine/shock (vessels)"),
        ("site/plan", "chamber_bore", "section equipment"),
        ("chlorine/shock", "water_column", "Use vessels=drilled_casing;water_column:"),
    ],
)
def test_a_field_unknown_here_is_answered_with_where_it_belongs(path: str, field: str, place: str) -> None:
    assert place in messages(path, {**find(path).example, field: "24 h"})[f"/{field}"]


def test_a_misspelt_keyword_is_the_same_fault_as_over_http() -> None:
    door: Any = InProcess()
    for call, kind in ((door.pipe.velocity, "9 gal/min"), (door.pipe.velocity_batch, ["9 gal/min"])):
        with pytest.raises(InvalidRequestError) as refusal:
            call(flw=kind, bore="20 mm")
        found = {fault.pointer: fault.message for fault in refusal.value.faults}
        assert "Did you mean 'flow'?" in found["/flw"]
        assert "/flow" in found


def test_all_faults_of_a_plan_come_at_once() -> None:
    request = site("cottage")
    request["peak_flw"] = "9 gal/min"
    request["water_test"]["irn"] = "1 mg/L"
    request["equipment"][0]["uvt"] = "0.8"
    request["demand"] = {"fixtures": [{"fixture": "toilet"}, {"fixture": "shower", "cont": 2}]}
    request["chlorination"]["vessels"].append({"kind": "pipe", "length": "3 m"})
    request["plumbing"]["segments"].append({"kind": "fitting"})
    request["commissioning"]["line_volum"] = "3 gal"
    found = messages("site/plan", request)
    assert {
        "/peak_flw",
        "/water_test/irn",
        "/equipment/0/uvt",
        "/demand/fixtures/0/fixture",
        "/demand/fixtures/1/cont",
        "/plumbing/segments/6",
        "/commissioning/line_volum",
    } <= set(found)
    assert any(pointer.startswith("/chlorination/vessels/6/") for pointer in found)


PIPE = {"kind": "pipe", "length": "3 m"}
CONTROLS = {"kind": "controls", "width": "250 mm", "height": "200 mm", "depth": "120 mm"}
TANK = {"kind": "pressure_tank", "volume": "80 gal", "fill": "45 %", "precharge": "38 psi"}


@pytest.mark.parametrize(
    ("path", "changes", "pointer"),
    [
        ("pipe/volume", {"vessels": [{"kind": "tnk"}, TANK]}, "/vessels/1/fill"),
        ("chlorine/shock", {"vessels": ["tank", PIPE]}, "/vessels/1/bore"),
        ("pipe/pressure-drop", {"segments": [{"kind": "pip"}, {"kind": "fitting"}]}, "/segments/1"),
        ("pipe/largest-flow", {"segments": [7, {"kind": "device"}]}, "/segments/1"),
        ("demand/peak", {"fixtures": [{"fixture": "shower", "count": "x"}, {"count": 1}]}, "/fixtures/1/fixture"),
        ("demand/peak", {"fixtures": [7, {"fixture": "shower", "count": 1.5}]}, "/fixtures/1/count"),
        ("site/condensation", {"surfaces": [{"kind": "pip"}, {"kind": "pipe"}]}, "/surfaces/1/outer_diameter"),
        (
            "uv/uncertainty",
            {"spreads": [{"kind": "no"}, *({"kind": "range", "of": "uvt", "low": 0.9, "high": 1} for _ in "ab")]},
            "/spreads/2/of",
        ),
        ("uv/derated-flow", {"units_in_parallel": "x", "units_in_series": 1.5}, "/units_in_series"),
        ("uv/uncertainty", {"draws": "x", "seed": 1.5}, "/seed"),
        ("site/upkeep", {"media": [7, {"kind": "cartridge", "purpose": "sediment"}]}, "/media/1/rated_volume"),
        (
            "chlorine/retest",
            {"samples": [7, *({"taken_after": time, "coliform": "absent"} for time in ("9 d", "8 d"))]},
            "/samples/2/taken_after",
        ),
        ("site/clearance", {"devices": [7, *[CONTROLS] * 4]}, "/devices/4/kind"),
    ],
)
def test_an_item_that_cannot_be_read_does_not_hide_the_next(path: str, changes: dict[str, Any], pointer: str) -> None:
    found = messages(path, {**find(path).example, **changes})
    assert pointer in found
    assert len(found) > 1
