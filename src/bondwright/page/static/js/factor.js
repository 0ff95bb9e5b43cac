// Setting up a second factor, and showing spare codes once.

import { h } from "./dom.js";
import { codeField, guarded, post, secret } from "./house.js";

/**
 * The way through setting one up: password, the secret for an app, its code, the spare codes.
 * @param {HTMLElement} where
 * @param {{ password: string, has: boolean, done: () => void }} about
 */
export async function setUp(where, about) {
  if (about.password) {
    await scan(where, await post("/house/factor", { password: about.password }), about.done);
    return;
  }
  where.replaceChildren(sureForm("factor", about.has, "Go on", async (sure) => scan(where, await post("/house/factor", sure), about.done)));
  where.querySelector("input")?.focus();
}

/**
 * It is oneself: password, and code where one has a second factor.
 * @param {string} id
 * @param {boolean} has
 * @param {string} label
 * @param {(sure: { password: string, code: string }) => Promise<unknown>} work
 * @param {(Node | string)[]} more
 */
export function sureForm(id, has, label, work, more = []) {
  const password = h("input", { type: "password", autocomplete: "current-password", required: true });
  const code = codeField(`${id}-code`);
  return h("form", { class: "fields", onsubmit: (/** @type {Event} */ e) => { e.preventDefault(); void guarded(() => work({ password: password.value, code: has ? code.input.value.trim() : "" })); } },
    secret(`${id}-sure`, "Your password", password), has ? code.field : "", ...more,
    h("div", { class: "actions" }, h("button", { type: "submit", class: "main" }, label)));
}

/** @param {HTMLElement} where @param {import("./wire").FactorAnswer} answer @param {() => void} done */
async function scan(where, answer, done) {
  const code = codeField("factor-new-code", "The code that the app shows now");
  where.replaceChildren(
    h("p", {}, "Read this with an app that makes codes by the time (TOTP), on your phone:"),
    h("img", { class: "qr", src: `${answer.picture}?${Date.now()}`, alt: "QR code of the secret below", width: "260", height: "260" }),
    h("p", {}, "Or type the secret: ", h("code", { class: "secret", id: "factor-secret" }, answer.secret.replace(/(.{4})(?=.)/gu, "$1 ")), ". Or ", h("a", { href: answer.address, id: "factor-app" }, "open the app here"), ". This is shown once."),
    h("form", { class: "fields", onsubmit: (/** @type {Event} */ e) => { e.preventDefault(); void guarded(async () => {
      /** @type {import("./wire").SpareAnswer} */
      const made = await post("/house/factor/confirm", { code: code.input.value.trim() });
      showSpare(where, made.codes, done);
    }); } }, code.field, h("div", { class: "actions" }, h("button", { type: "submit", class: "main" }, "Turn it on"))));
  code.input.focus();
}

/** @param {HTMLElement} where @param {string[]} codes @param {() => void} done */
export function showSpare(where, codes, done) {
  const file = new Blob([`${["bondwright: spare codes, each for one log-in", ...codes].join("\n")}\n`], { type: "text/plain" });
  const head = h("p", { tabindex: "-1" }, "Spare codes, each for one log-in when the phone is lost. They are shown this once: write them down, and keep them away from the phone.");
  where.replaceChildren(head,
    h("ul", { class: "spare" }, ...codes.map((code) => h("li", {}, h("code", {}, code)))),
    h("div", { class: "actions" }, h("button", { type: "button", class: "main", onclick: done }, "I have them"),
      h("a", { class: "button", href: URL.createObjectURL(file), download: "spare-codes.txt" }, "Save as a file")));
  head.focus();
}
