import { largestSpeed } from "../motor/largestSpeed.js";
import { largest } from "../numeric/series/largest.js";
import type { ChannelRole, Finding, Recording } from "../recording/types.js";
import { revPerMinute } from "../units/revPerMinute.js";
import type { Corrections } from "./corrections.js";
import type { Shaft, WitnessStretch } from "./shaft.js";

/** What a finding about a channel does to all that rests on it. */
export interface Gate {
  readonly code: string;
  /** Nothing that rests on these channels is surer than this; 1 where the finding bounds nothing. */
  readonly atMost: number;
  /** Channels that it is about; `all` for the clock and lost rows. */
  readonly channels: readonly ChannelRole[] | "all";
  /** Quantities that are withheld. */
  readonly withholds?: readonly (
    | "offset"
    | "verdict"
    | "position"
    | "current"
    | "sense"
    | "answer"
    | "scale"
  )[];
  /** It stands in the first lines of every output and gives exit status 3. */
  readonly headline: boolean;
  /** Where the numbers come from. */
  readonly source: string;
}

const practice = "common practice, no source";

const commandsAndAnswers: readonly ChannelRole[] = [
  "positionCommand",
  "position",
  "speedCommand",
  "speed",
  "currentCommand",
  "current",
  "torqueCommand",
  "torque",
];

/**
 * The gates, by the code of the finding. A finding that is not listed bounds nothing: it is a note, or it is evidence
 * of a fault of the motor's set-up (line count, index spacing) that the verdict itself draws on.
 */
export const gates: readonly Gate[] = [
  // The clock and the rows.
  { code: "no-clock", atMost: 0.85, channels: "all", headline: true, source: practice },
  { code: "time-steps-back", atMost: 0.7, channels: "all", headline: true, source: practice },
  { code: "rows-lost", atMost: 0.8, channels: "all", headline: true, source: practice },
  // The rows beside those that are missing have their true stamps, so little is lost with one here and there.
  { code: "rows-missing", atMost: 0.95, channels: "all", headline: true, source: practice },
  // What follows is judged as a recording of its own; whether it is the same motor in the same state is not known.
  { code: "clock-restarts", atMost: 0.97, channels: "all", headline: true, source: practice },
  // One scale or the other is wrong, and the log does not say which.
  {
    code: "scale-open",
    atMost: 0.5,
    channels: ["speed", "position", "speedCommand", "positionCommand"],
    withholds: ["verdict", "scale"],
    headline: true,
    source: "physics: the derivative of the position is the speed",
  },
  // A unit, the lines or the clock is off by a large factor; which way the shaft turned is seen all the same.
  {
    code: "speed-impossible",
    atMost: 0.8,
    channels: ["speed", "position", "speedCommand", "positionCommand"],
    withholds: ["scale"],
    headline: true,
    source: "largest speed that an electric machine has reached",
  },
  // Speed and position agree, for the lines were taken from both; the unit of the speed itself is in doubt. What
  // follows its command does so at any scale.
  {
    code: "lines-doubtful",
    atMost: 0.9,
    channels: ["speed", "position", "speedCommand", "positionCommand"],
    withholds: ["scale"],
    headline: true,
    source: "counts a turn of usual encoders",
  },
  // Put right as far as the log tells; the sense and size of the answer rest on it.
  {
    code: "exchanged",
    atMost: 0.85,
    channels: commandsAndAnswers,
    headline: true,
    source: "physics: a mass does not step within one row",
  },
  {
    code: "exchange-open",
    atMost: 0.5,
    channels: commandsAndAnswers,
    withholds: ["answer"],
    headline: true,
    source: "physics: a mass does not step within one row",
  },
  // No shaft turns so fast.
  {
    code: "speed-implausible",
    atMost: 0.7,
    channels: ["speed", "position", "speedCommand", "positionCommand"],
    withholds: ["scale"],
    headline: true,
    source: "strength of materials: see the check",
  },
  // Counts lost on the way, a wheel for its shaft, a rounded scale: the sense and the verdict stand, an angle from the
  // counts does not.
  {
    code: "scale-doubtful",
    atMost: 0.95,
    channels: ["position"],
    withholds: ["offset"],
    headline: true,
    source: practice,
  },
  // One index pulse to the turn is the encoder's own word on its counts. What the drive makes of them is evidence of
  // its settings, which the verdict draws on.
  {
    code: "index-spacing",
    atMost: 0.97,
    channels: ["position"],
    withholds: ["offset"],
    headline: true,
    source: "physics: an index pulse comes once in a turn",
  },
  // Nor is the sense of the shaft known where the two differ in sign as well.
  {
    code: "scale-and-sign-open",
    atMost: 0.5,
    channels: ["speed", "position", "speedCommand", "positionCommand"],
    withholds: ["verdict", "scale", "answer", "offset"],
    headline: true,
    source: "physics: the derivative of the position is the speed",
  },
  // What moved and what was asked belong to different moments: neither sense nor following can be read.
  {
    code: "motion-shift-open",
    atMost: 0.5,
    channels: ["speed", "position"],
    withholds: ["answer", "offset"],
    headline: true,
    source: "physics: the derivative of the position is the speed, at the same moment",
  },
  {
    code: "position-aliased",
    atMost: 0.9,
    channels: ["speed"],
    withholds: ["offset"],
    headline: true,
    source: "sampling: a wrapped angle can be followed up to half a wrap per sample",
  },
  { code: "motion-shifted", atMost: 0.9, channels: ["speed", "position"], headline: true, source: practice },
  {
    code: "current-shift-open",
    atMost: 0.9,
    channels: ["currentCommand", "current"],
    withholds: ["answer", "current"],
    headline: true,
    source: "a current loop settles in milliseconds",
  },
  {
    code: "current-shifted",
    atMost: 0.9,
    channels: ["currentCommand", "current"],
    headline: true,
    source: "a current loop settles in milliseconds",
  },
  {
    code: "effort-unsigned",
    atMost: 0.97,
    channels: ["currentCommand", "torqueCommand", "current", "torque", "voltageCommand", "voltage", "duty"],
    withholds: ["answer"],
    headline: true,
    source: "physics: a torque of one sign does not set a free shaft turning both ways",
  },
  {
    code: "speed-unsigned",
    atMost: 0.97,
    channels: ["speed"],
    withholds: ["answer"],
    headline: true,
    source: "physics: no steady torque slows a shaft down to zero and speeds it up the same way again",
  },
  {
    code: "speed-factor",
    atMost: 0.5,
    channels: ["speed", "speedCommand"],
    withholds: ["verdict", "scale"],
    headline: true,
    source: "a loop that works holds its reference",
  },
  // The other column that moves is in no unit.
  {
    code: "speed-frozen",
    atMost: 0.6,
    channels: ["speed"],
    headline: true,
    source: "physics: the derivative of the position is the speed",
  },
  { code: "unit-corrected", atMost: 0.97, channels: ["speed", "position"], headline: true, source: practice },
  { code: "unit-likely", atMost: 0.6, channels: ["speed", "position"], headline: true, source: practice },
  // Either sign may be the wrong one, and nothing in the log tells which.
  {
    code: "speed-position-sign",
    atMost: 0.6,
    channels: ["speed", "position"],
    headline: true,
    source: practice,
  },
  // The speed column stands in: it may be filtered, late, or of the wrong sign.
  {
    code: "position-frozen",
    atMost: 0.95,
    channels: ["position", "speed"],
    withholds: ["offset"],
    headline: true,
    source: practice,
  },
  {
    code: "position-gap",
    atMost: 0.95,
    channels: ["position"],
    withholds: ["offset"],
    headline: true,
    source: practice,
  },
  {
    code: "unwrap-impossible",
    atMost: 0.6,
    channels: ["position"],
    withholds: ["offset", "position"],
    headline: true,
    source: "sampling: a wrapped angle can be followed up to half a wrap per sample",
  },
  {
    code: "missed-counts",
    atMost: 1,
    channels: ["position"],
    withholds: ["offset"],
    headline: true,
    source: "physics: the drive's angle wanders against the magnets with every count lost",
  },
  {
    code: "stuck",
    atMost: 0.8,
    channels: ["current", "torque"],
    withholds: ["current"],
    headline: true,
    source: practice,
  },
  {
    code: "current-sign",
    atMost: 0.6,
    channels: ["current"],
    withholds: ["sense"],
    headline: true,
    source: practice,
  },
  {
    code: "current-unsigned",
    atMost: 0.97,
    channels: ["current"],
    headline: true,
    source: "the sign is taken from the command",
  },
  {
    code: "clipped",
    atMost: 0.97,
    channels: ["current", "torque", "speed"],
    headline: true,
    source: practice,
  },
  // Which of the two numbers belongs to which channel is known only when the headings are put right.
  {
    code: "quantities-exchanged",
    atMost: 0.5,
    channels: ["speed", "position", "current", "speedCommand", "positionCommand", "currentCommand"],
    withholds: ["verdict", "scale", "answer", "offset", "current"],
    headline: true,
    source: "physics: the rate of a position is the speed; a measured current follows its command",
  },
  // A loop that holds its reference with the wrong sign does not exist: one of the two columns is counted the other way
  // round.
  {
    code: "reference-sign",
    atMost: 0.6,
    channels: ["speedCommand"],
    headline: true,
    source: "physics: a loop is stable about its reference, not about the opposite of it",
  },
  // Counts lost all along, or a wheel between encoder and shaft: the scale comes from the speed either way.
  {
    code: "lines-unusual",
    atMost: 1,
    channels: ["position"],
    withholds: ["offset"],
    headline: false,
    source: "counts a turn of usual encoders",
  },
  {
    code: "current-unrelated",
    atMost: 0.75,
    channels: ["current", "currentCommand"],
    withholds: ["current"],
    headline: true,
    source: "a current loop holds its command",
  },
  // By which factor it is wrong is known, but not which of the two is: its size says nothing of the drive.
  {
    code: "current-factor",
    atMost: 0.97,
    channels: ["current"],
    withholds: ["current"],
    headline: true,
    source: practice,
  },
];

const gateOf = new Map(gates.map((gate) => [gate.code, gate]));

/** The health of a recording's channels: what was found wrong, what bounds it sets, and what is withheld. */
export interface Health {
  /** Findings that gate something, the gravest first. */
  readonly troubles: readonly { readonly finding: Finding; readonly gate: Gate }[];
  /** Those that stand at the head of every output. */
  readonly headline: readonly Finding[];
  /** The most that a statement resting on these channels may claim, 0 to 1. */
  readonly atMost: (channels: readonly ChannelRole[]) => number;
  /** The finding for whose sake something is withheld, if there is one. */
  readonly withholds: (what: NonNullable<Gate["withholds"]>[number]) => Finding | undefined;
}

/** Findings about a position that stood still or was missing while the shaft turned. */
export function witnessFindings(recording: Recording, shaft: Shaft | undefined): Finding[] {
  const { position, speed } = recording.channels;
  if (shaft === undefined || position === undefined || speed === undefined) return [];
  const all = shaft.source === "speed";
  const found: readonly Pick<WitnessStretch, "why" | "from" | "to">[] = all
    ? [{ why: "frozen", from: 0, to: recording.time.length }]
    : shaft.witness;
  const out: Finding[] = [];
  for (const why of ["frozen", "gap"] as const) {
    const of = found.filter((w) => w.why === why);
    if (of.length === 0) continue;
    const longest = of.reduce((a, b) => (b.to - b.from > a.to - a.from ? b : a));
    const at = recording.time[longest.from];
    const seconds = recording.time[longest.to - 1] - at;
    const how = why === "frozen" ? "stands still" : "is missing";
    out.push({
      severity: "error",
      code: why === "frozen" ? "position-frozen" : "position-gap",
      message: all
        ? `the position stands still or is missing while "${speed.name}" turns`
        : `the position ${how} for ${Number(seconds.toPrecision(3))} s from ${Number(at.toPrecision(6))} s while "${speed.name}" turns${of.length > 1 ? ` (the longest of ${of.length} times)` : ""}`,
      value: seconds,
      unit: "s",
      meaning: `"${speed.name}" is taken for the motion there`,
      file: recording.path,
      row: longest.from + 1,
      column: position.name,
    });
  }
  return out;
}

/** The finding for a factor between speed and position that nothing explains surely. */
export function scaleFindings(
  recording: Recording,
  { unresolved, overReference, fromSet }: Corrections,
): Finding[] {
  if (overReference !== undefined)
    return [
      {
        severity: "error",
        code: "speed-factor",
        message: `the measured speed is ${Number(overReference.toPrecision(4))} times its reference in other logs of this motor, wherever that is held`,
        value: overReference,
        unit: "1",
        meaning: "state the unit of both columns and the encoder's lines",
        file: recording.path,
        column: recording.channels.speed?.name,
      },
    ];
  if (unresolved === undefined) return [];
  const tells = fromSet ? " in other logs of this motor, and none tells" : ", and the log does not tell";
  return [
    {
      severity: "error",
      code: unresolved < 0 ? "scale-and-sign-open" : "scale-open",
      message: `speed and position differ by a factor of ${Number(unresolved.toPrecision(4))}${tells} which of the two is right`,
      value: unresolved,
      unit: "1",
      meaning: "state the unit of both columns and the encoder's lines",
      file: recording.path,
      column: recording.channels.speed?.name,
    },
  ];
}

/** So much of a log's motion must be faster: single jumps of a count are none. */
const shareOfMotion = 0.02;

/** The finding for a shaft that would have turned as no machine can. */
export function impossibleSpeed({ path, channels }: Recording, shaft: Shaft | undefined): Finding[] {
  if (shaft === undefined) return [];
  const { speed } = shaft;
  let faster = 0;
  for (let i = 0; i < speed.length; i += 1) if (Math.abs(speed[i]) > largestSpeed) faster += 1;
  if (faster <= Math.max(20, shareOfMotion * speed.length)) return [];
  const top = revPerMinute(largest(speed));
  const channel = channels[shaft.source];
  return [
    {
      severity: "error",
      code: "speed-impossible",
      message: `by "${channel?.name ?? shaft.source}" the shaft turned at ${Number(top.toPrecision(2))} rev/min, which no machine reaches: its unit, the encoder's lines or the time is off by a large factor`,
      value: top,
      unit: "{rev}/min",
      meaning: "state the unit of the column and of the time, and the encoder's lines",
      file: path,
      column: channel?.name,
    },
  ];
}

/** Sorts findings into gates. */
export function healthOf(findings: readonly Finding[]): Health {
  const troubles = findings
    .flatMap((finding) => {
      const gate = gateOf.get(finding.code);
      return gate === undefined ? [] : [{ finding, gate }];
    })
    .sort((a, b) => a.gate.atMost - b.gate.atMost);
  return {
    troubles,
    headline: troubles.filter(({ gate }) => gate.headline).map(({ finding }) => finding),
    atMost: (channels) => {
      let least = 1;
      for (const { gate } of troubles)
        if (gate.channels === "all" || gate.channels.some((role) => channels.includes(role)))
          least = Math.min(least, gate.atMost);
      return least;
    },
    withholds: (what) => troubles.find(({ gate }) => gate.withholds?.includes(what))?.finding,
  };
}
