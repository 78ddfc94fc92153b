// The main job through the client that @hey-api/openapi-ts writes: five questions, answers as JSON.
import { client } from "./client/client.gen.js";
import {
  chlorineBatch,
  pipePressureDrop,
  pipeVelocity,
  pipeVelocityBatch,
  uvDeratedFlow,
  uvDose,
} from "./client/index.js";
import type { PipeVelocityError, RunSegmentInput, UvDoseRequest } from "./client/index.js";

client.setConfig({ baseUrl: process.argv[2] });

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
} satisfies Partial<UvDoseRequest>;

const { data: dose } = await uvDose({
  body: { ...chamber, uvc_output: "24 W", flow: "8 gal/min", water_temperature: "8 degC", hydraulics: "plug_flow" },
  throwOnError: true,
});

const { data: derated } = await uvDeratedFlow({
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
  throwOnError: true,
});

const { data: chlorination } = await chlorineBatch({
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
  throwOnError: true,
});

const { data: velocity } = await pipeVelocity({
  body: { flow: "8 gal/min", material: "copper_type_l", nominal_size: "3/4", units: "us" },
  throwOnError: true,
});

// Items have types of their own, told apart by `kind`.
const segments: RunSegmentInput[] = [
  { kind: "pipe", material: "copper_type_l", nominal_size: "3/4", length: "34 ft" },
  { kind: "fitting", fitting: "elbow_90", count: 7 },
  { kind: "device", rated_points: [{rated_flow: "10 gal/min", pressure_drop: "3 psi"}] },
  { kind: "elevation", elevation_change: "7 ft" },
];
const { data: drop } = await pipePressureDrop({
  body: { flow: "8 gal/min", segments, inlet_pressure: "45 psi", units: "us" },
  throwOnError: true,
});

const { data: batch } = await pipeVelocityBatch({
  body: { flow: { value: [6, 8, null], unit: "gal/min" }, bore: "20 mm" },
  throwOnError: true,
});

// What a program would read, so that the compiler checks it: numbers, lists, names, texts.
const numbers: number[] = [dose.mean_dose, derated.derated_flow, chlorination.volume, velocity.velocity];
const steps: number[] = derated.steps.map((step) => step.flow);
const column: (number | null)[] = batch.columns.velocity;
const messages: string[] = [...dose.warnings, ...chlorination.cautions].map((entry) => entry.message);
if ([...numbers, ...steps].some(Number.isNaN) || column.length !== batch.rows || messages.length === 0) {
  throw new Error("an answer is not whole");
}

// What the contract refuses does not compile: a name, a unit, a field of another kind of item, a field of no answer.
export const refusedByTheCompiler = () => [
  // @ts-expect-error
  pipeVelocity({ body: { flow: "8 gal/min", material: "copper_type_l", nominal_size: "3/5" } }),
  // @ts-expect-error
  pipeVelocityBatch({ body: { flow: { value: [6, 8], unit: "gal" }, bore: "20 mm" } }),
  // @ts-expect-error
  pipePressureDrop({ body: { flow: "8 gal/min", segments: [{ kind: "device", fitting: "elbow_90" }] } }),
  // @ts-expect-error
  pipeVelocity({ body: { bore: "20 mm" } }),
  // @ts-expect-error
  dose.mean_doze,
];

// A refusal is typed too.
const { error } = await pipeVelocity({ body: { flow: "8 gal", bore: "20 mm" } });
const problem: PipeVelocityError | undefined = error;
const refused: string[] | undefined = problem?.errors?.map((fault) => `${fault.pointer} ${fault.code}`);

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
