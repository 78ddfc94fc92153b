// First day with the service, from Node (18 or newer, nothing to install): five questions of a water treatment job.
//   dosewright serve &        node sdk/examples/first_day.mjs [address]
// The house is invented. For TypeScript let a generator write the types from /openapi.json, for example:
//   npx openapi-typescript http://127.0.0.1:8254/openapi.json --output dosewright.d.ts
const address = process.argv[2] ?? "http://127.0.0.1:8254";
const RETRIED = new Set([429, 502, 503, 504]);

async function ask(calculation, question) {
  // Every answer is pure, so asking again is safe.
  for (let attempt = 1; ; attempt += 1) {
    const reply = await fetch(`${address}/v1/${calculation}`, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify(question),
      signal: AbortSignal.timeout(30_000),
    });
    if (reply.ok) return reply.json();
    if (RETRIED.has(reply.status) && attempt < 3) {
      await new Promise((resolve) => setTimeout(resolve, 250 * 2 ** attempt));
      continue;
    }
    // Problem details: every fault with its field, what is allowed and how to fix it. A gateway can answer differently.
    const isProblem = reply.headers.get("content-type")?.startsWith("application/problem+json");
    const problem = isProblem ? await reply.json() : { detail: await reply.text() };
    const faults = (problem.errors ?? []).map((fault) => `${fault.pointer} ${fault.code}: ${fault.message}`);
    throw new Error([`${reply.status} ${problem.detail}`, ...faults].join("\n"), { cause: problem });
  }
}

async function show(calculation, fields, question) {
  const answer = await ask(calculation, question);
  for (const field of fields) console.log(`${calculation} ${field} = ${answer[field]} ${answer.units[field]}`);
  // Show these to whoever does the work: warnings and dangers.
  for (const { message } of answer.warnings) console.log("!", message);
  for (const { message } of answer.cautions) console.log("*", message);
}

const chamber = {
  chamber_bore: "90 mm",
  sleeve_outer_diameter: "26 mm",
  sleeve_wall: "1.5 mm",
  arc_length: { value: 790, unit: "mm" }, // a value and its unit can also be separate
  chamber_length: "840 mm",
  sleeve_transmittance: "90 %",
  lamp_ageing_factor: "80 %",
  sleeve_fouling_factor: "88 %",
  target_dose: "40 mJ/cm2",
  uvt: "87 %",
};
await show("uv/dose", ["mean_dose"], {
  ...chamber,
  uvc_output: "24 W",
  flow: "8 gal/min",
  water_temperature: "8 degC",
  hydraulics: "plug_flow",
});
const rated = { rated_flow: "52 L/min", uvt: "95 %", dose: "40 mJ/cm2" };
await show("uv/derated-flow", ["derated_flow"], {
  ...chamber,
  rated_points: [{ ...rated, lamp_ageing_factor: "80 %", sleeve_fouling_factor: "100 %" }],
  peak_flow: "8 gal/min",
  units: "us",
});
await show("chlorine/shock", ["product_volume", "hold_time"], {
  vessels: [
    { kind: "drilled_casing", diameter: "6 in", well_depth: "165 ft", water_level: "38 ft" },
    { kind: "pressure_tank", volume: "32 gal", fill: "45 %" },
    { kind: "pipe", material: "copper_type_l", nominal_size: "3/4", length: "70 ft" },
  ],
  product: { kind: "liquid", sodium_hypochlorite: "6 %" },
  free_chlorine: "100 mg/L",
  chlorine_demand: "1.5 mg/L",
  ph: 7.3,
  water_temperature: "8 degC",
  units: "us",
});
const pipe = { material: "copper_type_l", nominal_size: "3/4" };
await show("pipe/velocity", ["velocity"], { flow: "8 gal/min", ...pipe, units: "us" });
await show("pipe/pressure-drop", ["outlet_pressure"], {
  flow: "8 gal/min",
  segments: [
    { kind: "pipe", ...pipe, length: "34 ft" },
    { kind: "fitting", fitting: "elbow_90", count: 7 },
    { kind: "device", rated_points: [{rated_flow: "10 gal/min", pressure_drop: "3 psi"}] },
    { kind: "elevation", elevation_change: "7 ft" },
  ],
  inlet_pressure: "45 psi",
  units: "us",
});

// An invalid request.
await ask("pipe/velocity", { flow: "8 gal", bore: "20 mm" }).catch((error) => console.log(`invalid: ${error.message}`));
