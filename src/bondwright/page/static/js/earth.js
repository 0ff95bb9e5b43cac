// The earth: soil and soundings, electrodes from above, the ground in a fault, field tests.

import * as api from "./api.js";
import { at, badge, figure, h, kindOf, paragraphs } from "./dom.js";
import { testForm } from "./earth_form.js";
import { storyCard } from "./told.js";

/** @typedef {import("./main.js").Page} Page */
/** @typedef {import("./wire").EarthAnswer} EarthAnswer */
/** @typedef {import("./wire").EarthTestInfo} EarthTestInfo */
/** @typedef {import("./wire").Drawn} Drawn */

const PARTS = /** @type {const} */ ({ electrodes: "Electrodes", surface: "In a fault", soil: "Soil", tests: "Field tests" });
/** @typedef {keyof typeof PARTS} Part */

/** What a person was looking at, kept while other tabs are open. */
const seen = {
  /** @type {Part} */ part: "electrodes",
  electrode: "",
  fault: 0,
  area: 0,
  shade: "touch",
};

const SHADES = { touch: "touch voltage", step: "step voltage", ground: "voltage of the ground" };

/** @param {Page} page */
export async function earthView(page) {
  // The panel is as narrow as a phone; a drawing seen larger is asked for anew.
  const answer = await api.earth(page.view.state, "phone");
  const body = h("div", { id: "earth-part" });
  /** @type {Map<Part, HTMLButtonElement>} */
  const buttons = new Map();
  const show = (/** @type {Part} */ part) => {
    seen.part = part;
    for (const [name, button] of buttons) button.setAttribute("aria-pressed", String(name === part));
    body.replaceChildren(...partOf(part, answer, page));
  };
  for (const [name, word] of /** @type {Array<[Part, string]>} */ (Object.entries(PARTS))) {
    buttons.set(name, h("button", { type: "button", "data-part": name, "aria-controls": "earth-part", onclick: () => show(name) }, word));
  }
  show(seen.part);
  return h("div", {}, h("h2", {}, "Earth"), h("div", { class: "earth-parts", role: "group", "aria-label": "What of the earth" }, ...buttons.values()), body);
}

/** @param {Part} part @param {EarthAnswer} answer @param {Page} page @returns {HTMLElement[]} */
function partOf(part, answer, page) {
  switch (part) {
    case "soil": return soilPart(answer, page);
    case "surface": return surfacePart(answer, page);
    case "tests": return testsPart(answer, page);
    default: return electrodesPart(answer, page);
  }
}

/** A drawing, and a button for a larger one. @param {Drawn} drawn @param {() => Promise<Drawn | null | undefined>} ask @param {Page} page @param {string} [name] */
export function drawing(drawn, ask, page, name) {
  const plot = h("div", { class: "plot" });
  plot.innerHTML = drawn.svg;
  const larger = h("button", { type: "button", class: "plain", onclick: () => page.guarded(async () => enlarge((await ask()) ?? drawn)) }, "Larger");
  return h("figure", { class: "earth-drawn", ...(name ? { id: name } : {}) }, plot, h("figcaption", { class: "small" }, drawn.caption, " ", larger));
}

/** @param {Drawn} drawn */
function enlarge(drawn) {
  const dialog = /** @type {HTMLDialogElement} */ (at("menu"));
  const close = h("button", { type: "button", class: "icon", "aria-label": "Close", onclick: () => dialog.close() }, "✕");
  const plot = h("div", { class: "plot earth-large", tabindex: "0", role: "region", "aria-label": "The drawing" });
  plot.innerHTML = drawn.svg;
  // Two drawings of one page may not have the same ids.
  for (const one of plot.querySelectorAll("[id]")) one.removeAttribute("id");
  dialog.replaceChildren(h("div", {}, h("header", {}, h("h2", {}, "Larger"), close), plot, h("p", { class: "small" }, drawn.caption)));
  dialog.classList.add("earth-wide");
  dialog.addEventListener("close", () => dialog.classList.remove("earth-wide"), { once: true });
  dialog.showModal();
}

// --- electrodes ---------------------------------------------------------------------------------

/** @param {EarthAnswer} answer @param {Page} page @returns {HTMLElement[]} */
function electrodesPart(answer, page) {
  if (!answer.electrodes.length) return [h("p", { class: "lead" }, "No electrode is described.")];
  const told = h("div", { id: "electrode-told", "aria-live": "polite" });
  const plan = answer.plan ? drawing(answer.plan, async () => (await api.earth(page.view.state, "page")).plan, page, "earth-plan") : null;
  const rows = answer.electrodes.map((one) => h("button", { type: "button", "data-electrode": one.id, onclick: (/** @type {Event} */ e) => choose(one.id, /** @type {HTMLElement} */ (e.currentTarget)) },
    h("span", {}, h("b", {}, one.id), h("span", { class: "small" }, one.about)), h("span", { class: "value" }, one.resistance)));
  const list = h("div", { class: "earth-rows" }, ...rows);
  /** @param {string} id @param {HTMLElement | null} [beside] what the answer goes under; else its row */
  const choose = (id, beside) => {
    const one = answer.electrodes.find((e) => e.id === id);
    if (!one) return;
    seen.electrode = id;
    for (const row of rows) row.setAttribute("aria-pressed", String(row.dataset["electrode"] === id));
    for (const mark of plan?.querySelectorAll("[data-kind='electrode']") ?? []) mark.classList.toggle("chosen", mark.getAttribute("data-id") === id);
    (beside ?? rows.find((row) => row.dataset["electrode"] === id))?.after(told);
    const place = one.place;
    told.replaceChildren(h("div", { class: "card" }, h("h3", {}, one.id), h("p", { class: "about" }, one.about),
      h("div", { class: "figures" }, ...one.facts.map(figure)),
      ...paragraphs(one.brings),
      one.mutual.length ? h("h3", {}, "What an ampere into it lifts the others by") : null,
      one.mutual.length ? h("div", { class: "figures" }, ...one.mutual.map(figure)) : null,
      place ? h("button", { type: "button", class: "plain", onclick: () => page.choose(place, true) }, "Show it in the picture") : null));
  };
  plan?.addEventListener("click", (event) => {
    const mark = /** @type {Element} */ (event.target).closest("[data-kind='electrode']");
    const id = mark?.getAttribute("data-id") ?? nearest(plan, /** @type {MouseEvent} */ (event));
    if (id) choose(id, plan);
  });
  if (answer.electrodes.some((one) => one.id === seen.electrode)) choose(seen.electrode);
  return /** @type {HTMLElement[]} */ ([
    answer.story ? storyCard({ ...answer.story, sentences: answer.story.sentences.slice(0, 2) }) : null,
    plan ?? h("p", { class: "small" }, "No electrode has a place; with 'position' or 'along' in the file it is drawn here."),
    list,
    answer.story ? h("details", { class: "row" }, h("summary", {}, h("b", {}, "What each brings"), h("span", { class: "small" }, `${answer.electrodes.length} electrodes`)), h("div", {}, ...paragraphs(answer.story.sentences.slice(2)))) : null,
  ].filter(Boolean));
}

/** The electrode that a finger meant, which is wider than a rod. @param {HTMLElement} plan @param {MouseEvent} event */
function nearest(plan, event) {
  const REACH = 24;
  let best = REACH, found = "";
  for (const mark of plan.querySelectorAll("[data-kind='electrode']")) {
    for (const part of mark.querySelectorAll("*")) {
      const box = part.getBoundingClientRect();
      const dx = Math.max(box.left - event.clientX, 0, event.clientX - box.right);
      const dy = Math.max(box.top - event.clientY, 0, event.clientY - box.bottom);
      const away = Math.hypot(dx, dy);
      if (away < best) {
        best = away;
        found = mark.getAttribute("data-id") ?? "";
      }
    }
  }
  return found;
}

// --- the ground in a fault ------------------------------------------------------------------------

/** @param {EarthAnswer} answer @param {Page} page @returns {HTMLElement[]} */
function surfacePart(answer, page) {
  const faults = answer.faults;
  const job = page.jobPart("ground", faults ? "Work it out again" : "Work out the ground");
  const lead = h("p", { class: "lead" }, "Every fault of a line to metal is followed through the circuit; those that lift metal highest are drawn: what a person touches from the ground beside it, and what a pace bridges.");
  if (!faults) return [lead, job];
  if (!faults.length) return [lead, job, h("p", {}, "No fault sends current into the earth here.")];
  seen.fault = Math.min(seen.fault, faults.length - 1);
  const told = h("div", { "aria-live": "polite" });
  const area = h("select", { id: "earth-area", onchange: () => { seen.area = area.selectedIndex; void draw(); } });
  const fault = h("select", { id: "earth-fault", onchange: () => { seen.fault = fault.selectedIndex; seen.area = 0; fill(); } },
    ...faults.map((one, k) => h("option", { value: String(k), ...(k === seen.fault ? { selected: true } : {}) }, one.name)));
  const shade = h("select", { id: "earth-shade", onchange: () => { seen.shade = shade.value; void draw(); } },
    ...Object.entries(SHADES).map(([name, word]) => h("option", { value: name, ...(name === seen.shade ? { selected: true } : {}) }, word)));
  const map = h("div", { id: "earth-map" });
  let turn = 0;
  const draw = async () => {
    const mine = (turn += 1);
    if (!faults[seen.fault]?.maps.length) {
      map.replaceChildren(h("p", { class: "small" }, "No electrode has a place, so nothing can be drawn."));
      return;
    }
    await page.guarded(async () => {
      const what = { fault: seen.fault, part: seen.area, shade: seen.shade, state: page.view.state };
      const answered = await api.earthMap({ ...what, form: "phone" });
      if (mine === turn) map.replaceChildren(drawing(answered.drawn, async () => (await api.earthMap({ ...what, form: "page" })).drawn, page), h("div", { class: "figures" }, ...answered.figures.map(figure)));
    });
  };
  const fill = () => {
    const one = faults[seen.fault];
    if (!one) return;
    area.replaceChildren(...one.maps.map((m, k) => h("option", { value: String(k), ...(k === seen.area ? { selected: true } : {}) }, `${m.name} (${m.metal})`)));
    told.replaceChildren(h("h3", {}, one.name, " ", badge(one.story.verdict, one.story.mark)), h("div", { class: "figures" }, ...one.figures.map(figure)),
      h("details", { class: "row" }, h("summary", {}, h("b", {}, "In words"), h("span", { class: "small" }, `${one.story.sentences.length} sentences`)), h("div", {}, ...paragraphs(one.story.sentences))));
    void draw();
  };
  fill();
  return [
    h("div", { class: "fields earth-two" }, h("label", {}, "Fault", fault), h("label", {}, "Around", area), h("label", {}, "Shown", shade)),
    map, told, h("p", { class: "small" }, answer.note), job,
  ];
}

// --- soil and tests -------------------------------------------------------------------------------

/** @param {EarthTestInfo} test @param {Page} page @param {() => Promise<Drawn | null | undefined>} [ask] for a larger drawing */
export function testCard(test, page, ask) {
  const wide = ask ?? (async () => (await api.earth(page.view.state, "page")).tests.find((one) => one.id === test.id)?.plot);
  return h("div", { class: `card ${kindOf(test.story.verdict)}` },
    h("h3", {}, test.story.title, " ", badge(test.story.verdict, test.story.mark)),
    ...paragraphs(test.story.sentences),
    test.plot ? drawing(test.plot, wide, page) : null,
    test.rows.length ? readings(test) : null,
    test.facts.length ? h("details", { class: "row" }, h("summary", {}, h("b", {}, "How it was done"), h("span", { class: "small" }, `${test.facts.length} entries`)), h("div", { class: "figures" }, ...test.facts.map(figure))) : null);
}

/** @param {EarthTestInfo} test */
function readings(test) {
  return h("div", { class: "earth-scroll", tabindex: "0", role: "region", "aria-label": `Readings of ${test.id}` }, h("table", { class: "flowtable" },
    h("caption", { class: "small" }, "Readings"),
    h("thead", {}, h("tr", {}, ...test.head.map((word) => h("th", { scope: "col" }, word)))),
    h("tbody", {}, ...test.rows.map((row) => h("tr", {}, ...row.map((cell) => h("td", {}, cell)))))));
}

/** @param {EarthAnswer} answer @param {Page} page @returns {HTMLElement[]} */
function soilPart(answer, page) {
  const surveys = answer.tests.filter((test) => test.head[0] === "Spacing");
  return /** @type {HTMLElement[]} */ ([
    h("p", {}, h("b", {}, "Taken: "), `${answer.soil}${answer.assumed ? ", as a survey found it or assumed" : ""}.`),
    answer.seasons.length ? h("p", { class: "small" }, `Ranges are over: ${answer.seasons.join(", ")}.`) : null,
    surveys.length ? null : h("p", { class: "lead" }, "No survey with four pins is described. Type one in under Field tests."),
    ...surveys.map((test) => testCard(test, page)),
  ].filter(Boolean));
}

/** @param {EarthAnswer} answer @param {Page} page @returns {HTMLElement[]} */
function testsPart(answer, page) {
  const rest = answer.tests.filter((test) => test.head[0] !== "Spacing");
  return /** @type {HTMLElement[]} */ ([
    testForm(answer, page, testCard),
    rest.length ? h("h3", {}, "In the file") : null,
    ...rest.map((test) => testCard(test, page)),
    h("p", { class: "small" }, answer.caution),
  ].filter(Boolean));
}
