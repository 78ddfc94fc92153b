#!/usr/bin/env bash
# First day with the service, from a shell: the five questions of a water treatment job, with curl.
#   dosewright serve &        sdk/examples/first_day.sh [address]
# The house is invented. A quantity is a text with its unit; `pick` takes one value out of the answer.
set -euo pipefail
address=${1:-http://127.0.0.1:8254}

ask() { # calculation, value to show, question
  # A calculation has no side effects, so curl can retry. An error (4xx) stops the script and shows why.
  curl --silent --show-error --fail-with-body --max-time 30 --retry 2 \
    --header 'content-type: application/json' --data "$3" "$address/v1/$1?pick=$2"
}
show() { printf '%s %s = %s %s\n' "$1" "$2" "$(ask "$1" "$2" "$3")" "$(ask "$1" "units.$2" "$3")"; }

dose='{"chamber_bore": "90 mm", "sleeve_outer_diameter": "26 mm", "sleeve_wall": "1.5 mm", "arc_length": "790 mm",
  "chamber_length": "840 mm", "uvc_output": "24 W", "sleeve_transmittance": "90 %", "lamp_ageing_factor": "80 %",
  "sleeve_fouling_factor": "88 %", "uvt": "87 %", "flow": "8 gal/min", "water_temperature": "8 degC",
  "target_dose": "40 mJ/cm2", "hydraulics": "plug_flow"}'
derated='{"rated_points": [{"rated_flow": "52 L/min", "uvt": "95 %", "dose": "40 mJ/cm2", "lamp_ageing_factor": "80 %",
  "sleeve_fouling_factor": "100 %"}], "chamber_bore": "90 mm", "sleeve_outer_diameter": "26 mm",
  "sleeve_wall": "1.5 mm", "arc_length": "790 mm", "chamber_length": "840 mm", "sleeve_transmittance": "90 %",
  "lamp_ageing_factor": "80 %", "sleeve_fouling_factor": "88 %", "uvt": "87 %", "target_dose": "40 mJ/cm2",
  "peak_flow": "8 gal/min", "units": "us"}'
chlorine='{"vessels": [{"kind": "drilled_casing", "diameter": "6 in", "well_depth": "165 ft", "water_level": "38 ft"},
  {"kind": "pressure_tank", "volume": "32 gal", "fill": "45 %"},
  {"kind": "pipe", "material": "copper_type_l", "nominal_size": "3/4", "length": "70 ft"}],
  "product": {"kind": "liquid", "sodium_hypochlorite": "6 %"}, "free_chlorine": "100 mg/L",
  "chlorine_demand": "1.5 mg/L", "ph": 7.3, "water_temperature": "8 degC", "units": "us"}'
velocity='{"flow": "8 gal/min", "material": "copper_type_l", "nominal_size": "3/4", "units": "us"}'
drop='{"flow": "8 gal/min", "inlet_pressure": "45 psi", "units": "us", "segments": [
  {"kind": "pipe", "material": "copper_type_l", "nominal_size": "3/4", "length": "34 ft"},
  {"kind": "fitting", "fitting": "elbow_90", "count": 7},
  {"kind": "device", "rated_points": [{"rated_flow": "10 gal/min", "pressure_drop": "3 psi"}]},
  {"kind": "elevation", "elevation_change": "7 ft"}]}'

show uv/dose mean_dose "$dose"
show uv/derated-flow derated_flow "$derated"
show chlorine/shock product_volume "$chlorine"
show chlorine/shock hold_time "$chlorine"
show pipe/velocity velocity "$velocity"
show pipe/pressure-drop outlet_pressure "$drop"

# Show these to whoever does the work: warnings and dangers.
echo "! $(ask chlorine/shock warnings "$chlorine")"
echo "* $(ask chlorine/shock cautions "$chlorine")"

# An invalid request: 422, and for each fault its field, what is allowed and how to fix it.
echo "invalid: $(curl --silent --header 'content-type: application/json' --data '{"flow": "8 gal", "bore": "20 mm"}' \
  "$address/v1/pipe/velocity")"
