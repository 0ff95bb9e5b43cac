// Keeping the users, and one's own password.

import { at, h } from "./dom.js";
import { begin, field, get, guarded, newSecret, paintWho, post, remove, secret, toast } from "./house.js";

/** @typedef {import("./wire").UsersAnswer} Answer */

const ROLES = { look: "look, and try out on a copy of their own", edit: "look and save", keep: "look, save, and keep the users" };

/** @param {string} chosen */
const roles = (chosen) => h("select", {}, ...Object.entries(ROLES).map(([role, text]) => h("option", { value: role, ...(role === chosen ? { selected: true } : {}) }, text)));

/** @param {Answer | null} answer */
function paint(answer) {
  at("main").replaceChildren(...(answer ? [people(answer), newcomer()] : []), own());
  if (location.hash === "#password") document.getElementById("own-before")?.focus();
}

/** @param {Answer} answer */
function people(answer) {
  return h("section", { "aria-labelledby": "users-head" }, h("h2", { id: "users-head" }, `${answer.users.length} ${answer.users.length === 1 ? "user" : "users"}`),
    h("ul", { class: "joblist" }, ...answer.users.map((user, k) => {
      const role = roles(user.role);
      const password = h("input", { type: "password", autocomplete: "new-password", minlength: "12" });
      return h("li", { class: "card" }, h("b", {}, user.name), h("span", { class: "badge note" }, user.role), h("details", {}, h("summary", { "aria-label": `Change ${user.name}` }, "Change"),
        h("form", { class: "fields", onsubmit: (/** @type {Event} */ e) => { e.preventDefault(); void guarded(async () => { paint(await post("/house/users", { name: user.name, role: role.value, password: password.value || null, new: false })); toast(`${user.name} may ${ROLES[/** @type {"look"} */ (role.value)]}`); }); } },
          field(`role-${k}`, "May", role), newSecret(`password-${k}`, "New password (empty leaves it)", password),
          h("div", { class: "actions" }, h("button", { type: "submit", class: "main" }, "Change"),
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

function own() {
  const before = h("input", { type: "password", autocomplete: "current-password", required: true });
  const after = h("input", { type: "password", autocomplete: "new-password", minlength: "12", required: true });
  return h("section", { id: "password", "aria-labelledby": "own-head" }, h("h2", { id: "own-head" }, "Your own password"),
    h("form", { class: "fields card", onsubmit: (/** @type {Event} */ e) => { e.preventDefault(); void guarded(async () => { await post("/house/password", { before: before.value, after: after.value }); location.assign("/login"); }); } },
      secret("own-before", "Until now", before), newSecret("own-after", "From now on, 12 characters or more", after),
      h("div", { class: "actions" }, h("button", { type: "submit", class: "main" }, "Change it and log in anew"))));
}

await begin(async () => {
  /** @type {import("./wire").JobsAnswer} */
  const who = await get("/house/jobs");
  paintWho(who);
  paint(who.role === "keep" ? await get("/house/users") : null);
});
