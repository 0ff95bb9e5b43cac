// Readings kept in the browser: written down at once, sent when the line is there, each once.

import * as api from "./api.js";

/** @typedef {import("./wire").Note} Note */
/** @typedef {import("./wire").HuntAnswer} HuntAnswer */
/** @typedef {Note & {sent: boolean}} Kept */
/** @typedef {{born: string, notes: Kept[], forget: string[], answer: HuntAnswer | null, skipped: string[], draft: string}} Book */

const RETRY_MS = 4000;
const LOOK_MS = 350;

/** @returns {Book} */
const empty = () => ({ born: "", notes: [], forget: [], answer: null, skipped: [], draft: "" });

/** A name for a reading that no other has. */
export function newKey() {
  return [...crypto.getRandomValues(new Uint8Array(12))].map((b) => b.toString(16).padStart(2, "0")).join("");
}

/** The time on this clock with its distance from UTC, to the second. */
export function now() {
  const d = new Date(), two = (/** @type {number} */ n) => String(n).padStart(2, "0");
  const off = -d.getTimezoneOffset(), ahead = Math.abs(off);
  return `${d.getFullYear()}-${two(d.getMonth() + 1)}-${two(d.getDate())}T${two(d.getHours())}:${two(d.getMinutes())}:${two(d.getSeconds())}${off < 0 ? "-" : "+"}${two(Math.floor(ahead / 60))}:${two(ahead % 60)}`;
}

export class Notes {
  /**
   * @param {string} site names the site: a browser may know readings of several
   * @param {() => void} changed told when anything is different
   */
  constructor(site, changed) {
    this.place = `bondwright-hunt ${site}`;
    this.changed = changed;
    this.line = true;
    /** What the server refused, in plain words. */
    this.refused = "";
    this.busy = false;
    this.again = false;
    this.timer = 0;
    this.book = this.read();
    window.addEventListener("online", () => void this.sync());
  }

  /** @returns {Book} */
  read() {
    try {
      const found = JSON.parse(localStorage.getItem(this.place) ?? "null");
      return found && Array.isArray(found.notes) ? { ...empty(), ...found } : empty();
    } catch {
      return empty();
    }
  }

  write() {
    try {
      localStorage.setItem(this.place, JSON.stringify(this.book));
    } catch {
      this.refused = "This browser keeps nothing: leave the page open until everything is sent.";
    }
  }

  get waiting() {
    return this.book.notes.filter((note) => !note.sent).length + this.book.forget.length;
  }

  /** @param {Omit<Note, "key" | "time" | "note"> & {note?: string}} row */
  add(row) {
    const note = { note: "", ...row, key: newKey(), time: now(), sent: false };
    this.book.notes.push(note);
    this.book.draft = "";
    this.save();
    return note;
  }

  /** @param {string[]} keys */
  remove(keys) {
    const gone = this.book.notes.filter((note) => keys.includes(note.key));
    this.book.notes = this.book.notes.filter((note) => !keys.includes(note.key));
    // Also one that was never seen to arrive: the answer may have been lost, not the reading.
    this.book.forget.push(...gone.map((note) => note.key));
    this.save();
    return gone;
  }

  /** Write what was removed down again. @param {Kept[]} gone */
  restore(gone) {
    this.book.notes.push(...gone.map((note) => ({ ...note, key: newKey(), sent: false })));
    this.save();
  }

  /** @param {string} id of a proposal that can't be taken */
  skip(id) {
    this.book.skipped.push(id);
    this.write();
    this.changed();
  }

  /** @param {string} text what was typed so far */
  draft(text) {
    this.book.draft = text;
    this.write();
  }

  save() {
    this.write();
    this.changed();
    void this.sync();
  }

  /** Send what waits, and look how the ranking stands. */
  async sync() {
    if (this.busy) {
      this.again = true;
      return;
    }
    this.busy = true;
    window.clearTimeout(this.timer);
    let wait = 0;
    try {
      do {
        this.again = false;
        this.take(await this.ask());
      } while (this.again || this.waiting);
      this.line = true;
      this.refused = "";
      if (this.book.answer?.status === "ranking") wait = LOOK_MS;
    } catch (error) {
      if (!(error instanceof api.Problem)) throw error;
      this.line = !(error instanceof api.NoLine);
      this.refused = this.line ? error.message : "";
      wait = RETRY_MS;
    } finally {
      this.busy = false;
      this.write();
      this.changed();
    }
    if (wait) this.timer = window.setTimeout(() => void this.sync(), wait);
  }

  async ask() {
    const notes = this.book.notes.filter((note) => !note.sent);
    const forget = [...this.book.forget];
    if (!notes.length && !forget.length) return api.hunt();
    const answer = await api.keepNotes({ notes: notes.map(({ sent: _, ...note }) => note), forget });
    this.book.forget = this.book.forget.filter((key) => !forget.includes(key));
    // What the server was given and doesn't keep was removed from it elsewhere.
    const given = new Set(notes.map((note) => note.key));
    const there = new Set(answer.notes.map((note) => note.key));
    this.book.notes = this.book.notes.filter((note) => !given.has(note.key) || there.has(note.key));
    return answer;
  }

  /** @param {HuntAnswer} answer */
  take(answer) {
    const there = new Set(answer.notes.map((note) => note.key));
    const gone = new Set(this.book.forget);
    const anew = this.book.born !== "" && this.book.born !== answer.born;
    // A server that was started anew knows nothing: what is kept here goes to it again.
    const mine = this.book.notes.filter((note) => !there.has(note.key) && (anew || !note.sent));
    this.book.notes = [
      ...answer.notes.filter((note) => !gone.has(note.key)).map((note) => ({ ...note, sent: true })),
      ...mine.map((note) => ({ ...note, sent: false })),
    ].sort((a, b) => Date.parse(a.time) - Date.parse(b.time) || 0);
    if (answer.result && this.book.answer?.result?.readings !== answer.result.readings) this.book.skipped = [];
    this.book.born = answer.born;
    this.book.answer = answer;
  }

  /** @param {"again" | "cancel"} what */
  async ranking(what) {
    try {
      this.take(await (what === "again" ? api.rankAgain() : api.cancelRanking()));
    } catch (error) {
      if (!(error instanceof api.Problem)) throw error;
      this.line = !(error instanceof api.NoLine);
    }
    this.write();
    this.changed();
    if (this.book.answer?.status === "ranking") void this.sync();
  }
}
