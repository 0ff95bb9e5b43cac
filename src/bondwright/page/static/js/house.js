// What the pages around the jobs share: who you are, asking the server, saying what went wrong.

import { ask, Problem } from "./api.js";
import { at, h } from "./dom.js";
import { setTheme, theme } from "./theme.js";

/** @param {string} path @returns {Promise<any>} */
export const get = async (path) => (await ask("GET", path)).json();

/** @param {string} path @param {unknown} body @returns {Promise<any>} */
export const post = async (path, body) => (await ask("POST", path, body)).json();

/** @param {string} path @returns {Promise<any>} */
export const remove = async (path) => (await ask("DELETE", path)).json();

/** @param {string} text */
export function toast(text) {
  const toast = at("toast");
  toast.textContent = text;
  toast.hidden = false;
  window.setTimeout(() => { toast.hidden = true; }, 6000);
}

/** Do something; say in plain words if it can't be done. @param {() => Promise<unknown>} work */
export async function guarded(work) {
  at("toast").hidden = true;
  try {
    await work();
  } catch (error) {
    if (!(error instanceof Problem)) throw error;
    const first = error.problems[0];
    toast(first?.line ? `line ${first.line}: ${error.message}` : error.message);
  }
}

/** Who is in, and the way out. @param {import("./wire").JobsAnswer} answer */
export function paintWho(answer) {
  if (!answer.users) return;
  const here = location.pathname;
  at("who").replaceChildren(
    here === "/" ? "" : h("a", { class: "button", href: "/" }, "Jobs"),
    answer.role === "keep" && here !== "/people" ? h("a", { class: "button", href: "/people" }, "Users") : "",
    here === "/people" ? "" : h("a", { class: "button", href: "/people#you" }, answer.who),
    h("button", { type: "button", onclick: () => guarded(leave) }, "Log out"));
}

/** Log out, which takes away what the browser keeps: not before one knows what that is. */
async function leave() {
  const left = unsent();
  if (left && !window.confirm(`Readings of the hunt that are in this browser only: ${left}. Open their job first, and they are sent. Log out all the same, and lose them?`)) return;
  await post("/house/logout", {});
  location.assign("/login");
}

/** How many readings wait to be sent. */
function unsent() {
  try {
    const books = Object.keys(localStorage).filter((key) => key.startsWith("bondwright-hunt "));
    const notes = books.flatMap((key) => JSON.parse(localStorage.getItem(key) ?? "{}").notes ?? []);
    return notes.filter((/** @type {{sent?: boolean}} */ note) => !note.sent).length;
  } catch {
    return 0;
  }
}

/** @param {string} id @param {string} label @param {HTMLElement} input */
export function field(id, label, input) {
  input.id = id;
  return h("div", { class: "field" }, h("label", { for: id }, label), input);
}

/** A code of a second factor. @param {string} id @param {string} label */
export function codeField(id, label = "Code of your app, or a spare one") {
  const input = h("input", { type: "text", class: "code", autocomplete: "one-time-code", autocapitalize: "none", spellcheck: "false", maxlength: "40", required: true });
  return { input, field: field(id, label, input) };
}

/** A password, which can be looked at. @param {string} id @param {string} label @param {HTMLInputElement} input */
export function secret(id, label, input) {
  const made = field(id, label, input);
  const show = h("button", { type: "button", class: "show", "aria-pressed": "false", "aria-controls": id, onclick: () => {
    const hidden = input.type === "password";
    input.type = hidden ? "text" : "password";
    show.textContent = hidden ? "Hide" : "Show";
    show.setAttribute("aria-pressed", String(hidden));
  } }, "Show");
  made.append(show);
  return made;
}

/** A new password, with how strong it is: the server refuses those that are guessed first. @param {string} id @param {string} label @param {HTMLInputElement} input */
export function newSecret(id, label, input) {
  const made = secret(id, label, input);
  const meter = h("meter", { min: "0", max: "3", low: "1.5", high: "2.5", optimum: "3", value: "0", "aria-hidden": "true" });
  const said = h("span", { class: "small", id: `${id}-strength`, role: "status" });
  input.setAttribute("aria-describedby", said.id);
  input.addEventListener("input", () => {
    const level = strength(input.value);
    meter.value = level;
    said.textContent = input.value ? (["too short", "weak", "fair", "good"][level] ?? "") : "";
  });
  made.append(h("div", { class: "strength" }, meter, said));
  return made;
}

/** 0 for too short, to 3: by the number of characters and of different ones. @param {string} text */
function strength(text) {
  if (text.length < 12) return 0;
  const worth = Math.min(text.length, 1.6 * new Set(text.toLowerCase()).size);
  return worth < 11 ? 1 : worth < 16 ? 2 : 3;
}

/** Begin a page. @param {() => Promise<void>} work */
export async function begin(work) {
  setTheme(theme());
  await guarded(work);
  document.documentElement.dataset["ready"] = "yes";
}
