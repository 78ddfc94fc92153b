"""Golden derating curves and those of uv/derating-curve in one picture a chamber, to be looked at.

Run: python tests/bench/golden_curves.py [directory]
"""

import csv
import sys
from pathlib import Path

import numpy as np

from dosewright.engine.run import run
from dosewright.present.picture.chart import Axis, Chart, Line, Mark
from dosewright.present.picture.rendering import render

GOLDEN = Path(__file__).parents[1] / "reference" / "uv_golden.csv"
UVTS = np.concatenate([np.linspace(60.0, 98.0, 39), np.linspace(98.2, 99.9, 18)])
SHOWN = (
    ("refracted_line", "plug_flow", "main", "refracted"),
    ("line_source", "plug_flow", "second", "plain line"),
    ("radial", "plug_flow", "faint", "radial"),
    ("refracted_line", "tanks_in_series", "main", "3 tanks"),
    ("refracted_line", "laminar", "second", "laminar"),
)
PASSAGES = {
    "plug_flow": {},
    "tanks_in_series": {"tanks": "3", "inactivation_rate": "0.12 cm2/mJ"},
    "laminar": {"inactivation_rate": "0.12 cm2/mJ"},
}


def chart(name, rows):
    """One chamber: lines by the calculation, marks by the golden file."""
    lines, marks, worst = [], [], 0.0
    for model, hydraulics, role, said in SHOWN:
        golden = [row for row in rows if (row["field_model"], row["hydraulics"]) == (model, hydraulics)]
        first = golden[0]
        asked = {
            "chamber_bore": f"{first['bore']} mm",
            "sleeve_outer_diameter": f"{first['sleeve']} mm",
            "arc_length": f"{first['arc']} mm",
            "chamber_length": f"{first['length']} mm",
            "uvc_output": f"{first['output']} W",
            "lamp_ageing_factor": "80 %",
            "sleeve_fouling_factor": "85 %",
            "field_model": model,
            "hydraulics": hydraulics,
            "uvt": "90 %",
            **PASSAGES[hydraulics],
        }

        def flows(uvts, asked=asked):
            texts = ", ".join(repr(float(uvt)) for uvt in uvts)
            answer = run("uv/derating-curve", {**asked, "uvts": f"{texts} %"})
            return np.array([point.derated_flow for point in answer.by_uvt])

        lines.append(Line(UVTS, flows(UVTS), said, role))
        places = np.array([float(row["uvt"]) for row in golden])
        known = np.array([float(row["derated_flow"]) for row in golden])
        worst = max(worst, float(np.max(np.abs(flows(places) / known - 1.0))))
        marks += [Mark(place, flow, "", "note") for place, flow in zip(places, known, strict=True)]
    size = f"bore {first['bore']} mm, sleeve {first['sleeve']} mm, arc {first['arc']} mm, {first['output']} W"
    print(f"{name}: farthest from the golden file {worst:.1e}")
    return Chart(
        title=f"Golden derating curves, {name} chamber",
        description=f"{size}. Lines: uv/derating-curve. Dots: rays followed one by one in mpmath.",
        x=Axis("UVT over 1 cm at 254 nm", "%", low=60.0, high=100.0),
        y=Axis("flow for 40 mJ/cm²", "L/min", low=0.0),
        lines=tuple(lines),
        marks=tuple(marks),
        key=(
            f"{size}. Dots: golden file.",
            "From above at 90 %: plain line, refracted and radial in plug flow; laminar and 3 tanks are refracted.",
        ),
    )


def main():
    """Draw and print."""
    directory = Path(sys.argv[1] if len(sys.argv) > 1 else ".")
    with GOLDEN.open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    for name in dict.fromkeys(row["chamber"] for row in rows):
        path = directory / f"golden_{name}.png"
        path.write_bytes(render(chart(name, [row for row in rows if row["chamber"] == name]), "png"))
        print(path)


if __name__ == "__main__":
    main()
