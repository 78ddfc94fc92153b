// Forms made from the contract. A control reads to plain data, writes from it, and shows the faults of its place.

import { element, freshId, words } from "./elements.js";

const SHARED = ["units", "answer_units"];
const MOST_UNFOLDED = 6;

export class Forms {
  constructor(contract, changed, say) {
    this.contract = contract;
    this.changed = changed;
    this.say = say;
  }

  // The controls of a struct: what is needed or in the example first, the rest folded away.
  group(fields, example) {
    const controls = new Map();
    const first = element("div", { class: "fields" });
    const rest = element("div", { class: "fields" });
    for (const field of fields) {
      if (SHARED.includes(field.name)) continue;
      const control = this.control(field);
      controls.set(field.name, control);
      const shown = field.required || field.name in example || fields.length <= MOST_UNFOLDED;
      (shown ? first : rest).append(control.element);
    }
    const folded = rest.childElementCount > 0
      ? element("details", { class: "more" }, element("summary", {}, `More inputs (${rest.childElementCount})`), rest)
      : null;
    return new Group(element("div", { class: "group" }, first, folded), controls, example);
  }

  control(field) {
    switch (field.type) {
      case "measure": return new Measure(this, field);
      case "choice": return new Choice(this, field, field.names);
      case "flag": return new Choice(this, field, ["true", "false"]);
      case "section": return field.many ? new List(this, field) : new Part(this, field);
      case "items": return field.many ? new List(this, field) : new Part(this, field);
      default: return new Text(this, field);
    }
  }

  // What can stand in a list or a part: by kind, the fields and an example.
  kindsOf(field) {
    if (field.type === "section") {
      const section = this.contract.calculations[field.calculation];
      const own = section.fields.filter((one) => !field.shared.includes(one.name));
      const example = Object.fromEntries(Object.entries(section.example).filter(([name]) => !field.shared.includes(name)));
      return new Map([["", { doc: section.summary, fields: own, example }]]);
    }
    return new Map(Object.entries(field.kinds).map(([kind, name]) => {
      const struct = this.contract.structs[name];
      const required = struct.fields.filter((one) => one.required);
      return [kind, { ...struct, example: Object.fromEntries(required.map((one) => [one.name, one.example])) }];
    }));
  }
}

class Group {
  constructor(made, controls, example) {
    this.element = made;
    this.controls = controls;
    this.write(example);
  }

  read() {
    const values = {};
    for (const [name, control] of this.controls) {
      const value = control.read();
      if (value !== undefined) values[name] = value;
    }
    return values;
  }

  write(values) {
    for (const [name, control] of this.controls) control.write(values[name]);
  }

  clear() {
    for (const control of this.controls.values()) control.clear();
  }

  // Shows a fault at its place; returns the element to go to, or nothing where it has none here.
  show([name, ...rest], message) {
    return this.controls.get(name)?.show(rest, message);
  }
}

class Single {
  constructor(forms, field) {
    this.forms = forms;
    this.field = field;
    this.id = freshId(field.name);
    this.fault = element("p", { class: "fault", id: `${this.id}-fault`, hidden: true });
  }

  build(...inputs) {
    const { field, id } = this;
    const needed = field.required ? element("span", { class: "needed" }, " (needed)") : null;
    return element("div", { class: "field" },
      element("label", { for: id }, words(field.name), needed),
      element("div", { class: "inputs" }, ...inputs),
      this.fault,
      element("p", { class: "hint", id: `${id}-hint` }, this.hint()));
  }

  hint() {
    const { field } = this;
    const parts = [field.doc];
    if (field.allowed && field.allowed !== "any finite number") parts.push(`Allowed: ${field.allowed}.`);
    if (field.default !== undefined) parts.push(`Default: ${field.default}.`);
    return parts.join(" ");
  }

  described() {
    return { id: this.id, "aria-describedby": `${this.id}-fault ${this.id}-hint`, oninput: this.forms.changed };
  }

  clear() {
    this.fault.hidden = true;
    this.input.removeAttribute("aria-invalid");
  }

  show(_, message) {
    this.fault.textContent = this.fault.hidden ? message : `${this.fault.textContent} ${message}`;
    this.fault.hidden = false;
    this.input.setAttribute("aria-invalid", "true");
    for (let up = this.input.closest("details"); up; up = up.parentElement.closest("details")) up.open = true;
    return this.input;
  }

  read() {
    const text = this.input.value.trim();
    return text === "" ? undefined : text;
  }

  write(value) {
    this.input.value = value === undefined ? "" : String(value);
  }
}

class Text extends Single {
  constructor(forms, field) {
    super(forms, field);
    const hint = { day: "2026-05-31", series: field.example ?? "" }[field.type];
    this.input = element("input", { type: "text", autocomplete: "off", placeholder: hint, ...this.described() });
    this.element = this.build(this.input);
  }

  write(value) {
    super.write(Array.isArray(value) ? value.join(", ") : value);
  }
}

class Measure extends Single {
  constructor(forms, field) {
    super(forms, field);
    const { symbols, profiles } = forms.contract.kinds[field.kind];
    const [number, unit] = parted(field.default ?? field.example ?? "");
    this.unit = unit || profiles?.metric || "";
    this.input = element("input", {
      type: "text", inputmode: "decimal", autocomplete: "off", placeholder: field.default ? number : null,
      ...this.described(),
    });
    const inputs = [this.input];
    if (symbols.length > 0) {
      this.select = element("select", { "aria-label": `Unit of ${words(field.name)}`, oninput: forms.changed },
        ...symbols.map((symbol) => element("option", { value: symbol }, symbol)));
      this.select.value = this.unit;
      inputs.push(this.select);
    }
    this.element = this.build(...inputs);
  }

  read() {
    const number = super.read();
    return number === undefined || !this.select ? number : `${number} ${this.select.value}`;
  }

  write(value) {
    const [number, unit] = parted(value === undefined ? "" : String(value));
    this.input.value = number;
    if (!this.select) return;
    if (unit && !Array.from(this.select.options).some((option) => option.value === unit)) {
      this.select.append(element("option", { value: unit }, unit));
    }
    this.select.value = unit || this.unit;
  }
}

function parted(text) {
  const at = text.indexOf(" ");
  return at < 0 ? [text, ""] : [text.slice(0, at), text.slice(at + 1)];
}

class Choice extends Single {
  constructor(forms, field, names) {
    super(forms, field);
    const none = field.required ? null : element("option", { value: "" },
      field.default === undefined ? "not given" : `default: ${words(field.default)}`);
    this.input = element("select", { ...this.described() }, none,
      ...names.map((name) => element("option", { value: name }, field.type === "flag" ? { true: "yes", false: "no" }[name] : words(name))));
    this.element = this.build(this.input);
  }

  read() {
    const name = super.read();
    return this.field.type === "flag" && name !== undefined ? name === "true" : name;
  }

  write(value) {
    super.write(value);
    if (value === undefined && this.field.required) this.input.selectedIndex = 0;
  }
}

// A struct inside another; left out until it is required, where it is optional.
class Part {
  constructor(forms, field) {
    this.forms = forms;
    this.field = field;
    this.kinds = forms.kindsOf(field);
    this.body = element("div", {});
    this.fault = element("p", { class: "fault", hidden: true, tabindex: "-1" });
    const options = [...this.kinds.keys()].map((kind) => element("option", { value: kind }, words(kind) || "given"));
    if (!field.required) options.unshift(element("option", { value: "-" }, "not given"));
    this.select = element("select", { "aria-label": `${words(field.name)}: kind`, oninput: () => this.pick() }, ...options);
    this.element = element("fieldset", { class: "part" }, element("legend", {}, words(field.name)),
      element("p", { class: "hint" }, field.doc), options.length > 1 ? this.select : null, this.fault, this.body);
    this.pick(true);
  }

  pick(quiet = false, value = undefined) {
    const made = this.kinds.get(this.select.value);
    this.group = made ? this.forms.group(made.fields, value ?? made.example) : null;
    this.body.replaceChildren(...(this.group ? [this.group.element] : []));
    if (!quiet) this.forms.changed();
  }

  read() {
    if (!this.group) return undefined;
    return this.select.value ? { kind: this.select.value, ...this.group.read() } : this.group.read();
  }

  write(value) {
    this.select.value = value === undefined ? (this.field.required ? this.select.options[0].value : "-") : value.kind ?? "";
    this.pick(true, value);
  }

  clear() {
    this.fault.hidden = true;
    this.group?.clear();
  }

  show(rest, message) {
    const shown = rest.length > 0 ? this.group?.show(rest, message) : undefined;
    if (shown) return shown;
    this.fault.textContent = message;
    this.fault.hidden = false;
    return this.fault;
  }
}

// A list of structs: added by kind, moved and removed by buttons.
class List {
  constructor(forms, field) {
    this.forms = forms;
    this.field = field;
    this.kinds = forms.kindsOf(field);
    this.items = [];
    this.one = words(field.name).replace(/s$/, "");
    this.body = element("ol", { class: "items" });
    this.fault = element("p", { class: "fault", hidden: true, tabindex: "-1" });
    const names = [...this.kinds.keys()];
    this.select = element("select", { "aria-label": `Kind of ${this.one.toLowerCase()} to add` },
      ...names.map((kind) => element("option", { value: kind }, words(kind))));
    this.button = element("button", { type: "button", onclick: () => this.add() }, `Add ${this.one.toLowerCase()}`);
    this.element = element("fieldset", { class: "part" }, element("legend", {}, words(field.name)),
      element("p", { class: "hint" }, field.doc), this.fault, this.body,
      element("div", { class: "inputs add" }, names.length > 1 ? this.select : null, this.button));
  }

  add() {
    const item = this.make(this.select.value || "");
    this.items.push(item);
    this.order();
    item.element.querySelector("input, select")?.focus();
    this.forms.say(`${this.one} ${this.items.length} added.`);
    this.forms.changed();
  }

  make(kind, value) {
    const { fields, example } = this.kinds.get(kind);
    const group = this.forms.group(fields, value ?? example);
    const item = { kind, group, legend: element("legend") };
    const button = (text, act) => element("button", { type: "button", class: "small", onclick: act }, text);
    item.buttons = [
      button("Up", () => this.move(item, -1)), button("Down", () => this.move(item, 1)), button("Remove", () => this.remove(item)),
    ];
    item.fault = element("p", { class: "fault", hidden: true, tabindex: "-1" });
    item.element = element("li", {}, element("fieldset", { class: "item" }, item.legend,
      element("div", { class: "acts" }, ...item.buttons), item.fault, group.element));
    return item;
  }

  order() {
    this.items.forEach((item, index) => {
      const name = `${this.one} ${index + 1}`;
      item.legend.textContent = item.kind ? `${name}: ${words(item.kind).toLowerCase()}` : name;
      item.buttons.forEach((button) => button.setAttribute("aria-label", `${button.textContent}: ${item.legend.textContent}`));
      item.buttons[0].disabled = index === 0;
      item.buttons[1].disabled = index === this.items.length - 1;
    });
    this.body.replaceChildren(...this.items.map((item) => item.element));
    this.button.disabled = this.items.length >= this.field.high;
  }

  move(item, by) {
    const from = this.items.indexOf(item);
    this.items.splice(from, 1);
    this.items.splice(from + by, 0, item);
    this.order();
    const button = item.buttons[by < 0 ? 0 : 1];
    (button.disabled ? item.buttons[by < 0 ? 1 : 0] : button).focus();
    this.forms.say(`Moved to place ${from + by + 1}.`);
    this.forms.changed();
  }

  remove(item) {
    const index = this.items.indexOf(item);
    this.items.splice(index, 1);
    this.order();
    (this.items[Math.min(index, this.items.length - 1)]?.buttons[2] ?? this.button).focus();
    this.forms.say(`${this.one} ${index + 1} removed.`);
    this.forms.changed();
  }

  read() {
    if (this.items.length === 0) return undefined;
    return this.items.map(({ kind, group }) => (kind ? { kind, ...group.read() } : group.read()));
  }

  write(values) {
    this.items = (values ?? []).map((value) => this.make(value.kind ?? "", value));
    this.order();
  }

  clear() {
    this.fault.hidden = true;
    for (const item of this.items) {
      item.fault.hidden = true;
      item.group.clear();
    }
  }

  show([index, ...rest], message) {
    const item = this.items[Number(index)];
    const shown = item && rest.length > 0 ? item.group.show(rest, message) : undefined;
    if (shown) return shown;
    const fault = item?.fault ?? this.fault;
    fault.textContent = message;
    fault.hidden = false;
    return fault;
  }
}
