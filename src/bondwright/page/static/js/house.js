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
    here === "/people" ? "" : h("a", { class: "button", href: "/people#password" }, answer.who),
    h("button", { type: "button", onclick: () => guarded(async () => { await post("/house/logout", {}); location.assign("/login"); }) }, "Log out"));
}

/** @param {string} id @param {string} label @param {HTMLElement} input */
export function field(id, label, input) {
  input.id = id;
  return h("div", { class: "field" }, h("label", { for: id }, label), input);
}

/** Begin a page. @param {() => Promise<void>} work */
export async function begin(work) {
  setTheme(theme());
  await guarded(work);
  document.documentElement.dataset["ready"] = "yes";
}
