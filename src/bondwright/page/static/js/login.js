// The door: name and password.

import { at, h } from "./dom.js";
import { begin, field, post, secret } from "./house.js";
import { Problem } from "./api.js";

/** Where one wanted to go: a path here and nowhere else. */
function wanted() {
  const to = new URLSearchParams(location.search).get("to") ?? "/";
  return /^\/(?:job\/[0-9a-f]+\/|people)?$/u.test(to) ? to : "/";
}

await begin(async () => {
  const name = h("input", { type: "text", autocomplete: "username", autocapitalize: "none", spellcheck: "false", required: true });
  const password = h("input", { type: "password", autocomplete: "current-password", required: true });
  const wrong = h("p", { class: "wrong", role: "alert", hidden: true });
  const button = h("button", { type: "submit", class: "main" }, "Log in");
  at("main").replaceChildren(h("section", { class: "login card", "aria-labelledby": "login-head" }, h("h2", { id: "login-head" }, "Log in"),
    h("form", { onsubmit: async (/** @type {Event} */ e) => {
      e.preventDefault();
      button.disabled = true;
      try {
        await post("/house/login", { name: name.value.trim(), password: password.value });
        location.assign(wanted());
      } catch (error) {
        if (!(error instanceof Problem)) throw error;
        wrong.textContent = error.message;
        wrong.hidden = false;
        password.select();
      } finally {
        button.disabled = false;
      }
    } }, field("name", "Name", name), secret("password", "Password", password), wrong, h("div", { class: "actions" }, button)),
    h("p", { class: "small" }, "Kept of you: your name, a hash of your password, and with each save your name, the time and your reason. They stay with the job. Whoever keeps the users can take you out.")));
  name.focus();
});
