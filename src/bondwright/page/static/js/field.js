// The hunt in the field: one reading is asked for, typed with big keys, and the list gets shorter.

import * as api from "./api.js";
import { h, paragraphs } from "./dom.js";
import { Notes } from "./notes.js";
import { OwnReading } from "./own.js";

/** @typedef {import("./wire").AskInfo} AskInfo */
/** @typedef {import("./wire").HuntResult} HuntResult */
/** @typedef {import("./main.js").Page} Page */

const READ = "bondwright-hunt-cautions-read";
const NUMBER = /^(\d+([.,]\d*)?|[.,]\d+)$/;
const SLOW_S = 1;
const PATIENCE_S = 6;

/** @param {{what: string, where: string, of: string, state: string}} ask */
const idOf = (ask) => [ask.what, ask.where, ask.of, ask.state].join("|");

/** @param {{what: string, where: string, of: string}} note */
export const placeOf = (note) => `${note.what}${note.of ? ` ${note.of}` : ""} at ${note.where}`;

/** @param {string} text */
const lower = (text) => text.charAt(0).toLowerCase() + text.slice(1);

/** Whether the cautions were read once on this browser. */
function read() {
  try {
    return Boolean(localStorage.getItem(READ));
  } catch {
    return false;
  }
}

/** @param {string} time as written down */
const clock = (time) => time.replace("T", " ").slice(0, 16);

export class FieldHunt {
  /** @param {Page} page */
  constructor(page) {
    this.page = page;
    this.notes = new Notes(`${page.site.file} ${page.site.site}`, () => this.paint());
    this.own = new OwnReading(this.notes);
    this.status = h("p", { class: "line", role: "status" });
    this.ask = h("div");
    this.result = h("div");
    this.list = h("div");
    this.asked = "";
    this.pointed = "";
    this.unit = "";
    this.over = false;
    /** @type {HTMLInputElement | null} */
    this.field = null;
    this.before = h("div");
    this.copy = h("p", { class: "line" }, "The picture shows what was changed on this page. The hunt is of the site as its file has it. ",
      h("button", { type: "button", onclick: () => void this.page.edit("start over", "").then(() => this.paint()) }, "Back to the file"));
    this.sofar = h("button", { type: "button", class: "sofar", onclick: () => this.result.scrollIntoView({ block: "start" }) });
    this.begun = read();
    this.said = "";
    this.root = h("div", { class: "afield" }, h("h2", {}, "Hunt"), this.before, this.status, this.copy, this.sofar, this.ask, this.result, this.list, this.own.root);
  }

  /** Called when the tab is opened. */
  open() {
    this.page.quiet();
    this.paint();
    this.pointed = "";
    this.point();
    void this.notes.sync();
    return this.root;
  }

  /** What is said before anything else: whole until it was read once, then in a line. */
  paintCautions() {
    const told = this.notes.book.answer?.cautions;
    const now = `${Boolean(told)} ${this.begun}`;
    if (this.before.dataset["now"] === now) return;
    this.before.dataset["now"] = now;
    const all = paragraphs(told ?? this.page.site.cautions);
    this.before.replaceChildren(...(this.begun
      ? [h("details", { class: "row mindful" }, h("summary", {}, h("b", {}, "Clamp it; lift nothing."), h("span", { class: "small" }, "A tingle? Main off, people away.")), h("div", {}, ...all))]
      : [h("div", { class: "card danger" }, h("h3", {}, "Before you begin"), ...all),
         h("div", { class: "big" }, h("button", { type: "button", class: "main", id: "hunt-begin", onclick: () => this.begin() }, "I have read this; begin"))]));
    this.root.classList.toggle("begun", this.begun);
  }

  begin() {
    this.begun = true;
    try {
      localStorage.setItem(READ, "yes");
    } catch {
      // Without storage it is said again the next time.
    }
    this.paint();
    this.root.parentElement?.scrollTo({ top: 0 });
      }

  /** Whether the next reading is about to be worked out: then none is asked for that is soon another. */
  get working() {
    const { answer } = this.notes.book;
    return this.notes.line && !this.notes.refused && (this.notes.waiting > 0 || answer?.status === "ranking") && (answer?.seconds ?? 0) < PATIENCE_S;
  }

  /** The first proposal that wasn't put aside and hasn't been read. */
  next() {
    const { answer, skipped, notes } = this.notes.book;
    const read = new Set(notes.map((note) => idOf({ ...note, state: note.state || "loads on" })));
    return (answer?.result?.asks ?? []).find((ask) => !skipped.includes(idOf(ask)) && !read.has(idOf(ask))) ?? null;
  }

  paint() {
    const { answer } = this.notes.book;
    const waits = this.notes.waiting;
    const many = waits === 1 ? "1 entry waits" : `${waits} entries wait`;
    this.status.className = this.notes.line && !this.notes.refused ? "line" : "line off";
    this.status.textContent = this.notes.refused || (!this.notes.line
      ? `No line to the server. ${waits ? `${many} here and will be sent by themselves.` : "Readings are kept here and sent when it is back."}`
      : waits ? `${many} to be sent.` : this.said);
    this.status.hidden = !this.status.textContent;
    this.paintCautions();
    this.copy.hidden = !this.page.edits.done.length;
    this.paintSofar(answer?.result ?? null);
    this.paintAsk();
    this.result.replaceChildren(...(answer ? this.resultParts(answer) : [h("p", { class: "lead" }, "Working out what to read first…")]));
    this.paintList();
    this.own.problems(answer?.problems ?? []);
  }

  /** The likeliest cause in a line above the next reading. @param {HuntResult | null} result */
  paintSofar(result) {
    const top = result?.causes[0];
    this.sofar.hidden = !result?.readings || !top;
    if (!result || !top) return;
    const word = result.fits_nothing ? "Fits nothing it knows" : result.stands_out ? "Found" : "So far";
    this.sofar.replaceChildren(h("b", {}, `${word}: `), result.fits_nothing ? "see below" : `${top.name}, ${top.percent}`);
    this.sofar.className = `sofar ${result.stands_out ? (result.cure ? "short" : "holds") : "open"}`;
  }

  // --- what to read next --------------------------------------------------------------------------

  paintAsk() {
    if (this.begun && this.working && this.notes.book.answer?.result) {
      // What was typed stays typed: only after a reading was kept is there nothing to lose.
      if (this.asked && this.field?.value) return;
      this.asked = "";
      this.field = null;
      this.ask.replaceChildren(h("section", { class: "ask-card wait" }, h("p", { role: "status" }, "Working out what to read next…")));
      return;
    }
    const ask = this.next();
    const id = ask ? idOf(ask) : "";
    if (!this.begun || (id === this.asked && (ask || !this.ask.childElementCount))) return;
    this.asked = id;
    this.over = false;
    if (!ask) {
      this.field = null;
      const ready = this.notes.book.answer?.status === "ready";
      this.ask.replaceChildren(...(ready ? [h("p", { class: "lead" }, "No further reading that can be asked for would tell much. One of your own can be entered below.")] : []));
      return;
    }
    this.unit = ask.units[0] ?? "";
    const field = h("input", {
      id: "hunt-value", type: "text", autocomplete: "off", "aria-describedby": "hunt-wrong",
      inputmode: matchMedia("(pointer: coarse)").matches ? "none" : "decimal",
      oninput: () => { this.over = false; this.typed(); },
      onfocus: () => { this.typing(true); this.typed(); },
      onkeydown: (/** @type {KeyboardEvent} */ e) => { if (e.key === "Enter") this.keep(ask); },
    });
    this.field = field;
    field.value = this.notes.book.draft;
    const meter = h("select", { id: "hunt-meter" }, ...ask.meters.map((m) => h("option", { value: m, ...(m === ask.meter ? { selected: true } : {}) }, m)));
    this.meter = meter;
    this.ask.replaceChildren(h("section", { class: "ask-card", "aria-label": "The next reading" },
      h("h3", { id: "hunt-ask" }, h("span", {}, "Next: "), lower(ask.title)),
      h("p", { class: "in-state" }, h("b", {}, "State: "), ask.in_state, "."),
      ...ask.cautions.map((text) => h("p", { class: "mind" }, "! ", text)),
      h("div", { class: "reads" }, h("label", { for: "hunt-value" }, "It reads"), field, h("output", { id: "hunt-unit" }, this.unit)),
      h("p", { id: "hunt-wrong", class: "wrong", role: "alert", hidden: true }),
      this.keys(ask),
      h("div", { class: "big" },
        h("button", { type: "button", class: "main", id: "hunt-keep", onclick: () => this.keep(ask) }, "Keep it"),
        h("button", { type: "button", onclick: () => { this.typing(false); this.notes.skip(id); } }, "Can't get at it")),
      h("details", { class: "row" }, h("summary", {}, h("b", {}, "How, and what to expect"), h("span", { class: "small" }, ask.meter)),
        h("div", {}, h("div", { class: "fields" }, h("label", {}, "Read with", meter)), h("p", {}, ask.instrument, "."), ...paragraphs(ask.expect),
          h("p", {}, "Never lift a neutral, a bond, an electrode conductor or a pipe for a reading.")))));
    this.point();
  }

  /** @param {AskInfo} ask */
  keys(ask) {
    /** @param {string} label @param {() => void} press @param {string} [cls] @param {string} [name] */
    const key = (label, press, cls = "", name = "") => h("button", { type: "button", class: cls, ...(name ? { "aria-label": name } : {}), onclick: press }, label);
    /** @param {string} text */
    const type = (text) => { if (this.field) { this.over = false; this.field.value += text; this.typed(); } };
    const units = ask.units.map((unit) => key(unit, () => { this.unit = unit; this.typed(); }, "unit"));
    const over = ask.over ? key("over range", () => { this.over = true; this.typed(); }, "unit over") : null;
    this.unitKeys = units;
    this.overKey = over;
    const digits = ["7", "8", "9", "4", "5", "6", "1", "2", "3", "0", "."].map((d) => key(d, () => type(d), "digit", d === "." ? "point" : ""));
    const back = key("⌫", () => { if (this.field) { this.field.value = this.field.value.slice(0, -1); this.typed(); } }, "digit", "delete the last");
    window.setTimeout(() => this.typed());
    return h("div", { class: "pad" },
      h("div", { class: "digits", role: "group", "aria-label": "Number" }, ...digits, back),
      h("div", { class: "units", role: "group", "aria-label": "Unit" }, ...units, over));
  }

  /** On a phone the keys take the room of everything else while a number is typed. @param {boolean} on */
  typing(on) {
    this.root.classList.toggle("typing", on);
    if (on) this.said = "";
    if (on && !this.notes.waiting && this.notes.line && !this.notes.refused) this.status.hidden = true;
    if (on && matchMedia("(max-width: 700px)").matches) this.root.parentElement?.scrollTo({ top: 0 });
  }

  typed() {
    if (!this.field) return;
    this.notes.draft(this.field.value);
    const out = document.getElementById("hunt-unit");
    if (out) out.textContent = this.over ? `${this.unit}, over range` : this.unit;
    for (const key of this.unitKeys ?? []) key.setAttribute("aria-pressed", String(key.textContent === this.unit));
    const keep = document.getElementById("hunt-keep");
    if (keep) keep.textContent = this.field.value || this.root.classList.contains("typing") ? "Keep it" : "Type it in";
    this.overKey?.setAttribute("aria-pressed", String(this.over));
    this.wrong("");
  }

  /** @param {string} text */
  wrong(text) {
    const wrong = document.getElementById("hunt-wrong");
    if (!wrong || !this.field) return;
    wrong.hidden = !text;
    wrong.textContent = text;
    this.field.setAttribute("aria-invalid", String(Boolean(text)));
  }

  /** @param {AskInfo} ask */
  keep(ask) {
    const typed = (this.field?.value ?? "").trim();
    if (!typed && !this.root.classList.contains("typing")) {
      this.field?.focus();
      return;
    }
    if (!NUMBER.test(typed)) {
      this.field?.focus();
      this.wrong(this.over ? "Type the largest value that the meter shows; over range is more than that." : `Type the number that the meter shows, like 2.6; its unit is ${this.unit}.`);
      return;
    }
    const value = `${this.over ? "> " : ""}${typed.replace(",", ".")} ${this.unit}`;
    this.asked = "";
    this.said = `Kept: ${value}.`;
    this.typing(false);
    this.notes.add({ what: ask.what, where: ask.where, of: ask.of, value, state: ask.state, meter: this.meter?.value ?? ask.meter });
    this.root.parentElement?.scrollTo({ top: 0 });
  }

  /** Show in the picture where to read. */
  point() {
    if (this.page.tab !== "hunt") return;
    const target = this.next()?.target;
    const id = target ? `${target.kind} ${target.id}` : "";
    if (id === this.pointed) return;
    this.pointed = id;
    this.page.picture.point(target ? [target] : []);
    if (target) requestAnimationFrame(() => this.page.picture.bring(target, { top: 12 }));
  }

  // --- what they say ------------------------------------------------------------------------------

  /** @param {import("./wire").HuntAnswer} answer */
  resultParts(answer) {
    const { result } = answer;
    const parts = [];
    if (answer.status === "ranking" && answer.seconds >= SLOW_S) {
      parts.push(h("div", { class: "working" }, h("p", { role: "status" }, `Working it out: ${Math.round(answer.seconds)} s`), h("button", { type: "button", onclick: () => this.notes.ranking("cancel") }, "Cancel")));
    } else if (answer.status === "cancelled" || answer.status === "failed") {
      parts.push(h("div", { class: "working" }, h("p", { role: "status" }, answer.status === "failed" ? answer.problem : "Cancelled; what stands here is older."), h("button", { type: "button", onclick: () => this.notes.ranking("again") }, "Work it out")));
    }
    if (!result) return parts;
    const kind = result.fits_nothing ? "cannot tell" : result.stands_out ? (result.cure ? "falls short" : "holds") : "cannot tell";
    const mark = { "cannot tell": "?", "falls short": "!", holds: "✓" }[kind] ?? "";
    const word = result.fits_nothing ? "fits nothing" : result.stands_out ? "stands out" : "not decided";
    parts.push(h("div", { class: `card ${result.stands_out ? (result.cure ? "short" : "holds") : "open"}`, id: "hunt-says" },
      h("p", { "aria-live": "polite" }, h("span", { class: `badge ${result.stands_out ? (result.cure ? "short" : "holds") : "open"}` }, `${mark} ${word}`), " ", result.headline),
      result.cure ? h("p", {}, h("b", {}, "Cure: "), result.cure) : null,
      ...result.contradictions.map((text) => h("p", {}, h("b", {}, "Contradiction: "), text))));
    parts.push(h("div", { class: "causes" }, ...result.causes.map((cause, k) => this.cause(cause, k === 0))));
    if (result.planes.length) parts.push(this.planes(result.planes));
    if (result.lessons.length) parts.push(h("div", { class: "card" }, ...paragraphs(result.lessons)));
    return parts;
  }

  /** @param {import("./wire").PlaneInfo[]} planes */
  planes(planes) {
    return h("details", { class: "row", id: "hunt-phasors" },
      h("summary", {}, h("b", {}, "The voltages as a picture")),
      h("div", {}, ...planes.map((plane) => {
        const plot = h("div", { class: "plot" });
        plot.innerHTML = plane.svg;
        return h("figure", {}, plot, h("figcaption", { class: "small" }, plane.told.join(" ")));
      })));
  }

  /** @param {import("./wire").CauseInfo} cause @param {boolean} first */
  cause(cause, first) {
    const bar = h("span", { class: "bar-of" }, h("span", {}));
    /** @type {HTMLElement} */ (bar.firstElementChild).style.width = `${Math.max(1, Math.round(cause.share * 100))}%`;
    return h("details", { class: "row" },
      h("summary", {}, h("b", {}, cause.name), h("span", { class: "value" }, cause.percent), bar),
      h("div", {}, ...paragraphs(cause.told),
        cause.targets.length ? h("button", { type: "button", class: first ? "main" : "", onclick: () => this.page.showThings(cause.targets) }, "Show it in the picture") : null));
  }

  // --- what was written down ----------------------------------------------------------------------

  paintList() {
    const { notes, answer } = this.notes.book;
    const wrong = new Map((answer?.problems ?? []).map((p) => [p.key, p]));
    this.list.replaceChildren(h("h3", {}, `Readings (${notes.length})`),
      notes.length ? h("ol", { class: "notes" }, ...notes.map((note) => {
        const bad = wrong.get(note.key);
        return h("li", {},
          h("div", {}, h("b", {}, note.value), ` ${placeOf(note)}`,
            h("div", { class: "small" }, [note.state || "loads on", note.meter, clock(note.time), note.note].filter(Boolean).join(" · ")),
            note.sent ? null : h("div", {}, h("span", { class: "badge open" }, "… waits")),
            bad ? h("p", { class: "wrong" }, `Not used: ${[bad.text && `“${bad.text}”`, bad.problem].filter(Boolean).join(" ")}${bad.hint ? `; ${bad.hint}` : ""}.`) : null,
            bad ? h("button", { type: "button", onclick: () => { this.notes.remove([note.key]); this.own.fill(note, bad); } }, "Change it") : null),
          h("button", { type: "button", class: "icon", "aria-label": `Remove ${note.value} ${placeOf(note)}`, onclick: () => this.remove([note.key]) }, "✕"));
      })) : h("p", { class: "small" }, "None yet."),
      notes.length ? h("div", { class: "actions" },
        h("a", { class: "button", href: api.address("/api/hunt/readings.csv"), download: "readings.csv" }, "Save as CSV"),
        h("button", { type: "button", onclick: () => this.remove(notes.map((note) => note.key)) }, "Start over")) : "");
  }

  /** @param {string[]} keys */
  remove(keys) {
    const gone = this.notes.remove(keys);
    this.page.toastWith(gone.length === 1 ? "Removed." : `${gone.length} readings removed.`, "Undo", () => this.notes.restore(gone));
  }
}
