// Finding a thing by its name, kind or place.

import { at, h } from "./dom.js";

const MOST = 40;

/**
 * Things that fit some words: those whose name begins so first.
 * @param {import("./wire").ThingInfo[]} things @param {string} text
 */
export function matching(things, text) {
  const words = text.toLowerCase().split(/\s+/).filter(Boolean);
  if (!words.length) return things.slice(0, MOST);
  const first = words[0] ?? "";
  return things
    .map((thing) => {
      const id = thing.id.toLowerCase();
      const all = `${id} ${thing.about} ${thing.near}`.toLowerCase();
      if (!words.every((w) => all.includes(w))) return null;
      return { thing, rank: id === text.toLowerCase() ? 0 : id.startsWith(first) ? 1 : id.includes(first) ? 2 : 3 };
    })
    .filter((found) => found !== null)
    .sort((a, b) => a.rank - b.rank)
    .slice(0, MOST)
    .map((found) => found.thing);
}

/**
 * @param {import("./wire").ThingInfo[]} things
 * @param {(thing: import("./wire").ThingInfo) => void} chosen
 */
export function openSearch(things, chosen) {
  const dialog = /** @type {HTMLDialogElement} */ (at("search"));
  let index = 0;
  /** @type {import("./wire").ThingInfo[]} */
  let found = [];
  const list = h("ul", { class: "results", role: "listbox", id: "results", "aria-label": "Found" });
  const input = h("input", { type: "search", id: "query", role: "combobox", "aria-label": "Search for a place, run, tie or metal", "aria-controls": "results", "aria-expanded": "true", "aria-autocomplete": "list", autocomplete: "off", oninput: () => fill() });
  /** @param {import("./wire").ThingInfo | undefined} thing */
  const take = (thing) => {
    if (!thing) return;
    dialog.close();
    chosen(thing);
  };
  const mark = () => {
    [...list.children].forEach((item, k) => item.setAttribute("aria-selected", String(k === index)));
    const now = list.children[index];
    if (now) {
      input.setAttribute("aria-activedescendant", now.id);
      now.scrollIntoView({ block: "nearest" });
    } else input.removeAttribute("aria-activedescendant");
  };
  const fill = () => {
    found = matching(things, input.value);
    index = 0;
    list.replaceChildren(...found.map((thing, k) => h("li", { role: "option", id: `result-${k}`, onclick: () => take(thing) }, thing.id, h("div", { class: "small" }, `${thing.about}${thing.near ? `, ${thing.near}` : ""}`))));
    mark();
  };
  input.addEventListener("keydown", (e) => {
    if (e.key === "ArrowDown" || e.key === "ArrowUp") {
      index = Math.max(0, Math.min(found.length - 1, index + (e.key === "ArrowDown" ? 1 : -1)));
      mark();
      e.preventDefault();
    } else if (e.key === "Enter") {
      take(found[index]);
      e.preventDefault();
    } else if (e.key === "Escape") {
      // A search field would only empty itself.
      dialog.close();
      e.preventDefault();
    }
  });
  const close = h("button", { type: "button", class: "icon", "aria-label": "Close", onclick: () => dialog.close() }, "✕");
  dialog.replaceChildren(h("div", {}, h("header", {}, h("h2", {}, "Search"), close), input, list));
  fill();
  dialog.showModal();
  input.focus();
}
