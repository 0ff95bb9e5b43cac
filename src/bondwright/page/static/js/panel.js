// Tables for the panel: in three taps, without a signal, readable in the sun.

import * as api from "./api.js";
import { h } from "./dom.js";
import * as lookup from "./lookup.js";

/** @typedef {import("./wire").TablesAnswer} Tables */

const BREAKERS = [15, 20, 25, 30, 40, 50, 60, 70, 80, 90, 100, 125, 150, 175, 200, 225, 250, 300, 350, 400, 500, 600, 800, 1000, 1200, 1600, 2000, 2500, 3000, 4000, 5000, 6000];
const QUICK = { jumper: "Bonding jumper", electrode: "Electrode conductor", ground: "Ground wire (EGC)", screw: "Bonding screw: in or out" };
const ROLES = { main: "main", system: "system", "supply-side": "supply side" };
const LEADS = { any: "any electrode", rod: "rods only", concrete: "concrete only", ring: "ring only" };
const LEAST = "8 AWG"; // supplies smaller than this are not met

/** @param {string} name */
const short = (name) => name.replace(" AWG", "");

export class TablePanel {
  constructor() {
    /** @type {Tables | null} */
    this.tables = null;
    this.shown = "";
    this.rules = "";
    this.sets = 1;
    this.supplyMetal = "Cu";
    /** @type {"main" | "system" | "supply-side"} */
    this.role = "main";
    this.leads = "any";
    this.size = "";
    this.amps = 0;
    /** @type {Array<"y" | "n" | "u">} */
    this.screws = ["u", "u", "u", "u"];
    this.needed = "";
    this.installed = "";
    this.lineMetal = "Cu";
    this.correction = false;
    this.root = h("div", { class: "panel-tables" });
  }

  /** @param {string} site its rules, which decide what stands first */
  async open(site) {
    if (!this.tables) {
      this.tables = await api.tables();
      this.rules = this.tables.usual;
    }
    this.site = site;
    this.paint();
    return this.root;
  }

  /** @param {string} what */
  show(what) {
    this.shown = what;
    this.paint();
    this.root.parentElement?.scrollTo({ top: 0 });
    /** @type {HTMLElement | null} */ (this.root.querySelector("h2"))?.focus({ preventScroll: true });
  }

  paint() {
    const tables = /** @type {Tables} */ (this.tables);
    if (!this.shown) {
      this.root.replaceChildren(...this.start(tables));
      return;
    }
    const back = h("button", { type: "button", class: "to-tables", onclick: () => this.show("") }, "‹ Tables");
    const sheet = tables.sheets.find((s) => s.id === this.shown.replace(/^sheet /, ""));
    const quick = this.shown in QUICK;
    this.root.replaceChildren(back, ...(quick ? this.quick(tables) : sheet ? this.sheet(sheet) : []),
      h("p", { class: "mindful-foot" }, "Work with the power off and proved dead. The local code, the authority having jurisdiction and a licensed person decide."));
  }

  /** @param {Tables} tables */
  start(tables) {
    const iec = this.site?.startsWith("nec") === false;
    const order = [...tables.sheets].sort((a, b) => Number((b.family === "iec") === iec && b.family !== "") - Number((a.family === "iec") === iec && a.family !== ""));
    const buttons = Object.entries(QUICK).map(([name, word]) => h("button", { type: "button", class: "tile", onclick: () => this.show(name) }, word));
    const all = order.map((s) => h("button", { type: "button", class: "tile small-tile", onclick: () => this.show(`sheet ${s.id}`) }, s.title));
    const nec = h("section", {}, h("h3", {}, "Quick answers (NEC)"), h("div", { class: "tiles" }, ...buttons));
    const sheets = h("section", {}, h("h3", {}, "To look at"), h("div", { class: "tiles" }, ...all));
    return [h("h2", { tabindex: "-1" }, "Tables"), ...(iec ? [sheets, nec] : [nec, sheets]),
      h("p", { class: "small" }, "All of this works without a signal once the page was opened.")];
  }

  /**
   * A row of keys of which one is down.
   * @param {string} label @param {Record<string, string>} choices @param {string} now @param {(to: string) => void} press
   */
  keys(label, choices, now, press) {
    return h("div", { class: "keys", role: "group", "aria-label": label }, ...Object.entries(choices).map(([value, word]) =>
      h("button", { type: "button", "aria-pressed": String(value === now), onclick: () => { press(value); this.paint(); } }, word)));
  }

  /** @param {Tables} tables */
  editions(tables) {
    return this.keys("Edition", Object.fromEntries(tables.rules.map((r) => [r, r.replace("nec-", "NEC ")])), this.rules, (r) => { this.rules = r; });
  }

  /** @param {Tables} tables */
  quick(tables) {
    const title = h("h2", { tabindex: "-1" }, QUICK[/** @type {keyof typeof QUICK} */ (this.shown)]);
    if (this.shown === "screw") return [title, ...this.screw(tables)];
    if (this.shown === "ground") return [title, ...this.ground(tables)];
    const supply = { size: this.size, metal: this.supplyMetal, sets: this.sets };
    const from = tables.sizes.findIndex((s) => s.name === LEAST);
    const answers = this.size ? ["Cu", "Al"].map((metal) => this.shown === "jumper"
      ? lookup.jumper(tables, supply, metal, this.role, this.rules)
      : lookup.electrode(tables, supply, metal, this.leads, this.rules)) : [];
    const kind = this.shown === "jumper"
      ? this.keys("Which jumper", ROLES, this.role, (r) => { this.role = /** @type {any} */ (r); })
      : this.keys("It leads to", LEADS, this.leads, (l) => { this.leads = l; });
    return [title, this.answer(answers, this.size ? `supply ${lookup.lineText(supply)}` : "Tap the supply conductor."),
      this.sizeKeys(tables.sizes.slice(from).map((s) => s.name), this.size, (s) => { this.size = s; }, "Supply conductor of one phase"),
      h("p", { class: "label" }, "Sets in parallel"),
      this.keys("Sets in parallel", Object.fromEntries(Array.from({ length: 6 }, (_, k) => [String(k + 1), String(k + 1)])), String(this.sets), (s) => { this.sets = Number(s); }),
      h("p", { class: "label" }, "Supply metal"),
      this.keys("Supply metal", { Cu: "copper", Al: "aluminium" }, this.supplyMetal, (m) => { this.supplyMetal = m; }),
      h("p", { class: "label" }, this.shown === "jumper" ? "Which jumper" : "It leads to"), kind, this.editions(tables)];
  }

  /** @param {string[]} names @param {string} now @param {(to: string) => void} press @param {string} label */
  sizeKeys(names, now, press, label) {
    return h("div", { class: "size-keys", role: "group", "aria-label": label }, ...names.map((name) =>
      h("button", { type: "button", "aria-label": name, "aria-pressed": String(name === now), onclick: () => { press(name); this.paint(); this.root.parentElement?.scrollTo({ top: 0 }); } }, short(name).replace(" kcmil", ""), name.endsWith("kcmil") ? h("small", {}, "kcmil") : "")));
  }

  /** @param {Array<lookup.Found | lookup.None>} answers @param {string} about */
  answer(answers, about) {
    if (!answers.length) return h("div", { class: "sun empty", role: "status" }, h("p", {}, about));
    const [first, second] = answers;
    if (!first) return h("div");
    const main = "problem" in first ? (second && !("problem" in second) ? second : first) : first;
    const other = main === first && second && !("problem" in second) ? second : null;
    return h("div", { class: "sun", role: "status" },
      "problem" in main ? h("p", {}, main.problem) : h("p", { class: "huge" }, `${main.size} ${main.metal}`),
      other && !("problem" in main) ? h("p", { class: "or" }, `or ${other.size} ${other.metal}`) : null,
      h("p", {}, `${about} · ${main.clause}`),
      "problem" in main ? null : h("details", {}, h("summary", {}, "why"), ...main.why.map((text) => h("p", {}, text)), h("p", {}, `The row is ${main.status}.`)));
  }

  /** @param {Tables} tables */
  ground(tables) {
    const lines = this.needed && this.installed ? { installed: this.installed, needed: this.needed, metal: this.lineMetal, correction: this.correction } : null;
    const answers = this.amps ? ["Cu", "Al"].map((metal) => lookup.ground(tables, this.amps, metal, this.rules, lines)) : [];
    const names = ["", ...tables.sizes.map((s) => s.name)];
    const pick = (/** @type {string} */ id, /** @type {string} */ now, /** @type {(to: string) => void} */ set) => {
      const field = h("select", { id, onchange: () => { set(field.value); this.paint(); document.getElementById(id)?.focus(); } }, ...names.map((n) => h("option", { value: n, ...(n === now ? { selected: true } : {}) }, n || "not enlarged")));
      return field;
    };
    const tick = h("input", { type: "checkbox", onchange: () => { this.correction = tick.checked; this.paint(); }, ...(this.correction ? { checked: true } : {}) });
    return [this.answer(answers, this.amps ? `${this.amps} A ahead` : "Tap the breaker ahead."),
      h("div", { class: "size-keys", role: "group", "aria-label": "Breaker" }, ...BREAKERS.map((amps) =>
        h("button", { type: "button", "aria-label": `${amps} A`, "aria-pressed": String(amps === this.amps), onclick: () => { this.amps = amps; this.paint(); this.root.parentElement?.scrollTo({ top: 0 }); } }, String(amps), h("small", {}, "A")))),
      h("details", { class: "row", ...(lines || this.needed || this.installed ? { open: true } : {}) }, h("summary", {}, h("b", {}, "Lines enlarged?"), h("span", { class: "small" }, "then it grows with them")),
        h("div", { class: "fields" },
          h("label", {}, "Ampacity alone needs", pick("tables-needed", this.needed, (n) => { this.needed = n; })),
          h("label", {}, "Installed", pick("tables-installed", this.installed, (n) => { this.installed = n; })),
          this.keys("Metal of the lines", { Cu: "copper lines", Al: "aluminium lines" }, this.lineMetal, (m) => { this.lineMetal = m; }),
          h("label", { class: "tick" }, tick, "only for ambient temperature or bundling"))),
      this.editions(tables)];
  }

  /** @param {Tables} tables */
  screw(tables) {
    const found = lookup.screw(tables, this.screws, this.rules);
    const questions = tables.screws.find((s) => s.rules === this.rules)?.questions ?? [];
    return [h("div", { class: "sun", role: "status" }, h("p", { class: "huge" }, found.screw), h("p", {}, found.clause),
      ...found.do.map((text) => h("p", {}, text)),
      h("details", {}, h("summary", {}, "why"), ...found.because.map((text) => h("p", {}, text)))),
      ...questions.map((text, k) => h("div", {}, h("p", { class: "label" }, `${k + 1}. ${text}`),
        this.keys(`Question ${k + 1}`, { y: "yes", n: "no", u: "not known" }, this.screws[k] ?? "u", (a) => { this.screws[k] = /** @type {any} */ (a); }))),
      this.editions(tables)];
  }

  /** @param {import("./wire").SheetInfo} sheet */
  sheet(sheet) {
    const wide = sheet.head.length > 5 || sheet.rows.some((row) => row.join("").length > 60);
    return [h("h2", { tabindex: "-1" }, sheet.title), sheet.note ? h("p", { class: "note" }, sheet.note) : h("p"),
      h("div", { class: "sheet-wrap", tabindex: "0", role: "region", "aria-label": sheet.title },
        h("table", { class: wide ? "sun-sheet wide" : "sun-sheet" },
          h("thead", {}, h("tr", {}, ...sheet.head.map((text) => h("th", { scope: "col" }, text)))),
          h("tbody", {}, ...sheet.rows.map((row) => h("tr", {}, ...row.map((cell, k) => (k ? h("td", {}, cell) : h("th", { scope: "row" }, cell)))))))),
      h("p", { class: "small" }, `Source: ${sheet.source}.`)];
  }
}
