// A reading of one's own: what, where, of what, in which state, with what. None lifts a conductor.

import * as api from "./api.js";
import { h } from "./dom.js";

/** @typedef {import("./wire").Note} Note */
/** @typedef {import("./wire").NoteProblem} NoteProblem */
/** @typedef {import("./wire").QuantityInfo} QuantityInfo */

const WORDS = /** @type {Record<string, string>} */ ({
  all: "all of it, metal too", wires: "lines and neutral together", EGC: "the bonding conductor", raceway: "the raceway",
  N: "the neutral", "N-G": "neutral to metal", "G-earth": "metal to a pin in the soil", "": "the whole of it",
});

/** @param {string} of */
function ofWord(of) {
  if (WORDS[of]) return /** @type {string} */ (WORDS[of]);
  const [a = "", b] = of.split("-");
  const one = (/** @type {string} */ t) => (t === "N" ? "neutral" : t === "G" ? "metal" : t);
  return b ? `${one(a)} to ${one(b)}` : `line ${of}`;
}

export class OwnReading {
  /** @param {import("./notes.js").Notes} notes */
  constructor(notes) {
    this.notes = notes;
    /** @type {import("./wire").HuntForm | null} */
    this.form = null;
    this.last = "";
    this.body = h("div", { class: "fields" });
    this.root = h("details", { class: "row own" }, h("summary", {}, h("b", {}, "A reading of your own"), h("span", { class: "small" }, "anything else you have read")), this.body);
    this.root.addEventListener("toggle", () => { if (this.root.open && !this.form) void this.load(); });
  }

  async load() {
    try {
      this.form = await api.huntForm();
      this.build();
    } catch (error) {
      if (!(error instanceof api.Problem)) throw error;
      this.body.replaceChildren(h("p", { class: "wrong" }, error.message), h("button", { type: "button", onclick: () => void this.load() }, "Try again"));
    }
  }

  build() {
    const form = /** @type {import("./wire").HuntForm} */ (this.form);
    const option = (/** @type {string} */ value, /** @type {string} */ label) => h("option", { value }, label);
    this.what = h("select", { id: "own-what", onchange: () => this.quantity() }, ...form.quantities.map((q) => option(q.what, `${q.what}: ${q.about}`)));
    this.where = h("input", { id: "own-where", list: "own-places", autocomplete: "off", oninput: () => this.place() });
    this.places = h("datalist", { id: "own-places" });
    this.of = h("select", { id: "own-of" });
    this.value = h("input", { id: "own-value", autocomplete: "off", maxlength: 60 });
    this.state = h("select", { id: "own-state" }, ...form.states.map((s) => option(s.value, s.label)));
    this.later = h("input", { type: "checkbox", id: "own-later" });
    this.meter = h("select", { id: "own-meter" });
    this.note = h("input", { id: "own-note", autocomplete: "off", maxlength: 500 });
    /** @type {Record<string, HTMLElement>} */
    this.wrong = {};
    const part = (/** @type {string} */ name, /** @type {string} */ label, /** @type {HTMLElement} */ field) => {
      const wrong = h("p", { class: "wrong", id: `own-${name}-wrong`, hidden: true });
      field.setAttribute("aria-describedby", wrong.id);
      /** @type {Record<string, HTMLElement>} */ (this.wrong)[name] = wrong;
      return h("div", {}, h("label", {}, label, field), wrong);
    };
    this.body.replaceChildren(
      part("what", "What", this.what), part("where", "Where", this.where), this.places, part("of", "Of", this.of),
      part("value", "It reads, with the unit", this.value), part("state", "State of the site", this.state),
      h("label", { class: "tick" }, this.later, "other loads may be on than at the readings before"),
      part("meter", "Read with", this.meter), part("note", "Note", this.note),
      h("div", { class: "big" }, h("button", { type: "button", class: "main", id: "own-keep", onclick: () => this.keep() }, "Keep it")),
    );
    this.quantity();
  }

  /** @returns {QuantityInfo | undefined} */
  chosen() {
    return this.form?.quantities.find((q) => q.what === this.what?.value);
  }

  quantity() {
    const q = this.chosen();
    if (!q || !this.places || !this.meter || !this.value) return;
    this.places.replaceChildren(...q.wheres.map((w) => h("option", { value: w.id })));
    this.meter.replaceChildren(...q.meters.map((m) => h("option", { value: m }, m)));
    this.value.placeholder = `2.6 ${q.units[0]}${q.over ? `, or > 600 ${q.units[0]} for over range` : ""}`;
    this.place();
  }

  place() {
    const found = this.chosen()?.wheres.find((w) => w.id === this.where?.value.trim());
    const before = this.of?.value;
    const every = found?.of ?? [];
    this.of?.replaceChildren(...(every.length ? every : [""]).map((of) => h("option", { value: of }, ofWord(of))));
    if (this.of && before && every.includes(before)) this.of.value = before;
  }

  keep() {
    if (!this.what || !this.where || !this.of || !this.value || !this.state || !this.meter || !this.note || !this.wrong) return;
    for (const wrong of Object.values(this.wrong)) wrong.hidden = true;
    const value = this.value.value.trim().replace(",", "."), where = this.where.value.trim();
    if (!where) return this.tell("where", "Say where it was read.");
    if (!value) return this.tell("value", `Type what the meter shows, like ${this.value.placeholder}.`);
    const units = this.chosen()?.units ?? [];
    const state = this.later?.checked ? `${this.state.value}; @${new Date().toTimeString().slice(0, 5)}` : this.state.value;
    // A bare number is meant in the usual unit, which stands beside the field.
    const whole = /^>?\s*[\d.]+$/.test(value) ? `${value} ${units[0] ?? ""}` : value;
    const note = this.notes.add({ what: this.what.value, where, of: this.of.value, value: whole, state, meter: this.meter.value, note: this.note.value.trim() });
    this.last = note.key;
    this.value.value = "";
    this.note.value = "";
    return undefined;
  }

  /** @param {string} field @param {string} text */
  tell(field, text) {
    const wrong = this.wrong?.[field] ?? this.wrong?.["value"];
    if (!wrong) return;
    wrong.hidden = false;
    wrong.textContent = text;
    document.getElementById(`own-${field}`)?.focus();
  }

  /** What the server couldn't use of the reading that was entered last stands beside its field. @param {NoteProblem[]} problems */
  problems(problems) {
    const mine = problems.find((p) => p.key === this.last);
    if (!mine) return;
    const note = this.notes.book.notes.find((n) => n.key === this.last);
    this.last = "";
    if (note) {
      this.notes.remove([note.key]);
      void this.fill(note, mine);
    }
  }

  /** Put a reading back into the form, with what is wrong beside it. @param {Note} note @param {NoteProblem} bad */
  async fill(note, bad) {
    this.root.open = true;
    if (!this.form) await this.load();
    if (!this.what || !this.where || !this.of || !this.value || !this.note || !this.meter || !this.state) return;
    this.what.value = note.what;
    this.quantity();
    this.where.value = note.where;
    this.place();
    this.of.value = note.of;
    this.value.value = note.value;
    this.note.value = note.note;
    this.meter.value = note.meter;
    this.state.value = note.state.split(";")[0]?.trim() ?? "";
    this.tell(bad.field, `${[bad.text && `“${bad.text}”`, bad.problem].filter(Boolean).join(" ")}${bad.hint ? `; ${bad.hint}` : ""}.`);
  }
}
