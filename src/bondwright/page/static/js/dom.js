// Building elements, and changing text without touching what hasn't changed.

/**
 * Make an element. Properties that begin with "on" are listeners; "class" and the rest attributes.
 * @template {keyof HTMLElementTagNameMap} T
 * @param {T} tag
 * @param {Record<string, unknown>} [props]
 * @param {...(Node | string | null | undefined | false)} children
 * @returns {HTMLElementTagNameMap[T]}
 */
export function h(tag, props = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(props)) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) {
      made.addEventListener(name.slice(2), /** @type {EventListener} */ (value));
    } else if (value === true) {
      made.setAttribute(name, "");
    } else {
      made.setAttribute(name, String(value));
    }
  }
  for (const child of children) {
    if (child !== null && child !== undefined && child !== false) made.append(child);
  }
  return made;
}

/**
 * The element with an id, which has to be there.
 * @param {string} id
 * @returns {HTMLElement}
 */
export function at(id) {
  const found = document.getElementById(id);
  if (!found) throw new Error(`the page has no element "${id}"`);
  return found;
}

/**
 * @param {string} name
 * @returns {SVGElement}
 */
export function svg(name) {
  return document.createElementNS("http://www.w3.org/2000/svg", name);
}

/**
 * Sentences as paragraphs.
 * @param {string[]} sentences
 */
export function paragraphs(sentences) {
  return sentences.map((text) => h("p", {}, text));
}

const KINDS = /** @type {Record<string, string>} */ ({
  holds: "holds",
  "falls short": "short",
  "cannot tell": "open",
  danger: "danger",
  note: "note",
});

/**
 * The kind of card or badge for a verdict or severity.
 * @param {string} word
 */
export function kindOf(word) {
  return KINDS[word] ?? "note";
}

/**
 * A verdict as a badge: a mark and a word, so that it never hangs on colour alone.
 * @param {string} word
 * @param {string} mark
 */
export function badge(word, mark) {
  return h("span", { class: `badge ${kindOf(word)}` }, `${mark} ${word}`);
}

/**
 * A figure with the reason behind it.
 * @param {import("./wire").Figure} figure
 */
export function figure(figure) {
  const long = figure.label.length + figure.value.length > 44 ? "figure long" : "figure";
  const label = h("span", { class: "label" }, figure.label);
  const value = h("span", { class: figure.loud ? "value loud" : "value" }, figure.value);
  if (!figure.why.length) return h("div", { class: long }, h("div", {}, label, value));
  return h(
    "details",
    { class: long },
    h("summary", {}, label, value, h("span", { class: "ask" }, "why")),
    h("div", { class: "reasons" }, ...paragraphs(figure.why)),
  );
}
