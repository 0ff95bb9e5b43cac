// A fault played step by step, at a pace that can be followed.

import { at, badge, h, paragraphs } from "./dom.js";

/** @typedef {import("./wire").FaultTold} FaultTold */

const PACES = /** @type {Record<string, number>} */ ({ slow: 9000, steady: 5500, quick: 2600 });
const LIT = /** @type {Record<string, string>} */ ({
  start: "flash",
  out: "flash out",
  home: "flash out home",
  touch: "flash out home",
  opens: "flash out home",
  over: "over",
  stays: "flash out home",
});

export class Play {
  /**
   * @param {import("./picture.js").Picture} picture
   * @param {() => void} closed
   */
  constructor(picture, closed) {
    this.picture = picture;
    this.closed = closed;
    this.box = at("play");
    /** @type {FaultTold | null} */
    this.fault = null;
    this.step = 0;
    this.timer = 0;
    this.pace = "steady";
  }

  /** @param {FaultTold | null} fault @param {boolean} begin whether to start at the first step */
  show(fault, begin) {
    this.stop();
    this.fault = fault;
    this.box.hidden = !fault;
    this.picture.light(fault ? fault.light : null);
    if (!fault) {
      this.picture.point([]);
      this.picture.world.classList.remove("opened");
      return;
    }
    this.step = begin ? 0 : fault.steps.length - 1;
    this.build();
    this.paint();
  }

  get playing() {
    return this.timer !== 0;
  }

  stop() {
    window.clearTimeout(this.timer);
    this.timer = 0;
  }

  play() {
    if (!this.fault) return;
    if (this.step >= this.fault.steps.length - 1) this.step = 0;
    this.run();
    this.paint();
  }

  run() {
    this.timer = window.setTimeout(() => {
      if (!this.fault || this.step >= this.fault.steps.length - 1) {
        this.stop();
      } else {
        this.step += 1;
        this.run();
      }
      this.paint();
    }, PACES[this.pace]);
  }

  /** @param {number} by */
  go(by) {
    if (!this.fault) return;
    this.stop();
    this.step = Math.max(0, Math.min(this.fault.steps.length - 1, this.step + by));
    this.paint();
  }

  build() {
    this.title = h("h2");
    this.count = h("span", { class: "count" });
    this.said = h("div", { class: "said", "aria-live": "polite", tabindex: "0", role: "group", "aria-label": "What happens in this step" });
    this.bars = h("ol", { class: "steps", "aria-hidden": "true" });
    this.back = h("button", { type: "button", onclick: () => this.go(-1) }, "Back");
    this.next = h("button", { type: "button", onclick: () => this.go(1) }, "Next");
    this.button = h("button", { type: "button", class: "main", onclick: () => (this.playing ? (this.stop(), this.paint()) : this.play()) });
    const pace = h("select", { onchange: () => { this.pace = pace.value; } },
      ...Object.keys(PACES).map((name) => h("option", { value: name, ...(name === this.pace ? { selected: true } : {}) }, name)));
    const close = h("button", { type: "button", class: "icon", "aria-label": "Close the fault", onclick: () => this.closed() }, "✕");
    this.box.replaceChildren(
      h("header", {}, this.title, h("span", { class: "row" }, this.count, close)),
      this.said,
      h("div", { class: "row" }, this.back, this.button, this.next, h("label", {}, "Pace", pace)),
      this.bars,
    );
  }

  paint() {
    const step = this.fault?.steps[this.step];
    if (!this.fault || !step || !this.title || !this.count || !this.said || !this.bars || !this.back || !this.next || !this.button) return;
    const last = this.step === this.fault.steps.length - 1;
    this.title.replaceChildren(step.title, " ", last ? badge(this.fault.verdict, this.fault.mark) : "");
    this.count.textContent = `${this.step + 1} of ${this.fault.steps.length}`;
    this.said.replaceChildren(...paragraphs(step.sentences));
    this.said.scrollTop = 0;
    this.button.textContent = this.playing ? "Pause" : last ? "Play again" : "Play";
    this.back.disabled = this.step === 0;
    this.next.disabled = last;
    this.bars.replaceChildren(...this.fault.steps.map((_, k) => h("li", { class: k <= this.step ? "past" : "" })));
    this.picture.lit(LIT[step.sight] ?? "");
    this.picture.point(["opens", "touch"].includes(step.sight) ? step.things : []);
    this.picture.world.classList.toggle("opened", this.fault.steps.slice(0, this.step + 1).some((s) => s.sight === "opens"));
  }
}
