/**
 * Makes the demo fleet: 2,000 drive-roller motors, about 2,400 recordings.
 *
 * `npx tsx datasets/parcel-sorter-fleet/make.ts` writes the stored files beside this script (constants, life table, truth and
 * a sample of recordings); `npx tsx datasets/parcel-sorter-fleet/make.ts <folder> [count]` writes the recordings, all
 * or the first `count`, one folder for each date, with `runs.csv`, `life.csv` and `truth.json`. A test remakes the
 * stored files.
 */
import { mkdirSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import type { BenchTrace } from "../../lib/motor/index.js";
import {
  type Fleet,
  type FleetRun,
  fleet,
  fleetConstants,
  programTrials,
  simulate,
} from "../../lib/simulation/index.js";

/** The seed of the shipped fleet. */
export const fleetSeed = 20260112;

const rpm = 60 / (2 * Math.PI);
const fixed = (value: number, digits: number) => (value + 0).toFixed(digits).replace(/^-(0\.?0*)$/, "$1");

/** One recording as CSV text. */
export function fleetCsv(trace: BenchTrace): string {
  const lines = ["time [s],i_cmd [A],i_meas [A],v_d [V],v_q [V],speed [rev/min],position [counts]"];
  for (let i = 0; i < trace.time.length; i += 1) {
    lines.push(
      [
        fixed(trace.time[i], 3),
        fixed(trace.currentCommand[i], 1),
        fixed(trace.current[i], 3),
        fixed(trace.voltageD[i], 2),
        fixed(trace.voltageQ[i], 2),
        fixed(trace.speed[i] * rpm, 1),
        fixed(trace.counts[i], 0),
      ].join(","),
    );
  }
  return `${lines.join("\n")}\n`;
}

/** The recording of one run, as CSV text. */
export function fleetRecording(made: Fleet, run: FleetRun): string {
  return fleetCsv(simulate(run.bench, made.program, run.simulation));
}

const field = (name: string, unit: string, role: string, type = "number") => ({ name, type, unit, role });

/** The `datapackage.json` of a folder of runs. */
export function fleetDescriptor(made: Fleet, runs: readonly FleetRun[], name: string): string {
  const { drive } = fleetConstants;
  const trials = programTrials(made.program);
  const descriptor = {
    profile: "tabular-data-package",
    name,
    title: "Torque trials of drive-roller motors of parcel sorters",
    description: "Simulated by make.ts of the parcel-sorter-fleet data set.",
    licenses: [{ name: "CC0-1.0", title: "CC0 1.0" }],
    shaftwise: {
      machine: { polePairs: fleetConstants.motor.polePairs, ratedCurrent: 3 },
      drive: {
        busVoltage: drive.busVoltage,
        modulation: drive.modulation,
        currentLimit: drive.currentLimit,
        polePairs: drive.polePairs,
        encoderLines: drive.encoderLines,
        speedLoop: drive.speedLoop,
      },
      encoder: { lines: fleetConstants.encoderLines },
      trials,
    },
    resources: runs.map((run) => ({
      name: run.recording,
      path: `${run.recording}.csv`,
      profile: "tabular-data-resource",
      format: "csv",
      mediatype: "text/csv",
      encoding: "utf-8",
      shaftwise: {
        motor: run.motor,
        ordering: run.bench.order,
        batch: run.batch,
        rig: run.rig,
        date: run.date,
      },
      schema: {
        fields: [
          field("time [s]", "s", "time"),
          field("i_cmd [A]", "A", "currentCommand"),
          field("i_meas [A]", "A", "current"),
          field("v_d [V]", "V", "voltageD"),
          field("v_q [V]", "V", "voltageQ"),
          field("speed [rev/min]", "{rev}/min", "speed"),
          field("position [counts]", "{count}", "position", "integer"),
        ],
      },
    })),
  };
  return `${JSON.stringify(descriptor, null, 1)}\n`;
}

/** Facts about each run, one line each: recording, motor, batch, rig, date. */
export function runsCsv(runs: readonly FleetRun[]): string {
  const lines = runs.map((run) =>
    [run.recording, run.motor, run.batch, run.rig, run.date, run.kind].join(","),
  );
  return `recording,motor,batch,rig,date,kind\n${lines.join("\n")}\n`;
}

/** The life table: failed after `after_h` and no later than `by_h`; an empty `by_h` means still running. */
export function lifeCsv(made: Fleet): string {
  const lines = made.lives.map((life) =>
    [
      life.motor,
      life.batch,
      life.temperature,
      life.after,
      life.by === Number.POSITIVE_INFINITY ? "" : life.by,
    ].join(","),
  );
  return `motor,batch,temperature [Cel],after [h],by [h]\n${lines.join("\n")}\n`;
}

/** Which runs are stored as a sample: the first of a few batches, the bad batch, every kind of miswiring. */
export function sampleRuns(made: Fleet): readonly FleetRun[] {
  const first = (choose: (run: FleetRun) => boolean) =>
    made.runs.find((r) => r.kind === "first" && choose(r))!;
  const wrong = new Set(made.truth.miswired.map((m) => m.motor));
  const faults = [...new Map(made.truth.miswired.map((m) => [m.fault, m.motor])).values()];
  const drifting = made.truth.drifting[made.truth.drifting.length - 1]?.motor;
  return [
    first((r) => r.batch === "B01" && !wrong.has(r.motor)),
    first((r) => r.batch === made.truth.badBatch && !wrong.has(r.motor)),
    ...faults.map((motor) => first((r) => r.motor === motor)),
    ...made.runs.filter((r) => r.motor === drifting && r.kind === "watch").slice(-1),
  ];
}

/** The stored files by name. */
export function storedFiles(): ReadonlyMap<string, string> {
  const made = fleet(fleetSeed);
  const sample = sampleRuns(made);
  const files = new Map<string, string>();
  files.set("constants.json", `${JSON.stringify({ seed: fleetSeed, ...fleetConstants }, null, 2)}\n`);
  files.set("truth.json", `${JSON.stringify(made.truth, null, 2)}\n`);
  files.set("life.csv", lifeCsv(made));
  files.set("sample/runs.csv", runsCsv(sample));
  files.set("sample/datapackage.json", fleetDescriptor(made, sample, "parcel-sorter-fleet-sample"));
  for (const run of sample) files.set(`sample/${run.recording}.csv`, fleetRecording(made, run));
  return files;
}

/** Writes recordings into a folder, one folder for each date. */
export function writeFleet(folder: string, count = Number.POSITIVE_INFINITY): number {
  const made = fleet(fleetSeed);
  const runs = made.runs.slice(0, count);
  const days = new Map<string, FleetRun[]>();
  for (const run of runs) days.set(run.date, [...(days.get(run.date) ?? []), run]);
  for (const [date, of] of days) {
    mkdirSync(join(folder, date), { recursive: true });
    writeFileSync(join(folder, date, "datapackage.json"), fleetDescriptor(made, of, `fleet-${date}`));
    for (const run of of)
      writeFileSync(join(folder, date, `${run.recording}.csv`), fleetRecording(made, run));
  }
  writeFileSync(join(folder, "runs.csv"), runsCsv(runs));
  writeFileSync(join(folder, "life.csv"), lifeCsv(made));
  writeFileSync(join(folder, "truth.json"), `${JSON.stringify(made.truth, null, 2)}\n`);
  return runs.length;
}

if (process.argv[1] === import.meta.filename) {
  const [folder, count] = process.argv.slice(2);
  if (folder === undefined) {
    for (const [name, text] of storedFiles()) {
      const path = join(import.meta.dirname, name);
      mkdirSync(dirname(path), { recursive: true });
      writeFileSync(path, text);
    }
  } else {
    const started = performance.now();
    const written = writeFleet(folder, count === undefined ? undefined : Number(count));
    console.log(`${written} recordings in ${folder}, ${((performance.now() - started) / 1000).toFixed(1)} s`);
  }
}
