"""The main job on an invented cottage: a real service on a free port, asked through the client, told as a person reads.

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
from typing import Any

from dosewright.contracts.base import Answer
from dosewright_sdk.clients import DEFAULT_ADDRESS, Client
from dosewright_sdk.errors import DosewrightError

__all__ = ["main"]

_WIDTH = 100
_START_SECONDS = 20.0


def main() -> int:
    """Run the demonstration; returns the exit status."""
    site = tomllib.loads((files("dosewright_sdk") / "demo_cottage.toml").read_text(encoding="utf-8"))
    with _service() as address, Client(address) as client:
        _tell(f"{site['name']}: {site['note']}", underline="=")
        _tell(f"The service answers at {address}; it stops when this is done.")
        answers = (
            _dose(client, site) + _derated_flow(client, site) + _chlorination(client, site) + _plumbing(client, site)
        )
        _remarks(answers)
        _addresses(answers)
    print("\nThe service has stopped.")
    return 0


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


def _dose(client: Client, site: Mapping[str, Any]) -> list[Answer]:
    answer = client.uv.dose(
        **site["chamber"],
        **site["lamp"],
        uvt=site["water"]["uvt"],
        flow=site["demand"]["peak_flow"],
        water_temperature=site["water"]["temperature"],
        hydraulics="plug_flow",
    )
    _heading("What dose does the chamber give at the peak demand?")
    _line("Flow, UVT of the water", f"{site['demand']['peak_flow']}, {site['water']['uvt']} per cm")
    _line("Mean fluence rate", _number(answer, "mean_fluence_rate"))
    _line("Residence time", _number(answer, "residence_time"))
    _line("Mean dose, mixed plug flow", _number(answer, "mean_dose"))
    verdict = "met" if answer.meets_target else "missed"
    _line("Target dose", f"{site['lamp']['target_dose']}: {verdict} (calculated, not validated)")
    return [answer]


def _derated_flow(client: Client, site: Mapping[str, Any]) -> list[Answer]:
    chamber = {name: value for name, value in site["chamber"].items() if name != "uvc_output"}
    answer = client.uv.derated_flow(
        **chamber,
        **site["lamp"],
        uvt=site["water"]["uvt"],
        rated_points=site["rated_points"],
        peak_flow=site["demand"]["peak_flow"],
        units="us",
    )
    _heading("How far does the rated flow fall, and does it cover the peak demand?")
    for step in answer.steps:
        _line(step.meaning.rstrip("."), f"x {step.factor:.3f}  ->  {step.flow:.2f} {answer.units['steps.flow']}")
    covered = "covers" if answer.covers_peak_flow else "DOES NOT COVER"
    _line("Derated flow", f"{_number(answer, 'derated_flow')}: {covered} the peak of {site['demand']['peak_flow']}")
    _line("Head-room", _number(answer, "head_room"))
    return [answer]


def _chlorination(client: Client, site: Mapping[str, Any]) -> list[Answer]:
    water = site["water"]
    answer = client.chlorine.batch(
        **site["chlorination"],
        chlorine_demand=water["chlorine_demand"],
        ph=water["ph"],
        water_temperature=water["temperature"],
        units="us",
    )
    _heading("How much hypochlorite, and how long must it stand?")
    for vessel in answer.vessels:
        _line(vessel.kind.replace("_", " "), f"{vessel.volume:.1f} {answer.units['vessels.volume']}")
    _line("Together", _number(answer, "volume"))
    _line("Product, 6 % by weight", _number(answer, "product_volume"))
    for measure in answer.measures:
        unit = answer.units["measures.free_chlorine"]
        system = measure.system.replace("_", " ")
        _line(f"  to measure out ({system})", f"{measure.measure}  ->  {measure.free_chlorine:.1f} {unit}")
    _line("Share present as HOCl", _number(answer, "hypochlorous_acid_share"))
    if answer.hold_time is not None:
        _line("Hold", f"{answer.hold_time / 60:.3g} h, by the rule: {answer.rule}")
    _line("Flush with", _number(answer, "flush_volume"))
    return [answer]


def _plumbing(client: Client, site: Mapping[str, Any]) -> list[Answer]:
    plumbing, flow = site["plumbing"], site["demand"]["peak_flow"]
    temperature = site["water"]["temperature"]
    speed = client.pipe.velocity(
        flow=flow,
        material=plumbing["material"],
        nominal_size=plumbing["nominal_size"],
        water_temperature=temperature,
        units="us",
    )
    drop = client.pipe.pressure_drop(
        flow=flow,
        segments=plumbing["segments"],
        inlet_pressure=plumbing["inlet_pressure"],
        water_temperature=temperature,
        units="us",
    )
    _heading("Does the plumbing pass the peak demand?")
    limit = _number(speed, "velocity_limit")
    _line("Velocity in the pipe", f"{_number(speed, 'velocity')} (limit {limit}), {speed.regime}")
    for given, segment in zip(plumbing["segments"], drop.segments, strict=True):
        name = " ".join([given["kind"], given.get("fitting", "")]).strip().replace("_", " ")
        _line(f"  {name}", f"{segment.pressure_drop:.2f} {drop.units['segments.pressure_drop']}")
    _line("Pressure drop of the run", _number(drop, "pressure_drop"))
    _line(f"Left of {plumbing['inlet_pressure']}", _number(drop, "outlet_pressure"))
    return [speed, drop]


def _remarks(answers: Sequence[Answer]) -> None:
    _heading("Warnings: look at these")
    for message in dict.fromkeys(warning.message for answer in answers for warning in answer.warnings):
        _tell(f"! {message}", indent="  ")
    _heading("Cautions: dangers in the work")
    for message in dict.fromkeys(caution.message for answer in answers for caution in answer.cautions):
        _tell(f"* {message}", indent="  ")


def _addresses(answers: Sequence[Answer]) -> None:
    _heading("The same questions again (start the service with: dosewright serve)")
    for answer in answers:
        # Not wrapped, so that an address can be copied whole.
        print(f"{DEFAULT_ADDRESS}{answer.question}")
    _heading("From Python, without a service")
    call = "InProcess().pipe.velocity(flow='8 gal/min', material='copper_type_l', nominal_size='3/4', units='us')"
    print(f'python -c "from dosewright_sdk import InProcess; print({call}.velocity)"')


def _heading(text: str) -> None:
    print()
    _tell(text, underline="-")


def _tell(text: str, *, underline: str = "", indent: str = "") -> None:
    print(textwrap.fill(text, _WIDTH, subsequent_indent=indent))
    if underline:
        print(underline * min(len(text), _WIDTH))


def _line(name: str, value: str) -> None:
    print(f"  {name:<62} {value}")


def _number(answer: Answer, field: str) -> str:
    value = getattr(answer, field)
    return "not known" if value is None else f"{value:.4g} {answer.units.get(field, '')}".rstrip()
