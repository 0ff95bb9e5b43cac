// Moving the picture: drag, wheel, pinch, keys; once a frame.
//
// The sheet is larger than the view by a margin on every side. Within it a move only shifts the
// sheet, which the browser has painted already; beyond it, and for every zoom, it paints anew.

/** How far the sheet reaches beyond the view on every side, px; as in picture.css. */
export const MARGIN = 256;
const LEAST = 0.01;
const MOST = 6;

/**
 * @typedef {{x: number, y: number, k: number}} Place where the picture's corner is, and its scale
 */

export class PanZoom {
  /**
   * @param {HTMLElement} view what is moved on
   * @param {SVGElement} sheet what is shifted
   * @param {SVGElement} world what is drawn on it
   * @param {(place: Place, moving: boolean) => void} moved told once a frame
   * @param {(x: number, y: number) => void} tapped told where a tap was, in client px
   */
  constructor(view, sheet, world, moved, tapped) {
    this.view = view;
    this.sheet = sheet;
    this.world = world;
    this.moved = moved;
    this.tapped = tapped;
    /** @type {Place} */
    this.place = { x: 0, y: 0, k: 1 };
    /** Where it was when it was last painted. @type {Place} */
    this.base = { x: 0, y: 0, k: 0 };
    /** @type {Map<number, {x: number, y: number}>} */
    this.fingers = new Map();
    this.travel = 0;
    this.frame = 0;
    this.rest = 0;
    view.addEventListener("pointerdown", (e) => this.down(e));
    view.addEventListener("pointermove", (e) => this.move(e));
    view.addEventListener("pointerup", (e) => this.up(e));
    view.addEventListener("pointercancel", (e) => this.fingers.delete(e.pointerId));
    view.addEventListener("wheel", (e) => this.wheel(e), { passive: false });
  }

  /** @param {Place} place */
  go(place) {
    this.place = { x: place.x, y: place.y, k: Math.min(MOST, Math.max(LEAST, place.k)) };
    if (!this.frame) this.frame = requestAnimationFrame(() => this.paint());
  }

  paint() {
    this.frame = 0;
    const { x, y, k } = this.place;
    const dx = Math.round(x - this.base.x), dy = Math.round(y - this.base.y);
    if (k === this.base.k && Math.abs(dx) < MARGIN && Math.abs(dy) < MARGIN) {
      this.sheet.style.transform = `translate(${dx}px, ${dy}px)`;
    } else {
      this.base = { x, y, k };
      this.sheet.style.transform = "";
      this.world.style.transform = `translate(${(x + MARGIN).toFixed(2)}px, ${(y + MARGIN).toFixed(2)}px) scale(${k.toFixed(5)})`;
    }
    this.view.dataset["place"] = `${x.toFixed(1)} ${y.toFixed(1)} ${k.toFixed(4)}`;
    this.view.classList.add("moving");
    this.moved(this.place, true);
    clearTimeout(this.rest);
    this.rest = window.setTimeout(() => {
      this.view.classList.remove("moving");
      this.moved(this.place, false);
    }, 160);
  }

  /** @param {number} dx @param {number} dy */
  by(dx, dy) {
    this.go({ x: this.place.x + dx, y: this.place.y + dy, k: this.place.k });
  }

  /**
   * Zoom so that a point of the view stays where it is.
   * @param {number} factor @param {number} [cx] @param {number} [cy]
   */
  zoom(factor, cx = this.view.clientWidth / 2, cy = this.view.clientHeight / 2) {
    const { x, y, k } = this.place;
    const to = Math.min(MOST, Math.max(LEAST, k * factor));
    this.go({ x: cx - ((cx - x) * to) / k, y: cy - ((cy - y) * to) / k, k: to });
  }

  /**
   * Show a box of the picture; no larger than a scale.
   * @param {[number, number, number, number]} box @param {number} [most]
   * @param {{left?: number, top?: number, right?: number, bottom?: number}} [inset] px covered at each side
   */
  show([bx, by, bw, bh], most = 1.4, inset = {}) {
    const left = inset.left ?? 20, right = inset.right ?? 20, top = inset.top ?? 70, bottom = inset.bottom ?? 20;
    const w = Math.max(40, this.view.clientWidth - left - right);
    const hh = Math.max(40, this.view.clientHeight - top - bottom);
    const k = Math.min(w / bw, hh / bh, most);
    this.go({ x: left + (w - bw * k) / 2 - bx * k, y: top + (hh - bh * k) / 2 - by * k, k });
  }

  /** @param {PointerEvent} e */
  down(e) {
    if (e.button > 0) return;
    this.view.setPointerCapture(e.pointerId);
    this.fingers.set(e.pointerId, { x: e.clientX, y: e.clientY });
    if (this.fingers.size === 1) this.travel = 0;
    else this.travel = 99;
  }

  /** @param {PointerEvent} e */
  move(e) {
    const last = this.fingers.get(e.pointerId);
    if (!last) return;
    const now = { x: e.clientX, y: e.clientY };
    if (this.fingers.size === 1) {
      this.travel += Math.abs(now.x - last.x) + Math.abs(now.y - last.y);
      if (this.travel > 6) this.by(now.x - last.x, now.y - last.y);
    } else if (this.fingers.size === 2) {
      const other = [...this.fingers].find(([id]) => id !== e.pointerId)?.[1];
      if (other) {
        const frame = this.view.getBoundingClientRect();
        const before = Math.hypot(last.x - other.x, last.y - other.y) || 1;
        const after = Math.hypot(now.x - other.x, now.y - other.y) || 1;
        this.by((now.x - last.x) / 2, (now.y - last.y) / 2);
        this.zoom(after / before, (now.x + other.x) / 2 - frame.left, (now.y + other.y) / 2 - frame.top);
      }
    }
    this.fingers.set(e.pointerId, now);
  }

  /** @param {PointerEvent} e */
  up(e) {
    const single = this.fingers.size === 1 && this.fingers.has(e.pointerId);
    this.fingers.delete(e.pointerId);
    if (single && this.travel <= 6) this.tapped(e.clientX, e.clientY);
  }

  /** @param {WheelEvent} e */
  wheel(e) {
    e.preventDefault();
    const frame = this.view.getBoundingClientRect();
    const unit = e.deltaMode === 1 ? 18 : 1;
    if (e.shiftKey) this.by(-(e.deltaY + e.deltaX) * unit, 0);
    else this.zoom(Math.exp(-e.deltaY * unit * (e.ctrlKey ? 0.01 : 0.0016)), e.clientX - frame.left, e.clientY - frame.top);
  }
}
