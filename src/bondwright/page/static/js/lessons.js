// Stories to learn from: the picture shows a small model, a question is asked, the answer is computed.

import * as api from "./api.js";
import { at, badge, h, paragraphs } from "./dom.js";

/** @typedef {import("./wire").LessonAnswer} Lesson */
/** @typedef {import("./wire").SceneInfo} Scene */
/** @typedef {import("./main.js").Page} Page */

const DONE = "bondwright-lessons-done";

/** Stories that were gone through on this browser. @returns {string[]} */
function done() {
  try {
    const found = JSON.parse(localStorage.getItem(DONE) ?? "[]");
    return Array.isArray(found) ? found : [];
  } catch {
    return [];
  }
}

export class Lessons {
  /** @param {Page} page */
  constructor(page) {
    this.page = page;
    /** @type {import("./wire").StoriesAnswer | null} */
    this.all = null;
    /** @type {Lesson | null} */
    this.lesson = null;
    this.scene = 0;
    this.drawn = -1;
    this.right = 0;
    this.asked = 0;
    /** What was chosen in each scene, first. @type {Map<number, number>} */
    this.chosen = new Map();
    this.root = h("div", { class: "learn" });
  }

  /** Whether the picture is a model's. */
  get running() {
    return this.lesson !== null;
  }

  async open() {
    this.all ??= await api.lessons();
    this.paint();
    return this.root;
  }

  /** @param {string} id */
  async begin(id) {
    await this.page.guarded(async () => {
      this.lesson = await api.lesson(id, this.page.view.form);
      document.body.classList.add("lesson");
      this.scene = 0;
      this.drawn = -1;
      this.right = 0;
      this.asked = this.lesson.scenes.filter((scene) => scene.question).length;
      this.chosen.clear();
      this.page.alone();
      this.show();
    });
  }

  /** Give the picture back to the site. */
  async leave() {
    if (!this.lesson) return;
    this.lesson = null;
    document.body.classList.remove("lesson");
    this.page.picture.light(null);
    this.page.picture.point([]);
    this.page.picture.world.classList.remove("opened");
    at("title").textContent = this.page.site.site;
    await this.page.load();
  }

  /** @param {number} by */
  go(by) {
    const scenes = this.lesson?.scenes ?? [];
    this.scene = Math.max(0, Math.min(scenes.length, this.scene + by));
    if (this.lesson && this.scene === scenes.length) {
      try {
        localStorage.setItem(DONE, JSON.stringify([...new Set([...done(), this.lesson.id])]));
      } catch {
        // Without storage it isn't marked as done.
      }
    }
    this.show();
  }

  show() {
    const scene = this.lesson?.scenes[Math.min(this.scene, (this.lesson?.scenes.length ?? 1) - 1)];
    if (scene) this.draw(scene);
    this.paint();
    this.root.parentElement?.scrollTo({ top: 0 });
    /** @type {HTMLElement | null} */ (this.root.querySelector("h2"))?.focus({ preventScroll: true });
  }

  /** @param {Scene} scene */
  draw(scene) {
    const { picture } = this.page;
    const anew = scene.picture !== this.drawn;
    if (anew) {
      const drawing = this.lesson?.pictures[scene.picture];
      if (drawing) picture.insert(drawing);
      this.drawn = scene.picture;
      at("title").textContent = `Model: ${this.lesson?.models[scene.picture] ?? ""}`;
    }
    picture.patch(scene.changes);
    picture.light(scene.light);
    if (scene.light) picture.lit("out home flash");
    picture.world.classList.toggle("opened", scene.opened);
    const headline = at("headline");
    headline.dataset["verdict"] = scene.verdict;
    headline.replaceChildren(...(scene.verdict ? [badge(scene.verdict, scene.mark), " "] : []), scene.headline);
    picture.choose(null);
    picture.point(scene.points);
    // On a phone what is told about goes where it is seen; at the desk all of the model is.
    const narrow = this.page.view.form === "phone";
    requestAnimationFrame(() => {
      if (narrow && scene.points.length) picture.bringAll(scene.points, { top: this.page.covered(), left: 4, right: 4 });
      else this.page.showAll();
    });
  }

  paint() {
    if (!this.lesson) {
      const gone = done();
      this.root.replaceChildren(h("h2", { tabindex: "-1" }, "Learn"),
        h("p", { class: "lead" }, "Short stories on a small model. Each ends with what it means; on the way you are asked first. Every number is computed as you open it."),
        h("ol", { class: "list" }, ...(this.all?.stories ?? []).map((story) => h("li", {},
          h("button", { type: "button", class: "story", onclick: () => this.begin(story.id) },
            h("b", {}, story.title, gone.includes(story.id) ? " ✓" : ""), h("span", { class: "small" }, story.about))))),
        h("p", { class: "mindful-foot" }, this.all?.caution));
      return;
    }
    const { scenes, title } = this.lesson;
    const scene = scenes[this.scene];
    const bar = h("ol", { class: "steps", "aria-hidden": "true" }, ...scenes.map((_, k) => h("li", { class: k <= this.scene ? "past" : "" })));
    const top = h("div", { class: "learn-top" }, h("button", { type: "button", class: "to-tables", onclick: () => this.stop() }, "‹ Stories"), h("span", { class: "small" }, `${title}, ${Math.min(this.scene + 1, scenes.length)} of ${scenes.length}`));
    if (!scene) {
      this.root.replaceChildren(top, bar, h("h2", { tabindex: "-1" }, "What it means"), ...paragraphs(this.lesson.lesson),
        this.asked ? h("p", { class: "lead" }, `Right at once: ${this.right} of ${this.asked}.`) : h("p"),
        h("div", { class: "big" }, h("button", { type: "button", class: "main", onclick: () => this.stop() }, "More stories"), h("button", { type: "button", onclick: () => this.go(-1) }, "Back")),
        h("p", { class: "mindful-foot" }, this.lesson.caution));
      return;
    }
    const chosen = this.chosen.get(this.scene);
    const last = this.scene === scenes.length - 1;
    this.root.replaceChildren(top, bar, h("h2", { tabindex: "-1" }, scene.title), ...paragraphs(scene.sentences),
      scene.question ? this.question(scene.question) : h("div"),
      h("div", { class: "big" },
        h("button", { type: "button", class: "main", id: "learn-next", ...(scene.question && chosen === undefined ? { disabled: true } : {}), onclick: () => this.go(1) }, last ? "What it means" : scene.question ? "See it" : "Next"),
        h("button", { type: "button", ...(this.scene ? {} : { disabled: true }), onclick: () => this.go(-1) }, "Back")));
  }

  stop() {
    const left = this.leave();
    this.paint();
    void left;
  }

  /** @param {import("./wire").QuestionInfo} question */
  question(question) {
    const chosen = this.chosen.get(this.scene);
    return h("div", { class: "question", role: "group", "aria-label": "Question" }, h("p", {}, h("b", {}, question.text)),
      ...question.options.map((option, k) => {
        const open = chosen !== undefined && (k === chosen || option.right);
        return h("div", {},
          h("button", { type: "button", class: `option${open ? (option.right ? " right" : " wrong-one") : ""}`, ...(chosen === undefined ? {} : { disabled: true }), onclick: () => this.answer(question, k) },
            open ? (option.right ? "✓ " : "✕ ") : "", option.text),
          open ? h("p", { class: "told", role: "status" }, option.told) : null);
      }));
  }

  /** @param {import("./wire").QuestionInfo} question @param {number} k */
  answer(question, k) {
    this.chosen.set(this.scene, k);
    if (question.options[k]?.right) this.right += 1;
    this.paint();
    document.getElementById("learn-next")?.focus({ preventScroll: true });
    document.getElementById("learn-next")?.scrollIntoView({ block: "nearest" });
  }
}
