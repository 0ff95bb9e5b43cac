// The page: what is shown, what is chosen, and what a person does with it.

import * as api from "./api.js";
import { describeView } from "./describe.js";
import { at, badge, h, paragraphs } from "./dom.js";
import { FieldHunt } from "./field.js";
import { paintKept, startKeeping } from "./keep.js";
import { keepPage } from "./offline.js";
import { Lessons } from "./lessons.js";
import { TablePanel } from "./panel.js";
import { Picture } from "./picture.js";
import { Play } from "./play.js";
import { earthView } from "./earth.js";
import { openSearch } from "./search.js";
import { setTheme, theme } from "./theme.js";
import { faultsView, findingsView, mistakesView, sizesView, startView, strayView, thingView } from "./told.js";

/** @typedef {{kind: string, id: string}} Target */

const TABS = /** @type {const} */ ({ thing: "Look", describe: "Describe", hunt: "Hunt", tables: "Tables", faults: "Faults", stray: "Stray", mistakes: "Mistakes", sizes: "Sizes", earth: "Earth", findings: "Findings", learn: "Learn" });
/** @typedef {keyof typeof TABS} Tab */
const NARROW = "(max-width: 700px)";

export class Page {
  /** @param {import("./wire").SiteAnswer} site */
  constructor(site) {
    this.site = site;
    this.things = site.things;
    this.edits = site.edits;
    /** @type {import("./wire").ViewRequest} */
    this.view = { form: matchMedia(NARROW).matches ? "phone" : "page", state: site.states[0]?.id ?? "", show: "normal", fault: "", have: "" };
    /** @type {Target | null} */
    this.chosen = null;
    /** @type {import("./wire").FaultTold | null} */
    this.fault = null;
    this.faultPlace = "";
    /** @type {Tab} */
    this.tab = "thing";
    /** @type {Map<string, import("./wire").JobAnswer>} */
    this.jobs = new Map();
    /** @type {Map<string, NonNullable<import("./wire").JobAnswer["result"]>>} */
    this.results = new Map();
    /** @type {FieldHunt | undefined} */
    this.hunt = undefined;
    this.tables = new TablePanel();
    this.lessons = new Lessons(this);
    /** @type {import("./wire").KeptAnswer | null} */
    this.kept = null;
    this.drawing = 0;
    this.turn = 0;
    this.shown = 0;
    this.picture = new Picture(at("view"), (target, x, y) => this.tapped(target, x, y));
    this.play = new Play(this.picture, () => void this.show("normal"));
  }

  // --- the picture ------------------------------------------------------------------------------

  async start() {
    at("title").textContent = this.site.site;
    document.title = `${this.site.site}, bondwright`;
    at("caution").replaceChildren(h("b", {}, "This work can kill. "), this.site.caution);
    this.buildControls();
    await this.load();
    await startKeeping(this);
    this.paintTab();
    document.documentElement.dataset["ready"] = "yes";
    // A job that is served to others isn't kept on the device: it would stay there after logging out.
    if (api.address("") === "") void keepPage(["/api/site", `/api/picture?form=${this.view.form}`, "/api/tables", "/api/hunt/form", "/api/lessons"],
      () => this.toastWith("A newer page is here.", "Load it", () => location.reload()));
  }

  async load() {
    const answer = await api.picture(this.view.form);
    this.picture.insert(answer);
    this.drawing = answer.drawing;
    this.view.have = "";
    await this.look(false);
    this.showAll();
  }

  showAll() {
    this.picture.showAll(this.covered());
  }

  /** How much of the picture the headline covers, px. */
  covered() {
    return at("headline").offsetHeight + 24;
  }

  /** Ask for the view and show what is different. @param {boolean} begin whether a fault starts anew */
  async look(begin) {
    await this.guarded(async () => { await this.take(await api.view(this.view), begin); });
  }

  /** @param {import("./wire").ViewAnswer} answer @param {boolean} begin */
  async take(answer, begin) {
    if (answer.drawing !== this.drawing) answer = await this.redraw(answer);
    this.view.state = answer.state;
    this.view.show = answer.show;
    this.view.have = answer.name;
    this.picture.patch(answer.changes);
    const headline = at("headline");
    headline.dataset["verdict"] = answer.verdict;
    headline.replaceChildren(...(answer.verdict ? [badge(answer.verdict, answer.mark), " "] : []), answer.headline);
    this.edits = answer.edits;
    this.fault = answer.fault;
    this.play.show(answer.fault, begin);
    const show = /** @type {HTMLSelectElement} */ (at("show"));
    const option = /** @type {HTMLOptionElement} */ (show.querySelector('[value="fault"]'));
    if (answer.fault) {
      option.disabled = false;
      option.textContent = answer.fault.name;
    }
    show.value = this.view.show;
    /** @type {HTMLSelectElement} */ (at("state")).value = this.view.state;
    paintKept(this);
    /** @type {HTMLButtonElement} */ (at("undo")).disabled = !answer.edits.can_undo;
    /** @type {HTMLButtonElement} */ (at("redo")).disabled = !answer.edits.can_redo;
    document.documentElement.dataset["shown"] = String((this.shown += 1));
  }

  /** Draw a site that was described anew. @param {import("./wire").ViewAnswer} answer @returns {Promise<import("./wire").ViewAnswer>} */
  async redraw(answer) {
    const before = this.picture.answer;
    const [site, picture] = await Promise.all([api.site(), api.picture(this.view.form)]);
    this.site = site;
    this.things = site.things;
    this.picture.insert(picture);
    this.drawing = picture.drawing;
    at("title").textContent = site.site;
    document.title = `${site.site}, bondwright`;
    this.fillStates();
    if (!before || Math.abs(picture.width - before.width) > 0.3 * before.width || Math.abs(picture.height - before.height) > 0.3 * before.height) this.showAll();
    if (this.chosen && !this.things.some((t) => t.id === this.chosen?.id)) this.chosen = null;
    this.picture.choose(this.chosen);
    return picture.drawing === answer.drawing ? answer : api.view({ ...this.view, state: answer.state, show: "normal", fault: "", have: "" });
  }

  /**
   * Change the description and show what comes of it.
   * @param {() => Promise<import("./wire").ViewAnswer>} work
   * @param {string | ((answer: import("./wire").ViewAnswer) => string)} said @param {boolean} [strict] hand on what is wrong
   */
  async described(work, said, strict = false) {
    this.bubble(null);
    const change = async () => {
      const answer = await work();
      await this.take(answer, false);
      this.toast(typeof said === "string" ? said : said(answer), true);
    };
    await (strict ? change() : this.guarded(change));
  }

  /** Choose what was just described, and bring it in sight. @param {string} table @param {string} id */
  async refind(table, id) {
    const found = this.things.find((t) => t.id === id && `${t.kind}s`.startsWith(table.slice(0, 5))) ?? this.things.find((t) => t.id === id);
    if (!found) return;
    this.chosen = { kind: found.kind, id: found.id };
    this.picture.choose(this.chosen);
    const box = this.picture.boxOf(this.chosen), view = this.picture.view, { x, y, k } = this.picture.pan.place;
    const seen = box && x + box[0] * k > 0 && x + (box[0] + box[2]) * k < view.clientWidth && y + box[1] * k > this.covered() && y + (box[1] + box[3]) * k < view.clientHeight;
    if (!seen) this.picture.bring(this.chosen, { top: this.covered() });
  }

  /** @param {"nothing" | "normal" | "fault"} what */
  async show(what) {
    this.view.show = what;
    await this.look(false);
    if (this.tab === "faults" || this.tab === "thing") this.paintTab();
  }

  /** @param {string} key */
  async playFault(key) {
    this.view.show = "fault";
    this.view.fault = key;
    this.faultPlace = key.split("|")[0] ?? "";
    if (matchMedia(NARROW).matches) this.sheet(false);
    await this.look(true);
    at("toast").hidden = true;
    this.picture.bring({ kind: "place", id: this.faultPlace }, { top: this.covered(), bottom: at("play").offsetHeight });
    this.play.play();
    this.paintTab();
  }

  /** @param {"take off" | "put on" | "undo" | "redo" | "start over" | "keep ties"} action @param {string} name */
  async edit(action, name) {
    this.bubble(null);
    await this.guarded(async () => {
      const undoes = this.edits.undoes;
      const answer = await api.edit({ action, name, view: this.view });
      await this.take(answer, false);
      const what = { "take off": `${name} taken off. Only this page changes`, "put on": `A tie put on at ${name}. Only this page changes`, undo: `Undone: ${undoes}`, redo: `Done again: ${answer.edits.undoes}`, "start over": "Every tie as described", "keep ties": "The ties are described as they stand" }[action];
      this.toast(`${what}.`, action === "take off" || action === "put on");
      this.paintTab();
    });
  }

  // --- choosing ---------------------------------------------------------------------------------

  /** @param {Target | null} target @param {number} _x @param {number} _y */
  tapped(target, _x, _y) {
    if (this.lessons.running) return;
    if (target?.kind === "fold") {
      const [kind = "", ...rest] = target.id.split(" ");
      this.fold(kind, rest.join(" "), false);
      return;
    }
    void this.choose(target, false);
  }

  /** @param {Target | null} target @param {boolean} bring */
  async choose(target, bring) {
    this.chosen = target;
    this.bubble(null);
    this.picture.point([]);
    this.picture.choose(target);
    this.tab = "thing";
    const narrow = matchMedia(NARROW).matches;
    const tie = target && ["tie", "slot", "missing-tie"].includes(target.kind);
    // On a phone a tie keeps the picture in sight; the sheet tells about everything else.
    if (narrow) this.sheet(Boolean(target) && !tie);
    if (target && bring) this.picture.bring(target, { top: this.covered() });
    else if (target && narrow) this.above(target);
    await this.paintTab();
  }

  /** On a phone the sheet covers the lower part: what was tapped goes above it. @param {Target} target */
  above(target) {
    const middle = this.picture.middle(target);
    const room = this.picture.view.clientHeight, top = this.covered();
    if (middle && (middle.y > room - 10 || middle.y < top)) this.picture.pan.by(0, (top + room) / 2 - middle.y);
  }

  /** The picture as it is on a normal day, with nothing chosen. */
  quiet() {
    const fault = this.view.show === "fault";
    this.alone();
    if (fault) void this.look(false);
  }

  /** Nothing chosen and nothing played, whatever the picture shows. */
  alone() {
    this.chosen = null;
    this.bubble(null);
    this.picture.choose(null);
    if (this.view.show === "fault") this.view.show = "normal";
    this.play.show(null, false);
  }

  /** A button beside the tie or slot that was tapped. @param {import("./wire").ThingAnswer | null} thing */
  bubble(thing) {
    const bubble = at("bubble");
    const action = thing && ["tie", "slot"].includes(thing.kind) ? thing.actions[0] : undefined;
    bubble.replaceChildren();
    bubble.hidden = true;
    if (!action) return;
    bubble.append(h("button", { type: "button", class: "main", onclick: () => this.edit(action.action, action.name) }, action.label));
    if (matchMedia(NARROW).matches) {
      bubble.append(h("button", { type: "button", onclick: () => { this.bubble(null); this.sheet(true); } }, "About it"));
    }
    this.placeBubble();
  }

  /** Keep the button beside its tie while the picture moves. */
  placeBubble() {
    const bubble = at("bubble");
    if (!bubble.childElementCount) return;
    const spot = this.chosen && this.picture.middle(this.chosen);
    const w = this.picture.view.clientWidth, hh = this.picture.view.clientHeight;
    bubble.hidden = !spot || spot.x < 0 || spot.x > w || spot.y < 0 || spot.y > hh;
    if (!spot) return;
    bubble.style.left = `${Math.max(90, Math.min(w - 90, spot.x))}px`;
    bubble.style.top = `${Math.max(60, Math.min(hh - 110, spot.y))}px`;
  }

  /** @param {Target[]} things */
  showThings(things) {
    if (matchMedia(NARROW).matches) this.sheet(false);
    this.picture.point(things);
    this.picture.bringAll(things, { top: this.covered() });
  }

  /** @param {string} kind @param {string} id @param {boolean} away */
  fold(kind, id, away) {
    this.picture.fold(kind, id, away);
    if (this.tab === "thing") this.paintTab();
  }

  // --- the panel --------------------------------------------------------------------------------

  /** @param {Tab} tab */
  async openTab(tab) {
    this.tab = tab;
    this.sheet(true);
    await this.paintTab();
  }

  /** @param {boolean} open */
  sheet(open) {
    document.body.classList.toggle("sheet", open);
    at("grip").setAttribute("aria-expanded", String(open));
  }

  async paintTab() {
    const turn = (this.turn += 1);
    document.body.dataset["tab"] = this.tab;
    if (this.tab !== "learn") await this.lessons.leave();
    for (const button of at("tabs").children) {
      const on = /** @type {HTMLElement} */ (button).dataset["tab"] === this.tab;
      button.setAttribute("aria-selected", String(on));
      /** @type {HTMLElement} */ (button).tabIndex = on ? 0 : -1;
      if (on) button.scrollIntoView?.({ block: "nearest", inline: "nearest" });
    }
    const told = at("told");
    const same = told.dataset["tab"] === `${this.tab} ${this.tab === "thing" ? this.chosen?.id : ""}`;
    const before = told.scrollTop;
    /** @type {HTMLElement} */
    let body;
    try {
      body = await this.body();
    } catch (error) {
      body = h("div", {}, h("p", { class: "problem", role: "alert" }, error instanceof Error ? error.message : String(error)));
    }
    if (turn !== this.turn) return;
    document.body.classList.toggle("wide", this.tab === "describe" && document.body.classList.contains("wide"));
    told.replaceChildren(body);
    told.dataset["tab"] = `${this.tab} ${this.tab === "thing" ? this.chosen?.id : ""}`;
    told.setAttribute("role", "tabpanel");
    told.setAttribute("aria-labelledby", `tab-${this.tab}`);
    told.scrollTop = same ? before : 0;
  }

  /** @returns {Promise<HTMLElement>} */
  async body() {
    switch (this.tab) {
      case "describe": return describeView(this);
      case "hunt": return (this.hunt ??= new FieldHunt(this)).open();
      case "tables": return this.tables.open(this.site.rules);
      case "learn": return this.lessons.open();
      case "faults": return faultsView(this);
      case "stray": return strayView(this);
      case "mistakes": return mistakesView(this);
      case "sizes": return sizesView(this);
      case "earth": return earthView(this);
      case "findings": return findingsView(this);
      default: {
        if (!this.chosen) return startView(this);
        const thing = await api.thing(this.chosen.kind, this.chosen.id, this.view);
        this.bubble(thing);
        return thingView(thing, this);
      }
    }
  }

  // --- long work --------------------------------------------------------------------------------

  /**
   * The button that starts long work, or how far it is.
   * @param {import("./wire").JobRequest["kind"]} kind @param {string} label
   */
  jobPart(kind, label) {
    const box = h("div", { class: "job", "data-job": kind });
    this.paintJob(box, kind, label);
    return box;
  }

  /** @param {HTMLElement} box @param {import("./wire").JobRequest["kind"]} kind @param {string} label */
  paintJob(box, kind, label) {
    const job = this.jobs.get(kind);
    const start = h("button", { type: "button", class: "main", onclick: () => this.startJob(kind) }, label);
    if (job?.status === "running") {
      // What is there stays there: a button that is replaced while it is pressed loses the press.
      if (!box.querySelector("progress")) {
        const cancel = h("button", { type: "button", onclick: () => this.cancelJob(kind) }, "Cancel");
        box.replaceChildren(h("progress", { "aria-label": "How far it is" }), h("p", { class: "small" }), cancel);
      }
      const bar = /** @type {HTMLProgressElement} */ (box.querySelector("progress"));
      bar.max = Math.max(1, job.of);
      bar.value = job.done;
      /** @type {HTMLElement} */ (box.querySelector("p")).textContent = `${job.what}: ${job.done} of ${job.of}`;
    } else {
      const said = job?.status === "cancelled" ? "Cancelled; nothing was kept." : job?.status === "failed" ? job.problem : job?.status === "done" ? `Done in ${job.seconds} s.` : "";
      const result = this.results.get(kind);
      box.replaceChildren(h("div", { class: "actions" }, start), said ? h("p", { class: job?.status === "failed" ? "problem" : "small", role: "status" }, said) : "",
        result?.kind === "whole study" ? h("div", { class: "card" }, h("h3", {}, badge(result.verdict, result.mark), " ", result.headline), ...paragraphs(result.sentences)) : "");
    }
  }

  /** @param {import("./wire").JobRequest["kind"]} kind */
  async startJob(kind) {
    await this.guarded(async () => {
      const job = await api.startJob({ kind, state: this.view.state });
      this.jobs.set(kind, job);
      api.followJob(job.id, (now) => {
        this.jobs.set(kind, now);
        if (now.result) this.results.set(kind, now.result);
        const open = (kind === "defects" && this.tab === "mistakes") || (kind === "whole study" && this.tab === "findings") || (kind === "ground" && this.tab === "earth");
        const box = /** @type {HTMLElement | null} */ (document.querySelector(`[data-job="${kind}"]`));
        if (now.status === "running" && box) this.paintJob(box, kind, "");
        else if (open) void this.paintTab();
      });
      await this.paintTab();
    });
  }

  /** @param {import("./wire").JobRequest["kind"]} kind */
  async cancelJob(kind) {
    const job = this.jobs.get(kind);
    if (job) await this.guarded(async () => { await api.cancelJob(job.id); });
  }

  // --- controls ---------------------------------------------------------------------------------

  buildControls() {
    const state = /** @type {HTMLSelectElement} */ (at("state"));
    this.fillStates();
    state.addEventListener("change", async () => {
      this.view.state = state.value;
      if (this.view.show === "fault") this.view.show = "normal";
      await this.look(false);
      await this.paintTab();
    });
    const show = /** @type {HTMLSelectElement} */ (at("show"));
    show.addEventListener("change", () => void this.show(/** @type {any} */ (show.value)));
    at("undo").addEventListener("click", () => void this.edit("undo", ""));
    at("redo").addEventListener("click", () => void this.edit("redo", ""));
    at("find").addEventListener("click", () => this.openSearch());
    at("more").addEventListener("click", () => this.openMenu());
    at("zoom-in").addEventListener("click", () => this.picture.pan.zoom(1.5));
    at("zoom-out").addEventListener("click", () => this.picture.pan.zoom(1 / 1.5));
    at("zoom-all").addEventListener("click", () => this.showAll());
    at("grip").addEventListener("click", () => this.sheet(!document.body.classList.contains("sheet")));
    at("view").addEventListener("moved", () => this.placeBubble());
    at("view").addEventListener("keydown", (e) => this.key(e));
    document.addEventListener("keydown", (e) => this.shortcut(e));
    matchMedia(NARROW).addEventListener("change", (e) => {
      this.view.form = e.matches ? "phone" : "page";
      void this.load();
    });
    const tabs = at("tabs");
    tabs.replaceChildren(...Object.entries(TABS).map(([name, word]) =>
      h("button", { type: "button", role: "tab", id: `tab-${name}`, "data-tab": name, "aria-controls": "told", onclick: () => this.pressTab(/** @type {Tab} */ (name)) }, word)));
    tabs.addEventListener("keydown", (e) => {
      const names = /** @type {Tab[]} */ (Object.keys(TABS));
      const step = e.key === "ArrowRight" ? 1 : e.key === "ArrowLeft" ? -1 : 0;
      if (!step) return;
      const next = names[(names.indexOf(this.tab) + step + names.length) % names.length];
      if (next) void this.openTab(next).then(() => document.getElementById(`tab-${next}`)?.focus());
      e.preventDefault();
    });
  }

  fillStates() {
    at("state").replaceChildren(...this.site.states.map((s) => h("option", { value: s.id }, s.id)));
  }

  /** @param {Tab} name */
  pressTab(name) {
    const open = document.body.classList.contains("sheet");
    if (matchMedia(NARROW).matches && open && name === this.tab) this.sheet(false);
    else void this.openTab(name);
  }

  /** @param {KeyboardEvent} e */
  key(e) {
    const step = 80;
    const pan = this.picture.pan;
    /** @type {Record<string, () => void>} */
    const keys = {
      ArrowLeft: () => pan.by(step, 0), ArrowRight: () => pan.by(-step, 0), ArrowUp: () => pan.by(0, step), ArrowDown: () => pan.by(0, -step),
      "+": () => pan.zoom(1.3), "=": () => pan.zoom(1.3), "-": () => pan.zoom(1 / 1.3), 0: () => this.showAll(),
      n: () => this.walk(1), p: () => this.walk(-1), Enter: () => { if (this.chosen) void this.openTab("thing").then(() => at("panel").focus()); }, Escape: () => void this.choose(null, false),
    };
    const act = keys[e.key];
    if (act && !e.ctrlKey && !e.metaKey && !e.altKey) {
      act();
      e.preventDefault();
    }
  }

  /** Go from place to place. @param {number} by */
  walk(by) {
    const places = Object.keys(this.picture.answer?.boxes ?? {});
    const now = places.indexOf(this.chosen?.id ?? "");
    const id = places[(now + by + places.length) % places.length];
    const thing = this.things.find((t) => t.id === id);
    if (thing) void this.choose({ kind: thing.kind, id: thing.id }, true);
  }

  /** @param {KeyboardEvent} e */
  shortcut(e) {
    if (e.target instanceof HTMLInputElement || e.target instanceof HTMLSelectElement || e.target instanceof HTMLTextAreaElement || document.querySelector("dialog[open]")) return;
    if (e.key === "/") {
      this.openSearch();
      e.preventDefault();
    } else if ((e.ctrlKey || e.metaKey) && e.key.toLowerCase() === "z") {
      const back = e.shiftKey ? "redo" : "undo";
      if (!(/** @type {HTMLButtonElement} */ (at(back)).disabled)) void this.edit(back, "");
      e.preventDefault();
    }
  }

  openSearch() {
    openSearch(this.things, (thing) => void this.choose({ kind: thing.kind, id: thing.id }, true));
  }

  openMenu() {
    const dialog = /** @type {HTMLDialogElement} */ (at("menu"));
    const close = h("button", { type: "button", class: "icon", "aria-label": "Close", onclick: () => dialog.close() }, "✕");
    const themes = h("div", { class: "choice", role: "radiogroup", "aria-label": "Light or dark" }, ...["auto", "light", "dark"].map((name) => {
      const input = h("input", { type: "radio", name: "theme", value: name, onchange: () => setTheme(name), ...(theme() === name ? { checked: true } : {}) });
      return h("label", {}, input, name === "auto" ? "as the system" : name);
    }));
    const still = h("input", { type: "checkbox", onchange: () => document.body.classList.toggle("still", !still.checked) });
    still.checked = !document.body.classList.contains("still");
    const buildings = (this.picture.answer?.folds ?? []).filter((f) => f.kind === "building");
    const sheet = h("div", { class: "keysheet" });
    sheet.innerHTML = this.picture.answer?.key ?? "";
    dialog.replaceChildren(h("div", {},
      h("header", {}, h("h2", {}, "More"), close),
      h("h3", {}, "What the marks mean"), sheet,
      h("p", { class: "small" }, "A dashed outline on a place is where a tie could be made. The width of a ribbon follows its current; a dash moves the way the current goes at the moment the neutral current, or the fault, peaks."),
      buildings.length ? h("h3", {}, "Fold buildings away") : "",
      buildings.length ? h("div", { class: "choice" }, ...buildings.map((f) => {
        const box = h("input", { type: "checkbox", onchange: () => this.fold("building", f.id, box.checked) });
        box.checked = this.picture.folded.has(`building ${f.id}`);
        return h("label", {}, box, `${f.id} (${f.count})`);
      })) : "",
      h("h3", {}, "Light or dark"), themes,
      h("div", { class: "choice" }, h("label", {}, still, "currents move")),
      h("div", { class: "actions" }, h("button", { type: "button", onclick: () => { dialog.close(); this.showAll(); window.setTimeout(() => window.print(), 250); } }, "Print")),
      h("h3", {}, "Cautions"), ...paragraphs(this.site.cautions),
      h("p", { class: "small" }, `bondwright ${this.site.tool}. The page asks this machine only.`)));
    dialog.showModal();
  }

  // --- words ------------------------------------------------------------------------------------

  /** @param {string} text @param {boolean} undo */
  toast(text, undo) {
    this.toastWith(text, undo ? "Undo" : "", () => void this.edit("undo", ""));
  }

  /** @param {string} text @param {string} word on its button, "" without one @param {() => void} act */
  toastWith(text, word, act) {
    const toast = at("toast");
    toast.replaceChildren(h("span", {}, text), ...(word ? [h("button", { type: "button", onclick: () => { toast.hidden = true; act(); } }, word)] : []));
    toast.hidden = false;
    window.clearTimeout(this.toasting);
    this.toasting = window.setTimeout(() => { toast.hidden = true; }, 5000);
  }

  /** Do something; say in plain words if it can't be done. @param {() => Promise<unknown>} work */
  async guarded(work) {
    try {
      await work();
    } catch (error) {
      if (!(error instanceof api.Problem)) throw error;
      this.toast(error.message, false);
    }
  }
}

setTheme(theme());
try {
  const page = new Page(await api.site());
  await page.start();
} catch (error) {
  at("headline").textContent = error instanceof Error ? error.message : String(error);
  throw error;
}
