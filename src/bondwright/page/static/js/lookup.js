// Quick answers without a server: looking up in the tables that the server made from its catalog.
// What each function says is held against the rules themselves, for every row, by the tests.

/** @typedef {import("./wire").TablesAnswer} Tables */
/** @typedef {{size: string, metal: string, sets?: number, clause: string, status: string, why: string[]}} Found */
/** @typedef {{problem: string, clause: string}} None */
/** @typedef {{size: string, metal: string, sets: number}} Line */

const EQUAL = 1e-9; // areas that differ by less, in proportion, are equal
const SURE = ["confirmed", "one-source", "computed", "memory"];

/** The least sure of some statuses. @param {...string} words */
export const leastSure = (...words) => words.reduce((a, b) => (SURE.indexOf(a) > SURE.indexOf(b) ? a : b));

/** @param {Tables} tables @param {string} name */
export function area(tables, name) {
  const found = tables.sizes.find((size) => size.name === name);
  if (!found) throw new Error(`no conductor is ${name}`);
  return found.cmil;
}

/** The smallest size of at least an area; null above the largest. @param {Tables} tables @param {number} cmil */
export function nextSize(tables, cmil) {
  return tables.sizes.find((size) => size.cmil >= cmil * (1 - EQUAL))?.name ?? null;
}

/** @param {number} cmil */
const kcmil = (cmil) => (cmil >= 1000 ? `${+(cmil / 1000).toPrecision(6)} kcmil` : `${cmil} cmil`);

/** @param {Tables} tables @param {string} rules @param {string} key */
function clauseOf(tables, rules, key) {
  const found = tables.clauses.find((one) => one.rules === rules && one.key === key);
  if (!found) throw new Error(`no clause ${key} in ${rules}`);
  return found;
}

/** @param {Line} line */
export const lineText = (line) => `${line.sets > 1 ? `${line.sets} x ` : ""}${line.size} ${line.metal}`;

/**
 * The row of a table that is entered with the supply's area.
 * @param {import("./wire").SupplyRow[]} rows @param {Line} supply @param {string} metal @param {number} cmil
 */
function supplyRow(rows, supply, metal, cmil) {
  const row = rows.find((one) => one.supply === supply.metal && one.metal === metal && (one.upto === null || cmil <= one.upto * (1 + EQUAL)));
  if (!row) throw new Error(`no row for ${lineText(supply)}`);
  return row;
}

/**
 * A main, system or supply-side bonding jumper, from the supply conductors.
 * @param {Tables} tables @param {Line} supply @param {string} metal @param {"main" | "system" | "supply-side"} role @param {string} rules
 * @returns {Found | None}
 */
export function jumper(tables, supply, metal, role, rules) {
  const cmil = area(tables, supply.size) * supply.sets, clause = clauseOf(tables, rules, role).clause;
  const row = supplyRow(tables.jumper, supply, metal, cmil);
  const why = [`Supply conductors of one phase: ${lineText(supply)}, ${kcmil(cmil)}. Never sized from the breaker.`];
  let size = row.size;
  if (size === null) {
    if (metal !== supply.metal) {
      return { clause, problem: `Above the end of the table the jumper is a part of the supply area, and of ${metal} that part is taken of a ${metal} set with the same ampacity. Choose ${supply.metal}, or ask with the site file.` };
    }
    const part = (row.part ?? 0) * cmil;
    size = nextSize(tables, part);
    if (size === null) return { clause, problem: `${100 * (row.part ?? 0)} % of ${kcmil(cmil)} is ${kcmil(part)}, more than the largest conductor. Size one jumper for each raceway instead.` };
    why.push(`${row.label}: ${100 * (row.part ?? 0)} % of it is ${kcmil(part)}; the next standard size is ${size}.`);
  } else {
    why.push(`Table 250.102(C)(1), supply ${row.label} ${supply.metal}: ${size} ${metal}.`);
  }
  // An aluminium jumper on copper lines of its area would carry less, so there the cap is left out.
  if (!(metal === "Al" && supply.metal === "Cu") && supply.sets === 1 && area(tables, size) > cmil * (1 + EQUAL)) {
    size = supply.size;
    why.push(`It need not be larger than the supply conductors: ${size} will do.`);
  }
  return { size, metal, clause, status: row.status, why };
}

/**
 * A grounding electrode conductor, from the supply conductors and what it leads to alone.
 * @param {Tables} tables @param {Line} supply @param {string} metal @param {string} electrode "any", "rod", "concrete" or "ring" @param {string} rules
 * @returns {Found}
 */
export function electrode(tables, supply, metal, electrode, rules) {
  const cmil = area(tables, supply.size) * supply.sets;
  const row = supplyRow(tables.electrode, supply, metal, cmil);
  const why = [`Supply conductors of one phase: ${lineText(supply)}, ${kcmil(cmil)}. Never sized from the breaker.`];
  /** @param {string} kind */
  const capOf = (kind) => tables.caps.find((one) => one.rules === rules && one.electrode === kind && one.metal === metal);
  const top = capOf("any");
  if (!top) throw new Error(`no largest electrode conductor in ${rules}`);
  let size = row.size ?? top.size, status = row.status, clause = clauseOf(tables, rules, "electrode").clause;
  if (area(tables, top.size) < area(tables, size)) size = top.size;
  why.push(`Table 250.66, supply ${row.label} ${supply.metal}: ${size} ${metal}.`);
  const cap = electrode === "any" ? undefined : capOf(electrode);
  if (cap && area(tables, cap.size) < area(tables, size)) {
    size = cap.size;
    clause = cap.clause;
    status = leastSure(status, cap.status);
    why.push(`It leads only to ${{ rod: "rods", concrete: "a concrete-encased electrode", ring: "a ground ring" }[electrode] ?? electrode}: it need not be larger than ${size} ${metal}.`);
  }
  return { size, metal, clause, status, why };
}

/**
 * An equipment grounding conductor, from the device ahead; grown where the lines were enlarged.
 * @param {Tables} tables @param {number} amps @param {string} metal @param {string} rules
 * @param {{installed: string, needed: string, metal: string, correction: boolean} | null} [enlarged] lines, one set
 * @returns {Found | None}
 */
export function ground(tables, amps, metal, rules, enlarged = null) {
  let clause = clauseOf(tables, rules, "ground").clause;
  const row = tables.ground.find((one) => one.metal === metal && amps <= one.upto * (1 + EQUAL));
  if (!row) return { clause, problem: `${amps} A is beyond the end of the table: above it the fault path has to be engineered.` };
  const why = [`Table 250.122, the row up to ${row.upto} A: ${row.size} ${metal}. Never sized from the service conductors.`];
  let size = row.size, status = row.status;
  if (enlarged) {
    const have = area(tables, enlarged.installed), need = area(tables, enlarged.needed);
    const grows = clauseOf(tables, rules, "ground-increase");
    if (have < need) {
      why.push(`The lines (${enlarged.installed}) are smaller than what is needed (${enlarged.needed}): mend that first.`);
    } else if (have > need && enlarged.correction && grows.choice !== "any-increase") {
      why.push("The lines were enlarged only for ambient temperature or bundling; since the 2020 edition that does not count.");
    } else if (have > need) {
      const wanted = (area(tables, size) * have) / need;
      size = nextSize(tables, wanted) ?? enlarged.installed;
      clause = grows.clause;
      status = leastSure(status, grows.status);
      why.push(`Lines enlarged from ${enlarged.needed} to ${enlarged.installed}: ${kcmil(area(tables, row.size))} x ${kcmil(have)} / ${kcmil(need)} = ${kcmil(Math.round(wanted))}; the next standard size is ${size}.`);
    }
    if (!(metal === "Al" && enlarged.metal === "Cu") && area(tables, size) > have * (1 + EQUAL)) {
      size = enlarged.installed;
      why.push(`It need not be larger than the line conductors: ${size} will do.`);
    }
  }
  return { size, metal, clause, status, why };
}

/**
 * Whether a bonding screw belongs in or out.
 * @param {Tables} tables @param {Array<"y" | "n" | "u">} answers to the four questions @param {string} rules
 */
export function screw(tables, answers, rules) {
  const one = tables.screws.find((s) => s.rules === rules);
  const found = one?.answers[one.index[answers.join("")] ?? -1];
  if (!found) throw new Error(`no answer for ${answers.join("")} in ${rules}`);
  return found;
}
