// How to repeat a calculation elsewhere: an address, a shell, Python, a spreadsheet.

import { element, root } from "./elements.js";

const LONGEST_TEXT_IN_FORMULA = 250;

export function linesFor(contract, calculation, request, answer) {
  const origin = window.location.origin;
  const path = `${origin}${root}/v1/${calculation.path}`;
  const address = answer.question ? origin + answer.question : null;
  const body = JSON.stringify(request);
  const curl = address ? `curl "${address}"`
    : `curl -H 'content-type: application/json' -d '${body.replace(/'/g, "'\\''")}' ${path}`;
  const lines = [["Shell", curl], ["Python", python(contract, calculation, request)]];
  if (address) {
    lines.unshift(["Address", address]);
    lines.push(["Spreadsheet formula", formula(address, answer)]);
  }
  return lines;
}

function formula(address, answer) {
  const [name, value] = firstLeaf(answer, "number") ?? firstLeaf(answer, "string");
  const picked = `${address}&pick=${name}`;
  const parts = [];
  for (let at = 0; at < picked.length; at += LONGEST_TEXT_IN_FORMULA) {
    parts.push(`"${picked.slice(at, at + LONGEST_TEXT_IN_FORMULA)}"`);
  }
  const call = `WEBSERVICE(${parts.join("&")})`;
  return typeof value === "number" ? `=NUMBERVALUE(${call};".")` : `=${call}`;
}

// The first value of a type in the answer, with the name that picks it: list.0.field.
function firstLeaf(value, type, name = "") {
  if (typeof value === type) return [name, value];
  if (value === null || typeof value !== "object") return undefined;
  for (const [key, inner] of Object.entries(value)) {
    const found = firstLeaf(inner, type, name ? `${name}.${key}` : key);
    if (found) return found;
  }
  return undefined;
}

function python(contract, calculation, request) {
  const types = new Set();
  const inside = Object.entries(request).map(([name, value]) => {
    const field = calculation.fields.find((one) => one.name === name);
    return `    ${name}=${literal(contract, field, value, types)},\n`;
  });
  const method = `${calculation.topic}.${calculation.name.replace(/-/g, "_")}`;
  const imported = types.size > 0 ? `from dosewright_sdk.types import ${[...types].sort().join(", ")}\n` : "";
  const base = window.location.origin + root;
  return `from dosewright_sdk import Client\n${imported}\nanswer = Client(${quoted(base)}).${method}(\n${inside.join("")})\nprint(answer)`;
}

function literal(contract, field, value, types) {
  if (field?.type === "items") {
    const one = (item) => {
      const { kind, ...rest } = item;
      const struct = field.kinds[kind ?? ""];
      types.add(struct);
      const inner = contract.structs[struct].fields;
      const set = Object.entries(rest).map(([name, held]) => `${name}=${literal(contract, inner.find((each) => each.name === name), held, types)}`);
      return `${struct}(${set.join(", ")})`;
    };
    return field.many ? `[${value.map(one).join(", ")}]` : one(value);
  }
  return plain(value);
}

function plain(value) {
  if (typeof value === "string") return quoted(value);
  if (typeof value === "boolean") return value ? "True" : "False";
  if (Array.isArray(value)) return `[${value.map(plain).join(", ")}]`;
  if (value && typeof value === "object") {
    return `{${Object.entries(value).map(([name, held]) => `${quoted(name)}: ${plain(held)}`).join(", ")}}`;
  }
  return String(value);
}

function quoted(text) {
  return JSON.stringify(text);
}

export function shownLines(lines, say) {
  return element("section", { class: "lines" }, element("h2", {}, "How to repeat this calculation"),
    ...lines.map(([title, text]) => element("div", { class: "line" },
      element("div", { class: "inputs" }, element("h3", {}, title), element("button", {
        type: "button", class: "small", "aria-label": `Copy: ${title.toLowerCase()}`,
        onclick: async (event) => {
          const { target } = event;
          await navigator.clipboard.writeText(text);
          target.textContent = "Copied";
          say(`${title} copied.`);
          setTimeout(() => { target.textContent = "Copy"; }, 2000);
        },
      }, "Copy")),
      element("pre", {}, element("code", { "data-line": title }, text)))),
    element("p", { class: "hint" }, "If your spreadsheet separates arguments with commas, replace the semicolon with a comma."));
}
