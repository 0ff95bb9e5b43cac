// The jobs of the store: open one, start one, take them along as files, bring them in.

import { at, h } from "./dom.js";
import { begin, field, get, guarded, paintWho, post, toast } from "./house.js";
import { base64 } from "./schedule.js";

/** @typedef {import("./wire").JobsAnswer} Answer */
/** @typedef {import("./wire").JobInfo} Job */

/** @param {string} at */
const when = (at) => new Date(at).toLocaleString([], { dateStyle: "medium", timeStyle: "short" });

/** @param {Answer} answer */
function paint(answer) {
  paintWho(answer);
  const may = answer.role !== "look";
  at("main").replaceChildren(
    answer.notice ? h("p", { class: "card", id: "notice", role: "note" }, answer.notice) : "",
    answer.wants_factor ? h("p", { class: "card", id: "wants-factor", role: "note" }, "You keep the users, which needs a second factor. Until then you may look and save. ", h("a", { href: "/people#factor" }, "Set it up")) : "",
    h("section", { "aria-labelledby": "jobs-head" }, h("h2", { id: "jobs-head" }, answer.jobs.length ? `${answer.jobs.length} ${answer.jobs.length === 1 ? "job" : "jobs"}` : "No job yet"),
      answer.jobs.length ? h("ul", { class: "joblist" }, ...answer.jobs.map((job) => row(job, may))) : h("p", {}, may ? "Start the first one below." : "Somebody who may save starts the first one.")),
    may ? start(answer) : "",
    h("section", { "aria-labelledby": "files-head" }, h("h2", { id: "files-head" }, "As files"),
      h("p", { class: "small" }, "A bundle holds jobs with all their revisions: a backup, or the way to another store. The users are not in it."),
      h("div", { class: "actions" }, answer.jobs.length ? h("a", { class: "button", href: "/house/bundle", download: "" }, "Take all jobs along") : "", ...(may ? bundleIn() : []))),
    h("p", { class: "small" }, h("b", {}, "This work can kill. "), "What these pages show is a calculation about a description, not a test."));
}

/** @param {Job} job @param {boolean} may */
function row(job, may) {
  const name = h("input", { type: "text", value: job.name, maxlength: "200" });
  return h("li", { class: "card" },
    h("a", { class: "open", href: `/job/${job.id}/` }, job.name),
    job.unsaved ? h("span", { class: "badge open" }, "◐ not saved") : h("span", {}),
    h("span", { class: "small" }, `Revision ${job.newest.number}: ${job.newest.why}. ${job.newest.who}, ${when(job.newest.at)}`),
    h("details", {}, h("summary", { "aria-label": `More about ${job.name}` }, "More"), h("div", { class: "fields" },
      may ? h("form", { class: "fields", onsubmit: (/** @type {Event} */ e) => { e.preventDefault(); void guarded(async () => paint(await post(`/house/jobs/${job.id}/name`, { name: name.value }))); } },
        field(`name-${job.id}`, "Name", name), h("div", { class: "actions" }, h("button", { type: "submit" }, "Call it so"))) : null,
      h("div", { class: "actions" }, h("a", { class: "button", href: `/house/bundle?job=${job.id}`, download: "" }, "Take it along with all revisions")))));
}

/** @param {Answer} answer */
function start(answer) {
  const name = h("input", { type: "text", maxlength: "200", autocomplete: "off" });
  const starter = h("select", {}, ...Object.entries(answer.starters).map(([key, text]) => h("option", { value: key }, text)), h("option", { value: "" }, "A site file of my own"));
  const file = h("input", { type: "file", accept: ".yaml,.yml,text/yaml" });
  const own = field("new-file", "The site file", file);
  own.hidden = true;
  starter.addEventListener("change", () => { own.hidden = starter.value !== ""; });
  const why = h("input", { type: "text", maxlength: "2000", value: "begun" });
  return h("section", { "aria-labelledby": "new-head" }, h("h2", { id: "new-head" }, "Start a job"),
    h("form", { class: "fields card", onsubmit: (/** @type {Event} */ e) => {
      e.preventDefault();
      void guarded(async () => {
        const chosen = file.files?.[0];
        if (!starter.value && !chosen) { toast("Choose the site file."); return; }
        const before = new Set(answer.jobs.map((job) => job.id));
        /** @type {Answer} */
        const now = await post("/house/jobs", { name: name.value, why: why.value, starter: starter.value, text: starter.value || !chosen ? "" : await chosen.text() });
        const made = now.jobs.find((job) => !before.has(job.id));
        if (made) location.assign(`/job/${made.id}/`);
      });
    } }, field("new-name", "What it is called (else the site's own name)", name), field("new-starter", "Begin with", starter), own, field("new-why", "Why", why),
    h("div", { class: "actions" }, h("button", { type: "submit", class: "main", id: "start-job" }, "Start it"))));
}

function bundleIn() {
  const file = h("input", { type: "file", accept: ".zip", id: "bundle-in", class: "hidden-file", onchange: () => guarded(async () => {
    const chosen = file.files?.[0];
    if (!chosen) return;
    paint(await post("/house/bundle", { file: await base64(chosen) }));
    toast("The jobs of the bundle are here.");
  }) });
  return [h("label", { class: "button", for: "bundle-in" }, "Bring a bundle in"), file];
}

await begin(async () => paint(await get("/house/jobs")));
