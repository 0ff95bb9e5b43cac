// Asking the server. Every answer names its format; a problem is thrown in plain words.

/** What went wrong, in words for a person. */
export class Problem extends Error {
  /** @param {string} message @param {number} [status] @param {import("./wire").ProblemInfo[]} [problems] each with its place */
  constructor(message, status = 0, problems = []) {
    super(message);
    this.status = status;
    this.problems = problems;
  }
}

/** Where this working copy is answered for: a job of several has a path of its own. */
const BASE = /^\/job\/[^/]+/u.exec(location.pathname)?.[0] ?? "";

/** @param {string} path */
export const address = (path) => BASE + path;

/** Nobody answers: the server is gone, or the line to it. */
export class NoLine extends Problem {}

/**
 * @param {string} method
 * @param {string} path
 * @param {unknown} [body]
 * @returns {Promise<any>}
 */
export async function ask(method, path, body) {
  /** @type {Response} */
  let answer;
  try {
    answer = await fetch(address(path), {
      method,
      headers: body === undefined ? {} : { "content-type": "application/json" },
      body: body === undefined ? null : JSON.stringify(body),
    });
  } catch {
    throw new NoLine("The server doesn't answer. Is bondwright serve still running?");
  }
  if (answer.status === 401) {
    location.assign(`/login?to=${encodeURIComponent(location.pathname)}`);
    throw new Problem("You are no longer logged in.", 401);
  }
  if (!answer.ok) {
    const told = await answer.json().catch(() => null);
    const first = told?.problems?.[0];
    throw new Problem(first ? [first.text, first.problem, first.hint].filter(Boolean).join(": ") : `The server answered ${answer.status}.`, answer.status, told?.problems ?? []);
  }
  return answer;
}

/** What an answer says; the line may drop in the middle of it. @param {Response} answer */
async function told(answer) {
  try {
    return await answer.json();
  } catch {
    throw new NoLine("The line dropped in the middle of an answer.");
  }
}

/** @param {Record<string, string>} query */
const asQuery = (query) => new URLSearchParams(query).toString();

/** @param {string} path @param {Record<string, string>} [query] */
async function get(path, query) {
  return told(await ask("GET", query ? `${path}?${asQuery(query)}` : path));
}

/** @param {string} path @param {unknown} body */
async function post(path, body) {
  return told(await ask("POST", path, body));
}

/** @returns {Promise<import("./wire").SiteAnswer>} */
export const site = () => get("/api/site");

/** @param {string} form @returns {Promise<import("./wire").PictureAnswer>} */
export const picture = (form) => get("/api/picture", { form });

/** @param {string} form @param {number} number @returns {Promise<string>} */
export const piece = async (form, number) => (await ask("GET", `/api/piece/${form}/${number}`)).text();

/** @param {import("./wire").ViewRequest} view @returns {Promise<import("./wire").ViewAnswer>} */
export const view = (view) => post("/api/view", view);

/** @param {import("./wire").EditRequest} edit @returns {Promise<import("./wire").ViewAnswer>} */
export const edit = (edit) => post("/api/edit", edit);

/** @param {string} kind @param {string} id @param {import("./wire").ViewRequest} view @returns {Promise<import("./wire").ThingAnswer>} */
export const thing = (kind, id, view) => post(`/api/thing?${asQuery({ kind, id })}`, view);

/** @param {string} kind @param {string} id @param {string} state @returns {Promise<import("./wire").StoryAnswer>} */
export const story = (kind, id, state) => get("/api/story", { kind, id, state });

/** @param {string} state @param {string} at @returns {Promise<import("./wire").FaultsAnswer>} */
export const faults = (state, at) => get("/api/faults", { state, at });

/** @param {string} run @param {string} form @returns {Promise<import("./wire").OpenNeutralAnswer>} */
export const openNeutral = (run, form) => get("/api/open-neutral", { run, form });
/** @param {string} state @returns {Promise<import("./wire").StrayAnswer>} */
export const stray = (state) => get("/api/stray", { state });

/** @param {string} fault @param {string} state @param {string} form @returns {Promise<import("./wire").CurveAnswer>} */
export const curve = (fault, state, form) => get("/api/curve", { fault, state, form });

/** @returns {Promise<import("./wire").ScheduleAnswer>} */
export const schedule = () => get("/api/schedule");

/** @returns {Promise<import("./wire").FindingsAnswer>} */
export const findings = () => get("/api/findings");

/** @param {string} state @param {string} form @returns {Promise<import("./wire").EarthAnswer>} */
export const earth = (state, form) => get("/api/earth", { state, form });

/** @param {{fault: number, part: number, shade: string, state: string, form: string}} what @returns {Promise<import("./wire").MapAnswer>} */
export const earthMap = (what) => get("/api/earth/map", { ...what, fault: String(what.fault), part: String(what.part) });

/** @param {import("./wire").JudgeRequest} request @returns {Promise<import("./wire").JudgeAnswer>} */
export const judge = (request) => post("/api/earth/judge", request);
/** @returns {Promise<import("./wire").HuntAnswer>} */
export const hunt = () => get("/api/hunt");

/** @param {import("./wire").NotesRequest} request @returns {Promise<import("./wire").HuntAnswer>} */
export const keepNotes = (request) => post("/api/hunt", request);

/** @returns {Promise<import("./wire").HuntAnswer>} */
export const rankAgain = () => post("/api/hunt/ranking", {});

/** @returns {Promise<import("./wire").HuntAnswer>} */
export const cancelRanking = async () => told(await ask("DELETE", "/api/hunt/ranking"));

/** @returns {Promise<import("./wire").StoriesAnswer>} */
export const lessons = () => get("/api/lessons");

/** @param {string} id @param {string} form @returns {Promise<import("./wire").LessonAnswer>} */
export const lesson = (id, form) => get(`/api/lessons/${encodeURIComponent(id)}`, { form });

/** @returns {Promise<import("./wire").TablesAnswer>} */
export const tables = () => get("/api/tables");

/** @returns {Promise<import("./wire").HuntForm>} */
export const huntForm = () => get("/api/hunt/form");

/** @param {import("./wire").JobRequest} request @returns {Promise<import("./wire").JobAnswer>} */
export const startJob = (request) => post("/api/jobs", request);

/** @returns {Promise<import("./wire").FormsAnswer>} */
export const forms = () => get("/api/forms");

/** @returns {Promise<import("./wire").DescriptionAnswer>} */
export const description = () => get("/api/description");

/** @param {string} table @param {string} id @returns {Promise<import("./wire").EntryAnswer>} */
export const entry = (table, id) => get("/api/entry", { table, id });

/** @param {import("./wire").DescribeRequest} request @returns {Promise<import("./wire").ViewAnswer>} */
export const describe = (request) => post("/api/describe", request);

/** @returns {Promise<import("./wire").TextAnswer>} */
export const wholeText = () => get("/api/text");

/** @param {import("./wire").TextRequest} request @returns {Promise<import("./wire").ViewAnswer>} */
export const writeText = (request) => post("/api/text", request);

/** @param {import("./wire").TextRequest} request @returns {Promise<import("./wire").CheckAnswer>} */
export const checkText = (request) => post("/api/text/check", request);

/** @param {import("./wire").ScheduleRequest} request @returns {Promise<import("./wire").ScheduleReadAnswer>} */
export const readSchedule = (request) => post("/api/schedule/read", request);

/** @param {import("./wire").ScheduleRequest} request @returns {Promise<import("./wire").ViewAnswer>} */
export const addSchedule = (request) => post("/api/schedule/add", request);

/** @returns {Promise<import("./wire").KeptAnswer>} */
export const kept = () => get("/api/kept");

/** @param {import("./wire").SaveRequest} request @returns {Promise<import("./wire").KeptAnswer>} */
export const save = (request) => post("/api/save", request);

/** @param {import("./wire").SaveRequest} request @returns {Promise<import("./wire").ViewAnswer>} */
export const takeTheirs = (request) => post("/api/take-theirs", request);

/** @returns {Promise<import("./wire").RevisionsAnswer>} */
export const revisions = () => get("/api/revisions");

/** @param {number} before @param {number} after @returns {Promise<import("./wire").CompareAnswer>} */
export const compare = (before, after) => get("/api/compare", { before: String(before), after: String(after) });

/** @param {number} number @param {import("./wire").ViewRequest} view @returns {Promise<import("./wire").ViewAnswer>} */
export const takeBack = (number, view) => post(`/api/take-back?number=${number}`, view);

/** @param {string} id @returns {Promise<import("./wire").JobAnswer>} */
export const cancelJob = async (id) => (await ask("DELETE", `/api/jobs/${id}`)).json();

/**
 * Follow a job to its end.
 * @param {string} id
 * @param {(job: import("./wire").JobAnswer) => void} tell
 */
export function followJob(id, tell) {
  const events = new EventSource(address(`/api/jobs/${id}/events`));
  events.addEventListener("job", (event) => {
    /** @type {import("./wire").JobAnswer} */
    const job = JSON.parse(/** @type {MessageEvent} */ (event).data);
    if (job.status !== "running") events.close();
    tell(job);
  });
  return () => events.close();
}
