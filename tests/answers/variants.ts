/**
 * Recordings of other cases, each changed in one way: cut short, rounded so coarsely that values meet their limits
 * exactly, without a column, with other facts, against their sense, of open meaning. What is answered to them stands as
 * a few letters for each question: they are many, and show states that no recording of a whole trial has.
 */
import type { LeadOrder } from "../../lib/motor/facts.js";
import type { Channel, ChannelRole, Recording, TrialKind } from "../../lib/recording/types.js";
import { uniforms } from "../house/uniforms.js";
import { lettersByQuestion } from "./answerLines.js";
import { answersOf } from "./answersOf.js";
import { bench, type Case, dc, joint, rig, servo } from "./cases.js";
import { deeperIn } from "./deeper.js";
import { inLetters, routesOf } from "./routes.js";

type Change = (recording: Recording) => Recording;
type Values = (data: Float64Array, role: ChannelRole) => Float64Array;

const largest = (data: Float64Array): number => data.reduce((most, v) => Math.max(most, Math.abs(v)), 0);

/** Every channel changed. */
const values =
  (of: Values): Change =>
  (recording) => ({
    ...recording,
    channels: Object.fromEntries(
      Object.entries(recording.channels).map(([role, c]) => [
        role,
        { ...c, data: of(c.data, role as ChannelRole), resolution: undefined },
      ]),
    ),
  });

/** Some channels changed, the others left. */
const some = (roles: readonly ChannelRole[], of: (data: Float64Array) => Float64Array): Change =>
  values((data, role) => (roles.includes(role) ? of(data) : data));

const rows =
  (keep: (i: number, n: number) => boolean): Change =>
  (recording) => {
    const at = [...recording.time.keys()].filter((i) => keep(i, recording.time.length));
    const take = (data: Float64Array): Float64Array => Float64Array.from(at, (i) => data[i]);
    return { ...values(take)(recording), time: take(recording.time) };
  };

const clock =
  (of: (t: number, i: number, n: number) => number): Change =>
  (recording) => ({ ...recording, time: recording.time.map((t, i) => of(t, i, recording.time.length)) });

const without =
  (...roles: ChannelRole[]): Change =>
  (recording) => ({
    ...recording,
    channels: Object.fromEntries(
      Object.entries(recording.channels).filter(([role]) => !roles.includes(role as ChannelRole)),
    ),
  });

const called =
  (from: ChannelRole, to: ChannelRole): Change =>
  (recording) => {
    const { [from]: found, ...channels } = recording.channels;
    return found ? { ...recording, channels: { ...channels, [to]: { ...found, role: to } } } : recording;
  };

const facts =
  (more: Partial<Recording>): Change =>
  (recording) => ({
    ...recording,
    machine: { ...recording.machine, ...more.machine },
    drive: { ...recording.drive, ...more.drive },
    encoder: { ...recording.encoder, ...more.encoder },
  });

const declared =
  (kind: TrialKind): Change =>
  (recording) => ({
    ...recording,
    declaredTrials: [{ kind, start: Number.NEGATIVE_INFINITY, end: Number.POSITIVE_INFINITY }],
  });

const inTurn =
  (...changes: Change[]): Change =>
  (recording) =>
    changes.reduce((now, change) => change(now), recording);

/** Channels moved to where no scale, no clock or no meaning is known. */
const unscaled =
  (roles: readonly ChannelRole[], unit: string, factor: number): Change =>
  (recording) => {
    const { channels } = recording;
    const moved = Object.entries(channels)
      .filter(([role]) => roles.includes(role as ChannelRole))
      .map(([role, c]): [string, Channel] => [
        role,
        { ...c, sourceUnit: unit, data: c.data.map((v) => Math.round(v * factor)) },
      ]);
    return { ...without(...roles)(recording), unscaled: Object.fromEntries(moved) };
  };
const unclocked: Change = (recording) => ({
  ...recording,
  clock: "rows",
  time: recording.time.map((_, i) => i),
  channels: {},
  unclocked: recording.channels,
});
/** Columns that may be one thing or another, the first more likely. */
const open =
  (...pairs: readonly (readonly [ChannelRole, ChannelRole, number])[]): Change =>
  (recording) => {
    const found = pairs.filter(([role]) => recording.channels[role] !== undefined);
    return {
      ...without(...pairs.map(([role]) => role))(recording),
      open: Object.fromEntries(
        found.map(([role], k) => [`column ${k + 1}`, recording.channels[role]?.data ?? new Float64Array()]),
      ),
      understanding: found.map(([role, other, probability], k) => ({
        index: k,
        column: `column ${k + 1}`,
        role,
        probability,
        why: [{ kind: "numbers", text: "made" }],
        runnerUp: { role: other, probability: 0.8 * (1 - probability) },
        unused: "open",
      })),
    };
  };

const coarsely = (levels: number): Change =>
  inTurn(
    values((data) => {
      const step = 2 ** Math.ceil(Math.log2(largest(data) / levels || 1));
      return data.map((v) => step * Math.round(v / step));
    }),
    clock((_, i) => i / 128),
  );

/** At most so many rows, evenly spread. */
const thinned = (most: number): Change => rows((i, n) => i % Math.max(1, Math.ceil(n / most)) === 0);

const raised =
  (share: number) =>
  (data: Float64Array): Float64Array => {
    const by = share * largest(data);
    return data.map((v) => v + by);
  };
const inParts = (data: Float64Array): Float64Array => {
  const most = largest(data) || 1;
  return data.map((v) => v / most);
};

/** Noise of a range. */
const shaken =
  (range: number) =>
  (data: Float64Array): Float64Array => {
    const random = uniforms(17);
    const wide = range * largest(data);
    return data.map((v) => v + wide * (random() - 0.5));
  };
const motions: readonly ChannelRole[] = ["speed", "position"];
const commands: readonly ChannelRole[] = [
  "currentCommand",
  "speedCommand",
  "positionCommand",
  "torqueCommand",
  "voltageCommand",
];

const changes: Readonly<Record<string, Change>> = {
  "as it is": (recording) => recording,
  "nine rows": thinned(9),
  "the first 24 rows": rows((i) => i < 24),
  "a third": rows((i, n) => 3 * i < n),
  "the last half": rows((i, n) => 2 * i >= n),
  "four levels": coarsely(4),
  "sixteen levels": coarsely(16),
  "a clock of even steps": clock((_, i) => i / 64),
  "a slow clock": clock((t) => 30 * t),
  "a quick clock": clock((t) => t / 25),
  "an uneven clock": clock((t, i) => t + (i % 2 === 0 ? 0 : 4e-4)),
  "a pause": clock((t, i, n) => t + (2 * i > n ? 5 : 0)),
  "no motion but speed": without("position"),
  "no motion but position": without("speed"),
  "no command": without(...commands),
  "no current": without("current"),
  "no voltages": without("voltageQ", "voltageD", "voltageBus", "voltage"),
  "no torque": without("torque"),
  "turned motion": some(motions, (data) => data.map((v) => -v)),
  "turned current": some(["current", "torque"], (data) => data.map((v) => -v)),
  "turned command": some(commands, (data) => data.map((v) => -v)),
  "speed without its sign": some(["speed"], (data) => data.map(Math.abs)),
  "position within a turn": some(["position"], (data) =>
    data.map((v) => v - 2 * Math.PI * Math.floor(v / (2 * Math.PI))),
  ),
  "still motion": some(motions, (data) => data.map(() => data[0])),
  "motion still from the middle": some(motions, (data) =>
    data.map((v, i) => (2 * i < data.length ? v : data[data.length >> 1])),
  ),
  "motion of zero": some(motions, (data) => data.map(() => 0)),
  "current of zero": some(["current"], (data) => data.map(() => 0)),
  "command of zero": some(commands, (data) => data.map(() => 0)),
  "a motion that drifts": some(motions, (data) => {
    const most = largest(data);
    return data.map((v, i) => v + (3 * most * i) / data.length);
  }),
  "current off zero": some(["current"], raised(0.3)),
  "speed off zero": some(["speed"], raised(0.2)),
  "noise on the motion": some(motions, shaken(0.2)),
  "noise on the current": some(["current"], shaken(0.6)),
  "a large machine": values((data, role) =>
    data.map((v) => v * (motions.includes(role) || role === "speedCommand" ? 0.05 : 60)),
  ),
  "a small machine": values((data, role) =>
    data.map((v) => v * (motions.includes(role) || role === "speedCommand" ? 12 : 0.01)),
  ),
  holes: values((data) => data.map((v, i) => (i % 9 === 4 ? Number.NaN : v))),
  "holes in the motion": some(motions, (data) =>
    data.map((v, i) => (i > 0.3 * data.length && i < 0.5 * data.length ? Number.NaN : v)),
  ),
  clipped: values((data) => {
    const most = 0.6 * largest(data);
    return data.map((v) => Math.max(-most, Math.min(most, v)));
  }),
  "current as torque": inTurn(called("current", "torque"), called("currentCommand", "torqueCommand")),
  "current command as a voltage": called("currentCommand", "voltageCommand"),
  "speed command as a duty": inTurn(
    called("speedCommand", "duty"),
    some(["duty"], (data) => inParts(data)),
  ),
  "facts of a small motor": facts({
    machine: {
      polePairs: 4,
      resistance: 0.8,
      inductanceD: 8e-4,
      inductanceQ: 9e-4,
      torqueConstant: 0.08,
      inertia: 4e-5,
      ratedCurrent: 4,
      ratedSpeed: 300,
      coulombFriction: 0.01,
      staticFriction: 0.02,
      viscousFriction: 1e-5,
    },
    drive: {
      busVoltage: 24,
      currentLimit: 5,
      encoderLines: 1024,
      polePairs: 4,
      speedLoop: { kp: 0.1, ki: 2 },
      currentBandwidth: 3000,
      speedSampleTime: 5e-4,
      modulation: "sine",
    },
    encoder: { lines: 1024 },
  }),
  "facts of a large motor": facts({
    machine: {
      polePairs: 2,
      resistance: 0.02,
      torqueConstant: 1.5,
      inertia: 0.2,
      ratedCurrent: 200,
      ratedTorque: 300,
      fluxLinkage: 0.4,
    },
    drive: {
      busVoltage: 560,
      currentLimit: 2,
      encoderLines: 500,
      polePairs: 3,
      positionGain: 20,
      speedFilterBandwidth: 200,
      computationDelay: 1e-4,
      modulation: "space-vector",
    },
    encoder: { lines: 512, index: true },
  }),
  "counts without lines": unscaled(["position"], "{count}", 652),
  "speed in parts": unscaled(["speed", "speedCommand"], "%", 1),
  "current in parts": unscaled(["current", "currentCommand", "torque"], "%", 20),
  "everything unscaled": unscaled([...motions, ...commands, "current", "torque"], "1", 100),
  "an axis in millimetres": unscaled(["position", "positionCommand"], "mm", 10),
  "rows without a clock": unclocked,
  "a command of no name": open(
    ["currentCommand", "speedCommand", 0.5],
    ["speedCommand", "torqueCommand", 0.55],
    ["positionCommand", "speedCommand", 0.4],
    ["voltageCommand", "duty", 0.5],
  ),
  "a motion of no name": open(["speed", "position", 0.5], ["position", "speed", 0.45]),
  "a current of no name": open(
    ["current", "currentCommand", 0.5],
    ["currentCommand", "current", 0.4],
    ["torque", "torqueCommand", 0.5],
  ),
  ...Object.fromEntries(
    (
      [
        "torque",
        "speed",
        "position",
        "duty",
        "voltage",
        "coast",
        "hand-turn",
        "alignment-sweep",
        "idle",
        "driven",
      ] as const
    ).map((kind) => [`stated as ${kind}`, declared(kind)]),
  ),
};

const bases = [
  ...[1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 14, 15, 16, 17, 19, 20, 21, 22, 23].map(rig),
  servo(6, "steps", "voltages"),
  servo(7, "speeds", "torque", 0.3),
  dc(3, "stairs", ["voltage", "current", "speed", "position"]),
  dc(5, "random", ["duty", "current", "position"]),
  joint(2, 2),
];

/** One change of one recording. */
function variant(base: Case, name: string, change: Change): Case {
  let kept: Recording | undefined;
  const make = async (): Promise<Recording> => {
    const { recordings } = await base.give();
    kept ??= change(thinned(240)(recordings[0]));
    return kept;
  };
  return {
    name: `variant: ${base.name}, ${name}`,
    prepare: base.prepare,
    give: async () => ({ recordings: [await make()] }),
    answer: async () => {
      const recording = await make();
      const whole = await answersOf({ name, give: () => ({ recordings: [recording] }) });
      return lettersByQuestion([
        ...whole,
        ...inLetters([...routesOf(recording, undefined, 0), ...deeperIn(recording, undefined, 0)]),
      ]);
    },
  };
}

const orders: readonly LeadOrder[] = ["UVW", "VWU", "UWV", "WUV"];

/** Orders of one motor: the recording as it is, and changed in two or three ways. */
function orderSet(base: Case, names: readonly string[]): Case {
  const make = async (): Promise<Recording[]> => {
    const { recordings } = await base.give();
    const short = thinned(200)(recordings[0]);
    return names.map((name, k) => ({
      ...changes[name](short),
      path: `${k}.csv`,
      motor: "M1",
      ordering: orders[k],
    }));
  };
  return {
    name: `orders: ${base.name}, ${names.join(", ")}`,
    prepare: base.prepare,
    give: async () => ({ recordings: await make() }),
    answer: async () => {
      const recordings = await make();
      return lettersByQuestion(await answersOf({ name: "", give: () => ({ recordings }) }));
    },
  };
}
const mixes = [
  ["as it is", "turned motion", "still motion"],
  ["turned motion", "turned motion", "as it is", "motion of zero"],
  ["as it is", "as it is"],
  ["still motion", "motion still from the middle", "current of zero"],
  ["as it is", "turned current", "facts of a small motor"],
  ["a motion that drifts", "as it is", "turned motion", "current off zero"],
  ["as it is", "counts without lines", "turned command"],
  ["motion still from the middle", "as it is", "as it is", "turned motion"],
];
const orderSets = [5, 13, 25, 27, 29, 30]
  .map(rig)
  .concat([bench(51, "none", "torque"), bench(52, "none", "speed"), bench(53, "pole-pairs", "torque")])
  .flatMap((base, k) => [0, 3].map((turn) => orderSet(base, mixes[(k + turn) % mixes.length])));

/** What is asked of each base: changes that show states that the others do not. */
const wanted: Readonly<Record<string, string>> = {
  "rig 1":
    "a current of no name | a motion of no name | motion of zero | facts of a large motor | " +
    "current of zero | stated as alignment-sweep | nine rows",
  "rig 2":
    "turned motion | turned current | speed in parts | counts without lines | holes | an uneven clock | " +
    "command of zero | stated as idle",
  "rig 3": "a motion that drifts | turned command | stated as driven | a pause | holes in the motion",
  "rig 4":
    "the last half | stated as position | four levels | everything unscaled | no motion but position | " +
    "current as torque | stated as duty | speed off zero | speed without its sign",
  "rig 5":
    "position within a turn | still motion | rows without a clock | an axis in millimetres | " +
    "sixteen levels | current command as a voltage | stated as voltage | noise on the motion | no command",
  "rig 6": "stated as coast | a clock of even steps | motion still from the middle",
  "rig 7":
    "facts of a large motor | a motion of no name | motion of zero | no torque | a small machine | " +
    "a quick clock | stated as hand-turn | as it is | a slow clock | stated as alignment-sweep | " +
    "a large machine",
  "rig 8":
    "a current of no name | the first 24 rows | counts without lines | an uneven clock | stated as idle | " +
    "current of zero | command of zero | stated as torque | holes | nine rows | turned motion",
  "rig 9":
    "a motion that drifts | speed in parts | stated as speed | stated as driven | turned command | " +
    "current in parts | a third | a pause | turned current | holes in the motion",
  "rig 10":
    "everything unscaled | no motion but speed | current as torque | clipped | current off zero | " +
    "no motion but position | speed without its sign | stated as position",
  "rig 12":
    "position within a turn | no command | stated as voltage | sixteen levels | stated as duty | " +
    "current command as a voltage | four levels | noise on the motion | an axis in millimetres",
  "rig 14":
    "rows without a clock | a command of no name | stated as coast | no current | a clock of even steps | " +
    "speed command as a duty | motion still from the middle | still motion | noise on the current",
  "rig 15":
    "a motion of no name | facts of a small motor | motion of zero | facts of a large motor | " +
    "a slow clock | stated as hand-turn | no voltages | a large machine | as it is | no torque",
  "rig 16":
    "counts without lines | a quick clock | turned motion | an uneven clock | holes | nine rows | " +
    "current of zero | stated as idle | a current of no name | stated as alignment-sweep | " +
    "a small machine",
  "rig 17":
    "a third | stated as speed | holes in the motion | speed in parts | stated as torque | turned current | " +
    "a motion that drifts | command of zero | the first 24 rows | a pause | stated as driven",
  "rig 19":
    "speed without its sign | turned command | stated as position | no motion but speed | clipped | " +
    "current in parts | current off zero | everything unscaled",
  "rig 20":
    "position within a turn | no motion but position | no command | stated as duty | " +
    "current command as a voltage | four levels | an axis in millimetres | speed off zero",
  "rig 21":
    "stated as coast | rows without a clock | speed command as a duty | noise on the motion | " +
    "sixteen levels | stated as voltage | still motion | a clock of even steps",
  "rig 22":
    "a command of no name | a motion of no name | a slow clock | stated as hand-turn | " +
    "facts of a small motor | no voltages | motion still from the middle | as it is",
  "rig 23": "a current of no name | facts of a large motor | turned motion | nine rows",
  "dc 3 stairs voltage+current+speed+position": "everything unscaled | speed without its sign | four levels",
  "dc 5 random duty+current+position":
    "still motion | stated as voltage | no current | speed command as a duty | no command | " +
    "rows without a clock",
  "joint 2":
    "motion still from the middle | stated as coast | a clock of even steps | facts of a small motor | " +
    "stated as hand-turn",
  "servo 6 steps voltages":
    "the first 24 rows | holes in the motion | turned current | command of zero | speed in parts",
  "servo 7 speeds torque 0.3":
    "the last half | a third | turned command | current in parts | clipped | current off zero",
};

/** All of them. */
export const variants: readonly Case[] = [
  ...orderSets,
  ...bases.flatMap((base) =>
    (wanted[base.name] ?? "")
      .split(" | ")
      .filter((name) => name !== "")
      .map((name) => variant(base, name, changes[name])),
  ),
];
