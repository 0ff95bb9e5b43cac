// A field test typed in: its kind, what belongs to it, its readings; judged by the server.

import * as api from "./api.js";
import { h } from "./dom.js";

/** @typedef {{key: string, label: string, unit?: string, words?: string[], must?: boolean, check?: boolean}} Field */
/** @typedef {{about: string, fields: Field[], columns: Field[], least: number, most?: number}} Kind */

const OHM = { key: "resistance", label: "reading (ohm)", unit: "ohm" };
const GOAL = { key: "goal", label: "goal, the most allowed (ohm)", unit: "ohm" };
const LEADS = { key: "leads", label: "leads, if not nulled (ohm)", unit: "ohm" };

/** What belongs to each kind; the server refuses what doesn't, in the words of the site file. @type {Record<string, Kind>} */
const KINDS = {
  "fall of potential": {
    about: "The far pin is the current pin. Read on both sides of 52 %, 62 % and 72 % of its distance.",
    fields: [{ key: "far", label: "far pin at (m)", unit: "m", must: true }, { key: "widest", label: "widest reach of the electrode (m)", unit: "m" }, GOAL],
    columns: [{ key: "distance", label: "potential pin at (m)", unit: "m" }, OHM], least: 5,
  },
  clamp: {
    about: "A stakeless clamp round the electrode conductor. It reads this electrode and all others in parallel.",
    fields: [GOAL, { key: "over range", label: "it showed over range", check: true }], columns: [OHM], least: 1, most: 1,
  },
  "two point": {
    about: "Between two ends with one pair of leads.",
    fields: [{ key: "asked", label: "it is to show", words: ["joined", "earth"], must: true }, { key: "others", label: "the other end to earth, if known (ohm)", unit: "ohm" }, LEADS, GOAL],
    columns: [OHM], least: 1, most: 1,
  },
  continuity: {
    about: "A bond with a low-ohm instrument, power off and proved dead. A second reading is the other polarity.",
    fields: [{ ...GOAL, must: true }, LEADS, { key: "metal", label: "temperature of the metal (degC)", unit: "degC" }], columns: [OHM], least: 2, most: 2,
  },
  survey: {
    about: "Four pins. Wenner: spacing from pin to pin. Schlumberger: from the middle to a current pin.",
    fields: [{ key: "pins", label: "the pins stood as", words: ["wenner", "schlumberger"] }],
    columns: [{ key: "spacing", label: "spacing (m)", unit: "m" }, { key: "inner", label: "inner pin (m), Schlumberger", unit: "m" }, OHM], least: 6,
  },
  "soil box": {
    about: "A sample of soil in a box.",
    fields: [{ key: "section", label: "cross-section (cm2)", unit: "cm2", must: true }, { key: "apart", label: "pins apart (cm)", unit: "cm", must: true }], columns: [OHM], least: 1,
  },
  "loop impedance": {
    about: "A loop tester's reading on cold conductors, against 80 % of the most that is allowed warm.",
    fields: [{ ...GOAL, must: true }, { key: "tester", label: "tester", words: ["high current", "no trip"] }, { key: "cold part", label: "part held to when cold (%)", unit: "%" }],
    columns: [OHM], least: 1, most: 1,
  },
  "TT electrode": {
    about: "An electrode behind a residual-current device.",
    fields: [{ key: "residual", label: "rated residual current (mA)", unit: "mA", must: true }], columns: [OHM], least: 1, most: 1,
  },
};
const WITH_ELECTRODE = new Set(["fall of potential", "clamp", "two point", "TT electrode"]);
const NUMBER = /^[+-]?\d*[.,]?\d+$/;

/** What was typed, kept while other parts are looked at. @type {{kind: string, values: Map<string, string>, rows: string[][], of: string}} */
const typed = { kind: "fall of potential", values: new Map(), rows: [], of: "" };

/** A bare number takes the unit of its heading. @param {string} text @param {string | undefined} unit */
function withUnit(text, unit) {
  const said = text.trim();
  return unit && NUMBER.test(said) ? `${said.replace(",", ".")} ${unit}` : said;
}

/**
 * @param {import("./wire").EarthAnswer} answer
 * @param {import("./main.js").Page} page
 * @param {(test: import("./wire").EarthTestInfo, page: import("./main.js").Page, ask: () => Promise<import("./wire").Drawn | null>) => HTMLElement} card
 */
export function testForm(answer, page, card) {
  const inside = h("div", { class: "fields" });
  const result = h("div", { id: "test-result", role: "status" });
  const kind = h("select", { id: "test-kind", onchange: () => { typed.kind = kind.value; typed.rows = []; result.replaceChildren(); fill(); } },
    ...Object.keys(KINDS).map((name) => h("option", { value: name, ...(name === typed.kind ? { selected: true } : {}) }, name)));
  const fill = () => {
    const what = KINDS[typed.kind];
    if (!what) return;
    const of = h("select", { id: "test-of", onchange: () => { typed.of = of.value; } }, h("option", { value: "" }, "not said"),
      ...answer.electrodes.map((one) => h("option", { value: one.id, ...(one.id === typed.of ? { selected: true } : {}) }, one.id)));
    inside.replaceChildren(h("p", { class: "small" }, what.about),
      ...(WITH_ELECTRODE.has(typed.kind) ? [h("label", {}, "of the electrode", of)] : []),
      ...what.fields.map(fieldPart), rowsPart(what),
      h("div", { class: "actions" }, h("button", { type: "submit", class: "main", id: "test-judge" }, "Judge it")));
  };
  const judge = async () => {
    const what = KINDS[typed.kind];
    if (!what) return;
    /** @type {Record<string, string | boolean>} */
    const values = {};
    for (const field of what.fields) {
      const said = typed.values.get(field.key) ?? (field.words && field.must ? field.words[0] ?? "" : "");
      if (said) values[field.key] = field.check ? true : withUnit(said, field.unit);
    }
    const readings = typed.rows.map((row) => Object.fromEntries(what.columns.map((column, k) => [column.key, withUnit(row[k] ?? "", column.unit)])));
    try {
      const request = { kind: typed.kind, values, of: WITH_ELECTRODE.has(typed.kind) && typed.of ? [typed.of] : [], readings };
      const judged = await api.judge({ ...request, form: "phone" });
      const wide = async () => (await api.judge({ ...request, form: "page" })).test.plot;
      result.replaceChildren(card(judged.test, page, wide), h("details", { class: "row" }, h("summary", {}, h("b", {}, "For the site file"), h("span", { class: "small" }, "under 'earth tests:'; give it a name")),
        h("pre", { class: "earth-lines", tabindex: "0", role: "region", "aria-label": "Lines for the site file" }, judged.lines)));
    } catch (error) {
      if (!(error instanceof api.Problem)) throw error;
      result.replaceChildren(h("p", { class: "problem", role: "alert" }, error.message));
    }
    result.scrollIntoView({ block: "nearest" });
  };
  fill();
  return h("form", { class: "card", id: "test-form", onsubmit: (/** @type {Event} */ event) => { event.preventDefault(); void judge(); } },
    h("h3", {}, "A reading of your own"), h("div", { class: "fields" }, h("label", {}, "kind of test", kind)), inside, result);
}

/** @param {Field} field */
function fieldPart(field) {
  const now = typed.values.get(field.key) ?? "";
  const keep = (/** @type {string} */ text) => { if (text) typed.values.set(field.key, text); else typed.values.delete(field.key); };
  const id = `test-${field.key.replace(" ", "-")}`;
  if (field.check) {
    const box = h("input", { type: "checkbox", id, onchange: () => keep(box.checked ? "yes" : "") });
    box.checked = Boolean(now);
    return h("label", { class: "earth-tick" }, box, field.label);
  }
  if (field.words) {
    const select = h("select", { id, onchange: () => keep(select.value) }, ...field.words.map((word) => h("option", { value: word, ...(word === now ? { selected: true } : {}) }, word)));
    return h("label", {}, field.label, select);
  }
  const input = h("input", { type: "text", inputmode: "decimal", autocomplete: "off", id, value: now, oninput: () => keep(input.value), ...(field.must ? { required: true } : {}) });
  return h("label", {}, field.label, input);
}

/** @param {Kind} what */
function rowsPart(what) {
  while (typed.rows.length < what.least) typed.rows.push(what.columns.map(() => ""));
  const body = h("tbody");
  const add = (/** @type {string[]} */ row) => {
    const number = body.childElementCount + 1;
    body.append(h("tr", {}, ...what.columns.map((column, k) => {
      const input = h("input", { type: "text", inputmode: "decimal", autocomplete: "off", "aria-label": `${column.label}, reading ${number}`, value: row[k] ?? "", oninput: () => { row[k] = input.value; } });
      return h("td", {}, input);
    })));
  };
  for (const row of typed.rows) add(row);
  const more = h("button", { type: "button", onclick: () => { const row = what.columns.map(() => ""); typed.rows.push(row); add(row); } }, "One more reading");
  return h("div", {}, h("table", { class: "earth-typed" }, h("thead", {}, h("tr", {}, ...what.columns.map((column) => h("th", { scope: "col" }, column.label)))), body),
    what.most ? null : h("div", { class: "actions" }, more));
}
