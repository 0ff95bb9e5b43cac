// What is kept of people, for everybody to read: at the door too.

import { at, h } from "./dom.js";
import { begin, get } from "./house.js";
import { policyText } from "./policy.js";

await begin(async () => {
  /** @type {import("./wire").InAnswer} */
  const door = await get("/house/door");
  const into = door.stage === "in" || door.stage === "factor";
  at("who").replaceChildren(into ? h("a", { class: "button", href: "/" }, "Jobs") : h("a", { class: "button", href: "/login" }, door.stage === "agree" ? "Back" : "Log in"));
  at("main").replaceChildren(h("section", { class: "card policy", "aria-label": "What is kept of you" }, ...policyText(await get("/house/kept"))));
});
