import { median } from "../../numeric/series/median.js";
import type { Finding, Recording } from "../types.js";
import { shown } from "./common.js";

/** Judgement: electrical turns in one part of the log that its ratio is taken over, fewest parts, and how far from a
 * whole number of pole pairs, and from each other, the ratios may lie. */
const part = { turns: 2, fewest: 4, near: 0.008, alike: 0.01 };

/**
 * Electrical turns of the logged commutation angle for one turn of the position: the median over parts of the log in
 * which the shaft turned on. Undefined where one of the two is not logged, or their parts do not agree (an open-loop
 * vector that the shaft does not follow).
 */
export function electricalTurnsPerTurn({ channels, time }: Recording): number | undefined {
  const [angle, position] = [channels.electricalAngle?.data, channels.position?.data];
  if (angle === undefined || position === undefined) return undefined;
  const ratios: number[] = [];
  let from = 0;
  for (let i = 1; i < time.length; i += 1) {
    const [turned, moved] = [angle[i] - angle[from], position[i] - position[from]];
    if (turned - turned !== 0 || moved - moved !== 0) {
      from = i;
      continue;
    }
    if (Math.abs(turned) < part.turns * 2 * Math.PI) continue;
    ratios.push(turned / moved);
    from = i;
  }
  if (ratios.length < part.fewest) return undefined;
  const middle = median(ratios);
  const agreeing = ratios.filter((r) => Math.abs(r / middle - 1) < part.alike).length;
  return agreeing > 0.8 * ratios.length ? middle : undefined;
}

/** Whether a ratio of electrical to shaft turns is the number of pole pairs, or a whole number where none is stated. */
export function isPolePairs(ratio: number, { machine, drive }: Recording): boolean {
  const stated = [machine.polePairs, drive.polePairs].filter((p) => p !== undefined);
  const size = Math.abs(ratio);
  const whole = Math.round(size);
  const candidates = stated.length > 0 ? stated : whole > 0 ? [whole] : [];
  return candidates.some((p) => Math.abs(size / p - 1) < part.near);
}

/**
 * The logged commutation angle against the logged position: a shaft turn holds a whole number of electrical turns. A
 * broken ratio is a position whose scale is off (counts missing all along, another line count than stated), or a drive
 * that commutates with the wrong one.
 */
export function angleAgainstPosition(recording: Recording): Finding[] {
  const ratio = electricalTurnsPerTurn(recording);
  const { electricalAngle, position } = recording.channels;
  if (ratio === undefined || position === undefined || isPolePairs(ratio, recording)) return [];
  const pairs = recording.machine.polePairs ?? recording.drive.polePairs;
  const size = Math.abs(ratio);
  // Another whole number than the one stated is a setting or a unit, which other evidence weighs.
  if (Math.abs(size / Math.max(1, Math.round(size)) - 1) < part.near) return [];
  return [
    {
      severity: "error",
      code: "scale-doubtful",
      message: `"${electricalAngle?.name}" makes ${shown(size)} electrical turns for one turn of "${position.name}"${pairs === undefined ? ", which is no whole number of pole pairs" : ` of a machine with ${pairs} pole pairs`}`,
      value: size,
      unit: "1",
      meaning:
        "counts are missing all along, the encoder has another line count than stated, or the drive commutates with a wrong one",
      file: recording.path,
      column: position.name,
    },
  ];
}
