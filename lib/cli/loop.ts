import type { LoopDocument, LoopRequest, RecordingLoop } from "../control/index.js";
import { jsonText, visible } from "../units/text.js";
import { commandLine } from "./commandLine.js";
import { type Command, exitStatus, UsageError } from "./io.js";
import { loopText } from "./loopText.js";
import { progressOf, startProgress } from "./progress.js";
import { readingHelp, readingOptions, readOptionsOf } from "./readingOptions.js";
import { statusOf } from "./status.js";
import { version } from "./version.js";

const help = `shaftwise loop <file or folder>... [options]

Tells what the speed loop (and the position loop) does with the motor of each
recording and what it should do: stability and margins with their spread, the
offset error it bears, the gains in use, the runaway's growth, and gains to
start from. Motor constants come from the recording itself unless stated here.

Gains (parallel form, A peak per rad/s of the shaft, unless --form says else)
  --kp <number>          proportional gain
  --ki <number>          integral gain; with --form ideal give --ti instead
  --ti <seconds>         integral time (samples, with --form sampled)
  --weight <0..1>        reference weight b; 1 is the plain PI
  --form <words>         comma list that says how to read them: ideal, rpm,
                         electrical, rms, torque, sampled
  --position-gain <1/s>  position controller around the speed loop
Drive
  --sample-time <s>      sample time of the speed loop
  --delay <s>            from sampling to the new current; one sample if absent
  --current-bandwidth <rad/s>  bandwidth of the closed current loop
  --speed-filter <rad/s> bandwidth of the filter on the measured speed
  --difference           speed is the position change over one sample
  --current-limit <A>    largest current the drive gives, A peak
  --counts <number>      encoder counts per turn (four times the lines)
Motor (instead of what the recording gives)
  --inertia <kg.m2>      of shaft and rotor
  --torque-constant <N.m/A>  torque per A peak
  --torque-gain <number> share of the torque left by an offset error; below 0
                         it is reversed
  --viscous <N.m.s/rad>  viscous friction
  --coulomb <N.m>        Coulomb friction
Proposals
  --ms <number>          limit on the sensitivity peak (1.6)
  --bandwidth <rad/s>    natural frequency for pole placement
  --step <rad/s>         height of the speed step the figures are for
  --no-proposals         leave them out
Output
  --json                 one JSON document; its JSON Schema ships with the
                         package: shaftwise/schema/loop.schema.json
${readingHelp.replace(/^.{23}/gm, "$&  ")}
  --help                 this text

Examples
  shaftwise loop bench/monday --sample-time 5e-4 --difference
  shaftwise loop run.csv --kp 0.002 --ti 0.02 --form ideal,rpm
  shaftwise loop run.csv --kp 0.03 --ki 0.3 --json

Exit status: 0 done; 2 wrong usage; 3 some input could not be read, or what
was read contradicts itself.
Proposed gains are starting points to be tried with reduced limits, never
settings cleared to run.
`;

/** `shaftwise loop`: recordings in, what their loops do out. */
export const run: Command = async (args, io) => {
  const { values, paths } = commandLine("loop", withNegatives(args), {
    json: { type: "boolean" },
    help: { type: "boolean", short: "h" },
    form: { type: "string" },
    difference: { type: "boolean" },
    "no-proposals": { type: "boolean" },
    ...readingOptions,
    kp: { type: "string" },
    ki: { type: "string" },
    ti: { type: "string" },
    weight: { type: "string" },
    "position-gain": { type: "string" },
    "sample-time": { type: "string" },
    delay: { type: "string" },
    "current-bandwidth": { type: "string" },
    "speed-filter": { type: "string" },
    "current-limit": { type: "string" },
    counts: { type: "string" },
    inertia: { type: "string" },
    "torque-constant": { type: "string" },
    "torque-gain": { type: "string" },
    viscous: { type: "string" },
    coulomb: { type: "string" },
    ms: { type: "string" },
    bandwidth: { type: "string" },
    step: { type: "string" },
  });
  if (values.help) {
    io.out(help);
    return exitStatus.done;
  }
  if (paths.length === 0) throw new UsageError("loop needs at least one file or folder");
  const numbers = numbersOf(values);
  const request = await requestOf(numbers, values);
  const progress = startProgress(io);
  const { analyseFiles } = await import("../analysis/analyseFiles.js");
  const analysis = await analyseFiles(paths, {
    reading: readOptionsOf(values),
    parts: { verdicts: false, loop: request },
    version: version(),
    ...progressOf(progress, "analysing files"),
  });
  progress.stop();
  refuseUnanswerable(analysis.recordings.flatMap(({ loop }) => loop ?? []));
  const document: LoopDocument = {
    version: version(),
    recordings: analysis.recordings.flatMap(({ loop, assumptions, verdicts: { attention, findings } }) =>
      loop ? [{ ...loop, ...(attention ? { attention } : {}), findings, assumptions }] : [],
    ),
    problems: analysis.problems,
  };
  if (values.json) io.out(`${jsonText(document)}\n`);
  else io.out(loopText(document, io));
  return statusOf(analysis);
};

/** A request that lacks a number for every recording, as a form of the gains may that needs pole pairs, is wrong
 * usage. */
function refuseUnanswerable(loops: readonly RecordingLoop[]): void {
  const [first] = loops;
  if (first?.problem !== undefined && loops.every((l) => l.problem && Object.keys(l.sources).length === 0))
    throw new UsageError(first.problem);
}

/** What was asked of the loop, held against the words it may use before anything is read. */
async function requestOf(
  numbers: Numbers,
  values: { form?: string; difference?: boolean; "no-proposals"?: boolean },
): Promise<LoopRequest> {
  if (values.difference && numbers["sample-time"] === undefined)
    throw new UsageError("--difference needs --sample-time");
  const form = (values.form ?? "")
    .split(",")
    .map((word) => word.trim())
    .filter((word) => word !== "");
  const { kp, ki, ti, weight } = numbers;
  const request: LoopRequest = {
    settings: settingsOf(numbers, values.difference === true),
    gains: {
      ...(kp === undefined ? {} : { kp }),
      ...(ki === undefined ? {} : { ki }),
      ...(ti === undefined ? {} : { ti }),
      ...(weight === undefined ? {} : { weight }),
      form,
    },
    withoutProposals: values["no-proposals"] === true,
    proposals: {
      ...(numbers.ms === undefined ? {} : { sensitivityLimit: numbers.ms }),
      ...(numbers.bandwidth === undefined ? {} : { frequency: numbers.bandwidth }),
      ...(numbers.step === undefined ? {} : { stepSize: numbers.step }),
    },
  };
  const { requestedLoop } = await import("../control/fromRun/loopRequest.js");
  try {
    // With every fact there is: what is still wrong is wrong for any recording.
    requestedLoop(request, {
      drive: { speedSampleTime: 1e-3 },
      machine: { polePairs: 1, torqueConstant: 1 },
    });
  } catch (error) {
    if (error instanceof RangeError) throw new UsageError(error.message);
    throw error;
  }
  return request;
}

const numeric = [
  "kp",
  "ki",
  "ti",
  "weight",
  "position-gain",
  "sample-time",
  "delay",
  "current-bandwidth",
  "speed-filter",
  "current-limit",
  "counts",
  "inertia",
  "torque-constant",
  "torque-gain",
  "viscous",
  "coulomb",
  "ms",
  "bandwidth",
  "step",
] as const;
type Numbers = Partial<Record<(typeof numeric)[number], number>>;

/** `--torque-gain -0.5` as `--torque-gain=-0.5`: the argument parser would take the number for an option. */
function withNegatives(args: readonly string[]): string[] {
  const joined: string[] = [];
  for (let k = 0; k < args.length; k++) {
    if (/^--[a-z-]+$/.test(args[k]) && /^-[\d.]/.test(args[k + 1] ?? "")) {
      joined.push(`${args[k]}=${args[k + 1]}`);
      k++;
    } else joined.push(args[k]);
  }
  return joined;
}

function numbersOf(values: Readonly<Record<string, unknown>>): Numbers {
  const found: Numbers = {};
  for (const name of numeric) {
    const text = values[name];
    if (typeof text !== "string") continue;
    const number = Number(text);
    if (text.trim() === "" || !Number.isFinite(number))
      throw new UsageError(`--${name} needs a number, found "${visible(text)}"`);
    const above = name !== "torque-gain" && name !== "weight" && name !== "kp" && name !== "ki";
    const mayBeZero =
      name === "delay" || name === "viscous" || name === "coulomb" || name === "position-gain";
    if (above && (mayBeZero ? number < 0 : number <= 0))
      throw new UsageError(`--${name} must be above 0, found ${number}`);
    if (name === "weight" && (number < 0 || number > 1))
      throw new UsageError(`--weight must be from 0 to 1, found ${number}`);
    found[name] = number;
  }
  if (found.ms !== undefined && found.ms <= 1)
    throw new UsageError(`--ms must be above 1, found ${found.ms}`);
  if ((found.kp === undefined) !== (found.ki === undefined && found.ti === undefined))
    throw new UsageError("--kp goes with --ki (or with --ti for the ideal form)");
  return found;
}

function settingsOf(numbers: Numbers, difference: boolean): NonNullable<LoopRequest["settings"]> {
  const all = {
    currentBandwidth: numbers["current-bandwidth"],
    sampleTime: numbers["sample-time"],
    computationDelay: numbers.delay,
    speedFilter: numbers["speed-filter"],
    positionGain: numbers["position-gain"],
    currentLimit: numbers["current-limit"],
    countsPerTurn: numbers.counts,
    inertia: numbers.inertia,
    torqueConstant: numbers["torque-constant"],
    torqueGain: numbers["torque-gain"],
    viscousFriction: numbers.viscous,
    coulombFriction: numbers.coulomb,
    speedMeasurement: difference ? ("difference" as const) : undefined,
  };
  return Object.fromEntries(Object.entries(all).filter(([, value]) => value !== undefined));
}
