// Describing the site: what is described in lists, a form for each thing, text, panel schedules.

import * as api from "./api.js";
import { h } from "./dom.js";
import { group } from "./form.js";
import { revisionsView } from "./keep.js";
import { scheduleView } from "./schedule.js";
import { textView } from "./textview.js";

/** @typedef {import("./main.js").Page} Page */
/** @typedef {import("./wire").FormInfo} FormInfo */
/** @typedef {import("./wire").TableInfo} TableInfo */
/** @typedef {{table: string, id: string, from?: string}} Open what is open in a form; without an id something new */

/** How many runs lead to a new one of each kind: at least, at most. @type {Record<string, [number, number]>} */
const FED = { places: [1, 1], transformers: [1, 1], transfers: [2, 2], generators: [0, 1], inverters: [0, 1] };
const USUAL = ["places", "runs", "sources", "transformers", "ties", "electrodes", "metal"];
const MOST_ROWS = 120;
/** Kinds of places that a feeder leads to, and no branch circuit. */
const FEEDERS = ["panel", "service", "disconnect", "meter"];
/** The table that a kind of thing in the picture is described in. @type {Record<string, string>} */
const TABLE_OF = { place: "places", slot: "places", run: "runs", source: "sources", transformer: "transformers", generator: "generators", inverter: "inverters", transfer: "transfers", tie: "ties", electrode: "electrodes", metal: "metal", area: "areas", array: "arrays" };

/** What the tab shows. */
export const shown = {
  /** @type {"lists" | "text" | "schedule" | "revisions"} */
  view: "lists",
  /** @type {Open | null} */
  open: null,
  panel: "",
};

/** @type {Promise<import("./wire").FormsAnswer> | null} */
let fetched = null;
const forms = () => (fetched ??= api.forms());

/** Open the form of a thing in the picture. @param {Page} page @param {string} kind @param {string} id */
export function describeThing(page, kind, id) {
  shown.view = "lists";
  void turn(page, { table: TABLE_OF[kind] ?? "", id });
}

/** Open the form of something new behind a place. @param {Page} page @param {string} from */
export function addBehind(page, from) {
  shown.view = "lists";
  void turn(page, { table: "places", id: "", from });
}

/** Open a form, or go back to the lists; whoever uses keys goes on from there. @param {Page} page @param {Open | null} open */
async function turn(page, open) {
  shown.open = open;
  await page.openTab("describe");
  const next = open ? "#told .entry h3, #told .block button" : "#told .switch [aria-pressed=true]";
  /** @type {HTMLElement | null} */ (document.querySelector(next))?.focus({ preventScroll: true });
}

/** @param {string} kind */
export const canDescribe = (kind) => kind in TABLE_OF;

/** @param {Page} page */
export async function describeView(page) {
  const [every, told] = await Promise.all([forms(), api.description()]);
  const known = { ...every, forms: every.forms.map((form) => byRules(form, page.site.rules)) };
  const views = /** @type {const} */ ({ lists: "Lists", text: "As text", schedule: "Panel schedule", ...(page.kept?.kind === "job" ? { revisions: "Revisions" } : {}) });
  if (!(shown.view in views)) shown.view = "lists";
  const bar = h("div", { class: "switch", role: "group", "aria-label": "Ways to describe it" }, ...Object.entries(views).map(([name, word]) =>
    h("button", { type: "button", "aria-pressed": String(shown.view === name), onclick: () => { if (shown.view === name && !shown.open) return; shown.view = /** @type {any} */ (name); void turn(page, null); } }, word)));
  document.body.classList.toggle("wide", shown.view === "text" || shown.view === "schedule");
  const body = shown.view === "text" ? await textView(page)
    : shown.view === "schedule" ? scheduleView(page, told.tables, shown.panel)
    : shown.view === "revisions" ? await revisionsView(page)
    : shown.open ? await entryView(page, known.forms, told.tables, shown.open)
    : lists(page, known, told.tables);
  return h("div", {}, h("h2", {}, "Describe"), bar, body);
}

/** What the other family of rules asks for goes behind. @param {FormInfo} form @param {string} rules @returns {FormInfo} */
function byRules(form, rules) {
  const foreign = rules.startsWith("iec") ? ["egc", "ssbj"] : ["pe", "earthing"];
  const fields = form.fields.map((field) => (foreign.includes(field.key) ? { ...field, main: false } : field));
  return { ...form, fields };
}

/** @param {Page} page @param {import("./wire").FormsAnswer} known @param {TableInfo[]} tables */
function lists(page, known, tables) {
  /** @param {Open} open */
  const go = (open) => void turn(page, open);
  /** @param {FormInfo} form */
  const section = (form) => {
    const rows = tables.find((t) => t.table === form.table)?.rows ?? [];
    const feeds = form.table === "runs";
    return h("details", { class: "row", "data-table": form.table, ...(form.table === "places" && rows.length < 9 ? { open: true } : {}) },
      h("summary", {}, h("b", {}, form.title), h("span", { class: "small count" }, String(rows.length)), h("span", { class: "small" }, form.about)),
      h("div", {},
        h("ul", { class: "list entries" }, ...rows.slice(0, MOST_ROWS).map((row) => h("li", {}, h("button", { type: "button", onclick: () => go({ table: form.table, id: row.id }) }, h("b", {}, row.id), h("span", { class: "small" }, row.about))))),
        rows.length > MOST_ROWS ? h("p", { class: "small" }, `${rows.length - MOST_ROWS} more; find one by the search and choose “Change it”.`) : null,
        feeds ? h("p", { class: "small" }, "A run comes with what it feeds: add a place, or a transformer.") : h("button", { type: "button", onclick: () => go({ table: form.table, id: "" }) }, `Add: ${form.one}`)));
  };
  const usual = known.forms.filter((f) => USUAL.includes(f.table) || (f.table && tables.some((t) => t.table === f.table && t.rows.length)));
  const others = known.forms.filter((f) => f.table && !usual.includes(f));
  const fresh = page.kept?.new;
  return h("div", { class: "block" },
    fresh ? h("div", { class: "card" }, h("h3", {}, `${page.kept?.where} is not there yet`), h("p", {}, "It begins as the starter below; choose another, or change this one. Nothing is written until you save."), starters(page, known)) : null,
    h("div", { class: "actions" }, h("button", { type: "button", onclick: () => go({ table: "", id: "" }) }, "Name, rules, soil"), h("button", { type: "button", onclick: () => go({ table: "places", id: "" }) }, "Add a place")),
    ...usual.map(section),
    others.length ? h("details", { class: "row" }, h("summary", {}, h("b", {}, "Other kinds"), h("span", { class: "small" }, others.map((f) => f.title.toLowerCase()).join(", "))), h("div", {}, ...others.map((form) =>
      h("p", {}, h("button", { type: "button", class: "plain", onclick: () => go({ table: form.table, id: "" }) }, `Add: ${form.one}`), " ", h("span", { class: "small" }, form.about))))) : null,
    fresh ? null : h("details", { class: "row" }, h("summary", {}, h("b", {}, "Begin anew from a starter")), h("div", {}, h("p", { class: "small" }, "Everything described here is put aside; undo brings it back."), starters(page, known))));
}

/** @param {Page} page @param {import("./wire").FormsAnswer} known */
function starters(page, known) {
  const choice = h("select", { "aria-label": "Starter", id: "starter" }, ...Object.entries(known.starters).map(([name, text]) => h("option", { value: name }, text)));
  return h("div", { class: "fields" }, choice, h("div", { class: "actions" }, h("button", { type: "button", id: "begin", onclick: () => page.described(() => api.writeText({ text: "", starter: choice.value, view: page.view }), "Begun anew") }, "Begin with it")));
}

/**
 * The form of an entry, or of something new with the runs that lead to it.
 * @param {Page} page @param {FormInfo[]} known @param {TableInfo[]} tables @param {Open} open
 */
async function entryView(page, known, tables, open) {
  const form = known.find((f) => f.table === open.table);
  const runs = known.find((f) => f.table === "runs");
  if (!form || !runs) throw new Error(`nothing is kept under ${open.table}`);
  const there = open.table === "" || tables.some((t) => t.table === open.table && t.rows.some((row) => row.id === open.id));
  if (open.id && !there) {
    return h("div", {}, back(page), h("p", {}, `${open.id} isn't written in the description: the plan makes it. Add one of your own to decide it yourself; the others are then written down as they stand.`), h("button", { type: "button", onclick: () => void turn(page, { table: open.table, id: "" }) }, `Add: ${form.one}`));
  }
  const fresh = open.table !== "" && !open.id;
  const answer = fresh ? { entry: beginning(open), hanging: [] } : await api.entry(open.table, open.id);
  const names = (/** @type {string[]} */ wanted) => tables.filter((t) => wanted.includes(t.table)).flatMap((t) => t.rows.map((row) => row.id));
  const part = group(form.fields, answer.entry, names);
  const name = h("input", { type: "text", id: "entry-name", value: open.id, autocomplete: "off", "aria-describedby": "entry-wrong" });
  const wrong = h("p", { class: "wrong", id: "entry-wrong", hidden: true, role: "alert" });
  const [least = 0, most = 0] = fresh ? (FED[open.table] ?? []) : [];
  const feeders = Array.from({ length: most }, (_, k) => feeder(runs, k, least, most, names, open, () => `${name.value.trim()} ${word()}`));
  const word = () => (open.table === "places" && !FEEDERS.includes(/** @type {any} */ (part.value()).kind) ? "branch" : "feeder");
  const send = async () => {
    const id = name.value.trim();
    wrong.hidden = true;
    part.clear();
    for (const one of feeders) one.part.clear();
    /** @type {any} */
    const entry = part.value();
    const made = feeders.filter((one) => one.wanted()).map((one) => ({ table: "runs", was: "", id: one.id(), entry: { .../** @type {any} */ (one.part.value()), to: id } }));
    if (open.table === "transfers" && made.length === 2) Object.assign(entry, { normal: made[0]?.id, standby: made[1]?.id });
    try {
      await page.described(() => api.describe({ changes: [{ table: open.table, was: open.id, id, entry }, ...made], view: page.view }), fresh ? `${id} added` : "Changed", true);
    } catch (error) {
      if (!(error instanceof api.Problem)) throw error;
      tell(error, wrong, (path) => (path[0] === open.table && (path[1] === id || !fresh) ? [part, path.slice(2)] : open.table === "" ? [part, path] : path[0] === "runs" ? [feeders.find((one) => one.id() === path[1])?.part, path.slice(2)] : [undefined, path]));
      return;
    }
    if (open.table && id) await page.refind(open.table, id);
    await turn(page, null);
  };
  const title = open.table === "" ? form.title : fresh ? `New ${form.one}` : `${form.one[0]?.toUpperCase()}${form.one.slice(1)} ${open.id}`;
  const made = h("form", { class: "entry", novalidate: true, onsubmit: (/** @type {Event} */ e) => { e.preventDefault(); void page.guarded(send); } },
    h("h3", { tabindex: "-1" }, title),
    wrong,
    open.table ? h("div", { class: "field" }, h("label", { for: "entry-name" }, "Name", h("span", { class: "needed", "aria-hidden": "true" }, " *")), name) : null,
    part.node,
    ...feeders.map((one) => one.node),
    h("div", { class: "actions sticky" }, h("button", { type: "submit", class: "main" }, fresh ? "Add it" : "Change it"),
      h("button", { type: "button", onclick: () => void turn(page, null) }, "Leave it")));
  return h("div", { class: "block" }, back(page), made, !fresh && open.table ? takeOut(page, form, open, answer.hanging) : null);
}

/** @param {Open} open @returns {Record<string, any>} */
function beginning(open) {
  return open.table === "places" ? { kind: open.from ? "outlet" : "panel" } : {};
}

/** @param {Page} page */
function back(page) {
  return h("button", { type: "button", class: "plain", onclick: () => void turn(page, null) }, "← All that is described");
}

/**
 * The run that leads to something new.
 * @param {FormInfo} runs @param {number} k @param {number} least @param {number} most @param {import("./form.js").Names} names
 * @param {Open} open @param {() => string} named what it is called unless a name is given
 */
function feeder(runs, k, least, most, names, open, named) {
  const fields = runs.fields.filter((field) => field.key !== "to");
  const part = group(fields, open.from ? { from: open.from } : {}, names);
  const there = h("input", { type: "checkbox", onchange: () => { inner.hidden = !there.checked; } });
  const usual = () => (most > 1 ? `${named()}, ${k ? "standby" : "normal"}` : named());
  const name = h("input", { type: "text", autocomplete: "off", id: `run-name-${k}`, placeholder: "as what it feeds" });
  const inner = h("div", { class: "form" }, h("div", { class: "field" }, h("label", { for: `run-name-${k}` }, "Name of the run"), name), part.node);
  inner.hidden = least === 0;
  const word = most > 1 ? (k ? "The run from its standby supply" : "The run from its normal supply") : "The run that feeds it";
  const node = h("fieldset", { class: "field", "data-run": String(k) }, h("legend", {}, least ? word : h("label", {}, there, word)), inner);
  return { node, part, wanted: () => least > 0 || there.checked, id: () => name.value.trim() || usual() };
}

/**
 * Put each problem beside its field; what belongs to none stands above.
 * @param {api.Problem} error @param {HTMLElement} wrong
 * @param {(path: (string | number)[]) => [import("./form.js").Part | undefined, (string | number)[]]} home
 */
function tell(error, wrong, home) {
  /** @type {string[]} */
  const rest = [];
  for (const problem of error.problems) {
    const text = `${problem.text && !problem.problem.startsWith("lacks") ? `“${problem.text}” ` : ""}${problem.problem}${problem.hint ? `; ${problem.hint}` : ""}`.replace(/[^.?!]$/u, "$&.");
    const [part, path] = problem.path.length ? home(problem.path) : [undefined, []];
    if (!part || !path.length || !part.problem(path, text)) rest.push(problem.path.length ? `${problem.path.join(" / ")}: ${text}` : text);
  }
  wrong.textContent = rest.join(" ");
  wrong.hidden = !rest.length;
  const first = document.querySelector("#told [aria-invalid], #told .wrong:not([hidden])");
  first?.scrollIntoView({ block: "center" });
  /** @type {HTMLElement | null} */ (first)?.focus?.();
}

/** @param {Page} page @param {FormInfo} form @param {Open} open @param {string[]} hanging */
function takeOut(page, form, open, hanging) {
  return h("details", { class: "row" }, h("summary", {}, h("b", {}, `Take this ${form.one} out`)), h("div", {},
    hanging.length ? h("p", {}, `With it goes what hangs on it: ${hanging.slice(0, 20).join(", ")}${hanging.length > 20 ? ` and ${hanging.length - 20} more` : ""}.`) : h("p", {}, "Nothing else hangs on it."),
    h("button", { type: "button", id: "take-out", onclick: async () => {
      await page.described(() => api.describe({ changes: [{ table: open.table, was: open.id, id: "", entry: null }], view: page.view }), `${open.id} taken out`);
      await turn(page, null);
    } }, hanging.length ? `Take out all ${hanging.length + 1}` : "Take it out")));
}
