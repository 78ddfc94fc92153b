// Small things that every part of the page uses: elements, names in words, readable numbers.

export const root = document.documentElement.dataset.root;

export function element(tag, attributes = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === false || value === null || value === undefined) continue;
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else made.setAttribute(name, value === true ? "" : value);
  }
  made.append(...children.filter((child) => child !== null && child !== undefined));
  return made;
}

const SPELT = { uv: "UV", uvt: "UVT", ph: "pH", uvc: "UV-C", ct: "CT", kv: "Kv", cv: "Cv", pka: "pKa", red: "RED" };

export function words(name) {
  const parts = name.split(/[_-]/).map((part) => SPELT[part] ?? part);
  const text = parts.join(" ");
  return text.charAt(0) === text.charAt(0).toLowerCase() && !SPELT[name.split(/[_-]/)[0]]
    ? text.charAt(0).toUpperCase() + text.slice(1) : text;
}

export function shownUnit(symbol) {
  return symbol.replace(/_/g, " ").replace(/2/g, "²").replace(/3/g, "³").replace(/\./g, "·");
}

export function shownNumber(value) {
  if (value === 0) return "0";
  const size = Math.abs(value);
  if (size >= 1e7 || size < 1e-4) return value.toExponential(3);
  return String(Number(value.toPrecision(size >= 1e4 ? 6 : 4)));
}

const SECONDS = { s: 1, min: 60, h: 3600, d: 86400 };

// A time in the largest unit of which it is at least two; null if no larger unit fits.
export function readTime(value, unit) {
  if (typeof value !== "number" || !(unit in SECONDS)) return null;
  const seconds = value * SECONDS[unit];
  const larger = Object.keys(SECONDS).filter((name) => SECONDS[name] > SECONDS[unit] && seconds * (1 + 1e-9) >= 2 * SECONDS[name]);
  return larger.length === 0 ? null : `${Number((seconds / SECONDS[larger.at(-1)]).toPrecision(3))} ${larger.at(-1)}`;
}

let count = 0;

export function freshId(name) {
  count += 1;
  return `${name.replace(/[^a-z0-9]+/gi, "-")}-${count}`;
}
