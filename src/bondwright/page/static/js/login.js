// The door: name and password, the code of a second factor, agreeing, and a second factor for whoever needs one.

import { at, h } from "./dom.js";
import { begin, codeField, field, get, guarded, post, secret } from "./house.js";
import { Problem } from "./api.js";
import { setUp } from "./factor.js";
import { policyText } from "./policy.js";

/** What was typed, for the next step; kept nowhere else. */
let password = "";

/** Where one wanted to go: a path here and nowhere else. */
function wanted() {
  const to = new URLSearchParams(location.search).get("to") ?? "/";
  return /^\/(?:job\/[0-9a-f]+\/|people)?$/u.test(to) ? to : "/";
}

/** @param {import("./wire").InAnswer} answer */
async function go(answer) {
  if (answer.stage === "agree") await agree();
  else if (answer.stage === "factor") factor();
  else if (answer.stage === "in") location.assign(wanted());
  else door();
}

/** @param {string} head @param {(Node | string)[]} parts @param {string} kind */
function card(head, parts, kind = "login") {
  const title = h("h2", { id: "login-head", tabindex: "-1" }, head);
  at("main").replaceChildren(h("section", { class: `${kind} card`, "aria-labelledby": "login-head" }, title, ...parts));
  return title;
}

/**
 * A form that says what is wrong beside its button.
 * @param {Node[]} fields
 * @param {(button: HTMLButtonElement) => Promise<unknown>} work
 * @param {() => void} again
 */
function asking(fields, work, again) {
  const wrong = h("p", { class: "wrong", role: "alert", hidden: true });
  const button = h("button", { type: "submit", class: "main" }, "Log in");
  return h("form", { onsubmit: async (/** @type {Event} */ e) => {
    e.preventDefault();
    button.disabled = true;
    try {
      await work(button);
    } catch (error) {
      if (!(error instanceof Problem)) throw error;
      wrong.textContent = error.message;
      wrong.hidden = false;
      again();
    } finally {
      button.disabled = false;
    }
  } }, ...fields, wrong, h("div", { class: "actions" }, button));
}

function door() {
  const name = h("input", { type: "text", autocomplete: "username", autocapitalize: "none", spellcheck: "false", required: true });
  const typed = h("input", { type: "password", autocomplete: "current-password", required: true });
  card("Log in", [
    asking([field("name", "Name", name), secret("password", "Password", typed)], async () => {
      password = typed.value;
      const answer = await post("/house/login", { name: name.value.trim(), password });
      if (answer.stage === "code") code(name.value.trim());
      else await go(answer);
    }, () => typed.select()),
    h("p", { class: "small" }, h("a", { href: "/kept" }, "What is kept of you, why and how long"))]);
  name.focus();
}

/** @param {string} name */
function code(name) {
  const made = codeField("code");
  card("Your second factor", [
    asking([made.field], async () => go(await post("/house/login", { name, password, code: made.input.value.trim() })), () => made.input.select()),
    h("p", { class: "small" }, "The phone is lost? A spare code does as well. Without those, whoever keeps the users takes the second factor away.")]);
  made.input.focus();
}

async function agree() {
  /** @type {import("./wire").PolicyAnswer} */
  const policy = await get("/house/kept");
  const title = card("What is kept of you", [...policyText(policy), h("div", { class: "actions" },
    h("button", { type: "button", class: "main", onclick: () => guarded(async () => go(await post("/house/agree", { to: policy.mark }))) }, "I agree"),
    h("button", { type: "button", onclick: () => guarded(async () => { await post("/house/logout", {}); location.assign("/login"); }) }, "I don't agree: log out"))], "policy");
  title.focus();
}

function factor() {
  const where = h("div", { class: "steps" });
  const title = card("You keep the users", [
    h("p", {}, "That needs a second factor: beside the password a code from your phone. Until it is set up you may look and save, and not keep the users."), where], "policy");
  where.append(h("div", { class: "actions" },
    h("button", { type: "button", class: "main", onclick: () => guarded(() => setUp(where, { password, has: false, done: () => location.assign(wanted()) })) }, "Set it up"),
    h("a", { class: "button", href: wanted() }, "Later")));
  title.focus();
}

await begin(async () => go(await get("/house/door")));
