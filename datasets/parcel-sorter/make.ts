/**
 * Makes the shipped data set: six recordings of one drive-roller motor of a small parcel sorter, one per lead order.
 * `npx tsx datasets/parcel-sorter/make.ts` writes the files beside this script; a test remakes them and compares.
 */
import { writeFileSync } from "node:fs";
import { join } from "node:path";
import type { Alignment, Bench, BenchTrace, LeadOrder, Segment } from "../../lib/index.js";
import { simulate } from "../../lib/index.js";

const motor: Bench["motor"] = {
  polePairs: 4,
  resistance: 0.9,
  inductanceD: 1.1e-3,
  inductanceQ: 1.1e-3,
  fluxLinkage: 0.0155,
  inertia: 1.4e-4,
  coulombFriction: 0.025,
  viscousFriction: 8e-5,
  staticFriction: 0.032,
  cogging: { amplitude: 0.003, periods: 24 },
};

const drive: Omit<Bench["drive"], "alignment"> = {
  busVoltage: 48,
  modulation: "space-vector",
  currentLimit: 3,
  samplePeriod: 1e-4,
  currentBandwidth: 2500,
  polePairs: 4,
  encoderLines: 1024,
  speedLoop: { kp: 0.03, ki: 0.3 },
  speedDivider: 5,
  speedFilter: 1.5e-3,
};

/** What was done with the alignment before each order's trial. */
const alignments: Readonly<Record<LeadOrder, Alignment>> = {
  UVW: { kind: "aligned" },
  // The leads were moved on by one terminal and the alignment was not repeated.
  VWU: { kind: "stale", from: "UVW" },
  // The belt held the shaft during the alignment, which left the offset a quarter of an electrical turn away.
  WUV: { kind: "disturbed", by: (-89 * Math.PI) / 180 },
  VUW: { kind: "aligned" },
  UWV: { kind: "aligned" },
  WVU: { kind: "aligned" },
};

const torqueTrial: readonly Segment[] = [
  { kind: "torque", from: 0, duration: 0.5 },
  { kind: "torque", from: 1.2, duration: 1.4 },
  { kind: "torque", from: -1.2, duration: 2 },
  { kind: "torque", from: 0, duration: 0.6 },
];
/** The shaft runs out after a torque trial that turned it, before the speed trial begins. */
const runOut: Segment = { kind: "torque", from: 0, duration: 2 };
const speedTrial: readonly Segment[] = [
  { kind: "speed", from: 0, duration: 0.3 },
  { kind: "speed", from: 120, duration: 1 },
  { kind: "speed", from: -120, duration: 1 },
];
const stop: Segment = { kind: "torque", from: 0, duration: 0.5 };

const turned: ReadonlySet<LeadOrder> = new Set<LeadOrder>(["UVW", "VWU"]);
const duration = (segments: readonly Segment[]) =>
  segments.reduce((sum, segment) => sum + segment.duration, 0);
const rpm = 60 / (2 * Math.PI);
const fixed = (value: number, digits: number) =>
  Number.isNaN(value) ? "" : (value + 0).toFixed(digits).replace(/^-(0\.?0*)$/, "$1");

function csv(trace: BenchTrace): string {
  const lines = ["time [s],i_cmd [A],i_meas [A],speed [rev/min],position [counts],speed_cmd [rev/min]"];
  for (let i = 0; i < trace.time.length; i += 1) {
    lines.push(
      [
        fixed(trace.time[i], 3),
        fixed(trace.currentCommand[i], 2),
        fixed(trace.current[i], 3),
        fixed(trace.speed[i] * rpm, 1),
        fixed(trace.counts[i], 0),
        fixed(trace.speedCommand[i] * rpm, 1),
      ].join(","),
    );
  }
  return `${lines.join("\n")}\n`;
}

const orders: readonly LeadOrder[] = ["UVW", "VWU", "WUV", "VUW", "UWV", "WVU"];

/** The six recordings as CSV text, and the descriptor, by file name. */
export function parcelSorter(): ReadonlyMap<string, string> {
  const files = new Map<string, string>();
  const resources = orders.map((order, i) => {
    const program = turned.has(order) ? [...torqueTrial, runOut, ...speedTrial, stop] : torqueTrial;
    const bench: Bench = {
      motor,
      drive: { ...drive, alignment: alignments[order] },
      encoder: { lines: 1024, sense: 1 },
      order,
    };
    const trace = simulate(bench, program, {
      logRate: 1000,
      currentNoise: 0.03,
      seed: 4100 + i,
      startAngle: 0.35 + 0.61 * i,
    });
    const path = `order-${order.toLowerCase()}.csv`;
    files.set(path, csv(trace));
    const torqueEnd = duration(torqueTrial);
    const speedStart = torqueEnd + runOut.duration;
    const trials = [{ kind: "torque", start: 0, end: torqueEnd }];
    if (turned.has(order))
      trials.push({ kind: "speed", start: speedStart, end: speedStart + duration(speedTrial) });
    return {
      name: `order-${order.toLowerCase()}`,
      path,
      title: `Lead order ${[...order].join("-")}`,
      profile: "tabular-data-resource",
      format: "csv",
      mediatype: "text/csv",
      encoding: "utf-8",
      shaftwise: { ordering: order, trials },
      schema: { fields },
    };
  });
  const descriptor = {
    profile: "tabular-data-package",
    name: "parcel-sorter",
    title: "Six lead orders of a drive-roller motor",
    description:
      "Trials of one drive-roller motor of a small parcel sorter, simulated by the script make.ts beside this file.",
    created: "2026-11-25",
    licenses: [{ name: "CC0-1.0", title: "CC0 1.0" }],
    shaftwise: {
      motor: "roller-07",
      machine: { polePairs: 4, ratedCurrent: 3 },
      drive: {
        busVoltage: drive.busVoltage,
        modulation: drive.modulation,
        currentLimit: drive.currentLimit,
        polePairs: drive.polePairs,
        encoderLines: drive.encoderLines,
        speedLoop: drive.speedLoop,
      },
      encoder: { lines: 1024 },
    },
    resources,
  };
  files.set("datapackage.json", `${JSON.stringify(descriptor, null, 2)}\n`);
  return files;
}

const fields = [
  {
    name: "time [s]",
    type: "number",
    unit: "s",
    role: "time",
    description: "Time from the start of the log",
  },
  {
    name: "i_cmd [A]",
    type: "number",
    unit: "A",
    role: "currentCommand",
    description: "Commanded quadrature current, peak",
  },
  {
    name: "i_meas [A]",
    type: "number",
    unit: "A",
    role: "current",
    description: "Measured quadrature current, peak",
  },
  {
    name: "speed [rev/min]",
    type: "number",
    unit: "{rev}/min",
    role: "speed",
    description: "Shaft speed as the drive computes it",
  },
  {
    name: "position [counts]",
    type: "integer",
    unit: "{count}",
    role: "position",
    description: "Encoder count after quadrature, 4096 a turn",
  },
  {
    name: "speed_cmd [rev/min]",
    type: "number",
    unit: "{rev}/min",
    role: "speedCommand",
    description: "Commanded shaft speed; empty while current was commanded",
  },
];

if (process.argv[1] === import.meta.filename) {
  for (const [name, text] of parcelSorter()) writeFileSync(join(import.meta.dirname, name), text);
}
