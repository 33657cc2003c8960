import type { Alignment, Bench, BenchTrace, LeadOrder, Segment } from "../../lib/index.js";
import { simulate } from "../../lib/index.js";
import { recordingFromTrace } from "../../lib/recording/fromBench.js";
import type { Channel, ChannelRole, Recording, Step, Trial } from "../../lib/recording/types.js";
import { gaussian, type SecondBench, secondRun, seeded } from "../diagnosis/secondBench.js";

/** What was really the matter with a simulated trial. Codes are those of the causes a verdict names. */
export interface Truth {
  readonly cause: string;
  /** Commutation mismatch (0 when the drive's angle turns with the magnets) and torque gain (NaN when n is not 0). */
  readonly mismatch: number;
  readonly gain: number;
  /** What each trial showed by the true motion of the shaft; `mixed` where it was neither one nor the other. */
  readonly verdicts: readonly ("blocked" | "tracking" | "reversed" | "runaway" | "mixed")[];
  readonly senses: readonly ("with" | "against" | "none")[];
}

export interface Scenario {
  readonly recording: Recording;
  readonly trials: Trial[];
  readonly truth: Truth;
  /** Which simulator made it, and the variations of the log. */
  readonly made: string;
}

/** Faults and how often each is drawn: the priors the causes are shipped with. */
export const faults: readonly (readonly [string, number])[] = [
  ["nothing-wrong", 0.28],
  ["phases-swapped", 0.2],
  ["stale-offset", 0.11],
  ["half-turn-offset", 0.06],
  ["disturbed-offset", 0.1],
  ["pole-pairs-wrong", 0.06],
  ["line-count-wrong", 0.07],
  ["open-phase", 0.03],
  ["jam", 0.04],
  ["load-or-friction", 0.03],
  ["current-not-following", 0.025],
  ["sensor-fault", 0.02],
  ["speed-loop-mistuned", 0.02],
  ["speed-sign-display", 0.01],
];

/** Faults that only the library's bench knows. */
const libraryOnly: ReadonlySet<string> = new Set([
  "sensor-fault",
  "speed-loop-mistuned",
  "speed-sign-display",
]);

export interface Motor {
  readonly polePairs: number;
  readonly resistance: number;
  readonly inductance: number;
  readonly fluxLinkage: number;
  readonly inertia: number;
  readonly coulomb: number;
  readonly viscous: number;
  readonly stiction: number;
  readonly busVoltage: number;
  readonly ratedCurrent: number;
  readonly ratedTorque: number;
  readonly ratedSpeed: number;
  readonly lines: number;
}

const lineCounts = [
  250, 256, 360, 500, 512, 720, 1000, 1024, 1250, 2000, 2048, 2500, 3600, 4096, 5000, 8192, 10000,
];

/** A motor between 20 W and 5 kW with its bench. */
export function randomMotor(random: () => number): Motor {
  const log = (low: number, high: number): number => low * (high / low) ** random();
  const power = log(20, 5000);
  const polePairs = 2 + Math.floor(random() * 13);
  const ratedSpeed = log(100, 500) * (polePairs > 8 ? 0.6 : 1);
  const ratedTorque = power / ratedSpeed;
  const buses = power < 200 ? [24, 36, 48] : power < 1000 ? [48, 72, 160, 320] : [320, 560];
  const busVoltage = buses[Math.floor(random() * buses.length)];
  const fluxLinkage = ((0.6 + 0.25 * random()) * busVoltage) / Math.sqrt(3) / (polePairs * ratedSpeed);
  const kt = 1.5 * polePairs * fluxLinkage;
  const ratedCurrent = ratedTorque / kt;
  const copper = power * (power < 200 ? log(0.08, 0.25) : log(0.03, 0.1));
  const resistance = copper / (1.5 * ratedCurrent ** 2);
  const inductance = resistance * log(0.6e-3, 8e-3);
  const inertia = (ratedTorque * log(0.006, 0.15)) / ratedSpeed;
  const coulomb = ratedTorque * log(0.01, 0.06);
  return {
    polePairs,
    resistance,
    inductance,
    fluxLinkage,
    inertia,
    coulomb,
    viscous: (ratedTorque * log(0.003, 0.04)) / ratedSpeed,
    stiction: coulomb * (1 + random()),
    busVoltage,
    ratedCurrent,
    ratedTorque,
    ratedSpeed,
    lines: lineCounts[Math.floor(random() * lineCounts.length)],
  };
}

function pickWeighted<T>(random: () => number, list: readonly (readonly [T, number])[]): T {
  let left = random() * list.reduce((sum, [, w]) => sum + w, 0);
  for (const [value, weight] of list) {
    left -= weight;
    if (left <= 0) return value;
  }
  return list[list.length - 1][0];
}

interface Faulty {
  readonly cause: string;
  readonly order: LeadOrder;
  readonly sense: 1 | -1;
  readonly setPolePairs: number;
  readonly setLines: number;
  /** Offset error, electrical rad, when n = 0. */
  readonly offset: number;
  readonly mismatch: number;
  readonly gain: number;
}

function drawFault(random: () => number, motor: Motor, cause: string): Faulty {
  const both = random() < 0.15;
  const even: LeadOrder[] = ["UVW", "VWU", "WUV"];
  const odd: LeadOrder[] = ["VUW", "UWV", "WVU"];
  const any = (list: LeadOrder[]): LeadOrder => list[Math.floor(random() * 3)];
  const right = { order: both ? any(odd) : any(even), sense: (both ? -1 : 1) as 1 | -1 };
  const plain = {
    ...right,
    cause,
    setPolePairs: motor.polePairs,
    setLines: motor.lines,
    offset: 0.06 * gaussian(random),
    mismatch: 0,
  };
  const p = motor.polePairs;
  switch (cause) {
    case "phases-swapped": {
      const byLeads = random() < 0.6;
      return {
        ...plain,
        order: byLeads ? any(odd) : any(even),
        sense: byLeads ? 1 : -1,
        mismatch: 2 * p,
        gain: Number.NaN,
      };
    }
    case "stale-offset": {
      const up = random() < 0.5;
      return {
        ...plain,
        cause: up ? "stale-offset-plus" : "stale-offset-minus",
        offset: ((up ? 1 : -1) * 2 * Math.PI) / 3 + plain.offset,
        gain: -0.5,
      };
    }
    case "half-turn-offset":
      return { ...plain, offset: Math.PI + plain.offset, gain: -1 };
    case "disturbed-offset": {
      const size = ((25 + 65 * random()) * Math.PI) / 180;
      const offset = random() < 0.5 ? size : -size;
      return { ...plain, offset, gain: Math.cos(offset) };
    }
    case "pole-pairs-wrong": {
      let d = pickWeighted(random, [
        [1, 0.6],
        [2, 0.25],
        [3, 0.15],
      ]);
      if (random() < 0.5 && p - d >= 1) d = -d;
      return { ...plain, setPolePairs: p + d, mismatch: Math.abs(d), gain: Number.NaN };
    }
    case "line-count-wrong": {
      const ratio = pickWeighted(random, [
        ["x4", 0.3],
        ["quarter", 0.2],
        ["near", 0.5],
      ]);
      const n = motor.lines;
      const near = lineCounts.filter((l) => l !== n && Math.abs(Math.log(l / n)) < Math.log(2.1));
      const setLines =
        ratio === "x4" ? 4 * n : ratio === "quarter" ? n / 4 : near[Math.floor(random() * near.length)];
      return {
        ...plain,
        cause: ratio === "near" ? "line-count-wrong" : "line-count-quadrature",
        setLines,
        mismatch: p * Math.abs(n / setLines - 1),
        gain: Number.NaN,
      };
    }
    default:
      return { ...plain, gain: cause === "open-phase" ? Number.NaN : Math.cos(plain.offset) };
  }
}

interface Program {
  readonly torque: Segment[];
  readonly speed: Segment[];
  readonly rate: number;
}

function drawProgram(random: () => number, motor: Motor, breakaway: number): Program {
  const log = (low: number, high: number): number => low * (high / low) ** random();
  const rate = Math.min(10000, log(200, 20000));
  const least = (2.2 * motor.stiction) / motor.ratedTorque;
  const current = motor.ratedCurrent * Math.max(least, log(0.12, 0.7)) * breakaway;
  const hold = Math.max(log(0.25, 1.6), 40 / rate);
  const sign = random() < 0.5 ? 1 : -1;
  const shape = pickWeighted(random, [
    ["both", 0.55],
    ["both-held", 0.1],
    ["one", 0.12],
    ["ramp", 0.1],
    ["pulses", 0.13],
  ]);
  const zero = (duration: number): Segment => ({ kind: "torque", from: 0, duration });
  const at = (value: number, duration: number): Segment => ({ kind: "torque", from: value, duration });
  const i = sign * current;
  const torque: Segment[] =
    shape === "both"
      ? [zero(0.3 * hold), at(i, hold), at(-i, 1.3 * hold), zero(0.4 * hold)]
      : shape === "both-held"
        ? [at(i, hold), at(-i, 1.5 * hold)]
        : shape === "one"
          ? [zero(0.2 * hold), at(i, 1.5 * hold), zero(0.2 * hold)]
          : shape === "ramp"
            ? [
                { kind: "torque", from: 0, to: i, duration: 0.5 * hold },
                at(i, hold),
                { kind: "torque", from: i, to: -i, duration: 0.8 * hold },
                at(-i, hold),
              ]
            : [zero(0.2 * hold), at(i, hold), zero(0.8 * hold), at(-i, hold), zero(0.5 * hold)];
  const wanted = sign * motor.ratedSpeed * (0.15 + 0.35 * random());
  const settle = Math.max(0.5, log(0.5, 1.5));
  const speed: Segment[] =
    random() < 0.7
      ? [
          { kind: "speed", from: 0, duration: 0.2 },
          { kind: "speed", from: wanted, duration: settle },
          { kind: "speed", from: -wanted, duration: settle },
        ]
      : [
          { kind: "speed", from: 0, duration: 0.1 },
          { kind: "speed", from: wanted, duration: 1.3 * settle },
        ];
  return { torque, speed, rate };
}

const length = (segments: readonly Segment[]): number => segments.reduce((s, x) => s + x.duration, 0);

function stepsOf(segments: readonly Segment[], offset: number, time: Float64Array): Step[] {
  const steps: Step[] = [];
  let t = offset;
  let last = 0;
  for (const segment of segments) {
    if (segment.kind === "torque" || segment.kind === "speed") {
      if (segment.from !== last)
        steps.push({
          at: Math.min(
            time.length - 1,
            time.findIndex((x) => x >= t),
          ),
          time: t,
          from: last,
          to: segment.from,
        });
      last = segment.to ?? segment.from;
    }
    t += segment.duration;
  }
  return steps.filter((step) => step.at > 0);
}

/** Leaves only some channels in, as logs do. */
function thinChannels(random: () => number, all: Recording["channels"]): [Recording["channels"], string] {
  const keep = pickWeighted<[string, ChannelRole[]]>(random, [
    [
      [
        "full",
        [
          "currentCommand",
          "current",
          "currentD",
          "voltageD",
          "voltageQ",
          "speed",
          "position",
          "currentU",
          "currentV",
          "currentW",
        ],
      ],
      0.2,
    ],
    [["usual", ["currentCommand", "current", "speed", "position"]], 0.42],
    [["position-only", ["currentCommand", "current", "position"]], 0.12],
    [["speed-only", ["currentCommand", "current", "speed"]], 0.12],
    [["no-command", ["current", "speed", "position"]], 0.06],
    [["no-current", ["currentCommand", "speed", "position"]], 0.08],
  ]);
  const channels: Partial<Record<ChannelRole, Channel>> = {};
  for (const role of [...keep[1], "speedCommand" as const]) if (all[role]) channels[role] = all[role];
  return [channels, keep[0]];
}

/** What the true motion showed in one stretch, read from truth alone. */
export function truthOf(
  kind: "torque" | "speed",
  segments: readonly Segment[],
  offset: number,
  time: Float64Array,
  speed: Float64Array,
  sign: number,
  scale: number,
): [Truth["verdicts"][number], Truth["senses"][number]] {
  let t = offset;
  const ends: { command: number; end: number; peak: number }[] = [];
  for (const segment of segments) {
    const value = segment.kind === "torque" || segment.kind === "speed" ? (segment.to ?? segment.from) : 0;
    const a = time.findIndex((x) => x >= t + 0.7 * segment.duration);
    const start = time.findIndex((x) => x >= t);
    let b = time.findIndex((x) => x >= t + segment.duration - 1e-9);
    if (b < 0) b = time.length;
    t += segment.duration;
    if (value === 0 || a < 0 || (segment.kind === "torque" && segment.to !== undefined)) continue;
    let sum = 0;
    let square = 0;
    for (let i = a; i < b; i += 1) {
      sum += speed[i];
      square += speed[i] ** 2;
    }
    let peak = 0;
    for (let i = start; i < b; i += 1) if (Math.abs(speed[i]) > Math.abs(peak)) peak = speed[i];
    const m = sum / (b - a);
    const rms = Math.sqrt(square / (b - a));
    const sustained =
      Math.abs(m) > 0.5 * rms && Math.abs(speed[b - 1]) > 0.1 * Math.abs(peak) && Math.abs(m) > 0.004 * scale;
    ends.push({ command: value, end: sustained ? sign * m : 0, peak: sign * peak });
  }
  if (ends.length === 0) return ["mixed", "none"];
  // Overspeed protection may have ended a runaway before the command did.
  if (
    kind === "speed" &&
    ends[0].peak * ends[0].command < 0 &&
    Math.abs(ends[0].peak) > 2 * Math.abs(ends[0].command)
  )
    return ["runaway", "against"];
  if (ends.every((e) => e.end === 0)) return ["blocked", "none"];
  if (kind === "torque") {
    if (ends.every((e) => e.end * e.command > 0)) return ["tracking", "with"];
    if (ends.every((e) => e.end * e.command < 0)) return ["reversed", "against"];
    return ["mixed", "none"];
  }
  if (ends.every((e) => Math.abs(e.end / e.command - 1) < 0.1)) return ["tracking", "with"];
  if (ends[0].end * ends[0].command < 0 && Math.abs(ends[0].end) > 0.5 * Math.abs(ends[0].command))
    return ["runaway", "against"];
  return ["mixed", "none"];
}

/** One simulated recording: a torque trial, half the time followed by a speed trial, with one fault or none. */
export function scenario(seed: number, forcedCause?: string, motorGiven?: Motor): Scenario {
  const random = seeded(seed * 7919 + 13);
  const motor = motorGiven ?? randomMotor(random);
  const cause = forcedCause ?? pickWeighted(random, faults);
  const fault = drawFault(random, motor, cause);
  const overloaded = cause === "load-or-friction";
  const program = drawProgram(random, motor, 1);
  const withSpeed = random() < 0.5;
  const speedKt = 1.5 * motor.polePairs * motor.fluxLinkage;
  const samplePeriod = 1e-4;
  const bandwidth = 15 + 45 * random();
  const kp = (motor.inertia * bandwidth) / speedKt;
  const ki = (kp * bandwidth) / 5;
  const mistuned = cause === "speed-loop-mistuned" ? Math.floor(3 * random()) : -1;
  const kpFactor = mistuned === 0 ? 12 * 5 ** random() : mistuned === 1 ? 0.01 * 6 ** random() : 1;
  const kiFactor = mistuned === 2 ? 30 * 7 ** random() : kpFactor;
  const speedTurned = cause === "speed-sign-display" && random() < 0.5;
  const noise = motor.ratedCurrent * 0.01 * (0.3 + 2 * random());
  const startAngle = random() * 2 * Math.PI;
  const second = random() < 0.3;
  const segments: Segment[] = [
    ...program.torque,
    ...(withSpeed ? [{ kind: "coast" as const, duration: 1 }, ...program.speed] : []),
  ];
  const currentLimit = motor.ratedCurrent * 1.2;
  const friction = overloaded ? 3 + 5 * random() : 1;
  const peakTorque = Math.max(...program.torque.map((s) => ("from" in s ? Math.abs(s.from) : 0))) * speedKt;
  const stiction = overloaded ? Math.max(motor.stiction, peakTorque * friction * 0.5) : motor.stiction;
  const coulomb = overloaded ? stiction * 0.9 : motor.coulomb;

  let recording: Recording;
  let truthTime: Float64Array;
  let truthSpeed: Float64Array;
  let made: string;
  if (second && !libraryOnly.has(cause)) {
    const made2 = secondScenario(random, motor, fault, program, {
      kp,
      ki,
      noise,
      startAngle,
      stiction,
      coulomb,
      currentLimit,
      cause,
    });
    recording = made2.recording;
    truthTime = made2.recording.time;
    truthSpeed = made2.truthSpeed;
    made = "second";
  } else {
    const alignment: Alignment = { kind: "disturbed", by: fault.offset };
    const bench: Bench = {
      motor: {
        polePairs: motor.polePairs,
        resistance: motor.resistance,
        inductanceD: motor.inductance,
        inductanceQ: motor.inductance * (1 + 0.3 * random()),
        fluxLinkage: motor.fluxLinkage,
        inertia: motor.inertia,
        coulombFriction: coulomb,
        viscousFriction: motor.viscous,
        staticFriction: stiction,
        cogging: { amplitude: motor.ratedTorque * 0.02 * random(), periods: 6 * motor.polePairs },
        ...(cause === "jam" ? { jammed: true } : {}),
        ...(random() < 0.1 && cause === "nothing-wrong" ? { load: 0.3 * motor.coulomb } : {}),
      },
      drive: {
        busVoltage: cause === "current-not-following" ? motor.busVoltage * 1e-4 : motor.busVoltage,
        modulation: random() < 0.8 ? "space-vector" : "sine",
        currentLimit,
        samplePeriod,
        currentBandwidth: 800 + 2500 * random(),
        polePairs: fault.setPolePairs,
        encoderLines: fault.setLines,
        speedLoop: { kp: kp * kpFactor, ki: ki * kiFactor },
        ...(cause === "speed-sign-display" && !speedTurned ? { displaySense: -1 as const } : {}),
        speedDivider: 5,
        speedFilter: 0.5e-3 + 3e-3 * random(),
        alignment,
        tunedResistance: motor.resistance * (0.8 + 0.4 * random()),
        tunedInductance: motor.inductance * (0.8 + 0.4 * random()),
      },
      encoder: {
        lines: motor.lines,
        sense: fault.sense,
        ...(cause === "sensor-fault"
          ? random() < 0.5
            ? { stuckFrom: 0 }
            : { stuckFrom: 0.4 * length(program.torque) }
          : {}),
      },
      order: fault.order,
      ...(cause === "open-phase" ? { openLead: (["U", "V", "W"] as const)[Math.floor(random() * 3)] } : {}),
    };
    const trace: BenchTrace = simulate(bench, segments, {
      logRate: program.rate,
      currentNoise: noise,
      seed,
      startAngle,
      startSpeed: 0,
    });
    recording = recordingFromTrace(trace, bench, { path: `seed-${seed}`, motor: "m" });
    truthTime = trace.time;
    truthSpeed = trace.truth.speed;
    made = "library";
  }
  const torqueEnd = length(program.torque);
  const [channels, kept] = thinChannels(random, recording.channels);
  // Half the time the logged speed alone has the wrong sign, as where a scale factor is negative; else the whole
  // display.
  if (speedTurned && channels.speed)
    Object.assign(channels, { speed: { ...channels.speed, data: channels.speed.data.map((v) => -v) } });
  // The speed commands are not always logged either, and a current command in a speed trial is the loop's, not the
  // user's.
  recording = { ...recording, channels };
  const time = recording.time;
  const index = (t: number): number => {
    const at = time.findIndex((x) => x >= t - 1e-9);
    return at < 0 ? time.length : at;
  };
  const trials: Trial[] = [
    {
      kind: "torque",
      from: 0,
      to: index(torqueEnd),
      start: 0,
      end: torqueEnd,
      ...(channels.currentCommand ? { command: "currentCommand" as const } : {}),
      steps: random() < 0.5 ? stepsOf(program.torque, 0, time) : [],
      source: "found",
    },
  ];
  const verdicts: Truth["verdicts"][number][] = [];
  const senses: Truth["senses"][number][] = [];
  const scale = motor.ratedSpeed;
  // What the log shows: a display with the sign turned shows a sound torque trial as turning against.
  const shown = cause === "speed-sign-display" && !(speedTurned && channels.position) ? -1 : 1;
  const t1 = truthOf("torque", program.torque, 0, truthTime, truthSpeed, shown * fault.sense, scale);
  verdicts.push(t1[0]);
  senses.push(t1[1]);
  if (withSpeed && made === "library") {
    const begin = torqueEnd + 1;
    trials.push({
      kind: "speed",
      from: index(begin),
      to: time.length,
      start: begin,
      end: time[time.length - 1],
      ...(channels.speedCommand ? { command: "speedCommand" as const } : {}),
      steps: [],
      source: "found",
    });
    const scaleOf = motor.lines / fault.setLines;
    const t2 = truthOf(
      "speed",
      program.speed,
      begin,
      truthTime,
      truthSpeed.map((v) => v * scaleOf),
      fault.sense,
      scale,
    );
    const mirrored = shown < 0 && t2[0] === "tracking";
    verdicts.push(mirrored ? "reversed" : t2[0]);
    senses.push(mirrored ? "against" : t2[1]);
  }
  // Without a speed trial the gains have no part in the log.
  const known = mistuned >= 0 && trials.length === 1 ? "nothing-wrong" : fault.cause;
  return {
    recording,
    trials,
    truth: { cause: known, mismatch: fault.mismatch, gain: fault.gain, verdicts, senses },
    made: `${made} ${kept} ${Math.round(program.rate)} Hz`,
  };
}

function secondScenario(
  random: () => number,
  motor: Motor,
  fault: Faulty,
  program: Program,
  how: {
    kp: number;
    ki: number;
    noise: number;
    startAngle: number;
    stiction: number;
    coulomb: number;
    currentLimit: number;
    cause: string;
  },
): { recording: Recording; truthSpeed: Float64Array } {
  const bench: SecondBench = {
    polePairs: motor.polePairs,
    resistance: motor.resistance,
    inductance: motor.inductance,
    fluxLinkage: motor.fluxLinkage,
    inertia: motor.inertia,
    coulomb: how.coulomb,
    viscous: motor.viscous,
    stiction: how.stiction,
    busVoltage: motor.busVoltage,
    currentLimit: how.currentLimit,
    currentBandwidth: 500 + 1500 * random(),
    kp: how.kp,
    ki: how.ki,
    lines: motor.lines,
    order: fault.order,
    encoderSense: fault.sense,
    setPolePairs: fault.setPolePairs,
    setLines: fault.setLines,
    // The second bench states its offset for the order UVW; take the shift of the order out again.
    offset: fault.offset,
    startAngle: how.startAngle,
    ...(how.cause === "jam" ? { jammed: true } : {}),
    ...(how.cause === "open-phase" ? { openLead: true } : {}),
    ...(how.cause === "current-not-following" ? { disabled: true } : {}),
  };
  let t = 0;
  const steps: { time: number; value: number }[] = [];
  for (const segment of program.torque) {
    steps.push({
      time: t,
      value: "to" in segment && segment.to !== undefined ? segment.to : (segment as { from: number }).from,
    });
    t += segment.duration;
  }
  const run = secondRun(
    bench,
    { kind: "torque", steps, length: t },
    {
      rate: Math.min(program.rate, 10000),
      currentNoise: how.noise,
      currentOffset: 0.01 * motor.ratedCurrent * gaussian(random),
      speedDelay: 0.004 * random(),
      speedFilter: 200 + 1000 * random(),
      speedNoise: 0.002 * motor.ratedSpeed,
      channels: [
        "currentCommand",
        "current",
        "currentD",
        "voltageD",
        "voltageQ",
        "speed",
        "position",
        "currentU",
        "currentV",
        "currentW",
      ],
      random,
    },
  );
  return {
    recording: {
      ...run.recording,
      path: "second",
      machine: { polePairs: fault.setPolePairs },
      encoder: { lines: fault.setLines },
      drive: { polePairs: fault.setPolePairs, encoderLines: fault.setLines },
    },
    truthSpeed: run.truthSpeed,
  };
}
