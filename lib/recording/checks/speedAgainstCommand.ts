import { largest } from "../../numeric/series/largest.js";
import { median } from "../../numeric/series/median.js";
import { revPerMinute } from "../../units/revPerMinute.js";
import type { Finding, Recording } from "../types.js";
import { shown } from "./common.js";

const perMinute = revPerMinute(1);

/** Factors that mistaken units make. Below one, such as a loop short of voltage or current may leave by chance count
 * only where it was at ease. */
function factorsOf({ machine, drive }: Recording): { factor: number; text: string; ease?: true }[] {
  const pairs = machine.polePairs ?? drive.polePairs;
  return [
    { factor: perMinute, text: "rad/s taken for rev/min, or the reverse" },
    { factor: 1 / perMinute, text: "rad/s taken for rev/min, or the reverse" },
    { factor: 60, text: "a speed per second taken for one per minute, or the reverse" },
    { factor: 1 / 60, text: "a speed per second taken for one per minute, or the reverse" },
    { factor: 1000, text: "units a thousand apart" },
    { factor: 1e-3, text: "units a thousand apart" },
    ...(pairs !== undefined && pairs > 1
      ? [
          { factor: pairs, text: "an electrical speed, pole pairs times that of the shaft" },
          {
            factor: 1 / pairs,
            text: "an electrical speed for a reference, pole pairs times that of the shaft",
            ease,
          } as const,
        ]
      : []),
    { factor: 4, text: "counts taken for lines (4 counts per line)" },
    { factor: 1 / 4, text: "lines taken for counts (4 counts per line)", ease },
  ];
}

const ease = true as const;

/**
 * A loop that is far below its reference and stays there gives all it has, or by its proportional part what the error
 * asks: three quarters of what it gave at the step, where the shaft still stood. One that stands there with less than
 * this part of its largest command does not see an error. (Physics of a PI loop.)
 */
const easy = 0.5;

/** Whether the loop's own output was small wherever the speed had settled; false where it is not logged. */
function isAtEase({ channels }: Recording, stretches: readonly Settled[]): boolean {
  const output = (channels.currentCommand ?? channels.torqueCommand)?.data;
  const reference = channels.speedCommand?.data;
  if (output === undefined || reference === undefined) return false;
  const most = largest(output.filter((_, i) => reference[i] !== 0 && reference[i] - reference[i] === 0));
  return stretches.every(({ from, to }) => largest(output.slice(from, to)) < easy * most);
}

/** How near to a factor the ratio must be, and how far the ratios of single stretches may lie from their median. */
const near = 0.02;
/** Fewest stretches with a held reference, and fewest rows in one. */
const fewest = { stretches: 2, rows: 40 };

/**
 * Measured speed against its reference where the reference is held and the speed has settled: in a loop that works they
 * are one number, so a factor between them that is the same in every stretch, and that mistaken units make, is one of
 * units.
 */
export function speedAgainstCommand(recording: Recording): Finding[] {
  const { speed, speedCommand } = recording.channels;
  if (speed === undefined || speedCommand === undefined) return [];
  const stretches = settledSpeeds(recording);
  if (stretches.length < fewest.stretches) return [];
  const ratios = stretches.map(({ ratio }) => ratio);
  const middle = median(ratios);
  if (ratios.some((r) => Math.abs(r / middle - 1) > near)) return [];
  if (Math.abs(middle + 1) < opposite) return [oppositeFinding(recording, middle)];
  const hit = factorsOf(recording).find(
    ({ factor, ease }) =>
      Math.abs(middle / factor - 1) < near && (ease === undefined || isAtEase(recording, stretches)),
  );
  if (hit === undefined) return [];
  return [
    {
      severity: "error",
      code: "speed-factor",
      message: `the measured speed is ${shown(middle)} times its reference wherever that is held`,
      value: middle,
      unit: "1",
      meaning: `this is the factor of ${hit.text}; state the unit of both columns and the encoder's lines`,
      file: recording.path,
      column: speed.name,
    },
  ];
}

/** A speed that settles within this part of the opposite of its reference. */
const opposite = 0.05;

function oppositeFinding({ path, channels }: Recording, ratio: number): Finding {
  return {
    severity: "error",
    code: "reference-sign",
    message: `"${channels.speed?.name}" settles at the opposite of "${channels.speedCommand?.name}" wherever that is held (${shown(ratio)} times it)`,
    value: ratio,
    unit: "1",
    meaning:
      "a loop that holds a speed holds its own reference: one of the two columns is counted the other way round, or the drive takes its reference so",
    file: path,
    column: channels.speedCommand?.name,
  };
}

const known = new WeakMap<Recording, readonly Settled[]>();

/** The stretches of a recording in which its speed stands still under one reference: worked out once, for several
 * look at them. */
export function settledSpeeds(recording: Recording): readonly Settled[] {
  const { speed, speedCommand } = recording.channels;
  if (speed === undefined || speedCommand === undefined) return [];
  const found = known.get(recording) ?? settled(speed.data, speedCommand.data);
  known.set(recording, found);
  return found;
}

/** A stretch in which a speed stands still under one reference. */
export interface Settled {
  readonly ratio: number;
  readonly from: number;
  readonly to: number;
}

/** Speed over reference over the later half of every stretch with one reference, where the speed stands still there. */
export function settledRatios(speed: Float64Array, command: Float64Array): number[] {
  return settled(speed, command).map(({ ratio }) => ratio);
}

function settled(speed: Float64Array, command: Float64Array): Settled[] {
  const out: Settled[] = [];
  for (let from = 0; from < command.length; ) {
    let to = from + 1;
    while (to < command.length && command[to] === command[from]) to += 1;
    const level = command[from];
    if (to - from >= fewest.rows && level - level === 0 && level !== 0) {
      const half = (from + to) >> 1;
      const quarter = (half + to) >> 1;
      const [early, late] = [median(speed.subarray(half, quarter)), median(speed.subarray(quarter, to))];
      if (Math.abs(late - early) < near * Math.abs(late))
        out.push({ ratio: late / level, from: quarter, to });
    }
    from = to;
  }
  return out;
}
