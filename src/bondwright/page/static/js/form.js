// A form built from what the server says of its fields: text as written, groups, lists.

import { h } from "./dom.js";

/** @typedef {import("./wire").FieldInfo} Field */
/** @typedef {(string | number)[]} Path */
/** @typedef {{node: HTMLElement, value: () => unknown, problem: (path: Path, text: string) => boolean, clear: () => void}} Part */
/** @typedef {(tables: string[]) => string[]} Names the names that stand in some tables */

let count = 0;
const unique = () => `field-${(count += 1)}`;

/**
 * The fields of a group, the chief ones first, the others folded away.
 * @param {Field[]} fields @param {Record<string, any>} entry @param {Names} names
 * @returns {Part}
 */
export function group(fields, entry, names) {
  const parts = fields.map((field) => ({ field, part: one(field, entry[field.key], names) }));
  const chief = parts.filter(({ field }) => field.main);
  const rest = parts.filter(({ field }) => !field.main);
  const said = rest.some(({ field }) => entry[field.key] !== undefined);
  const more = rest.length
    ? h("details", { class: "more", ...(said ? { open: true } : {}) }, h("summary", {}, "More"), h("div", { class: "form" }, ...rest.map(({ part }) => part.node)))
    : null;
  const general = h("p", { class: "wrong", hidden: true });
  const node = h("div", { class: "form" }, general, ...chief.map(({ part }) => part.node), more);
  return {
    node,
    value: () => Object.fromEntries(parts.map(({ field, part }) => [field.key, part.value()]).filter(([, value]) => value !== null && value !== undefined)),
    problem: (path, text) => {
      const found = parts.find(({ field }) => field.key === path[0]);
      if (found?.part.problem(path.slice(1), text)) {
        if (more && rest.includes(found)) more.open = true;
        return true;
      }
      general.textContent = general.hidden ? text : `${general.textContent} ${text}`;
      general.hidden = false;
      return true;
    },
    clear: () => {
      general.hidden = true;
      for (const { part } of parts) part.clear();
    },
  };
}

/** @param {Field} field @param {any} value @param {Names} names @returns {Part} */
function one(field, value, names) {
  if (field.kind === "group") return optional(field, value, names);
  if (field.kind === "list") return list(field, Array.isArray(value) ? value : [], names);
  if (field.kind === "names" && field.words.length) return boxes(field, Array.isArray(value) ? value : []);
  return line(field, value, names);
}

/** A value on a line, or one of a few words. @param {Field} field @param {any} value @param {Names} names @returns {Part} */
function line(field, value, names) {
  const id = unique();
  const several = field.kind === "names";
  const text = value === undefined || value === null ? "" : several && Array.isArray(value) ? value.join(", ") : String(value);
  const words = field.kind === "flag" ? ["true", "false"] : field.words;
  const told = { true: "yes", false: "no" };
  /** @type {HTMLInputElement | HTMLSelectElement} */
  let input;
  const options = field.of.length ? names(field.of) : field.offers;
  const described = { id, "aria-describedby": `${id}-help ${id}-wrong`, ...(field.required ? { "aria-required": "true" } : {}) };
  if (words.length) {
    const all = text && !words.includes(text) ? [text, ...words] : words;
    input = h("select", described, field.required && text ? null : h("option", { value: "" }, field.required ? "choose" : "not said"),
      ...all.map((word) => h("option", { value: word, ...(word === text ? { selected: true } : {}) }, field.kind === "flag" ? told[/** @type {"true" | "false"} */ (word)] : word)));
  } else {
    input = h("input", { ...described, type: "text", value: text, autocomplete: "off", spellcheck: "false", ...(options.length ? { list: `${id}-list` } : {}), ...(field.example ? { placeholder: `e.g. ${field.example}` } : {}) });
  }
  const wrong = h("p", { class: "wrong", id: `${id}-wrong`, hidden: true });
  const node = h("div", { class: "field", "data-key": field.key },
    h("label", { for: id }, field.label, field.required ? h("span", { class: "needed", "aria-hidden": "true" }, " *") : null),
    input, options.length && !words.length ? h("datalist", { id: `${id}-list` }, ...options.slice(0, 400).map((option) => h("option", { value: option }))) : null,
    wrong, h("p", { class: "help", id: `${id}-help` }, field.help + (several ? " Several are separated by commas." : "")));
  return {
    node,
    value: () => {
      const said = input.value.trim();
      if (!said) return null;
      if (several) return said.split(",").map((word) => word.trim()).filter(Boolean);
      return field.kind === "flag" && ["true", "false"].includes(said) ? said === "true" : said;
    },
    ...marks(input, wrong),
  };
}

/** @param {HTMLElement} input @param {HTMLElement} wrong */
function marks(input, wrong) {
  return {
    /** @param {Path} _ @param {string} text */
    problem: (_, text) => {
      wrong.textContent = wrong.hidden ? text : `${wrong.textContent} ${text}`;
      wrong.hidden = false;
      input.setAttribute("aria-invalid", "true");
      return true;
    },
    clear: () => {
      wrong.hidden = true;
      input.removeAttribute("aria-invalid");
    },
  };
}

/** Some of a few words. @param {Field} field @param {string[]} value @returns {Part} */
function boxes(field, value) {
  const inputs = field.words.map((word) => h("input", { type: "checkbox", value: word, ...(value.includes(word) ? { checked: true } : {}) }));
  const wrong = h("p", { class: "wrong", hidden: true });
  const node = h("fieldset", { class: "field", "data-key": field.key }, h("legend", {}, field.label), h("div", { class: "choice" }, ...inputs.map((input) => h("label", {}, input, input.value))), wrong, h("p", { class: "help" }, field.help));
  return { node, value: () => { const on = inputs.filter((input) => input.checked).map((input) => input.value); return on.length ? on : null; }, ...marks(node, wrong) };
}

/** A group that may be left out. @param {Field} field @param {any} value @param {Names} names @returns {Part} */
function optional(field, value, names) {
  const inner = group(field.fields, value && typeof value === "object" ? value : {}, names);
  const there = h("input", { type: "checkbox", onchange: () => { inner.node.hidden = !there.checked; } });
  there.checked = value !== undefined && value !== null;
  inner.node.hidden = !there.checked;
  const wrong = h("p", { class: "wrong", hidden: true });
  const node = h("fieldset", { class: "field", "data-key": field.key }, h("legend", {}, h("label", {}, there, field.label)), h("p", { class: "help" }, field.help), wrong, inner.node);
  const own = marks(node, wrong);
  return {
    node,
    value: () => (there.checked ? inner.value() : null),
    problem: (path, text) => (path.length && there.checked ? inner.problem(path, text) : own.problem(path, text)),
    clear: () => { own.clear(); inner.clear(); },
  };
}

/** Several groups. @param {Field} field @param {any[]} value @param {Names} names @returns {Part} */
function list(field, value, names) {
  /** @type {{part: Part, node: HTMLElement}[]} */
  let items = [];
  const holder = h("div", { class: "items" });
  const wrong = h("p", { class: "wrong", hidden: true });
  /** @param {any} entry @param {boolean} fresh */
  const add = (entry, fresh) => {
    const part = group(field.fields, entry, names);
    const item = { part, node: h("div", { class: "item" }, part.node, h("button", { type: "button", onclick: () => { items = items.filter((i) => i !== item); item.node.remove(); button.focus(); } }, "Take this out")) };
    items.push(item);
    holder.append(item.node);
    if (fresh) /** @type {HTMLElement | null} */ (item.node.querySelector("select, input"))?.focus();
  };
  const button = h("button", { type: "button", onclick: () => add({}, true) }, "Add one");
  for (const entry of value) add(entry, false);
  const node = h("fieldset", { class: "field", "data-key": field.key }, h("legend", {}, field.label), h("p", { class: "help" }, field.help), wrong, holder, button);
  const own = marks(node, wrong);
  return {
    node,
    value: () => (items.length ? items.map(({ part }) => part.value()) : null),
    problem: (path, text) => {
      const item = items[Number(path[0])];
      return item && path.length > 1 ? item.part.problem(path.slice(1), text) : own.problem(path, text);
    },
    clear: () => { own.clear(); for (const { part } of items) part.clear(); },
  };
}
