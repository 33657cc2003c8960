import { type SeededRandom, seededRandom } from "../../numeric/distributions/seededRandom.js";
import { dayEffects, leastOnDay } from "./dayEffects.js";
import { Lines } from "./drawnLines.js";
import { errorSource } from "./errorSource.js";
import type { MotorLine } from "./motorSlopes.js";
import type { Moderation } from "./pooledErrors.js";
import { medianOf } from "./sample.js";
import { type DrawnFleet, type TailedNull, tailedNulls, tailOf } from "./tailedNull.js";

/** Errors drawn for each kind of tails, and the fewest and most fleets. */
const drawn = { errors: 1.2e7, least: 1500, most: 8000 };
/** Variances between days, over that of a run, with which fleets are drawn. */
const aparts = [0, 0.03, 0.1, 0.3, 1, 3, 10, 30] as const;
/** Variance between days over that of the mean of a day's runs from which effects of days are taken out whole (but for
 * a thirtieth): how large they are no longer matters, so what is drawn for one size serves for all larger ones. */
const takenWhole = 30;

/** Lines of one constant's motors, by which the farthest slope is judged. */
export interface FittedSlopes {
  readonly lines: readonly MotorLine[];
  /** Errors of all runs, each over its scale. */
  readonly pool: Float64Array;
  readonly prior: Moderation;
  /** Motors were measured together on several days. */
  readonly shared: boolean;
  /** Variance between days over that of single runs. */
  readonly apart: number;
}

/** What single motors are held against: the middle slope where the days may be behind a common one, else none. */
export function commonSlope(slopes: ArrayLike<number>, shared: boolean): number {
  return shared ? medianOf(slopes) : 0;
}

/**
 * How far the farthest slope of each constant lies, in errors, in fleets without drift. Constants that were measured at
 * the same times share the errors that are drawn: each looks at them with days that differ as much as its own, and with
 * the worth of its own pooled variance. What one is held against does not depend on the others.
 */
export function slopesOfSound(fits: readonly FittedSlopes[]): TailedNull[] {
  const shared = new Map<string, SharedDraws>();
  const wanted = fits.map((fit) => {
    const layout = layoutKey(fit);
    const draws = shared.get(layout) ?? new SharedDraws(fit);
    shared.set(layout, draws);
    const place = fit.shared ? Math.min(draws.whole, placeOf(fit.apart)) : -1;
    const look: Look = { place, worth: fit.prior.degrees };
    return { key: `${layout} ${look.place} ${look.worth}`, draws, column: draws.want(look), fit };
  });
  return wanted.map(({ key, draws, column, fit }) => {
    const source = (family: number) => draws.source(family, column);
    return tailedNulls(key, source, tailOf(fit.pool), draws.count, "each").nulls[0];
  });
}

/** How a constant looks at drawn errors: the place of its variance between days, -1 for none, and the degrees of
 * freedom that its pooled variance is worth. */
interface Look {
  readonly place: number;
  readonly worth: number;
}

/** The variance between days, of those with which fleets are drawn, that is nearest to one. */
function placeOf(apart: number): number {
  return aparts.reduce<number>(
    (best, one, k) => (Math.abs(one - apart) < Math.abs(aparts[best] - apart) ? k : best),
    0,
  );
}

/** The first place at which effects of typical days are taken out whole; one beyond the last where none is. */
function wholeFrom({ counts }: Days): number {
  const typical = medianOf(counts.filter((count) => count >= leastOnDay));
  const place = aparts.findIndex((apart) => apart * typical >= takenWhole);
  return place < 0 ? aparts.length : place;
}

/** Fleets drawn for one layout, once for all the looks that are asked for. */
class SharedDraws {
  readonly count: number;
  /** The place of the variance between days from which on their effects are taken out whole. */
  readonly whole: number;
  readonly #looks: Look[] = [];
  readonly #drawn = new Map<number, readonly DrawnFleet[][]>();

  constructor(private readonly fit: FittedSlopes) {
    this.count = Math.max(drawn.least, Math.min(drawn.most, Math.round(drawn.errors / fit.pool.length)));
    this.whole = fit.shared ? wholeFrom(daysOf(fit.lines)) : -1;
  }

  /** Asks for a look before anything is drawn; gives its column. */
  want({ place, worth }: Look): number {
    const at = this.#looks.findIndex((one) => one.place === place && one.worth === worth);
    return at < 0 ? this.#looks.push({ place, worth }) - 1 : at;
  }

  /** Gives the fleets of a family one after the other, as one look sees them. */
  source(family: number, column: number): () => DrawnFleet {
    let fleets = this.#drawn.get(family);
    if (fleets === undefined) {
      fleets = Array.from({ length: this.count }, drawnFleets(this.fit, family, this.#looks, this.whole));
      this.#drawn.set(family, fleets);
    }
    const given = fleets;
    let at = 0;
    return () => given[at++][column];
  }
}

/** Draws errors of one fleet after the other; gives for each what every look sees in it. */
function drawnFleets(
  fit: FittedSlopes,
  family: number,
  looks: readonly Look[],
  whole: number,
): () => DrawnFleet[] {
  const draw = errorSource(family, seededRandom(1 + family));
  const flat = new Lines(fit.lines);
  const errors = new Float64Array(fit.pool.length);
  const days = fit.shared ? daysOf(fit.lines) : undefined;
  const views = [...new Set(looks.map((look) => look.place))].map((place) => {
    const columns = [...looks.keys()].filter((k) => looks[k].place === place);
    const worths = columns.map((k) => looks[k].worth);
    // Numbers of its own: which other looks there are changes nothing.
    const random = seededRandom(1000 + 100 * family + place);
    const moved = days === undefined ? undefined : movedDays(days, random, aboutPlace(place, whole));
    return { columns, see: seenFleet(fit, flat, days, worths), moved };
  });
  return () => {
    draw(errors);
    const seen = new Array<DrawnFleet>(looks.length);
    for (const { columns, see, moved } of views) {
      const fleets = see(moved?.(errors) ?? errors);
      for (let k = 0; k < columns.length; k++) seen[columns[k]] = fleets[k];
    }
    return seen;
  };
}

/** Names what the drawn fleets depend on: when each motor was measured, on a scale of its own, and on which day where
 * days are shared. */
function layoutKey({ lines, shared }: FittedSlopes): string {
  const patterns = lines.map(({ times, meanTime, reach }) => {
    const size = Math.sqrt(reach);
    const days = shared ? ` on ${Array.from(times, Math.floor).join(" ")}` : "";
    return `${Array.from(times, (t) => ((t - meanTime) / size).toFixed(4)).join(" ")}${days}`;
  });
  return `drift ${patterns.join(";")}`;
}

/** The day of each run, and the runs of each day. */
interface Days {
  readonly day: Int32Array;
  readonly counts: Float64Array;
}

function daysOf(lines: readonly MotorLine[]): Days {
  const places = new Map<number, number>();
  const day = Int32Array.from(
    lines.flatMap((line) =>
      Array.from(line.times, (t) => {
        const at = Math.floor(t);
        const place = places.get(at) ?? places.size;
        places.set(at, place);
        return place;
      }),
    ),
  );
  const counts = new Float64Array(places.size);
  for (const one of day) counts[one]++;
  return { day, counts };
}

/** The variances between days that are drawn for a place: those about it, but none that would matter again. */
const aboutPlace = (place: number, whole: number) =>
  aparts.slice(place === whole ? place : Math.max(0, place - 1), place + 2);

/** Errors of runs with effects of their days of one of these variances, drawn anew for each fleet. */
function movedDays(
  days: Days,
  random: SeededRandom,
  near: readonly number[],
): (errors: Float64Array) => Float64Array {
  const effects = new Float64Array(days.counts.length);
  const moved = new Float64Array(days.day.length);
  return (errors) => {
    const size = Math.sqrt(near[Math.floor(near.length * random.uniform())]);
    for (let d = 0; d < effects.length; d++) effects[d] = size * random.normal();
    for (let i = 0; i < errors.length; i++) moved[i] = errors[i] + effects[days.day[i]];
    return moved;
  };
}

/** The largest |slope| / error of a fleet, all estimated again as it was from the data: the effects of days (which are
 * taken out of the errors where they stand), the pooled variance; and how heavy the fleet's tails look. One answer for
 * each worth of the pooled variance. */
function seenFleet(
  { shared, pool }: FittedSlopes,
  flat: Lines,
  days: Days | undefined,
  worths: readonly number[],
): (errors: Float64Array) => DrawnFleet[] {
  const degrees = flat.degrees.reduce((a, b) => a + b, 0);
  const residuals = new Float64Array(pool.length);
  return (errors) => {
    flat.fit(errors, residuals);
    const taken = days === undefined ? 0 : takeDays(days, errors, residuals, flat.squares, degrees);
    if (taken > 0) flat.fit(errors, residuals);
    const back = degrees / Math.max(degrees / 2, degrees - taken);
    flat.sum(residuals);
    const common = commonSlope(flat.slopes, shared);
    const variance = flat.squares / degrees;
    return worths.map((worth) => flat.farthest(common, { degrees: worth, variance }, back, residuals));
  };
}

/** Takes what days with enough runs have in common out of the errors; returns the degrees of freedom taken. */
function takeDays(
  { day, counts }: Days,
  errors: Float64Array,
  residuals: Float64Array,
  squares: number,
  degrees: number,
): number {
  const means = new Float64Array(counts.length);
  for (let i = 0; i < day.length; i++) means[day[i]] += residuals[i];
  for (let d = 0; d < means.length; d++) means[d] /= counts[d];
  const used = Array.from(counts.keys()).filter((d) => counts[d] >= leastOnDay);
  const found = dayEffects(
    Float64Array.from(used, (d) => means[d]),
    Float64Array.from(used, (d) => counts[d]),
    squares / degrees,
    Math.max(1, (used.length * degrees) / day.length),
  );
  if (found.variance === 0) return 0;
  const effects = new Float64Array(counts.length);
  used.forEach((d, k) => {
    effects[d] = found.effect[k];
  });
  for (let i = 0; i < day.length; i++) errors[i] -= effects[day[i]];
  return found.used;
}
