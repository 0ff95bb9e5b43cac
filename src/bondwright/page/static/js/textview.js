// The site file as text: the same description as the forms, with what is wrong by line and column.

import * as api from "./api.js";
import { h } from "./dom.js";

/** @typedef {import("./main.js").Page} Page */

const WAIT_MS = 600;
/** What was typed and isn't taken over yet; it outlives a look at another tab. @type {{text: string, from: string} | null} */
let draft = null;

/** @returns {boolean} whether something typed waits to be taken over */
export const typing = () => draft !== null;

/** @param {Page} page */
export async function textView(page) {
  const { text } = await api.wholeText();
  const stands = text.replace(/\r\n/gu, "\n");
  if (draft && draft.text === stands) draft = null;
  const area = h("textarea", { id: "site-text", spellcheck: "false", autocomplete: "off", wrap: "off", "aria-label": "The site file", "aria-describedby": "text-problems" });
  area.value = draft?.text ?? stands;
  const numbers = h("div", { class: "numbers", "aria-hidden": "true" });
  const problems = h("ul", { class: "problems", id: "text-problems", "aria-live": "polite" });
  const take = h("button", { type: "button", class: "main", id: "take-text", onclick: () => void apply() }, "Take it over");
  const drop = h("button", { type: "button", onclick: () => { draft = null; void page.paintTab(); } }, "Back to what stands");
  const stale = draft && draft.from !== stands;
  let timer = 0;
  const count = () => {
    const lines = area.value.split("\n").length;
    if (numbers.childElementCount === lines) return;
    numbers.replaceChildren(...Array.from({ length: lines }, (_, k) => h("span", {}, String(k + 1))));
  };
  const scroll = () => { numbers.scrollTop = area.scrollTop; };
  const state = () => {
    const same = area.value === stands;
    draft = same ? null : { text: area.value, from: draft?.from ?? stands };
    take.disabled = drop.disabled = same;
  };
  /** @param {import("./wire").ProblemInfo[]} found */
  const show = (found) => {
    problems.replaceChildren(...found.map((p) => h("li", {}, h("button", { type: "button", class: "plain", onclick: () => jump(p.line, p.column, p.text) }, `line ${p.line}, column ${p.column}`), ` ${p.text ? `“${p.text}” ` : ""}${p.problem}${p.hint ? `; ${p.hint}` : ""}`.replace(/[^.?!]$/u, "$&."))));
    const wrong = new Set(found.map((p) => p.line));
    [...numbers.children].forEach((span, k) => span.classList.toggle("bad", wrong.has(k + 1)));
  };
  /** @param {number} line @param {number} column @param {string} text */
  const jump = (line, column, text) => {
    const rows = area.value.split("\n");
    const at = rows.slice(0, line - 1).reduce((sum, row) => sum + row.length + 1, 0) + column - 1;
    const long = area.value.startsWith(text, at) ? text.length : 0;
    area.focus();
    area.setSelectionRange(at, at + long);
    area.scrollTop = Math.max(0, (line - 4) * parseFloat(getComputedStyle(area).lineHeight));
    scroll();
  };
  const check = async () => {
    const asked = area.value;
    const found = await api.checkText({ text: asked, starter: "", view: page.view });
    if (asked === area.value) show(found.problems);
  };
  const apply = async () => {
    window.clearTimeout(timer);
    try {
      await page.described(() => api.writeText({ text: area.value, starter: "", view: page.view }), "Taken over", true);
      draft = null;
      await page.paintTab();
    } catch (error) {
      if (!(error instanceof api.Problem)) throw error;
      show(error.problems.filter((p) => p.line));
      page.toast(error.problems.length > 1 ? `${error.problems.length} things are wrong; nothing was changed` : error.message, false);
    }
  };
  area.addEventListener("input", () => {
    count();
    state();
    window.clearTimeout(timer);
    timer = window.setTimeout(() => void page.guarded(check), WAIT_MS);
  });
  area.addEventListener("scroll", scroll);
  area.addEventListener("keydown", (e) => {
    if (e.key === "Enter" && (e.ctrlKey || e.metaKey)) {
      e.preventDefault();
      void apply();
    }
  });
  const load = h("input", { type: "file", accept: ".yaml,.yml,text/yaml", id: "load-text", class: "hidden-file", onchange: async () => {
    const file = load.files?.[0];
    if (!file) return;
    area.value = (await file.text()).replace(/\r\n/gu, "\n");
    area.dispatchEvent(new Event("input"));
  } });
  count();
  state();
  if (draft) window.setTimeout(() => void page.guarded(check), 0);
  return h("div", { class: "block" },
    h("p", { class: "small" }, "What the forms change, they change here, and comments stay. Ctrl+Enter takes over what you typed; until then the picture shows what stood before."),
    stale ? h("p", { class: "problem" }, "The description was changed while you typed. Taking this over puts yours in its place; undo brings the other back.") : null,
    h("div", { class: "editor" }, numbers, area), problems,
    h("div", { class: "actions" }, take, drop, h("label", { class: "button", for: "load-text" }, "Load a file"), load, h("a", { class: "button", href: api.address("/api/file"), download: "" }, "Download")));
}
