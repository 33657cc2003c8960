import type { LoopDocument, LoopRequest, RecordingLoop } from "../control/index.js";
import { findingText } from "../recording/findingText.js";
import type { Estimate } from "../units/estimate.js";
import { secondsText, sentence, stopped } from "../units/forPeople.js";
import { jsonText, visible } from "../units/text.js";
import { commandLine } from "./commandLine.js";
import { type Command, exitStatus, type Io, UsageError } from "./io.js";
import { attentionLines, pageWidth, paint, paragraph, table } from "./layout.js";
import { startProgress } from "./progress.js";
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
    parts: { loop: request },
    version: version(),
    progress: (done, total) => progress.show(`analysing ${total} files: ${done} done`),
  });
  progress.stop();
  refuseUnanswerable(analysis.recordings.flatMap(({ loop }) => loop ?? []));
  const document: LoopDocument = {
    version: version(),
    recordings: analysis.recordings.flatMap(({ loop, verdicts: { attention, findings } }) =>
      loop ? [{ ...loop, ...(attention ? { attention } : {}), findings }] : [],
    ),
    problems: analysis.problems,
  };
  if (values.json) io.out(`${jsonText(document)}\n`);
  else io.out(loopText(document, io));
  return statusOf(analysis);
};

/** A request that lacks a number for every recording, as a form of the gains may that needs pole pairs, is wrong usage. */
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

/** The document as a person reads it, at the width of the terminal. */
function loopText(document: LoopDocument, io: Pick<Io, "color" | "columns">): string {
  const width = pageWidth(io);
  const blocks = document.recordings.map((r) => recordingText(r, io, width));
  for (const p of document.problems)
    blocks.push(paragraph(visible(findingText(p), 800), width, `${p.severity}: `));
  if (document.recordings.length === 0 && blocks.length === 0) blocks.push("no recordings were found");
  return `${blocks.join("\n\n")}\n`;
}

function recordingText(r: RecordingLoop, io: Pick<Io, "color">, width: number): string {
  const lines: string[] = [];
  const name = [visible(r.path, 60), r.ordering, r.motor ? visible(r.motor, 30) : undefined]
    .filter(Boolean)
    .join("  ");
  lines.push(paint(io, "strong", name), ...attentionLines(r.attention, width));
  if (r.problem) lines.push(paragraph(stopped(visible(r.problem, 300)), width, "  problem: "));
  for (const m of r.missing) lines.push(paragraph(stopped(m), width, "  missing: "));
  const { report, loop } = r;
  if (report && loop) {
    lines.push("");
    const rows: string[][] = [];
    const add = (label: string, text: string): void => void rows.push([`  ${label}`, text]);
    add(
      "gains",
      `kp ${short(loop.gains.kp)} A per rad/s, ki ${short(loop.gains.ki)} A/rad${
        loop.gains.referenceWeight === undefined ? "" : `, weight ${short(loop.gains.referenceWeight)}`
      } (${r.sources.gains?.split(":")[0] ?? "given"})`,
    );
    add("loop", report.stable ? paint(io, "good", "stable") : paint(io, "bad", "not stable"));
    if (report.stableShare > 0 && report.stableShare < 1)
      add("over the spread", `${(100 * report.stableShare).toFixed(0)} % of the loops drawn are stable`);
    if (report.runaway) {
      add("runaway", `grows by e every ${estimateText(report.runaway.growthTime, "s")}`);
      add("", sentence(report.runaway.text));
    }
    const m = report.margins;
    if (m) {
      // Without any delay in the model its margins are those of a loop that no sampled drive can be.
      const best = loop.sampleTime === undefined && loop.computationDelay === undefined ? "at best " : "";
      add(
        "gain margin",
        m.gainMargin ? `${best}${estimateText(m.gainMargin, "")} times` : "no limit in this model",
      );
      if (m.gainReduction) add("gain may fall to", `${estimateText(m.gainReduction, "")} times`);
      add("phase margin", m.phaseMargin ? `${best}${estimateText(m.phaseMargin, "deg")}` : "no unit gain");
      if (m.delayMargin) add("delay margin", `${best}${estimateText(m.delayMargin, "s")}`);
      if (m.crossover) add("crossover", estimateText(m.crossover, "rad/s"));
      add(
        "peak Ms / Mt",
        `${estimateText(m.sensitivityPeak, "")} / ${estimateText(m.complementaryPeak, "")}`,
      );
    }
    const pm = report.positionMargins;
    if (pm?.phaseMargin)
      add(
        "position loop",
        `phase margin ${estimateText(pm.phaseMargin, "deg")}, Ms ${estimateText(pm.sensitivityPeak, "")}`,
      );
    const [pole] = report.poles;
    if (pole)
      add(
        "slowest pole",
        `${short(pole.re)}${pole.im === 0 ? "" : ` ± ${short(Math.abs(pole.im))}j`} rad/s, damping ${short(pole.damping)}`,
      );
    add("offset error", sentence(report.offset.text));
    for (const c of report.limitCycles) add("limit cycle", sentence(c.text));
    if (report.noise)
      add(
        "noise",
        `${short(report.noise.gain)} A RMS per rad/s RMS of speed noise${
          report.noise.rippleFromCounts === undefined
            ? ""
            : `; ${short(report.noise.rippleFromCounts)} A RMS from encoder counts`
        }`,
      );
    if (r.prediction) {
      const { linear, real, stepSize } = r.prediction;
      add(
        `step ${short(stepSize)} rad/s`,
        `rise ${time(linear.rise)}, overshoot ${percent(linear.overshoot)}, settles in ${time(linear.settling)}; with limits and friction: rise ${time(real.rise)}, overshoot ${percent(real.overshoot)}, peak ${short(real.peakCurrent)} A`,
      );
    }
    lines.push(table(rows, width), "");
    for (const a of report.assumptions) lines.push(paragraph(stopped(a), width, "  assumed: "));
  }
  for (const n of r.notes) lines.push(paragraph(stopped(n), width, "  timing: "));
  for (const m of r.mixups)
    lines.push(paragraph(`Stated and used gains differ as if ${m.text}.`, width, "  mix-up: "));
  for (const trial of r.trials) {
    lines.push("", `  Speed trial, ${secondsText(trial.start)} to ${secondsText(trial.end)} s`);
    const g = trial.gainsInUse;
    lines.push(
      paragraph(
        g.kp && g.ki
          ? `kp ${estimateText(g.kp, "A per rad/s")}, ki ${estimateText(g.ki, "A/rad")}.`
          : `not seen: ${(g.missing ?? "unknown").replace(/\.$/, "")}.`,
        width,
        "    gains in use: ",
      ),
    );
    for (const f of g.findings) lines.push(paragraph(findingText(f), width, `    ${f.severity}: `));
    lines.push(paragraph(sentence(trial.saturation.text), width, "    "));
    if (trial.comparison) lines.push(paragraph(sentence(trial.comparison.text), width, "    "));
    // A runaway answers no step.
    const answered = report?.runaway === undefined ? trial.steps : [];
    if (answered.length > 0) lines.push(stepTable(answered, width));
    for (const s of answered)
      if (s.predicted) lines.push(paragraph(`${stepName(s)}: ${s.text.replace(/\.$/, "")}.`, width, "    "));
    if (trial.growth)
      lines.push(
        paragraph(
          trial.growth.growthTime
            ? `grew by e every ${estimateText(trial.growth.growthTime, "s")}: ${trial.growth.agrees ? "as predicted" : "not as predicted"}`
            : `growth not seen: ${trial.growth.missing ?? "unknown"}`,
          width,
          "    ",
        ),
      );
    if (trial.saturatedRunaway) lines.push(paragraph(sentence(trial.saturatedRunaway.text), width, "    "));
  }
  if (r.proposals) {
    const { proposals, missing } = r.proposals;
    if (proposals.length > 0) {
      lines.push("", "  Gains to start from");
      const rows = [["    rule", "kp", "ki", "b", "rise", "over", "peak", "PM", "Ms"]];
      for (const p of proposals) {
        const m = p.report.margins;
        rows.push([
          `    ${p.rule}`,
          short(p.gains.kp),
          short(p.gains.ki),
          short(p.gains.referenceWeight),
          time(p.checked.rise),
          percent(p.checked.overshoot),
          `${short(p.checked.peakCurrent)} A`,
          m?.phaseMargin ? `${m.phaseMargin.low.toFixed(0)} deg` : "-",
          m ? m.sensitivityPeak.high.toFixed(2) : "-",
        ]);
      }
      lines.push(table(rows, width));
      lines.push(
        paragraph(
          `kp in A per rad/s, ki in A/rad, b reference weight; rise, overshoot and peak of a step of ${short(proposals[0].stepSize)} rad/s with limits; PM the least phase margin and Ms the highest sensitivity peak over the spread.`,
          width,
          "    ",
        ),
      );
      for (const p of proposals)
        if (p.checked.text !== "the real loop does as the linear one")
          lines.push(paragraph(p.checked.text, width, `    ${p.rule}: `));
      lines.push(...benchText(proposals, io, width));
    }
    lines.push("");
    for (const a of r.proposals.assumed ?? []) lines.push(paragraph(stopped(a), width, "  assumed: "));
    for (const m of missing) lines.push(paragraph(stopped(m), width, "  no proposal: "));
    if (proposals.length > 0) lines.push(paragraph(proposals[0].caution, width, "  caution: "));
  }
  return lines.join("\n");
}

type Step = RecordingLoop["trials"][number]["steps"][number];

const stepName = (s: { readonly from: number; readonly to: number }): string =>
  `${short(s.from)} to ${short(s.to)} rad/s`;

/** The steps of a speed trial: measured, the best of the response shapes, and the model of the loop. */
function stepTable(steps: readonly Step[], width: number): string {
  const rows = [["    step of reference", "rise", "overshoot", "settles", "fit index", "residuals"]];
  for (const s of steps) {
    const figures = (f: Step["measured"]): string[] => [
      time(f.rise?.value),
      f.overshoot === undefined
        ? "-"
        : f.overshoot.value > 200
          ? "over 200 %"
          : `${f.overshoot.value.toFixed(0)} %`,
      time(f.settling?.value),
    ];
    const agreement = (a: { readonly fitIndex: number; readonly white: boolean }): string[] => [
      a.fitIndex.toFixed(2),
      a.white ? "white" : "not white",
    ];
    rows.push([`    ${stepName(s)}`], ["      measured", ...figures(s.measured), "", ""]);
    if (s.predicted)
      rows.push(["      model of the loop", ...figures(s.predicted), ...agreement(s.predicted)]);
    if (s.fitted)
      rows.push([`      ${s.fitted.shape.replaceAll("-", " ")}`, "", "", "", ...agreement(s.fitted)]);
  }
  return table(rows, width);
}

type Proposal = NonNullable<RecordingLoop["proposals"]>["proposals"][number];

/** What the bench simulator makes of the proposals, and which of them it does not bear out. */
function benchText(proposals: readonly Proposal[], io: Pick<Io, "color">, width: number): string[] {
  const steps = proposals.find((p) => p.bench)?.bench?.steps ?? [];
  const lines: string[] = [];
  for (const [k, step] of steps.entries()) {
    lines.push("", `  The same on the bench simulator, a step of ${stepName(step)}`);
    const rows = [["    rule", "rise", "overshoot", "settles", "peak", "at its limit"]];
    for (const p of proposals) {
      const s = p.bench?.steps[k];
      if (s === undefined) continue;
      rows.push([
        `    ${p.rule}`,
        time(s.rise),
        percent(s.overshoot),
        time(s.settling),
        `${short(s.peakCurrent)} A`,
        limits(s),
      ]);
    }
    lines.push(table(rows, width));
  }
  for (const p of proposals)
    if (p.bench && !p.bench.passed)
      lines.push(
        paragraph(
          `${paint(io, "bad", "not borne out")}: ${p.bench.text}; lower gains did not help`,
          width,
          `    ${p.rule}: `,
        ),
      );
  return lines;
}

function limits(s: { readonly currentLimitShare: number; readonly voltageLimitShare?: number }): string {
  const said = [
    ...(s.currentLimitShare > 0.01 ? [`current ${percent(s.currentLimitShare)}`] : []),
    ...((s.voltageLimitShare ?? 0) > 0.01 ? [`voltage ${percent(s.voltageLimitShare as number)}`] : []),
  ];
  return said.length === 0 ? "none" : said.join(", ");
}

const short = (x: number): string => {
  if (!Number.isFinite(x)) return "-";
  const text = x.toPrecision(3);
  return text.includes("e") ? text : String(Number(text));
};

const percent = (share: number): string => `${(100 * share).toFixed(0)} %`;

const time = (seconds: number | undefined): string =>
  seconds === undefined ? "-" : seconds < 1 ? `${short(1000 * seconds)} ms` : `${short(seconds)} s`;

/** A value with its interval where there is one: `66.3 (66.1 to 66.6) deg`. */
function estimateText(e: Estimate, unit: string): string {
  const inMs = unit === "s" && Math.abs(e.value) < 1;
  const f = inMs ? 1000 : 1;
  const shown = inMs ? "ms" : unit;
  const range =
    e.low === e.high
      ? ""
      : ` (${short(e.low * f)} to ${Number.isFinite(e.high) ? short(e.high * f) : "never"})`;
  return `${short(e.value * f)}${range}${shown === "" ? "" : ` ${shown}`}`;
}
