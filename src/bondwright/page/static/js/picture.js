// The ribbon picture on screen: inserted once, then changed element by element.

import * as api from "./api.js";
import { svg } from "./dom.js";
import { MARGIN, PanZoom } from "./panzoom.js";

/** @typedef {import("./wire").PictureAnswer} PictureAnswer */
/** @typedef {Record<string, string | number>} Look */
/** @typedef {{kind: string, id: string}} Target */
/** @typedef {{box: [number, number, number, number], group: SVGElement, number: number, loaded: boolean, asked: boolean, shown: boolean}} Piece */

const TEXT_FROM = 0.35; // below this scale words are too small to read
const BOX_FROM = 0.09; // below this scale of a large site only the overview is shown
const DASH_FROM = 0.55; // moving dashes from this scale on
const MOST_DASHES = 90;
const MOST_NAMES = 40;
const MOST_AHEAD = 60; // pieces that are fetched before they come in sight

/** The id of an element as the server writes it. @param {...string} parts */
export function elementId(...parts) {
  return parts
    .map((part) => part.replace(/[^A-Za-z0-9-]/gu, (c) => `_${(c.codePointAt(0) ?? 0).toString(16)}_`))
    .join(".");
}

/** When the browser has nothing else to do, or soon. @returns {Promise<unknown>} */
function idle() {
  return new Promise((done) => {
    if (typeof window.requestIdleCallback === "function") window.requestIdleCallback(done, { timeout: 1000 });
    else setTimeout(done, 50);
  });
}

export class Picture {
  /**
   * @param {HTMLElement} view
   * @param {(target: Target | null, x: number, y: number) => void} tapped
   */
  constructor(view, tapped) {
    this.view = view;
    this.tapped = tapped;
    this.sheet = svg("svg");
    this.sheet.setAttribute("role", "img");
    this.world = svg("g");
    this.world.id = "world";
    this.sheet.append(this.world);
    view.append(this.sheet);
    this.pan = new PanZoom(view, this.sheet, this.world, (_, moving) => this.moved(moving), (x, y) => this.tap(x, y));
    /** @type {Map<string, Look>} */
    this.looks = new Map();
    /** @type {Piece[]} */
    this.pieces = [];
    /** @type {Map<string, SVGElement>} */
    this.layers = new Map();
    /** @type {Set<string>} */
    this.folded = new Set();
    /** @type {Target | null} */
    this.chosen = null;
    /** @type {Target[]} */
    this.pointed = [];
    /** @type {PictureAnswer | null} */
    this.answer = null;
    this.waiting = 0;
    this.dashing = 0;
    this.resting = 0;
    /** @type {Promise<unknown>} */
    this.queue = Promise.resolve();
    // What is in sight changes with the size of the view as well: a sheet that closes, a turned phone.
    new ResizeObserver(() => this.moved(false)).observe(view);
  }

  /** @param {PictureAnswer} answer */
  insert(answer) {
    this.answer = answer;
    this.looks.clear();
    this.world.replaceChildren();
    this.sheet.setAttribute("aria-label", answer.alt);
    this.layers = new Map(
      answer.layers.map((name) => {
        const layer = svg("g");
        layer.dataset["layer"] = name;
        this.world.append(layer);
        return [name, layer];
      }),
    );
    this.overview = svg("g");
    this.overview.innerHTML = answer.overview;
    this.overview.style.display = "none";
    this.names = svg("g");
    this.lids = svg("g");
    this.world.append(this.overview, this.lids, this.names);
    this.pieces = answer.pieces.map((piece, number) => {
      const group = svg("g");
      group.style.display = "none";
      if (piece.svg !== null) group.innerHTML = piece.svg;
      this.layers.get(piece.layer)?.append(group);
      return { box: piece.box, group, number, loaded: piece.svg !== null, asked: false, shown: false };
    });
    this.writeNames();
    this.drawLids();
  }

  /** Show all of it, or the start of a long column. @param {number} [top] px covered from above */
  showAll(top = 70) {
    if (!this.answer) return;
    const { width, height, form } = this.answer;
    if (form === "phone") {
      const k = this.columnScale();
      const room = this.view.clientHeight - top;
      this.pan.go({ x: (this.view.clientWidth - width * k) / 2, y: Math.max(top, top + (room - height * k) / 2), k });
    } else {
      this.pan.show([0, 0, width, height], 1.3, { top });
    }
  }

  /** The scale at which a column fits the width. */
  columnScale() {
    return Math.min(1, this.view.clientWidth / (this.answer?.width ?? 390));
  }

  // --- changing ---------------------------------------------------------------------------------

  /**
   * @param {Array<[string, Look]>} changes
   */
  patch(changes) {
    for (const [id, look] of changes) {
      this.looks.set(id, look);
      const element = document.getElementById(id);
      if (element) dress(/** @type {any} */ (element), look);
    }
    this.dashesSoon();
  }

  /** @param {Piece} piece */
  dressAll(piece) {
    for (const element of piece.group.querySelectorAll("[id]")) {
      const look = this.looks.get(element.id);
      if (look) dress(/** @type {any} */ (element), look);
    }
    this.mark();
  }

  /** @param {import("./wire").Light | null} light */
  light(light) {
    const under = this.layers.get("under"), over = this.layers.get("over");
    if (!under || !over) return;
    under.replaceChildren();
    over.replaceChildren();
    if (!light) {
      delete this.world.dataset["step"];
      return;
    }
    /** @param {SVGElement} layer @param {string} name @param {string} inside */
    const add = (layer, name, inside) => {
      const group = svg("g");
      group.setAttribute("class", `light ${name}`);
      group.innerHTML = inside;
      layer.append(group);
    };
    add(under, "out", light.under_out);
    add(under, "home", light.under_home);
    add(over, "out", light.over_out);
    add(over, "home", light.over_home);
    add(over, "flash", light.flash);
  }

  /** @param {string} words which parts of the light are on: "out", "home", "flash" */
  lit(words) {
    this.world.dataset["step"] = words;
  }

  // --- moving -----------------------------------------------------------------------------------

  /** @param {boolean} moving */
  moved(moving) {
    const { x, y, k } = this.pan.base;
    const w = this.view.clientWidth, hh = this.view.clientHeight;
    const overview = Boolean(this.answer?.overview) && k < BOX_FROM;
    this.world.classList.toggle("far", k < TEXT_FROM);
    this.world.classList.toggle("farther", k < 0.2);
    if (this.overview) this.overview.style.display = overview ? "" : "none";
    // What is painted is the sheet where it was painted last; until then nothing comes in sight.
    const margin = (40 + MARGIN) / k;
    const left = -x / k - margin, top = -y / k - margin;
    const right = (w - x) / k + margin, bottom = (hh - y) / k + margin;
    for (const piece of this.pieces) {
      const [bx, by, bw, bh] = piece.box;
      const seen = !overview && bx < right && bx + bw > left && by < bottom && by + bh > top;
      if (seen !== piece.shown) {
        piece.shown = seen;
        piece.group.style.display = seen ? "" : "none";
      }
      if (seen && !piece.loaded && !piece.asked) void this.fetch(piece);
    }
    this.placeNames(moving);
    if (!moving) {
      this.dashesSoon();
      this.aheadSoon();
    }
    this.view.dispatchEvent(new CustomEvent("moved", { detail: moving }));
  }

  /** @param {Piece} piece @param {boolean} [ahead] whether it isn't in sight yet: it can wait, and nothing waits for it */
  async fetch(piece, ahead = false) {
    if (!this.answer || this.waiting >= 8) return;
    const answer = this.answer;
    piece.asked = true;
    this.waiting += 1;
    try {
      const inside = await api.piece(answer.form, piece.number);
      await (ahead ? idle() : this.turn());
      if (this.answer === answer) {
        piece.group.innerHTML = inside;
        piece.loaded = true;
        this.dressAll(piece);
      }
    } catch {
      piece.asked = false;
    } finally {
      this.waiting -= 1;
      if (!ahead && (!this.waiting || this.waiting === 7)) requestAnimationFrame(() => this.moved(this.view.classList.contains("moving")));
    }
  }

  /** At rest, what lies a view's width around is fetched and read in: the next move finds it there. */
  aheadSoon() {
    window.clearTimeout(this.resting);
    this.resting = window.setTimeout(() => void this.ahead(), 900);
  }

  async ahead() {
    const { x, y, k } = this.pan.place, answer = this.answer;
    const w = this.view.clientWidth, hh = this.view.clientHeight;
    if (!answer || (answer.overview && k < BOX_FROM)) return;
    const left = (-x - w) / k, top = (-y - hh) / k, right = (2 * w - x) / k, bottom = (2 * hh - y) / k;
    let count = 0;
    for (const piece of this.pieces) {
      const [bx, by, bw, bh] = piece.box;
      if (piece.loaded || piece.asked || !(bx < right && bx + bw > left && by < bottom && by + bh > top)) continue;
      if (count++ >= MOST_AHEAD || this.answer !== answer || this.pan.place.x !== x || this.pan.place.y !== y || this.pan.place.k !== k) return;
      await this.fetch(piece, true);
    }
  }

  /** One piece a frame, so that none stops the hand that moves the picture. */
  turn() {
    this.queue = this.queue.then(() => new Promise((done) => requestAnimationFrame(() => done(undefined))));
    return this.queue;
  }

  // --- names seen from far away -----------------------------------------------------------------

  writeNames() {
    if (!this.answer || !this.names) return;
    const { folds, boxes } = this.answer;
    const counts = new Map(folds.filter((f) => f.kind === "branch").map((f) => [f.id, f.count]));
    const heads = Object.keys(boxes)
      .map((id) => ({ id, count: counts.get(id) ?? 0 }))
      .sort((a, b) => b.count - a.count);
    this.heads = heads.slice(0, 400).map(({ id }) => {
      const box = /** @type {[number, number, number, number]} */ (boxes[id]);
      const text = svg("text");
      text.setAttribute("class", "name");
      text.textContent = id;
      text.style.display = "none";
      this.names?.append(text);
      return { text, x: box[0], y: box[1], wide: id.length * 6.8 };
    });
  }

  /** @param {boolean} moving */
  placeNames(moving) {
    if (!this.heads || !this.names) return;
    const { x, y, k } = this.pan.place;
    const show = k < TEXT_FROM;
    this.names.style.display = show ? "" : "none";
    if (!show) return;
    const w = this.view.clientWidth, hh = this.view.clientHeight;
    /** @type {Array<[number, number, number]>} */
    const taken = [];
    for (const head of this.heads) {
      const at = head.x * k + x, sx = Math.min(at, w - head.wide - 6), sy = head.y * k + y - 3;
      let free = taken.length < MOST_NAMES && at < w && sx > -20 && sy > 10 && sx < w && sy < hh;
      if (free) free = !taken.some(([tx, ty, tw]) => Math.abs(ty - sy) < 15 && sx < tx + tw + 8 && tx < sx + head.wide + 8);
      if (free) {
        taken.push([sx, sy, head.wide]);
        head.text.setAttribute("transform", `translate(${((sx - x) / k).toFixed(1)} ${((sy - y) / k).toFixed(1)}) scale(${(1 / k).toFixed(3)})`);
      }
      const display = free ? "" : "none";
      if (head.text.style.display !== display && !(moving && free)) head.text.style.display = display;
      else if (free) head.text.style.display = "";
    }
  }

  // --- currents that move -----------------------------------------------------------------------

  /** Dashes come when everything else is on screen: an answer doesn't wait for them. */
  dashesSoon() {
    window.clearTimeout(this.dashing);
    this.dashing = window.setTimeout(() => this.dashes(), 120);
  }

  dashes() {
    for (const old of this.world.querySelectorAll(".dash")) old.remove();
    if (this.pan.place.k < DASH_FROM) return;
    let most = 0;
    for (const look of this.looks.values()) most = Math.max(most, Number(look["a"] ?? 0));
    if (most <= 0) return;
    const frame = this.view.getBoundingClientRect();
    let count = 0;
    for (const piece of this.pieces) {
      if (!piece.shown || !piece.loaded) continue;
      for (const flow of /** @type {NodeListOf<SVGElement>} */ (piece.group.querySelectorAll(".flow"))) {
        const look = this.looks.get(flow.id);
        const amps = Number(look?.["a"] ?? 0);
        if (!look || amps < Math.max(0.05, 0.004 * most) || count >= MOST_DASHES) continue;
        const body = flow.querySelector(".body");
        if (!body) continue;
        const box = body.getBoundingClientRect();
        if (box.right < frame.left || box.left > frame.right || box.bottom < frame.top || box.top > frame.bottom) continue;
        const dash = svg("path");
        dash.setAttribute("d", body.getAttribute("d") ?? "");
        const white = /#(?:f|e|b)/.test(body.getAttribute("stroke") ?? "");
        dash.setAttribute("class", `dash${white ? " dark" : ""}${Number(look["d"]) < 0 ? " back" : ""}`);
        body.parentNode?.insertBefore(dash, null);
        count += 1;
      }
    }
  }

  // --- folding away -----------------------------------------------------------------------------

  /** @param {string} kind @param {string} id */
  foldOf(kind, id) {
    return this.answer?.folds.find((fold) => fold.kind === kind && fold.id === id);
  }

  /** @param {string} kind @param {string} id @param {boolean} away */
  fold(kind, id, away) {
    const key = `${kind} ${id}`;
    if (away) this.folded.add(key);
    else this.folded.delete(key);
    this.drawLids();
  }

  drawLids() {
    if (!this.answer || !this.lids) return;
    this.lids.replaceChildren();
    for (const fold of this.answer.folds) {
      if (!this.folded.has(`${fold.kind} ${fold.id}`)) continue;
      const lid = svg("g");
      lid.setAttribute("class", "lid");
      lid.dataset["kind"] = "fold";
      lid.dataset["id"] = `${fold.kind} ${fold.id}`;
      for (const [x, y, w, hh] of fold.boxes) {
        const rect = svg("rect");
        for (const [name, value] of Object.entries({ x, y, width: w, height: hh, rx: 8 })) rect.setAttribute(name, String(value));
        lid.append(rect);
      }
      const [x, y, w] = /** @type {[number, number, number, number]} */ (fold.boxes[0]);
      const text = svg("text");
      const size = Math.max(13, Math.min(90, w / 14));
      text.setAttribute("x", String(x + size * 0.6));
      text.setAttribute("y", String(y + size * 1.5));
      text.setAttribute("font-size", String(size));
      text.setAttribute("class", "name");
      text.style.fontSize = `${size}px`;
      text.textContent = `${fold.id}: ${fold.count} places folded away`;
      lid.append(text);
      this.lids.append(lid);
    }
  }

  // --- choosing ---------------------------------------------------------------------------------

  /** @param {number} x @param {number} y client px */
  tap(x, y) {
    this.tapped(this.hit(x, y), x, y);
  }

  /**
   * What is at a point: a tie before anything else, and it may be missed by a finger's width.
   * @param {number} x @param {number} y
   * @returns {Target | null}
   */
  hit(x, y) {
    const direct = targetOf(document.elementFromPoint(x, y));
    if (direct && TIES.has(direct.kind)) return direct;
    if (this.pan.place.k > 0.3) {
      for (const reach of [9, 18]) {
        for (let turn = 0; turn < 8; turn += 1) {
          const a = (turn * Math.PI) / 4;
          const near = targetOf(document.elementFromPoint(x + reach * Math.cos(a), y + reach * Math.sin(a)));
          if (near && TIES.has(near.kind)) return near;
        }
      }
    }
    return direct;
  }

  /** @param {Target} target @returns {SVGElement | null} */
  find({ kind, id }) {
    const ways = kind === "tie" || kind === "slot" || kind === "missing-tie"
      ? [elementId(kind, id)]
      : [elementId(kind, id), elementId("place", id), elementId("transformer", id), elementId("source", id), elementId("generator", id), elementId("inverter", id), elementId("transfer", id)];
    for (const one of ways) {
      const found = document.getElementById(one);
      if (found instanceof SVGElement) return found;
    }
    // A tie that was put on stands in the slot of its place.
    for (const [key, look] of this.looks) {
      if (look["now"] === id) return /** @type {any} */ (document.getElementById(key));
    }
    return null;
  }

  /** @param {Target | null} target */
  choose(target) {
    this.chosen = target;
    this.mark();
  }

  /** @param {Target[]} targets */
  point(targets) {
    this.pointed = targets;
    this.mark();
  }

  mark() {
    for (const old of this.world.querySelectorAll(".chosen, .pointed")) old.classList.remove("chosen", "pointed");
    if (this.chosen) this.find(this.chosen)?.classList.add("chosen");
    for (const target of this.pointed) this.find(target)?.classList.add("pointed");
  }

  /**
   * Where a thing is drawn: x, y, width, height, px of the picture.
   * @param {Target} target @returns {[number, number, number, number] | null}
   */
  boxOf(target) {
    const known = this.answer?.boxes[target.id];
    if (known) return known;
    const bounds = /** @type {any} */ (this.find(target))?.getBBox?.();
    return bounds && bounds.width + bounds.height > 0 ? [bounds.x, bounds.y, bounds.width, bounds.height] : null;
  }

  /**
   * Bring several things into sight together.
   * @param {Target[]} targets @param {{left?: number, top?: number, right?: number, bottom?: number}} [inset] px covered
   */
  bringAll(targets, inset = {}) {
    const boxes = targets.map((target) => this.boxOf(target)).filter((box) => box !== null);
    if (!boxes.length) return;
    const x = Math.min(...boxes.map((b) => b[0])), y = Math.min(...boxes.map((b) => b[1]));
    const right = Math.max(...boxes.map((b) => b[0] + b[2])), low = Math.max(...boxes.map((b) => b[1] + b[3]));
    this.pan.show([x - 30, y - 30, right - x + 60, low - y + 60], 1.1, inset);
  }

  /**
   * Bring a thing into sight.
   * @param {Target} target @param {{top?: number, bottom?: number}} [inset] px covered
   */
  bring(target, inset = {}) {
    if (!this.answer) return;
    const box = this.boxOf(target);
    if (!box) return;
    const column = this.answer.form === "phone";
    const k = column ? this.columnScale() : Math.max(this.pan.place.k, 0.9);
    const [bx, by, bw, bh] = box;
    const w = this.view.clientWidth;
    const top = inset.top ?? 70, low = this.view.clientHeight - (inset.bottom ?? 0);
    const x = column ? (w - this.answer.width * k) / 2 : w / 2 - (bx + bw / 2) * k;
    this.pan.go({ x, y: (top + Math.max(top + 40, low)) / 2 - (by + bh / 2) * k, k });
  }

  /** Where the middle of a thing is, in px of the view; null if it isn't drawn. @param {Target} target */
  middle(target) {
    const element = this.find(target);
    if (!element) return null;
    const box = element.getBoundingClientRect(), frame = this.view.getBoundingClientRect();
    if (!box.width && !box.height) return null;
    return { x: box.left + box.width / 2 - frame.left, y: box.bottom - frame.top };
  }
}

const TIES = new Set(["tie", "slot", "missing-tie"]);

/** @param {Element | null} element @returns {Target | null} */
function targetOf(element) {
  const found = /** @type {SVGElement | null} */ (element?.closest?.("[data-kind]") ?? null);
  if (!found || !found.closest("#world")) return null;
  const { kind = "", id = "" } = found.dataset;
  return kind === "ribbon" ? { kind: "run", id } : kind === "fault" ? { kind: "place", id } : { kind, id };
}

/**
 * The light around metal that carries current: a wide stroke under it, which costs no filter.
 * @param {SVGElement} flow @param {boolean} on
 */
function aura(flow, on) {
  const there = flow.querySelector(".aura");
  if (!on) there?.remove();
  else if (!there) {
    const body = flow.querySelector(".body");
    if (!body) return;
    const path = svg("path");
    path.setAttribute("class", "aura");
    path.setAttribute("d", body.getAttribute("d") ?? "");
    flow.prepend(path);
  }
}

/**
 * Give an element its look.
 * @param {SVGElement & HTMLElement} element
 * @param {Look} look
 */
function dress(element, look) {
  if (look["w"] !== undefined) element.style.setProperty("--w", `${look["w"]}px`);
  if (look["c"] !== undefined) {
    const before = element.dataset["look"];
    element.dataset["look"] = String(look["c"]);
    if (before !== look["c"] && element.classList.contains("flow")) aura(element, look["c"] === "stray");
    if (before !== undefined && before !== look["c"] && element.classList.contains("clasp")) {
      element.classList.remove("fresh");
      requestAnimationFrame(() => element.classList.add("fresh"));
    }
  }
  if (look["t"] !== undefined) {
    element.textContent = String(look["t"]);
    if (look["tw"] !== undefined) element.setAttribute("textLength", String(look["tw"]));
    else element.removeAttribute("textLength");
  }
}
