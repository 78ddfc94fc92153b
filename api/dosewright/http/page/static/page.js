// The page: a list of calculations, and the form, answer, picture and lines of the chosen one.

import { AnswerView } from "./answer.js";
import { element, root, words } from "./elements.js";
import { Forms } from "./form.js";
import { linesFor, shownLines } from "./lines.js";

const WAIT = 250; // milliseconds without typing before a request is sent
const main = document.getElementById("main");
const announcement = element("p", { class: "announcement", role: "status" });
document.body.append(announcement);

function say(text) {
  announcement.textContent = text;
}

class Workbench {
  constructor(contract, calculation) {
    this.contract = contract;
    this.calculation = calculation;
    this.units = {};
    this.requests = 0;
    const changed = () => this.later();
    this.form = new Forms(contract, changed, say).group(calculation.fields, calculation.example);
    this.view = new AnswerView(contract, calculation, this.units, () => this.ask());
    this.profile = element("select", { id: "profile", oninput: () => { this.forget(); this.ask(); } },
      ...[["metric", "metric"], ["us", "US"], ["si", "SI"]].map(([value, text]) => element("option", { value }, text)));
    this.faults = element("div", { class: "faults" });
    this.picture = element("figure", { class: "picture", hidden: true });
    this.lines = element("div", {});
    this.result = element("div", { class: "result" }, this.faults, this.view.element, this.lines);
  }

  open() {
    const { calculation } = this;
    const heading = element("h1", { tabindex: "-1" }, calculation.summary);
    main.replaceChildren(
      element("div", { class: "about" }, heading, element("p", {}, calculation.description.replace(/`/g, "").replace(/\s+/g, " ")),
        element("p", {}, element("a", { href: `${root}/methods/${calculation.path}` }, "Method sheet: equations, sources, check values"))),
      element("div", { class: "bench" },
        element("form", { "aria-label": "Inputs", onsubmit: (event) => { event.preventDefault(); this.ask(); } },
          element("div", { class: "inputs bar" }, element("h2", {}, "Inputs"),
            element("button", { type: "button", class: "small", onclick: () => { this.form.write(calculation.example); this.ask(); } }, "Invented example")),
          this.form.element,
          element("div", { class: "inputs bar" }, element("label", { for: "profile" }, "Units of the answer"), this.profile,
            element("button", { type: "submit" }, "Calculate"))),
        this.result));
    document.title = `${calculation.summary} – Dosewright`;
    this.ask();
    return heading;
  }

  forget() {
    for (const name of Object.keys(this.units)) delete this.units[name];
  }

  later() {
    clearTimeout(this.waiting);
    this.waiting = setTimeout(() => this.ask(), WAIT);
  }

  request() {
    const request = this.form.read();
    if (this.profile.value !== "metric") request.units = this.profile.value;
    if (Object.keys(this.units).length > 0) request.answer_units = { ...this.units };
    return request;
  }

  async ask() {
    clearTimeout(this.waiting);
    this.requests += 1;
    const number = this.requests;
    const request = this.request();
    let reply;
    let data;
    try {
      reply = await fetch(`${root}/v1/${this.calculation.path}`, {
        method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(request),
      });
      data = await reply.json();
    } catch {
      data = { detail: "No reply from the service. Check that it is running.", errors: [] };
    }
    if (number !== this.requests) return;
    this.form.clear();
    this.result.classList.toggle("stale", !reply?.ok);
    if (reply?.ok) this.answered(request, data);
    else this.showFaults(data);
  }

  answered(request, answer) {
    this.faults.replaceChildren();
    this.view.show(answer, this.picture);
    this.lines.replaceChildren(shownLines(linesFor(this.contract, this.calculation, request, answer), say));
    say(answer.warnings.length > 0 ? `Result updated, ${answer.warnings.length} warnings.` : "Result updated.");
    this.draw(answer);
  }

  showFaults(problem) {
    const errors = problem.errors ?? [];
    const shown = errors.map((fault) => {
      const pointer = fault.pointer.split("/").slice(1).map((part) => part.replace(/~1/g, "/").replace(/~0/g, "~"));
      const place = this.form.show(pointer, fault.message);
      const about = pointer.map((part) => (/^\d+$/.test(part) ? String(Number(part) + 1) : words(part))).join(", ");
      if (!place) return element("li", {}, `${about}: ${fault.message}`);
      return element("li", {}, element("a", {
        href: "#", onclick: (event) => { event.preventDefault(); place.focus(); },
      }, about), `: ${fault.message}`);
    });
    const title = errors.length === 1 ? "Correct 1 input" : `Correct ${errors.length} inputs`;
    this.faults.replaceChildren(element("section", { class: "notice fault-list" },
      element("h2", {}, errors.length > 0 ? title : "No answer"),
      errors.length > 0 ? element("ul", {}, ...shown) : element("p", {}, problem.detail ?? "Internal error.")));
    say(errors.length > 0 ? `${title}: ${errors[0].message}` : problem.detail);
  }

  async draw(answer) {
    if (!this.calculation.pictured || !answer.question) {
      this.picture.hidden = true;
      return;
    }
    const number = this.requests;
    const address = `${answer.question}&format=svg`;
    const reply = await fetch(address);
    if (number !== this.requests) return;
    this.picture.hidden = !reply.ok;
    if (!reply.ok) return;
    const image = element("img", { src: address, alt: wordsOf(await reply.text()) });
    this.picture.replaceChildren(image, element("figcaption", {},
      element("a", { href: address }, "SVG"), " ", element("a", { href: `${answer.question}&format=png` }, "PNG")));
  }
}

// The text alternative of a picture. Only that is parsed: the picture's styles would violate the page's policy.
function wordsOf(svg) {
  const [, escaped] = svg.match(/<desc id="words">([^<]*)<\/desc>/) ?? ["", ""];
  return new DOMParser().parseFromString(escaped, "text/html").body.textContent;
}

function listed(contract, chosen) {
  return contract.topics.flatMap((topic) => [
    element("h2", {}, words(topic.name)),
    element("ul", {}, ...contract.calculations.filter((one) => one.topic === topic.name).map((one) => element("li", {},
      element("a", { href: `#${one.path}`, "aria-current": one === chosen ? "page" : null }, one.summary)))),
  ]);
}

function start(contract) {
  const list = document.getElementById("list");
  let opened = 0;
  const show = async (moved) => {
    opened += 1;
    const number = opened;
    const path = decodeURIComponent(window.location.hash.slice(1).split("?")[0]);
    if (path === "main") return;
    const chosen = contract.calculations.find((one) => one.path === path);
    list.replaceChildren(...(chosen ? listed(contract, chosen) : []));
    list.hidden = !chosen;
    let heading;
    if (chosen) {
      const reply = await fetch(`${root}/page/contract/${chosen.path}`);
      const form = { ...await reply.json(), kinds: contract.kinds };
      if (number !== opened) return;
      heading = new Workbench(form, form.calculations[chosen.path]).open();
    } else {
      heading = element("h1", { tabindex: "-1" }, "Calculations for private wells");
      main.replaceChildren(element("div", { class: "about" }, heading,
        element("p", {}, "UV and chlorine disinfection of a private well, and its pipework. Choose a calculation. Each form starts with an invented example.")),
        element("div", { class: "choices" }, ...contract.topics.map((topic) => element("section", {},
          element("h2", {}, words(topic.name)), element("p", { class: "hint" }, topic.title),
          element("ul", {}, ...contract.calculations.filter((one) => one.topic === topic.name).map((one) => element("li", {},
            element("a", { href: `#${one.path}` }, one.summary))))))));
      document.title = "Dosewright";
    }
    if (moved) {
      window.scrollTo(0, 0);
      heading.focus();
    }
  };
  window.addEventListener("hashchange", () => show(true));
  show(false);
}

fetch(`${root}/page/contract.json`).then((reply) => reply.json()).then(start);
