// A panel schedule brought in: pasted or as a file, every row accounted for, then added.

import * as api from "./api.js";
import { h } from "./dom.js";

/** @typedef {import("./main.js").Page} Page */

/** What was pasted and chosen; it outlives a look at another tab. */
const given = { text: "", file: "", name: "", sheet: "", length: "", wire: "", metal: /** @type {"" | "Cu" | "Al"} */ ("") };

/**
 * @param {Page} page @param {import("./wire").TableInfo[]} tables @param {string} panel
 */
export function scheduleView(page, tables, panel) {
  const places = tables.find((t) => t.table === "places")?.rows ?? [];
  const panels = places.filter((row) => /^(panel|service|disconnect)/u.test(row.about));
  const choice = h("select", { id: "schedule-panel" }, ...panels.map((row) => h("option", { value: row.id, ...(row.id === panel ? { selected: true } : {}) }, row.id)));
  const area = h("textarea", { id: "schedule-text", spellcheck: "false", wrap: "off", rows: "8", placeholder: "Circuit, Description, Breaker, Poles, Wire, Length (ft)\n1, Lights, 20, 1, 12 Cu, 45", oninput: () => { given.text = area.value; given.file = given.name = given.sheet = ""; name.textContent = ""; } });
  area.value = given.text;
  const name = h("span", { class: "small" }, given.name);
  const file = h("input", { type: "file", accept: ".csv,.tsv,.txt,.xlsx", id: "schedule-file", class: "hidden-file", onchange: async () => {
    const chosen = file.files?.[0];
    if (!chosen) return;
    given.file = await base64(chosen);
    given.name = name.textContent = chosen.name;
    given.text = area.value = given.sheet = "";
    await page.guarded(() => read());
  } });
  /** @param {string} label @param {"length" | "wire"} key @param {string} example */
  const assumed = (label, key, example) => {
    const input = h("input", { type: "text", id: `schedule-${key}`, value: given[key], placeholder: `e.g. ${example}`, autocomplete: "off", oninput: () => { given[key] = input.value; } });
    return h("label", {}, label, input);
  };
  const metal = h("select", { id: "schedule-metal", onchange: () => { given.metal = /** @type {any} */ (metal.value); } }, ...["", "Cu", "Al"].map((m) => h("option", { value: m, ...(m === given.metal ? { selected: true } : {}) }, m || "not said")));
  const found = h("div", { id: "schedule-found", "aria-live": "polite" });
  const request = () => ({ ...given, panel: choice.value, add: false, view: page.view });
  const read = async () => {
    try {
      paint(await api.readSchedule(request()));
    } catch (error) {
      found.replaceChildren(h("p", { class: "problem", role: "alert" }, error instanceof Error ? error.message : String(error)));
    }
  };
  /** @param {import("./wire").ScheduleReadAnswer} answer */
  const paint = (answer) => {
    const sheets = h("select", { id: "schedule-sheet", onchange: () => { given.sheet = sheets.value; void page.guarded(read); } }, ...answer.sheets.map((s) => h("option", { value: s, ...(s === given.sheet ? { selected: true } : {}) }, s)));
    const add = h("button", { type: "button", class: "main", id: "schedule-add", ...(answer.adds.length ? {} : { disabled: true }), onclick: async () => {
      await page.described(() => api.addSchedule(request()), `${answer.adds.length} added to ${choice.value}`);
      given.text = given.file = given.name = "";
      found.replaceChildren(h("p", { role: "status" }, `Added: ${answer.adds.join(", ")}.`));
      area.value = "";
      name.textContent = "";
    } }, answer.adds.length === 1 ? "Add the one circuit" : `Add ${answer.adds.length} circuits`);
    found.replaceChildren(
      answer.sheets.length > 1 ? h("div", { class: "fields" }, h("label", {}, "Sheet", sheets)) : "",
      rowList("Left out, or in doubt", answer.doubts, "open", true),
      h("h3", {}, `${answer.circuits.length} rows understood`),
      h("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "Rows understood" }, h("table", { class: "flowtable wide" }, h("thead", {}, h("tr", {}, ...["circuit", "what", "device", "poles", "load", "wire", "length", "cell"].map((word) => h("th", { scope: "col" }, word)))),
        h("tbody", {}, ...answer.circuits.map((c) => h("tr", {}, ...[c.numbers, c.what, c.device, c.poles, c.load, c.wire, c.length, c.where].map((text) => h("td", {}, text))))))),
      rowList("No circuits: titles, totals and the like", answer.remarks, "note", false),
      h("div", { class: "actions" }, add));
  };
  return h("div", { class: "block" },
    h("p", { class: "small" }, "Paste it from a spreadsheet, or choose a CSV or XLSX file, however it is laid out. Each circuit becomes a run to a place of its own; nothing that is described already is touched."),
    h("div", { class: "fields" }, h("label", {}, "Panel", choice), h("label", {}, "The schedule", area)),
    h("div", { class: "actions" }, h("label", { class: "button", for: "schedule-file" }, "Choose a file"), file, name),
    h("details", { class: "row" }, h("summary", {}, h("b", {}, "Where the schedule says nothing"), h("span", { class: "small" }, "length, wire and metal to take; without them such circuits are left out and listed")),
      h("div", { class: "fields" }, assumed("Length of a branch circuit", "length", "60 ft"), assumed("Wire of a branch circuit", "wire", "12 AWG Cu"), h("label", {}, "Metal of wires", metal))),
    h("div", { class: "actions" }, h("button", { type: "button", class: "main", id: "schedule-read", onclick: () => void page.guarded(read) }, "Read it")),
    found);
}

/** @param {string} head @param {import("./wire").LeftRow[]} rows @param {string} kind @param {boolean} open */
function rowList(head, rows, kind, open) {
  if (!rows.length) return "";
  return h("details", { class: `row ${kind}`, ...(open ? { open: true } : {}) }, h("summary", {}, h("b", {}, head), h("span", { class: "small count" }, String(rows.length))),
    h("ul", { class: "doubts" }, ...rows.map((row) => h("li", {}, h("b", {}, row.where), ` ${row.text}`, row.problem ? h("span", { class: "small" }, `: ${row.problem}`) : null))));
}

/** @param {File} file @returns {Promise<string>} */
export async function base64(file) {
  const bytes = new Uint8Array(await file.arrayBuffer());
  let text = "";
  for (let k = 0; k < bytes.length; k += 0x8000) text += String.fromCharCode(...bytes.subarray(k, k + 0x8000));
  return btoa(text);
}
