// Where one is told by mail that one's credentials changed.

import { h } from "./dom.js";
import { sureForm } from "./factor.js";
import { field, post } from "./house.js";

/**
 * What stands on the card, with the way to change it.
 * @param {import("./wire").MailAnswer} kept
 * @param {boolean} has a second factor
 * @param {(said: string) => Promise<unknown>} done
 */
export function mailCard(kept, has, done) {
  const about = kept.sends
    ? "You are told by mail when your password, role, second factor or this address changes, and when somebody logs in under your name from a new place."
    : "This server sends no mail: what changed is told on the list of jobs.";
  const now = kept.mail ? h("p", {}, "They go to ", h("b", {}, kept.mail), ".") : kept.sends ? h("p", {}, "No address is kept.") : "";
  const troubles = kept.troubles.length ? h("ul", { class: "troubles" }, ...kept.troubles.map((text) => h("li", {}, text))) : "";
  return [h("h3", {}, "Notices by mail"), h("p", {}, about), now, troubles, kept.sends || kept.mail ? change(kept, has, done) : ""];
}

/**
 * @param {import("./wire").MailAnswer} kept
 * @param {boolean} has
 * @param {(said: string) => Promise<unknown>} done
 */
function change(kept, has, done) {
  const where = h("div", { class: "steps" });
  const open = () => {
    const address = h("input", { type: "email", autocomplete: "email", maxlength: "254", value: kept.mail });
    where.replaceChildren(sureForm("mail", has, "Keep it", async (sure) => {
      const answer = await post("/house/mail", { ...sure, mail: address.value.trim() });
      await done(answer.mail ? `Notices go to ${answer.mail}` : "No address is kept");
    }, [field("mail-address", "Address; empty for none", address)]));
    where.querySelector("input")?.focus();
  };
  where.append(h("div", { class: "actions" }, h("button", { type: "button", onclick: open }, kept.mail ? "Change the address" : "Give an address")));
  return where;
}
