// Keeping the users; and oneself: password, second factor, one's data, leaving.

import { at, h } from "./dom.js";
import { setUp, showSpare, sureForm } from "./factor.js";
import { mailCard } from "./mail.js";
import { begin, codeField, field, get, guarded, newSecret, paintWho, post, remove, secret, toast } from "./house.js";

/** @typedef {import("./wire").UsersAnswer} Answer */
/** @typedef {import("./wire").YouAnswer} You */

const ROLES = { look: "look, and try out on a copy of their own", edit: "look and save", keep: "look, save, and keep the users" };

/** @param {string} chosen */
const roles = (chosen) => h("select", {}, ...Object.entries(ROLES).map(([role, text]) => h("option", { value: role, ...(role === chosen ? { selected: true } : {}) }, text)));

/** @type {You} */
let you;
/** @type {import("./wire").MailAnswer} */
let mail;

/** @param {Answer | null} answer */
function paint(answer) {
  at("main").replaceChildren(...(answer ? [people(answer), newcomer()] : []), self());
}

/** Look up how it stands, and say it. @param {string} [said] */
async function again(said) {
  you = await get("/house/you");
  mail = await get("/house/mail");
  const who = await get("/house/jobs");
  paintWho(who);
  paint(who.role === "keep" ? await get("/house/users") : null);
  if (said) toast(said);
}

/** @param {Answer} answer */
function people(answer) {
  return h("section", { "aria-labelledby": "users-head" }, h("h2", { id: "users-head" }, `${answer.users.length} ${answer.users.length === 1 ? "user" : "users"}`),
    h("ul", { class: "joblist" }, ...answer.users.map((user, k) => {
      const role = roles(user.role);
      const password = h("input", { type: "password", autocomplete: "new-password", minlength: "12" });
      return h("li", { class: "card" }, h("b", {}, user.name), h("span", { class: "badges" }, h("span", { class: "badge note" }, user.role), user.factor ? h("span", { class: "badge holds" }, "second factor") : user.role === "keep" ? h("span", { class: "badge open" }, "no second factor yet") : ""), h("details", {}, h("summary", { "aria-label": `Change ${user.name}` }, "Change"),
        h("form", { class: "fields", onsubmit: (/** @type {Event} */ e) => { e.preventDefault(); void guarded(async () => { paint(await post("/house/users", { name: user.name, role: role.value, password: password.value || null, new: false })); toast(`${user.name} may ${ROLES[/** @type {"look"} */ (role.value)]}`); }); } },
          field(`role-${k}`, "May", role), newSecret(`password-${k}`, "New password (empty leaves it)", password),
          h("div", { class: "actions" }, h("button", { type: "submit", class: "main" }, "Change"),
            user.factor && user.name !== answer.who ? h("button", { type: "button", onclick: () => guarded(async () => { paint(await post("/house/users", { name: user.name, no_factor: true })); toast(`${user.name} has no second factor now, and is told`); }) }, "Take the second factor away") : null,
            user.name === answer.who ? null : h("button", { type: "button", onclick: () => guarded(async () => { paint(await remove(`/house/users?name=${encodeURIComponent(user.name)}`)); toast(`${user.name} is let in no more`); }) }, "Let in no more")))));
    })));
}

function newcomer() {
  const name = h("input", { type: "text", autocomplete: "off", maxlength: "80", required: true });
  const role = roles("edit");
  const password = h("input", { type: "password", autocomplete: "new-password", minlength: "12", required: true });
  return h("section", { "aria-labelledby": "new-head" }, h("h2", { id: "new-head" }, "Let somebody in"),
    h("form", { class: "fields card", onsubmit: (/** @type {Event} */ e) => { e.preventDefault(); void guarded(async () => { paint(await post("/house/users", { name: name.value.trim(), role: role.value, password: password.value, new: true })); toast(`${name.value.trim()} is let in`); }); } },
      field("new-name", "Name", name), field("new-role", "May", role), newSecret("new-password", "Password, 12 characters or more; a few words will do", password),
      h("div", { class: "actions" }, h("button", { type: "submit", class: "main" }, "Let in"))));
}

function self() {
  return h("section", { id: "you", "aria-labelledby": "you-head" }, h("h2", { id: "you-head" }, "You"),
    h("div", { class: "card you" }, own()), h("div", { class: "card you", id: "factor" }, ...factor()), h("div", { class: "card you", id: "mail" }, ...mailCard(mail, you.factor, again)), h("div", { class: "card you" }, ...data()), h("div", { class: "card you" }, ...leaving()));
}

function own() {
  const before = h("input", { type: "password", autocomplete: "current-password", required: true });
  const after = h("input", { type: "password", autocomplete: "new-password", minlength: "12", required: true });
  const code = codeField("own-code");
  return h("form", { class: "fields", id: "password", "aria-labelledby": "own-head", onsubmit: (/** @type {Event} */ e) => { e.preventDefault(); void guarded(async () => { await post("/house/password", { before: before.value, after: after.value, code: you.factor ? code.input.value.trim() : "" }); location.assign("/login"); }); } },
    h("h3", { id: "own-head" }, "Your password"),
    secret("own-before", "Until now", before), newSecret("own-after", "From now on, 12 characters or more", after), you.factor ? code.field : "",
    h("div", { class: "actions" }, h("button", { type: "submit", class: "main" }, "Change it and log in anew")));
}

function factor() {
  const where = h("div", { class: "steps" });
  const done = () => guarded(() => again("Your second factor is on"));
  /** @param {string} text @param {() => Promise<unknown>} work */
  const act = (text, work) => h("button", { type: "button", onclick: () => guarded(work) }, text);
  const start = () => setUp(where, { password: "", has: you.factor, done });
  if (!you.factor) {
    where.append(h("div", { class: "actions" }, act("Set it up", start)));
    return [h("h3", {}, "Your second factor"), h("p", {}, "Beside the password a code from an app on your phone. Whoever keeps the users needs it; it is good for everybody."), where];
  }
  where.append(h("div", { class: "actions" },
    act("Set up another", start),
    act("New spare codes", async () => where.replaceChildren(sureForm("spare", true, "Make new ones", async (sure) => showSpare(where, (await post("/house/factor/spare", sure)).codes, () => guarded(() => again()))))),
    act("Turn it off", async () => where.replaceChildren(sureForm("off", true, "Turn it off", async (sure) => { await post("/house/factor/off", sure); await again("Your second factor is off"); })))));
  return [h("h3", {}, "Your second factor"), h("p", {}, `It is on. Spare codes left: ${you.spare_left}.`), where];
}

function data() {
  return [h("h3", {}, "What is kept of you"),
    h("p", {}, h("a", { href: "/kept" }, "What, why and how long"), you.agreed ? `. You agreed on ${new Date(you.agreed).toLocaleDateString([], { dateStyle: "medium" })}.` : ""),
    h("div", { class: "actions" }, h("a", { class: "button", href: "/house/you/data", download: "own-data.json" }, "Take it along as a file"))];
}

function leaving() {
  const where = h("div", { class: "steps" });
  const forget = h("input", { type: "checkbox", id: "leave-forget" });
  where.append(h("div", { class: "actions" }, h("button", { type: "button", onclick: () => {
    where.replaceChildren(sureForm("leave", you.factor, "Leave for good", async (sure) => {
      await post("/house/leave", { ...sure, forget_name: forget.checked });
      location.assign("/login");
    }, [h("label", { class: "check", for: forget.id }, forget, "Put “someone who left” in place of my name beside what I saved")]));
    where.querySelector("input")?.focus();
  } }, "Leave")));
  return [h("h3", {}, "Leaving"),
    h("p", {}, "Your log-in, your role and all that goes with them are removed, and so is what you haven't saved. What you saved stays, with times and reasons: it is the history of a building's safety, and others rely on it. Bundles and backups made before still have your name."),
    where];
}

await begin(async () => {
  await again();
  document.getElementById(location.hash.slice(1))?.scrollIntoView();
  if (location.hash === "#password") document.getElementById("own-before")?.focus();
});
