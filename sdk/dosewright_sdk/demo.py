"""The main job on an invented cottage: a real service on a free port, called through the client, printed as text.

``dosewright demo`` runs it.
"""

import os
import signal
import socket
import subprocess
import sys
import textwrap
import time
import tomllib
from collections.abc import Generator, Mapping, Sequence
from contextlib import contextmanager
from importlib.resources import files
from typing import Any, NamedTuple

from dosewright_sdk.clients import DEFAULT_ADDRESS, Client
from dosewright_sdk.errors import DosewrightError

__all__ = ["main"]

_WIDTH = 100
_START_SECONDS = 20.0
_UNIT, _CHLORINE, _PLUMBING = "The ultraviolet unit", "The chlorination", "The plumbing"


def main() -> int:
    """Run the demonstration; returns the exit status."""
    site = tomllib.loads((files("dosewright_sdk") / "demo_cottage.toml").read_text(encoding="utf-8"))
    with _service() as address, Client(address) as client:
        _print(f"{site['name']}: {site['note']}", underline="=")
        _print(f"The service answers at {address}; it stops when this is done.")
        questions = _Questions(client)
        _dose(questions, site)
        _derated_flow(questions, site)
        _chlorination(questions, site)
        _plumbing(questions, site)
        _remarks(questions.done)
        _addresses(questions.done)
    print("\nThe service has stopped.")
    return 0


class _Question(NamedTuple):
    """One question: the work it belongs to, its path and inputs, and what was answered."""

    work: str
    path: str
    inputs: Mapping[str, Any]
    answer: Any


class _Questions:
    """Calls the service, and records the calls so that they can be printed at the end."""

    def __init__(self, client: Client) -> None:
        self._client = client
        self.done: list[_Question] = []

    def ask(self, work: str, path: str, **inputs: Any) -> Any:
        """Ask one calculation by its path."""
        topic, name = path.replace("-", "_").split("/")
        answer = getattr(getattr(self._client, topic), name)(**inputs)
        self.done.append(_Question(work, path, inputs, answer))
        return answer


@contextmanager
def _service() -> Generator[str]:
    """Start ``dosewright serve`` on a free loopback port, and stop it as an operator would."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "dosewright", "serve", "--port", str(port), "--log-level", "warning"]
    process = subprocess.Popen(command, env={**os.environ, "PYTHONUNBUFFERED": "1"})  # noqa: S603 - our own command
    try:
        _wait_for(process, port)
        yield f"http://127.0.0.1:{port}"
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(30)


def _wait_for(process: "subprocess.Popen[bytes]", port: int) -> None:
    deadline = time.monotonic() + _START_SECONDS
    while time.monotonic() < deadline and process.poll() is None:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=0.2).close()
        except OSError:
            time.sleep(0.05)
        else:
            return
    raise DosewrightError("The service did not start.")


def _dose(questions: _Questions, site: Mapping[str, Any]) -> None:
    answer = questions.ask(
        _UNIT,
        "uv/dose",
        **site["chamber"],
        **site["lamp"],
        uvt=site["water"]["uvt"],
        flow=site["demand"]["peak_flow"],
        water_temperature=site["water"]["temperature"],
        hydraulics="plug_flow",
    )
    _heading("What dose does the chamber give at the peak demand?")
    _line("Flow, UVT of the water", f"{site['demand']['peak_flow']}, {site['water']['uvt']} per cm")
    _line("Lamp ageing factor, sleeve fouling factor", _factors(site["lamp"]))
    _line("Mean fluence rate", _number(answer, "mean_fluence_rate"))
    _line("Residence time", _number(answer, "residence_time"))
    _line("Mean dose (rate x time)", f"{_number(answer, 'mean_dose')}, if all water gets the same dose")
    verdict = "met" if answer.meets_target else "missed"
    _line("Target dose", f"{site['lamp']['target_dose']}: {verdict} (calculated, not validated)")


def _derated_flow(questions: _Questions, site: Mapping[str, Any]) -> None:
    chamber = {name: value for name, value in site["chamber"].items() if name != "uvc_output"}
    (point,) = site["rated_points"]
    answer = questions.ask(
        _UNIT,
        "uv/derated-flow",
        **chamber,
        **site["lamp"],
        uvt=site["water"]["uvt"],
        rated_points=site["rated_points"],
        peak_flow=site["demand"]["peak_flow"],
        units="us",
    )
    there = questions.ask(
        _UNIT,
        "uv/dose",
        **site["chamber"],
        uvt=point["uvt"],
        flow=point["rated_flow"],
        lamp_ageing_factor=point["lamp_ageing_factor"],
        sleeve_fouling_factor=point["sleeve_fouling_factor"],
        target_dose=point["dose"],
        hydraulics="plug_flow",
    )
    _heading("How much is left of the rated flow, and does it cover the peak demand?")
    _line("Data sheet: flow, UVT", f"{point['rated_flow']}, {point['uvt']} per cm")
    _line("Data sheet: lamp ageing factor, sleeve fouling factor", _factors(point))
    _line("Data sheet: dose", f"{point['dose']}; the chamber calculates {_number(there, 'mean_dose')} there")
    for step in answer.steps:
        _line(
            step.meaning.rstrip(".").split(":")[0],
            f"x {step.factor:.3f}  ->  {step.flow:.2f} {answer.units['steps.flow']}",
        )
    covered = "covers" if answer.covers_peak_flow else "DOES NOT COVER"
    _line("Derated flow", f"{_number(answer, 'derated_flow')}: {covered} the peak of {site['demand']['peak_flow']}")
    _line("Flow margin", _number(answer, "flow_margin"))
    _print(
        "Use the derated flow: it comes from the data sheet's dose. The dose calculated from the chamber assumes "
        "perfectly even flow. Real flow is uneven and gives less."
    )


def _factors(condition: Mapping[str, Any]) -> str:
    return f"{condition['lamp_ageing_factor']}, {condition['sleeve_fouling_factor']}"


def _chlorination(questions: _Questions, site: Mapping[str, Any]) -> None:
    water, given = site["water"], site["chlorination"]
    answer = questions.ask(
        _CHLORINE,
        "chlorine/shock",
        **given,
        chlorine_demand=water["chlorine_demand"],
        ph=water["ph"],
        water_temperature=water["temperature"],
        units="us",
    )
    _heading("How much hypochlorite is needed, and how long must it stay in?")
    for vessel in answer.vessels:
        _line(vessel.kind.replace("_", " "), f"{vessel.volume:.1f} {answer.units['vessels.volume']}")
    _line("Together", _number(answer, "volume", digits=4))
    _line("Free chlorine required, chlorine demand", f"{given['free_chlorine']}, {water['chlorine_demand']}")
    _line(f"Product, {given['product']['sodium_hypochlorite']} by weight", _number(answer, "product_volume"))
    for measure in answer.measures:
        unit = answer.units["measures.free_chlorine"]
        system = measure.system.replace("_", " ")
        _line(f"  to measure out ({system})", f"{measure.measure}  ->  {measure.free_chlorine:.1f} {unit}")
    _line("Hypochlorous acid share", _number(answer, "hypochlorous_acid_share"))
    if answer.hold_time is not None:
        _line("Hold", f"{answer.hold_time / 60:.3g} h, by the rule: {answer.rule}")
        _line("CT reached, if the free chlorine lasts", _number(answer, "ct_achieved"))
    _line("Before discharging where it could do harm, neutralise with", _neutraliser(answer))
    _line("Flush with", _number(answer, "flush_volume"))


def _neutraliser(answer: Any) -> str:
    given = answer.neutraliser
    return f"{given.mass:.3g} {answer.units['neutraliser.mass']} of {given.agent}"


def _plumbing(questions: _Questions, site: Mapping[str, Any]) -> None:
    plumbing, flow = site["plumbing"], site["demand"]["peak_flow"]
    temperature = site["water"]["temperature"]
    speed = questions.ask(
        _PLUMBING,
        "pipe/velocity",
        flow=flow,
        material=plumbing["material"],
        nominal_size=plumbing["nominal_size"],
        water_temperature=temperature,
        units="us",
    )
    drop = questions.ask(
        _PLUMBING,
        "pipe/pressure-drop",
        flow=flow,
        segments=plumbing["segments"],
        inlet_pressure=plumbing["inlet_pressure"],
        water_temperature=temperature,
        units="us",
    )
    _heading("Does the plumbing carry the peak demand?")
    limit = _number(speed, "velocity_limit")
    _line("Velocity in the pipe", f"{_number(speed, 'velocity')} (limit {limit}), {speed.regime}")
    for name, segment in zip(plumbing["names"], drop.segments, strict=True):
        _line(f"  {name}", f"{segment.pressure_drop:.2f} {drop.units['segments.pressure_drop']}")
    _line("Pressure drop of the run", _number(drop, "pressure_drop"))
    _line(f"Outlet pressure, from {plumbing['inlet_pressure']}", _number(drop, "outlet_pressure"))


def _remarks(questions: Sequence[_Question]) -> None:
    _heading("Warnings")
    _by_work("!", questions, "warnings")
    _heading("Cautions")
    _by_work("*", questions, "cautions")


def _by_work(mark: str, questions: Sequence[_Question], kind: str) -> None:
    """Print each remark once, under the work where it first occurs."""
    printed: set[str] = set()
    for work in dict.fromkeys(question.work for question in questions):
        answers = [question.answer for question in questions if question.work == work]
        messages = dict.fromkeys(remark.message for answer in answers for remark in getattr(answer, kind))
        new = [message for message in messages if message not in printed]
        if new:
            _print(f"{work}:")
        for message in new:
            _print(f"{mark} {message}", indent="  ")
        printed.update(new)


def _addresses(questions: Sequence[_Question]) -> None:
    # Neither addresses nor lines of Python are wrapped, so that each can be copied whole.
    _heading("How to repeat this (start the service with: dosewright serve)")
    for question in questions:
        print(f"{DEFAULT_ADDRESS}{question.answer.question}")
    _heading("From Python, without a service")
    print("from dosewright_sdk import InProcess\ndosewright = InProcess()")
    for question in questions:
        call = question.path.replace("-", "_").replace("/", ".")
        inputs = ", ".join(f"{name}={value!r}" for name, value in question.inputs.items())
        print(f"print(dosewright.{call}({inputs}))")


def _heading(text: str) -> None:
    print()
    _print(text, underline="-")


def _print(text: str, *, underline: str = "", indent: str = "") -> None:
    print(textwrap.fill(text, _WIDTH, subsequent_indent=indent))
    if underline:
        print(underline * min(len(text), _WIDTH))


def _line(name: str, value: str) -> None:
    print(f"  {name:<62} {value}")


def _number(answer: Any, field: str, *, digits: int = 3) -> str:
    value = getattr(answer, field)
    if value is None:
        return "not known"
    # Whole numbers are written out, not as powers of ten.
    shown = f"{value:.{digits}g}" if abs(value) < 10.0**digits else f"{value:,.0f}".replace(",", " ")
    return f"{shown} {answer.units.get(field, '').replace('_', ' ')}".rstrip()
