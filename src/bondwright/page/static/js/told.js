// What the panel says: a thing, faults, stray current, mistakes, sizes, findings.

import * as api from "./api.js";
import { addBehind, canDescribe, describeThing } from "./describe.js";
import { badge, figure, h, kindOf, paragraphs } from "./dom.js";

/** @typedef {import("./wire").ThingAnswer} ThingAnswer */
/** @typedef {import("./main.js").Page} Page */

const KIND_WORDS = /** @type {Record<string, string>} */ ({ slot: "place", "missing-tie": "place" });

/** @param {import("./wire").StoryInfo} story */
export function storyCard(story) {
  return h("div", { class: `card ${kindOf(story.verdict)}` }, h("h3", {}, story.title, " ", badge(story.verdict, story.mark)), ...paragraphs(story.sentences));
}

/** @param {import("./wire").FindingInfo} finding @param {Page} page */
function findingCard(finding, page) {
  return h(
    "div",
    { class: `card ${kindOf(finding.severity)}` },
    h("h3", {}, badge(finding.severity, finding.mark), " ", finding.title),
    h("p", {}, finding.text),
    finding.cure ? h("p", {}, h("b", {}, "Cure: "), finding.cure) : null,
    h("p", { class: "small" }, link(finding.where, page), finding.clause ? ` · ${finding.clause}` : ""),
  );
}

/** @param {string} id @param {Page} page @param {string} [kind] @param {string} [text] */
function link(id, page, kind, text) {
  const found = kind ? { kind, id } : page.things.find((thing) => thing.id === id);
  if (!found) return h("span", {}, text ?? id);
  return h("button", { type: "button", class: "plain", onclick: () => page.choose({ kind: found.kind, id }, true) }, text ?? id);
}

/** @param {ThingAnswer} thing @param {Page} page */
export function thingView(thing, page) {
  const fold = page.picture.foldOf("branch", thing.id);
  const away = fold && page.picture.folded.has(`branch ${thing.id}`);
  const why = h("div");
  return h(
    "div",
    {},
    h("div", {}, h("h2", {}, thing.title), h("p", { class: "about" }, thing.about)),
    thing.actions.length
      ? h("div", {},
          h("div", { class: "actions" }, ...thing.actions.map((action) =>
            h("button", { type: "button", class: "main", onclick: () => page.edit(action.action, action.name) }, action.label))),
          h("p", { class: "small" }, thing.actions[0]?.caution))
      : null,
    thing.findings.length ? h("div", {}, h("h3", {}, "What falls short"), ...thing.findings.map((f) => findingCard(f, page))) : null,
    thing.flows.length ? flowTable(thing) : null,
    thing.facts.length ? h("div", { class: "figures" }, ...thing.facts.map(figure)) : null,
    thing.story ? h("div", {}, h("button", { type: "button", onclick: async () => {
      await page.guarded(async () => why.replaceChildren(storyCard((await api.story(thing.kind, thing.id, page.view.state)).story)));
    } }, thing.kind === "tie" ? "What happens without it?" : "What would a tie do here?"), why) : null,
    thing.sizes.length ? h("div", {}, h("h3", {}, "Size, and why"), ...thing.sizes.map((story) =>
      h("details", { class: "row" }, h("summary", {}, h("b", {}, story.title), badge(story.verdict, story.mark)), h("div", {}, ...paragraphs(story.sentences))))) : null,
    thing.faults.length ? faultButtons(thing, page) : null,
    canDescribe(thing.kind) ? h("div", { class: "actions" }, h("button", { type: "button", onclick: () => describeThing(page, thing.kind, thing.id) }, "Change it"),
      ["place", "slot", "transformer", "source"].includes(thing.kind) ? h("button", { type: "button", onclick: () => addBehind(page, thing.id) }, "Add something it feeds") : null) : null,
    thing.links.length ? h("div", {}, h("h3", {}, "From here"), h("div", { class: "links" }, ...thing.links.map((l) => link(l.id, page, l.kind, `${l.label}: ${l.id}`)))) : null,
    fold ? h("div", { class: "actions" }, h("button", { type: "button", onclick: () => page.fold("branch", thing.id, !away) },
      away ? `Unfold ${fold.count} places` : `Fold away what it feeds (${fold.count} places)`)) : null,
  );
}

/** @param {ThingAnswer} thing @param {Page} page */
function faultButtons(thing, page) {
  return h("details", { class: "row" },
    h("summary", {}, h("b", {}, "Play a fault here"), h("span", { class: "small" }, `${thing.faults.length} kinds`)),
    h("div", { class: "actions" }, ...thing.faults.map((f) => h("button", { type: "button", onclick: () => page.playFault(f.key) }, f.name))));
}

/** @param {ThingAnswer} thing */
function flowTable(thing) {
  const fault = thing.flows.some((row) => row.fault);
  return h("table", { class: "flowtable" },
    h("caption", { class: "small" }, "What flows"),
    h("thead", {}, h("tr", {}, h("th", { scope: "col" }, "conductor"), h("th", { scope: "col", class: "n" }, "normal use"), fault ? h("th", { scope: "col", class: "n" }, "in the fault") : null)),
    h("tbody", {}, ...thing.flows.map((row) => h("tr", {},
      h("td", {}, row.what, row.why.length ? h("details", {}, h("summary", {}, "why"), h("div", { class: "reasons" }, ...paragraphs(row.why))) : null),
      h("td", { class: row.loud ? "n loud" : "n" }, row.normal),
      fault ? h("td", { class: "n" }, row.fault) : null))));
}

/** What is said while nothing is chosen. @param {Page} page */
export function startView(page) {
  const site = page.site;
  return h("div", {},
    h("div", {}, h("h2", {}, site.site), h("p", { class: "about" }, `${site.rules}, ${site.describes}, ${site.file}`)),
    site.note ? h("p", {}, site.note) : null,
    h("p", {}, "Tap a place, a run, a pipe or a tie to see what it is, why it is that size and what flows in it. A tie can be taken off, and one put on where none stands: the picture shows at once where the current goes. Ties are tried out on this page; what you describe is written when you save."),
    h("div", { class: "actions" },
      h("button", { type: "button", class: "main", onclick: () => page.openTab("faults") }, "Play a fault"),
      h("button", { type: "button", onclick: () => page.openTab("describe") }, "Describe it"),
      h("button", { type: "button", onclick: () => page.openTab("stray") }, "Stray current"),
      h("button", { type: "button", onclick: () => page.openSearch() }, "Search")),
    changes(page));
}

/** @param {Page} page */
function changes(page) {
  const { done, described } = page.edits;
  if (!done.length && !described.length) return null;
  return h("div", {},
    described.length ? h("h3", {}, "Described and not saved") : null,
    described.length ? h("ul", {}, ...described.map((text) => h("li", {}, text))) : null,
    done.length ? h("h3", {}, "Tried out about ties") : null,
    done.length ? h("ul", {}, ...done.map((text) => h("li", {}, text))) : null,
    done.length ? h("div", { class: "actions" }, h("button", { type: "button", onclick: () => page.edit("start over", "") }, "Every tie as described"), h("button", { type: "button", onclick: () => page.edit("keep ties", "") }, "Describe them as they stand")) : null);
}

/** @param {Page} page */
export async function faultsView(page) {
  const answer = await api.faults(page.view.state, page.faultPlace);
  page.faultPlace = answer.at;
  const shown = page.view.show === "fault" ? page.view.fault : "";
  const kind = h("select", { id: "fault-kind" }, ...answer.choices.map((c) => h("option", { value: c.key, ...(c.key === shown ? { selected: true } : {}) }, c.name)));
  if (!shown) kind.selectedIndex = Math.max(0, answer.choices.findIndex((c) => c.name.endsWith("to metal")));
  const place = h("select", { id: "fault-place", onchange: () => { page.faultPlace = place.value; void page.openTab("faults"); } },
    ...answer.places.map((p) => h("option", { value: p, ...(p === answer.at ? { selected: true } : {}) }, p)));
  const told = page.fault;
  return h("div", {},
    h("h2", {}, "Faults"),
    h("div", { class: "fields" }, h("label", {}, "Where", place), h("label", {}, "Between", kind)),
    h("div", { class: "actions" }, h("button", { type: "button", class: "main", id: "play-fault", ...(answer.choices.length ? {} : { disabled: true }), onclick: () => page.playFault(kind.value) }, "Play it")),
    told ? h("div", {}, h("h3", {}, told.name, " ", badge(told.verdict, told.mark)), h("div", { class: "figures" }, ...told.numbers.map(figure))) : h("p", { class: "lead" }, "Choose where and between what; the picture then shows the way of the current, who opens, and which metal is live meanwhile."),
    told ? h("details", { class: "row" }, h("summary", {}, h("b", {}, "The whole story"), h("span", { class: "small" }, `${told.steps.length} steps`)),
      h("div", {}, ...told.steps.flatMap((s) => [h("p", {}, h("b", {}, s.title + ". "), s.sentences.join(" "))]))) : null,
    told ? await curvePart(page) : null);
}

/** @param {Page} page */
async function curvePart(page) {
  try {
    const curve = await api.curve(page.view.fault, page.view.state, "phone");
    const plot = h("div", { class: "plot" });
    plot.innerHTML = curve.svg;
    return h("div", {}, h("h3", {}, "Devices in series, and the current on them"), plot, h("div", { class: "figures" }, ...curve.rows.map(figure)));
  } catch (error) {
    return h("p", { class: "small" }, error instanceof api.Problem ? error.message : "The plot can't be shown.");
  }
}

/** @param {Page} page */
export async function strayView(page) {
  const answer = await api.stray(page.view.state);
  return h("div", {},
    h("h2", {}, "Stray current"),
    storyCard(answer.story),
    answer.rows.length ? h("h3", {}, "On metal in normal use") : null,
    h("div", {}, ...answer.rows.map((row) =>
      h("details", { class: "row", ontoggle: (/** @type {Event} */ e) => { if (/** @type {HTMLDetailsElement} */ (e.target).open) page.picture.point(row.things); } },
        h("summary", {}, h("b", {}, row.on), h("span", { class: row.loud ? "value loud" : "value" }, row.current), h("span", { class: "small" }, row.nature)),
        h("div", {}, h("p", {}, row.told), row.loop.length ? h("p", {}, h("b", {}, "Its loop")) : null,
          row.loop.length ? h("ol", { class: "loop" }, ...row.loop.map((text) => h("li", {}, text))) : null,
          h("button", { type: "button", onclick: () => page.showThings(row.things) }, "Show it in the picture"))))),
    openNeutralPart(page));
}

/** What all metal stands at when a supply's neutral opens; worked out when it is asked for. @param {Page} page */
function openNeutralPart(page) {
  const inside = h("div", {});
  /** @param {string} run */
  const fill = (run) => page.guarded(async () => {
    const answer = await api.openNeutral(run, page.view.form);
    const plot = h("div", { class: "plot" });
    plot.innerHTML = answer.svg;
    const pick = h("select", { onchange: () => void fill(pick.value) }, ...answer.runs.map((name) => h("option", { value: name, ...(name === answer.run ? { selected: true } : {}) }, name)));
    inside.replaceChildren(...(answer.runs.length > 1 ? [h("div", { class: "fields" }, h("label", {}, "Which supply", pick))] : []), ...(answer.svg ? [plot] : []), ...paragraphs(answer.told));
  });
  return h("details", { class: "row", id: "open-neutral", ontoggle: (/** @type {Event} */ e) => { if (/** @type {HTMLDetailsElement} */ (e.target).open && !inside.childElementCount) void fill(""); } },
    h("summary", {}, h("b", {}, "If a supply's neutral opens"), h("span", { class: "small" }, "What all metal then stands at")), inside);
}

/** @param {Page} page */
export async function sizesView(page) {
  const answer = await api.schedule();
  const rows = h("div");
  const filter = h("input", { type: "search", id: "size-filter", oninput: () => fill() });
  const fill = () => {
    const words = filter.value.toLowerCase().split(/\s+/).filter(Boolean);
    const found = answer.rows.filter((r) => words.every((w) => `${r.short} ${r.purpose} ${r.start} ${r.end} ${r.verdict} ${r.chosen}`.toLowerCase().includes(w)));
    rows.replaceChildren(...found.slice(0, 150).map((row) =>
      h("details", { class: "row" },
        h("summary", {}, h("b", {}, `${row.short} ${row.chosen}`), badge(row.verdict, row.mark), h("span", { class: "small" }, `${row.start} to ${row.end}`)),
        h("div", {}, h("p", {}, `${row.purpose}; ${row.origin}; least ${row.required}${row.clause ? ` (${row.clause})` : ""}.`), row.remark ? h("p", {}, row.remark) : null, ...paragraphs(row.why),
          row.thing ? link(row.thing.id, page, row.thing.kind, "Show it in the picture") : null))),
      found.length > 150 ? h("p", { class: "small" }, `${found.length - 150} more; narrow it down above.`) : "");
  };
  fill();
  return h("div", {}, h("h2", {}, "Sizes"), h("div", { class: "fields" }, h("label", {}, `${answer.rows.length} jumpers and conductors; show those with`, filter)), rows,
    answer.assumed.length ? h("details", { class: "row" }, h("summary", {}, h("b", {}, "Assumed"), h("span", { class: "small" }, String(answer.assumed.length))), h("div", {}, ...paragraphs(answer.assumed.slice(0, 200)))) : null);
}

/** @param {Page} page */
export async function findingsView(page) {
  const answer = await api.findings();
  const job = page.jobPart("whole study", answer.whole ? "Study it all again" : "Study everything");
  return h("div", {}, h("h2", {}, "Findings"), h("p", { class: "lead" }, answer.note), job,
    answer.findings.length ? h("div", {}, ...answer.findings.slice(0, 200).map((f) => findingCard(f, page))) : h("p", {}, "Nothing was found."));
}

/** @param {Page} page */
export async function mistakesView(page) {
  const job = page.jobPart("defects", "Try every mistake");
  const result = page.results.get("defects");
  const rows = result && result.kind === "defects" ? result : null;
  return h("div", {}, h("h2", {}, "Mistakes"),
    h("p", { class: "lead" }, "Every bonding mistake that could be made here, tried one by one against every fault and in normal use. Those that a normal day never shows and a fault makes deadly come first."),
    job,
    rows ? h("p", { class: "small" }, `${rows.tried.toLocaleString("en")} mistakes against ${rows.faults.toLocaleString("en")} faults: ${rows.cases.toLocaleString("en")} cases.`) : null,
    rows ? h("div", {}, ...rows.rows.map((row) => h("details", { class: "row" },
      h("summary", {}, h("b", {}, row.name), h("span", { class: `badge ${row.mark.startsWith("!") ? "short" : "note"}` }, `${row.mark} ${row.rank}`), h("span", { class: "small" }, `${row.fault}; a normal day shows ${row.day}`)),
      h("div", {}, ...paragraphs(row.told), link(row.at, page, KIND_WORDS[row.at], "Show it in the picture"))))) : null);
}
