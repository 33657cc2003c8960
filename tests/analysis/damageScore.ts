/**
 * Damaged logs of the shipped set against what is said of the sound ones: how many damages are told first (exit status
 * 3), withheld, put right, or wrong in silence.
 * `npx tsx tests/analysis/damageScore.ts [first|other|all] [part of a name]...`
 */
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { run as diagnose } from "../../lib/cli/diagnose.js";
import { run as fit } from "../../lib/cli/fit.js";
import type { Diagnosis } from "../../lib/diagnosis/types.js";
import type { Estimate } from "../../lib/units/estimate.js";
import { capture } from "../house/capture.js";
import { otherDamages } from "./otherDamages.js";
import { column, type Damage, damages, descriptor, type Log, shippedSet, written } from "./shippedDamages.js";

const [which = "all", ...asked] = process.argv.slice(2);
const chosen = [...(which === "other" ? [] : damages), ...(which === "first" ? [] : otherDamages)].filter(
  ({ name }) => asked.length === 0 || asked.some((word) => name.includes(word)),
);
const sound = damages[0];

interface Told {
  readonly status: number;
  readonly codes: readonly string[];
  /** Verdicts of the trials that were driven, with how sure, in order. */
  readonly verdicts: ReadonlyMap<string, readonly { readonly verdict: string; readonly sure: number }[]>;
  readonly usable: ReadonlyMap<string, string>;
  readonly constants: ReadonlyMap<string, Estimate>;
}

/** A set as it is read: with its descriptor or without, whole or one log of it, with the speed or without. */
interface Reading {
  readonly name: string;
  readonly logs: readonly Log[];
  readonly described: boolean;
  readonly without: readonly number[];
}

const only = (order: string): Log[] => shippedSet.filter(({ file }) => file === `order-${order}.csv`);
const { speed, reference, position } = column;
const readings: readonly Reading[] = [
  { name: "set", logs: shippedSet, described: true, without: [] },
  { name: "set, no speed", logs: shippedSet, described: true, without: [speed] },
  { name: "set, position alone", logs: shippedSet, described: true, without: [speed, reference] },
  { name: "set, no position", logs: shippedSet, described: true, without: [position] },
  { name: "bare set", logs: shippedSet, described: false, without: [] },
  { name: "UVW alone", logs: only("uvw"), described: false, without: [] },
  { name: "VWU alone", logs: only("vwu"), described: false, without: [] },
  { name: "WVU alone", logs: only("wvu"), described: false, without: [] },
  { name: "VWU, no speed", logs: only("vwu"), described: false, without: [speed] },
];

const home = mkdtempSync(join(tmpdir(), "shaftwise-score-"));

async function told({ logs, described, without }: Reading, { change }: Damage): Promise<Told> {
  const folder = mkdtempSync(join(home, "set-"));
  const kept = <T>(cells: readonly T[]): T[] => cells.filter((_, k) => !without.includes(k));
  for (const log of logs)
    writeFileSync(
      join(folder, log.file),
      written({ ...log, heading: kept(log.heading), rows: change(log.rows).map(kept) }),
    );
  if (described) {
    const gone = without.map((k) => shippedSet[0].heading[k]);
    const resources = descriptor.resources.map((r: { schema: { fields: { name: string }[] } }) => ({
      ...r,
      schema: { ...r.schema, fields: r.schema.fields.filter(({ name }) => !gone.includes(name)) },
    }));
    writeFileSync(join(folder, "datapackage.json"), JSON.stringify({ ...descriptor, resources }));
  }
  const { status, out } = await capture(diagnose, [folder, "--json"]);
  const { recordings, orderings = [], problems } = JSON.parse(out) as Diagnosis;
  const constants = new Map<string, Estimate>();
  const fitted = JSON.parse((await capture(fit, [folder, "--json"])).out);
  for (const { ordering, constants: found } of fitted.recordings ?? [])
    for (const group of ["electrical", "mechanical", "ratios"])
      for (const [name, e] of Object.entries<Estimate>(found?.[group] ?? {}))
        constants.set(`${ordering} ${name}`, e);
  rmSync(folder, { recursive: true });
  return {
    status,
    codes: [
      ...new Set([
        ...recordings.flatMap(({ attention = [] }) => attention.map(({ code }) => code)),
        ...problems.filter(({ severity }) => severity === "error").map(({ code }) => `!${code}`),
      ]),
    ],
    verdicts: new Map(
      recordings.map(({ ordering, trials }) => [
        String(ordering),
        trials
          .filter(({ kind }) => kind !== "coast" && kind !== "idle")
          .map(({ verdict, confidence }) => ({ verdict, sure: confidence })),
      ]),
    ),
    usable: new Map(
      orderings.map(({ ordering, usable, verdict }) => [
        String(ordering),
        usable ? "yes" : verdict === "undetermined" ? "open" : "no",
      ]),
    ),
    constants,
  };
}

/** What the damaged log says that the sound one contradicts. */
function wrong(now: Told, then: Told): string[] {
  const out: string[] = [];
  for (const [order, list] of now.verdicts) {
    const right = new Set(then.verdicts.get(order)?.map(({ verdict }) => verdict));
    for (const { verdict, sure } of list)
      if (verdict !== "undetermined" && !right.has(verdict) && sure > 0.6)
        out.push(`${order} ${verdict}${Math.round(100 * sure)}`);
  }
  for (const [order, usable] of now.usable)
    if (usable === "yes" && then.usable.get(order) !== "yes") out.push(`${order} usable`);
  for (const [name, e] of now.constants) {
    const truth = then.constants.get(name);
    // Apart by more than both intervals allow.
    if (truth && (e.low > truth.high || e.high < truth.low))
      out.push(`${name} ${Number(e.value.toPrecision(3))} for ${Number(truth.value.toPrecision(3))}`);
  }
  return out;
}

const counts = { right: 0, told: 0, withheld: 0, silent: 0, toldYetWrong: 0 };
const sounds = new Map<string, Told>();
for (const reading of readings) sounds.set(reading.name, await told(reading, sound));
for (const damage of chosen) {
  const classes: string[] = [];
  for (const reading of readings) {
    const untouched = reading.logs.every(({ rows }) => {
      const changed = damage.change(rows);
      return (
        changed.length === rows.length &&
        changed.every((row, i) => row.every((cell, k) => reading.without.includes(k) || cell === rows[i][k]))
      );
    });
    if (untouched) continue;
    const then = sounds.get(reading.name) as Told;
    const now = await told(reading, damage);
    const false_ = wrong(now, then);
    const nothingSaid = [...now.verdicts.values()].flat().every(({ verdict }) => verdict === "undetermined");
    const class_ =
      false_.length > 0
        ? now.status === 3
          ? "toldYetWrong"
          : "silent"
        : now.status === 3
          ? "told"
          : nothingSaid
            ? "withheld"
            : "right";
    counts[class_] += 1;
    const sureWrong = false_.some((f) => / (usable|[a-z]+(8[1-9]|9\d|100))$/.test(f));
    classes.push(`${reading.name}=${class_}${sureWrong ? "!" : ""}${now.status === 3 ? "" : "(0)"}`);
    if (class_ === "silent" || class_ === "toldYetWrong")
      console.log(
        `${class_.padEnd(12)} ${reading.name.padEnd(20)} ${damage.name} | ${now.codes.join(" ") || "nothing"} | ${false_.slice(0, 5).join(", ")}${false_.length > 5 ? ` and ${false_.length - 5} more` : ""}`,
      );
  }
  console.log(`# ${damage.name} | ${classes.join(" ")}`);
}
rmSync(home, { recursive: true, force: true });
console.log(JSON.stringify(counts));
