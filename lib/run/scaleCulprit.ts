import type { ScaleMistake } from "../recording/checks/speedAgainstPosition.js";
import type { Recording } from "../recording/types.js";
import { revPerMinute } from "../units/revPerMinute.js";

/** What speaks for the speed being off rather than the position, as the natural logarithm of the odds. */
interface Says {
  /** The mistake by itself, with a position in counts and with one in a unit of angle. */
  readonly counted: number;
  readonly angle: number;
  /** What it takes away that the speed follows its own command: both columns would have to be off. */
  readonly follows: number;
}

/**
 * A column of counts is scaled by the stated line count, so a factor of four is rather the position's; rev/min against
 * rad/s and minutes against seconds can only be the speed's; a factor of a thousand may be either's, or the clock's.
 * Units of a heading go wrong for a speed and its command together, prefixes of one column do not; a drive that counts
 * its lines wrongly has both off. (Judgement, no source; the field recordings and the damaged demo set were looked at.)
 */
const says: Readonly<Record<ScaleMistake["mistake"], Says>> = {
  "rev-per-minute": { counted: 3, angle: 3, follows: -1 },
  minutes: { counted: 3, angle: 3, follows: -1 },
  thousand: { counted: 0.5, angle: 0, follows: -1.5 },
  quadrature: { counted: -1.2, angle: 0, follows: 0 },
  turns: { counted: 2.5, angle: 0, follows: -1 },
  degrees: { counted: 2.5, angle: 0, follows: -1 },
  "pole-pairs": { counted: 0, angle: 0, follows: 0 },
  "lines-set": { counted: 0, angle: 0, follows: 0 },
};

/** Only stated pole pairs name their factor surely. */
const statedPairs = 2.5;
/** One unit was declared, the other only assumed. */
const assumedUnit = 3;

/** The command goes with the position and not with the speed: two against one. */
export const againstCommand = 4;
/** Odds below which it stays open which of the two is wrong: four to one. */
export const enough = Math.log(4);

/** Speeds of shafts, rev/min, and how seldom the fastest motion of a log is above: dental drills and turbochargers end
 * near 400,000, machines of research at a million (from memory, no source looked up). */
const fast: readonly (readonly [above: number, says: number])[] = [
  [1e6, -8],
  [1e5, -3],
  [3e4, -1.5],
];

/** How likely a shaft is to have turned so fast, rad/s, as a logarithm, beside an ordinary speed. */
export function speedSays(radiansPerSecond: number): number {
  const perMinute = revPerMinute(radiansPerSecond);
  return fast.find(([above]) => perMinute > above)?.[1] ?? 0;
}

/** What a mistake and the stated facts of a recording say of which channel is off by it, and what a followed command
 * takes away. */
export function mistakeSays(
  { channels, findings, machine, drive }: Recording,
  { mistake, factor }: ScaleMistake,
): { readonly says: number; readonly follows: number } {
  const assumed = (role: "speed" | "position"): boolean =>
    findings.some((f) => f.code === "unit-assumed" && f.column === channels[role]?.name);
  const stated = machine.polePairs ?? drive.polePairs;
  const own = says[mistake];
  let odds = channels.position?.sourceUnit === "{count}" ? own.counted : own.angle;
  if (mistake === "pole-pairs" && stated !== undefined) odds += factor > 1 ? statedPairs : -statedPairs;
  if (assumed("speed") !== assumed("position")) odds += assumed("speed") ? assumedUnit : -assumedUnit;
  return { says: odds, follows: own.follows };
}
