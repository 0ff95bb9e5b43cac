// Keeping what is described: saving, what somebody else saved meanwhile, revisions.

import * as api from "./api.js";
import { at, badge, h } from "./dom.js";
import { typing } from "./textview.js";

/** @typedef {import("./main.js").Page} Page */

const LOOK_MS = 4000;
/** The two revisions that are compared; 0 is what is on the page. */
const chosen = { before: 0, after: 0 };

/** Begin to watch where the page is kept. @param {Page} page */
export async function startKeeping(page) {
  at("save").addEventListener("click", () => void save(page));
  document.addEventListener("keydown", (e) => {
    if ((e.ctrlKey || e.metaKey) && e.key.toLowerCase() === "s") {
      e.preventDefault();
      if (!(/** @type {HTMLButtonElement} */ (at("save")).disabled)) void save(page);
    }
  });
  window.addEventListener("beforeunload", (e) => {
    if (page.edits.unsaved || typing()) e.preventDefault();
  });
  await look(page);
  window.setInterval(() => { if (!document.hidden) void look(page); }, LOOK_MS);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) void look(page); });
}

/** Look whether it is saved, and whether somebody else wrote. @param {Page} page */
async function look(page) {
  /** @type {import("./wire").KeptAnswer} */
  let kept;
  try {
    kept = await api.kept();
  } catch (error) {
    if (error instanceof api.Problem) return;
    throw error;
  }
  const before = page.kept;
  page.kept = kept;
  paintKept(page);
  // Another page of the same working copy, or another server than before.
  if (before && kept.unsaved !== page.edits.unsaved && !typing()) await page.look(false);
  if (!kept.elsewhere || kept.elsewhere === before?.elsewhere) return;
  if (kept.unsaved || typing()) page.toast(`${kept.elsewhere}. Yours isn't saved.`, false);
  else if (!document.querySelector("dialog[open]")) await takeTheirs(page, false, `${kept.elsewhere}. The page follows.`);
}

/** Show whether there is something to save. @param {Page} page */
export function paintKept(page) {
  const button = /** @type {HTMLButtonElement} */ (at("save"));
  const kept = page.kept;
  button.hidden = !kept || kept.kind === "none" || !kept.may_save;
  button.disabled = !page.edits.unsaved;
  button.textContent = page.edits.unsaved ? "Save" : "Saved";
  button.classList.toggle("main", page.edits.unsaved);
  if (kept && kept.kind !== "none") at("title").title = `${kept.where}${kept.revision ? `, revision ${kept.revision}` : ""}`;
  const home = /** @type {HTMLAnchorElement} */ (at("home"));
  home.hidden = !kept?.home;
}

/** @param {Page} page */
async function save(page) {
  await page.guarded(async () => {
    page.kept = await api.kept();
    if (page.kept.elsewhere) conflict(page, page.kept.elsewhere);
    else if (page.kept.kind === "job") askWhy(page);
    else await write(page, "");
  });
}

/** @param {Page} page @param {string} why */
async function write(page, why) {
  try {
    page.kept = await api.save({ why, mine: false, view: page.view });
  } catch (error) {
    if (!(error instanceof api.Problem)) throw error;
    if (error.status !== 409) throw error;
    conflict(page, error.message);
    return;
  }
  page.edits.unsaved = false;
  page.edits.described = [];
  paintKept(page);
  page.toast(page.kept.kind === "job" ? `Saved as revision ${page.kept.revision}` : `${page.kept.where} is written`, false);
  await page.paintTab();
}

/** @param {string} label @param {...(Node | string)} inside */
function dialog(label, ...inside) {
  const made = h("dialog", { "aria-label": label, onclose: () => made.remove() });
  made.append(h("div", {}, h("header", {}, h("h2", {}, label), h("button", { type: "button", class: "icon", "aria-label": "Close", onclick: () => made.close() }, "✕")), ...inside));
  document.body.append(made);
  made.showModal();
  return made;
}

/** A revision says why. @param {Page} page */
function askWhy(page) {
  const why = h("textarea", { id: "why", rows: "3", maxlength: "2000" });
  why.value = page.kept?.why ?? "";
  const made = dialog("Save a revision",
    h("form", { class: "fields", onsubmit: (/** @type {Event} */ e) => { e.preventDefault(); if (why.value.trim()) { made.close(); void page.guarded(() => write(page, why.value)); } else why.focus(); } },
      h("label", {}, "Why, in a few words", why),
      h("p", { class: "small" }, `Revision ${(page.kept?.revision ?? 0) + 1} carries it, with the name ${page.kept?.who} and the time.`),
      h("div", { class: "actions" }, h("button", { type: "submit", class: "main" }, "Save"))));
  why.select();
}

/** Somebody else wrote meanwhile. @param {Page} page @param {string} said */
function conflict(page, said) {
  const job = page.kept?.kind === "job";
  const made = dialog("Changed by somebody else",
    h("p", {}, `${said}. Nothing of yours was written, and nothing of theirs is lost.`),
    h("p", {}, job ? "Theirs stays a revision whatever you do." : "Undo brings theirs, or yours, back on this page."),
    h("div", { class: "actions" },
      h("button", { type: "button", class: "main", onclick: () => { made.close(); void takeTheirs(page, false, "Theirs is on the page; undo brings yours back"); } }, "Look at theirs"),
      h("button", { type: "button", onclick: () => { made.close(); void takeTheirs(page, true, ""); } }, "Put mine and theirs together")));
}

/** @param {Page} page @param {boolean} mine @param {string} said */
async function takeTheirs(page, mine, said) {
  await page.described(() => api.takeTheirs({ why: "", mine, view: page.view }),
    (answer) => said || `On the page: ${answer.edits.undoes}. Save it when it is right`);
  await look(page);
  await page.paintTab();
}

/** @param {string} at */
const when = (at) => new Date(at).toLocaleString([], { dateStyle: "medium", timeStyle: "short" });

/** @param {Page} page */
export async function revisionsView(page) {
  const answer = await api.revisions();
  const newest = answer.revisions.length;
  if (!answer.revisions.some((r) => r.number === chosen.before)) chosen.before = Math.max(1, newest - 1);
  if (chosen.after !== 0 && !answer.revisions.some((r) => r.number === chosen.after)) chosen.after = 0;
  /** @param {"before" | "after"} which @param {string} label */
  const pick = (which, label) => {
    const select = h("select", { id: `compare-${which}`, onchange: () => { chosen[which] = Number(select.value); } },
      ...(which === "after" ? [h("option", { value: "0" }, "what is on this page")] : []),
      ...[...answer.revisions].reverse().map((r) => h("option", { value: String(r.number), ...(r.number === chosen[which] ? { selected: true } : {}) }, `revision ${r.number}: ${r.why.slice(0, 60)}`)));
    return h("label", {}, label, select);
  };
  const found = h("div", { id: "compared", "aria-live": "polite" });
  return h("div", { class: "block" },
    h("div", { class: "fields" }, pick("before", "From"), pick("after", "To")),
    h("div", { class: "actions" }, h("button", { type: "button", class: "main", id: "compare", onclick: () => page.guarded(async () => found.replaceChildren(compared(await api.compare(chosen.before, chosen.after)))) }, "Compare")),
    found,
    h("h3", {}, `${newest} ${newest === 1 ? "revision" : "revisions"} of ${answer.name}`),
    h("ol", { class: "list revisions" }, ...[...answer.revisions].reverse().map((r) => h("li", { class: "card" },
      h("p", {}, h("b", {}, `${r.number}. `), r.why), h("p", { class: "small" }, `${r.who}, ${when(r.at)}`),
      h("div", { class: "actions" },
        h("button", { type: "button", onclick: () => page.described(() => api.takeBack(r.number, page.view), `Revision ${r.number} is on the page; save it to make it the newest`).then(() => page.paintTab()) }, "Put it on the page"),
        h("a", { class: "button", href: api.address(`/api/file?number=${r.number}`), download: "" }, "Download"))))));
}

/** @param {import("./wire").CompareAnswer} answer */
function compared(answer) {
  /** @param {string} head @param {import("./wire").FindingInfo[]} findings */
  const list = (head, findings) => (findings.length ? h("div", {}, h("h3", {}, head), ...findings.map((f) => h("div", { class: "card" }, h("p", {}, badge(f.severity, f.mark), " ", h("b", {}, f.title)), h("p", {}, f.text), h("p", { class: "small" }, f.where)))) : "");
  const same = !answer.parts.length && !answer.new.length && !answer.gone.length;
  return h("div", { class: "compared" }, h("h3", {}, `From ${answer.before} to ${answer.after}`),
    same ? h("p", {}, "The same: neither the description nor what follows from it differs.") : "",
    ...answer.parts.map((part) => h("details", { class: "row", open: true }, h("summary", {}, h("b", {}, part.head), h("span", { class: "small count" }, String(part.lines.length))), h("ul", { class: "doubts" }, ...part.lines.map((text) => h("li", {}, text))))),
    list("New findings of the rules", answer.new), list("Findings that are gone", answer.gone));
}
