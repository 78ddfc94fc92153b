// An answer: warnings and cautions first, then the numbers with their units to choose, then its methods and sources.

import { element, freshId, readTime, shownNumber, shownUnit, words } from "./elements.js";

export class AnswerView {
  constructor(contract, calculation, chosenUnits, changed) {
    this.structs = contract.structs;
    this.kinds = contract.kinds;
    this.calculation = calculation;
    this.chosen = chosenUnits;
    this.changed = changed;
    this.element = element("div", { class: "answer" });
  }

  // The picture keeps its place between the numbers and the lists.
  show(answer, picture) {
    // The control in use must not vanish under the person who uses it.
    const used = document.activeElement?.dataset?.unitOf;
    this.element.replaceChildren(
      ...notices("Warnings", "warning", answer.warnings.map((one) => [place(one.field), one.message])),
      ...notices("Dangers in this work", "caution", answer.cautions.map((one) => ["", one.message])),
      this.numbers(answer),
      picture,
      ...this.lists(answer, this.calculation.answer, answer.units, ""),
      ...background(answer));
    if (used) this.element.querySelector(`[data-unit-of="${used}"]`)?.focus();
  }

  numbers(answer) {
    const own = this.calculation.answer.filter((field) => !field.many && !field.struct);
    if (own.length === 0) return "";
    return element("section", {}, element("h2", {}, "Answer"), this.rows(answer, own, answer.units, ""));
  }

  rows(values, fields, units, prefix) {
    const given = fields.filter((field) => values[field.name] !== null && values[field.name] !== undefined);
    const absent = fields.filter((field) => !given.includes(field));
    return element("div", {},
      element("table", { class: "numbers" }, element("tbody", {}, ...given.map((field) => element("tr", {},
        element("th", { scope: "row" }, words(field.name), element("span", { class: "hint" }, field.doc)),
        element("td", {}, ...this.value(values[field.name], field, units, prefix)))))),
      absent.length > 0 ? element("p", { class: "hint" }, `Not known: ${absent.map((field) => words(field.name).toLowerCase()).join(", ")}.`) : null);
  }

  value(value, field, units, prefix) {
    if (typeof value === "boolean") return [element("strong", { class: "value" }, value ? "yes" : "no")];
    if (typeof value !== "number") return [element("strong", { class: "value" }, String(value))];
    const shown = element("strong", { class: "value", title: String(value) }, shownNumber(value));
    const name = prefix + field.name;
    if (!field.kind || !units[name]) return [shown];
    const read = readTime(value, units[name]);
    return [shown, " ", this.unit(name, field.kind, units), ...(read ? [element("span", { class: "read" }, ` = ${read}`)] : [])];
  }

  unit(name, kind, units) {
    return element("select", {
      "aria-label": `Unit of ${words(name.replace(/\./g, " "))}`, "data-unit-of": name,
      onchange: (event) => { this.chosen[name] = event.target.value; this.changed(); },
    }, ...this.kinds[kind].symbols.map((symbol) => element("option", { value: symbol, selected: symbol === units[name] }, shownUnit(symbol))));
  }

  // Structs and lists of structs inside the answer.
  lists(values, fields, units, prefix) {
    return fields.filter((field) => field.struct && values[field.name]).map((field) => {
      const inner = this.structs[field.struct].fields;
      const heading = element("h2", { id: freshId(field.name) }, words(field.name));
      const inside = `${prefix}${field.name}.`;
      const value = values[field.name];
      if (field.many) return element("section", {}, heading, this.table(value, inner, units, inside, heading));
      const plain = inner.filter((one) => !one.struct);
      const own = value.units && value.inputs ? value.units : units;
      return element("section", {}, heading, element("p", { class: "hint" }, field.doc),
        this.rows(value, plain, own, own === units ? inside : ""), ...this.lists(value, inner, own, own === units ? inside : ""));
    });
  }

  table(items, fields, units, prefix, heading) {
    const shown = fields.filter((field) => !field.struct && items.some((item) => item[field.name] !== null && item[field.name] !== undefined));
    const cell = (value) => value === null || value === undefined ? "–"
      : typeof value === "number" ? shownNumber(value) : typeof value === "boolean" ? (value ? "yes" : "no") : String(value);
    return element("div", { class: "wide", role: "region", tabindex: "0", "aria-labelledby": heading.id },
      element("table", {},
        element("thead", {}, element("tr", {}, element("th", { scope: "col" }, "No."), ...shown.map((field) => element("th", { scope: "col", class: field.kind ? "number" : null },
          words(field.name), " ", field.kind && units[prefix + field.name] ? this.unit(prefix + field.name, field.kind, units) : null)))),
        element("tbody", {}, ...items.map((item, index) => element("tr", {}, element("th", { scope: "row" }, String(index + 1)),
          ...shown.map((field) => {
            const read = field.kind && readTime(item[field.name], units[prefix + field.name]);
            return element("td", { class: kindOfCell(item[field.name]) }, cell(item[field.name]), read ? element("span", { class: "read" }, ` = ${read}`) : null);
          }))))));
  }
}

function kindOfCell(value) {
  if (typeof value === "number") return "number";
  return typeof value === "string" && value.length > 40 ? "long" : null;
}

function notices(title, kind, remarks) {
  if (remarks.length === 0) return [];
  const heading = element("h2", { id: freshId(kind) }, `${title} (${remarks.length})`);
  // A long list of dangers scrolls in its box, so that the numbers stay in sight of it; warnings are all shown.
  const long = kind === "caution" ? { tabindex: "0", role: "region", "aria-labelledby": heading.id } : {};
  return [element("section", { class: `notice ${kind}` }, heading,
    element("div", { class: "remarks", ...long }, element("ul", {}, ...remarks.map(([about, message]) => element("li", {}, about ? element("b", {}, `${about}: `) : null, message)))))];
}

// Items are counted from one, as their tables count them.
function place(name) {
  return words(name.replace(/s?\.(\d+)/g, (_, index) => ` ${Number(index) + 1}`).replace(/\./g, " "));
}

function background(answer) {
  const used = Object.entries(answer.defaults);
  const parts = [element("details", {}, element("summary", {}, `Methods and sources (${answer.basis.length})`),
    element("dl", {}, ...answer.basis.flatMap((one) => [element("dt", {}, one.method),
      element("dd", {}, element("span", {}, `Source: ${one.source}.`), " ", element("span", {}, `Valid for: ${one.validity}.`))])))];
  if (used.length > 0) {
    parts.push(element("details", {}, element("summary", {}, `Assumed values (${used.length})`),
      element("ul", {}, ...used.map(([name, value]) => element("li", {}, `${place(name)}: ${value}`)))));
  }
  return [element("section", { class: "background" }, ...parts)];
}
