import { readFileSync } from "node:fs";
import { join } from "node:path";
import { DuckDBInstance } from "@duckdb/node-api";
import type { Command } from "../../lib/cli/io.js";
import type { Constants, Diagnosis, Estimate, LoopDocument, TrialVerdict } from "../../lib/index.js";
import { studyConstants } from "../../lib/index.js";
import { openRuns } from "../../lib/toolkit/index.js";
import { capture } from "../house/capture.js";

/** Runs a command in this process and gives what it printed; its exit status may say that some input was not read. */
export async function called(command: string, ...args: string[]): Promise<string> {
  const { run } = (await import(`../../lib/cli/${command}.ts`)) as { run: Command };
  const { status, out, err } = await capture(run, args);
  if (status !== 0 && status !== 3) throw new Error(`${command}: ${err}`);
  return out;
}

interface FitDocument {
  readonly recordings: readonly {
    readonly path: string;
    readonly findings: unknown;
    readonly attention?: unknown;
    readonly steps: readonly {
      readonly time: number;
      readonly command: string;
      readonly measures: { readonly riseTime?: Estimate; readonly settlingTime2?: Estimate };
    }[];
    readonly constants: Constants;
  }[];
}

/** One value in one place: its number and interval, or that it is not given. */
type Given = Pick<Estimate, "value" | "low" | "high"> | undefined;

const number = (x: number | null | undefined): string =>
  x === null || x === undefined || !Number.isFinite(x) ? "none" : x.toPrecision(12);
const words = (e: Given): string =>
  e ? `${number(e.value)} (${number(e.low)} to ${number(e.high)})` : "withheld";

/** What appears in more than one of the answers to the same files and differs, a line each; empty where nothing
 * does. */
export class Contradictions {
  readonly found: string[] = [];
  /** How many quantities were compared. */
  compared = 0;

  same(where: string, left: string, right: string): void {
    this.compared += 1;
    if (left !== right) this.found.push(`${where}: ${left} against ${right}`);
  }

  estimate(where: string, left: Given, right: Given): void {
    this.same(where, words(left), words(right));
  }
}

/**
 * Puts files through inspect, diagnose, fit, loop, report, a study and `openRuns`, and compares every quantity that
 * more than one of them gives.
 *
 * @param paths files or folders
 * @param scratch a folder for what report and study write
 */
export async function contradictionsIn(paths: readonly string[], scratch: string): Promise<Contradictions> {
  const all = new Contradictions();
  const diagnosis: Diagnosis = JSON.parse(await called("diagnose", ...paths, "--json"));
  const inspected = JSON.parse(await called("inspect", ...paths, "--json")) as Pick<
    FitDocument,
    "recordings"
  >;
  const fit: FitDocument = JSON.parse(await called("fit", ...paths, "--json"));
  const loop: LoopDocument = JSON.parse(await called("loop", ...paths, "--json", "--no-proposals"));
  all.same("recordings of fit", `${diagnosis.recordings.length}`, `${fit.recordings.length}`);
  all.same("recordings of loop", `${diagnosis.recordings.length}`, `${loop.recordings.length}`);
  // A report of nothing is refused.
  if (diagnosis.recordings.length === 0) return all;
  await called("report", ...paths, "--out", join(scratch, "report"));
  const report = JSON.parse(readFileSync(join(scratch, "report", "report.json"), "utf8")) as {
    readonly diagnosis: Diagnosis;
    readonly recordings: readonly { readonly constants: Constants | null }[];
  };
  const opened = await openRuns(paths);
  const openedDiagnosis = JSON.parse(JSON.stringify(opened.diagnose().document)) as Diagnosis;
  diagnosis.recordings.forEach((one, k) => {
    const { path } = one;
    const { constants, steps, ...fitted } = fit.recordings[k];
    const { loop: put, report: looped, trials: looks, ...ofLoop } = loop.recordings[k];
    all.same(`${path}: path in fit`, path, fitted.path);
    all.same(`${path}: path in loop`, path, ofLoop.path);
    for (const [name, other] of [
      ["inspect", inspected.recordings[k]],
      ["fit", fitted],
      ["loop", ofLoop],
    ] as const)
      for (const key of ["findings", "attention"] as const)
        all.same(`${path}: ${key} of ${name}`, JSON.stringify(one[key]), JSON.stringify(other[key]));
    all.same(`${path}: report`, verdictText(one.trials), verdictText(report.diagnosis.recordings[k].trials));
    all.same(`${path}: openRuns`, verdictText(one.trials), verdictText(openedDiagnosis.recordings[k].trials));
    const inMemory = JSON.parse(JSON.stringify(opened.list[k].constants())) as Constants;
    for (const [name, estimate] of constantsIn(constants)) {
      all.estimate(
        `${path}: ${name} of report`,
        estimate,
        new Map(constantsIn(report.recordings[k].constants)).get(name),
      );
      all.estimate(`${path}: ${name} of openRuns`, estimate, new Map(constantsIn(inMemory)).get(name));
    }
    compareFactor(all, path, one.trials, constants);
    compareLoop(all, path, put, constants);
    compareGrowth(all, path, one.trials, looped, looks);
    for (const look of looks)
      for (const step of look.steps) {
        const same = steps.find((s) => s.command === "speedCommand" && s.time === step.time);
        all.estimate(`${path}: rise at ${step.time} s`, same?.measures.riseTime, step.measured.rise);
        all.estimate(
          `${path}: settling at ${step.time} s`,
          same?.measures.settlingTime2,
          step.measured.settling,
        );
      }
  });
  await compareStudy(all, paths, join(scratch, "study"), diagnosis, fit);
  return all;
}

const constantsIn = (constants: Constants | null): [string, Estimate][] =>
  constants === null
    ? []
    : (Object.entries({ ...constants.electrical, ...constants.mechanical, ...constants.ratios }) as [
        string,
        Estimate,
      ][]);

/** As JSON, numbers to ten digits: a sum taken in another order differs in its last ones. */
const text = (value: unknown): string =>
  JSON.stringify(value, (_, v) => (typeof v === "number" ? Number(v.toPrecision(10)) : v));

const verdictText = (trials: readonly TrialVerdict[]): string =>
  text(
    trials.map(
      ({
        kind,
        start,
        end,
        verdict,
        confidence,
        sense,
        causes,
        forecast,
        growth,
        torqueFactor,
        offsetError,
      }) => [
        ...[kind, start, end, verdict, confidence, sense],
        ...[
          causes.map(({ cause, probability }) => [cause, probability]),
          forecast,
          growth,
          torqueFactor,
          offsetError,
        ],
      ],
    ),
  );

/** Torque factor and offset error stand in the verdicts and among the constants. */
function compareFactor(
  all: Contradictions,
  path: string,
  trials: readonly TrialVerdict[],
  { electrical }: Constants,
): void {
  const told = trials.filter((trial) => trial.torqueFactor !== undefined);
  for (const { kind, torqueFactor, offsetError } of told) {
    all.estimate(`${path}: torque factor, ${kind}`, torqueFactor, electrical.torqueGain);
    all.estimate(`${path}: offset error, ${kind}`, offsetError, electrical.offsetError);
  }
  if (told.length === 0 && trials.length > 0)
    all.estimate(`${path}: torque factor, told by no trial`, undefined, electrical.torqueGain);
}

/** What the loop was put together from, where the recording gave it. */
function compareLoop(
  all: Contradictions,
  path: string,
  loop: LoopDocument["recordings"][number]["loop"],
  { electrical, mechanical }: Constants,
): void {
  const known: Readonly<Record<string, Estimate | undefined>> = { ...electrical, ...mechanical };
  for (const [name, quantity] of Object.entries(loop?.plant ?? {})) {
    const constant = known[name];
    if (constant === undefined || quantity === undefined) continue;
    // A number was stated, but for the torque factor, of which then the sign alone is seen.
    if (typeof quantity !== "number")
      all.estimate(`${path}: ${name} of the loop`, constant, quantity as Estimate);
    else if (name === "torqueGain" && constant.low * constant.high > 0)
      all.same(
        `${path}: sign of the torque of the loop`,
        String(Math.sign(constant.value)),
        String(Math.sign(quantity)),
      );
  }
}

/** How a runaway grows: seen in the verdict and by the loop, foretold by the forecast and by the loop. */
function compareGrowth(
  all: Contradictions,
  path: string,
  trials: readonly TrialVerdict[],
  looped: LoopDocument["recordings"][number]["report"],
  looks: LoopDocument["recordings"][number]["trials"],
): void {
  for (const { start, growth, forecast } of trials) {
    const look = looks.find((trial) => trial.start === start);
    if (growth && look?.growth) {
      all.estimate(`${path}: growth at ${start} s`, growth.growthTime, look.growth.growthTime);
      all.same(`${path}: growth at ${start} s`, `${growth.missing}`, `${look.growth.missing}`);
    }
    if (forecast === undefined || looped === undefined) continue;
    const foretold = looped.runaway?.growthTime;
    if (forecast.growthTime) all.estimate(`${path}: growth foretold`, forecast.growthTime, foretold);
    if (foretold && forecast.verdict === "tracking")
      all.same(`${path}: forecast`, "tracking", "runaway by the loop");
    if (looped.stable && looped.stableShare === 1 && forecast.verdict === "runaway")
      all.same(`${path}: forecast`, "runaway", "stable by the loop");
  }
}

async function compareStudy(
  all: Contradictions,
  paths: readonly string[],
  out: string,
  diagnosis: Diagnosis,
  fit: FitDocument,
): Promise<void> {
  await called("study", "run", ...paths, "--out", out, "--threads", "1");
  const connection = await (await DuckDBInstance.create(":memory:")).connect();
  const rows = async (sql: string) => (await connection.runAndReadAll(sql)).getRowObjectsJS();
  const trials = await rows(`SELECT * FROM '${join(out, "trials.parquet")}' WHERE trial IS NOT NULL`);
  const constants = await rows(`SELECT * FROM '${join(out, "recordings.parquet")}'`);
  connection.closeSync();
  diagnosis.recordings.forEach((one, k) => {
    // A file with several recordings names them by what stands behind its path.
    const of = trials.filter(({ recording }) => recording === one.path);
    if (of.length > 0 || one.trials.length === 0)
      all.same(
        `${one.path}: verdicts of the study`,
        text(
          one.trials.map(({ kind, verdict, confidence, causes }) => [
            ...[kind, verdict, confidence],
            ...[causes[0]?.cause ?? null, causes[0]?.probability ?? null],
          ]),
        ),
        text(of.map((t) => [t.kind, t.verdict, t.confidence, t.cause, t.cause_odds])),
      );
    const row = constants.find(({ recording, part }) => recording === one.path && part === null);
    if (row === undefined) return;
    const fitted = new Map(constantsIn(fit.recordings[k].constants));
    for (const name of studyConstants) {
      const value = row[name] as number | null;
      const given =
        value === null
          ? undefined
          : { value, low: row[`${name}_low`] as number, high: row[`${name}_high`] as number };
      all.estimate(`${one.path}: ${name} of the study`, fitted.get(name), given);
    }
  });
}
