/** A unit read from text. */
export interface UnitText {
  /** UCUM code; `%` and `[ppth]` may be of a rated value. */
  readonly code: string;
  /** As it was spelled. */
  readonly spelling: string;
  /** Amount of `code` that one logged unit stands for, and the logged value that stands for nothing: `0.05 A from
   * 2048`. */
  readonly scale?: { readonly factor: number; readonly zero: number };
}

const prefixes: Readonly<Record<string, number>> = {
  deci: 1e-1,
  centi: 1e-2,
  milli: 1e-3,
  micro: 1e-6,
  d: 1e-1,
  c: 1e-2,
  m: 1e-3,
  u: 1e-6,
  µ: 1e-6,
  μ: 1e-6,
  k: 1e3,
};

/** Angles and turns that people put a prefix to, though no standard does; a turn needs no prefix. */
const angles: readonly (readonly [RegExp, string])[] = [
  [/^(deg|degrees?|grad)$/, "deg"],
  [/^(rad|radians?)$/, "rad"],
  [/^(deg|degrees?|grad)(\/s|\/sec|_s|ps|_per_s)$|^dps$/, "deg/s"],
  [/^rpm$/, "{rev}/min"],
  [/^(rps|rev\/s|turns?\/s)$/, "{rev}/s"],
  [/^(rev|revs|turns?|revolutions?)$/, "{rev}"],
];

/** Force, as people write it, N. */
const forces: Readonly<Record<string, number>> = {
  kgf: 9.80665,
  kg: 9.80665,
  gf: 9.80665e-3,
  g: 9.80665e-3,
};
const arms: Readonly<Record<string, number>> = { m: 1, cm: 1e-2, mm: 1e-3 };

/**
 * Parts and multiples of units that the table of units does not hold: `cdeg`, `millidegrees/s`, `mrpm`, `krpm`,
 * torques as any force on any arm (`N·mm`, `mNcm`, `kgf*m`, `gcm`; a kilogram is the force of one at standard gravity,
 * ISO 80000-4), and turns with a dot (`U·min⁻¹`, `Umdr./min`).
 *
 * @example
 * partOfUnit("cdeg"); // => { code: "deg", spelling: "cdeg", scale: { factor: 0.01, zero: 0 } }
 */
export function partOfUnit(spelling: string): UnitText | undefined {
  const plain = spelling.trim().toLowerCase().replace(/\s+/g, "").replace(/º/g, "°").replace(/°/g, "deg");
  if (plain.length > 24) return undefined;
  if (/^(u|umdr|umdreh|r|rev|tr|ob|ot)\.?([·*.]?min(⁻¹|\^?-1)|\/min\.?)$/.test(plain))
    return { code: "{rev}/min", spelling };
  const prefixed = /^(deci|centi|milli|micro|[dcmuµμk])_?([a-z_/]+)$/.exec(plain);
  const angle = prefixed === null ? undefined : angles.find(([pattern]) => pattern.test(prefixed[2]));
  // `drpm` is tenths, `dps` degrees a second.
  if (prefixed !== null && angle !== undefined && plain !== "dps")
    return { code: angle[1], spelling, scale: { factor: prefixes[prefixed[1]], zero: 0 } };
  const torque = /^(?:([mkuµμ]?)n|(kgf|kg|gf|g))[·*.-]?([cm]?m)$/.exec(plain);
  // A capital M before it would be mega; `gm` and `kgm` are grams and masses at least as often.
  if (torque === null || /^M/.test(spelling.trim()) || (torque[3] === "m" && /^k?g$/.test(torque[2] ?? "")))
    return undefined;
  const force = torque[2] === undefined ? (prefixes[torque[1]] ?? 1) : forces[torque[2]];
  const factor = force * arms[torque[3]];
  return factor === 1 ? { code: "N.m", spelling } : { code: "N.m", spelling, scale: { factor, zero: 0 } };
}
