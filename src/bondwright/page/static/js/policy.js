// What is kept of people, why and how long: the same text at the door, for agreeing and to look up.

import { h } from "./dom.js";

/** @param {import("./wire").PolicyAnswer} policy */
export function policyText(policy) {
  return [
    ...policy.about.map((text) => h("p", {}, text)),
    h("ul", { class: "keptlist" }, ...policy.rows.map((row) => h("li", {}, h("b", {}, row.what), h("span", {}, row.why), h("span", { class: "small" }, row.long)))),
    h("p", {}, h("b", {}, "Who answers for it: "), policy.answers),
    h("p", {}, h("b", {}, "Backups: "), policy.backups),
    policy.more ? h("p", {}, policy.more) : "",
  ];
}
