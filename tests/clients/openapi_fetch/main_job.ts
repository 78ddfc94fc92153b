// The main job through openapi-fetch and the types that openapi-typescript writes: five questions, answers as JSON.
import createClient from "openapi-fetch";
import type { components, paths } from "./schema.js";

type Problem = components["schemas"]["Problem"];

// Answers also come as CSV, HTML and more; naming JSON (and problem+json) leaves one type an answer, one a refusal.
const client = createClient<paths, `application/${string}json`>({ baseUrl: process.argv[2] });

function answered<T>(reply: { data?: T; error?: Problem }): T {
  if (reply.data === undefined) {
    throw new Error(reply.error?.errors?.map((fault) => `${fault.pointer}: ${fault.message}`).join("\n"));
  }
  return reply.data;
}

const chamber = {
  chamber_bore: "90 mm",
  sleeve_outer_diameter: "26 mm",
  sleeve_wall: "1.5 mm",
  arc_length: { value: 790, unit: "mm" },
  chamber_length: "840 mm",
  sleeve_transmittance: "90 %",
  lamp_ageing_factor: "80 %",
  sleeve_fouling_factor: "88 %",
  target_dose: "40 mJ/cm2",
  uvt: "87 %",
} satisfies Partial<components["schemas"]["UvDoseRequest"]>;

const dose = answered(
  await client.POST("/v1/uv/dose", {
    body: { ...chamber, uvc_output: "24 W", flow: "8 gal/min", water_temperature: "8 degC", hydraulics: "plug_flow" },
  }),
);

const derated = answered(
  await client.POST("/v1/uv/derated-flow", {
    body: {
      ...chamber,
      rated_points: [
        {
          rated_flow: "52 L/min",
          uvt: "95 %",
          dose: "40 mJ/cm2",
          lamp_ageing_factor: "80 %",
          sleeve_fouling_factor: "100 %",
        },
      ],
      peak_flow: 8,
      units: "us",
    },
  }),
);

const chlorination = answered(
  await client.POST("/v1/chlorine/batch", {
    body: {
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
    },
  }),
);

const velocity = answered(
  await client.POST("/v1/pipe/velocity", {
    body: { flow: "8 gal/min", material: "copper_type_l", nominal_size: "3/4", units: "us" },
  }),
);

const drop = answered(
  await client.POST("/v1/pipe/pressure-drop", {
    body: {
      flow: "8 gal/min",
      segments: [
        { kind: "pipe", material: "copper_type_l", nominal_size: "3/4", length: "34 ft" },
        { kind: "fitting", fitting: "elbow_90", count: 7 },
        { kind: "device", rated_points: [{rated_flow: "10 gal/min", pressure_drop: "3 psi"}] },
        { kind: "elevation", elevation_change: "7 ft" },
      ],
      inlet_pressure: "45 psi",
      units: "us",
    },
  }),
);

const batch = answered(
  await client.POST("/v1/pipe/velocity/batch", {
    body: { flow: { value: [6, 8, null], unit: "gal/min" }, bore: "20 mm" },
  }),
);

// What a program would read, so that the compiler checks it: numbers, lists, names, texts.
const numbers: number[] = [dose.mean_dose, derated.derated_flow, chlorination.volume, velocity.velocity];
const steps: number[] = derated.steps.map((step) => step.flow);
const column: (number | null)[] = batch.columns.velocity;
const messages: string[] = [...dose.warnings, ...chlorination.cautions].map((entry) => entry.message);
if ([...numbers, ...steps].some(Number.isNaN) || column.length !== batch.rows || messages.length === 0) {
  throw new Error("an answer is not whole");
}

// A refusal is typed too.
const { error } = await client.POST("/v1/pipe/velocity", { body: { flow: "8 gal", bore: "20 mm" } });
const refused: string[] | undefined = error?.errors?.map((fault) => `${fault.pointer} ${fault.code}`);

console.log(
  JSON.stringify({
    "uv/dose": dose,
    "uv/derated-flow": derated,
    "chlorine/batch": chlorination,
    "pipe/velocity": velocity,
    "pipe/pressure-drop": drop,
    "pipe/velocity/batch": batch,
    refused,
  }),
);
