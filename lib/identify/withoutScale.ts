import type { Finding } from "../recording/types.js";
import type { Run } from "../run/run.js";
import { unconfirmedCounts } from "../run/unconfirmedCounts.js";
import type { Estimate } from "../units/estimate.js";
import { type ConstantName, type Constants, constantNames } from "./constants.js";

/** Constants that stand whatever one turn of the shaft, or one radian a second, is taken for. */
const scaleFree: ReadonlySet<ConstantName> = new Set<ConstantName>([
  "resistance",
  "inductanceD",
  "inductanceQ",
  "electricalTimeConstant",
  "noLoadCurrent",
  "breakawayCurrent",
  "offsetError",
  "torqueGain",
  "armatureResistance",
  "voltageDrop",
  "deadBandVoltage",
  "deadBandDuty",
  "breakawayVoltage",
  "breakawayDuty",
  "mechanicalTimeConstant",
  "electromechanicalTimeConstant",
  "speedTimeConstant",
  "speedDeadTime",
  "viscousOverInertia",
  "gravityOverTorqueConstant",
  "coulombOverTorqueConstant",
  "coulombOverTorqueConstantPositive",
  "coulombOverTorqueConstantNegative",
]);

/**
 * Constants without those that rest on the scale of the motion, where a check finds that scale in doubt: they would be
 * off by the unknown factor. What was left out is listed with what it takes. Where the scale rests on one column alone,
 * all are kept and that is said.
 */
export function withoutScale(constants: Constants, run: Run): Constants {
  const open = run.health.withholds("scale");
  if (open === undefined) return withCaution(widened(constants, scaleSpread(run)), run);
  const keep = <T extends object>(of: T): T =>
    Object.fromEntries(Object.entries(of).filter(([name]) => scaleFree.has(name as ConstantName))) as T;
  const lost = new Set(constants.routes.map(({ quantity }) => quantity).filter((q) => !scaleFree.has(q)));
  const needs = `a sure scale of the motion (${open.message})`;
  return {
    ...constants,
    electrical: keep(constants.electrical),
    mechanical: keep(constants.mechanical),
    ratios: keep(constants.ratios),
    harmonics: [],
    routes: constants.routes.filter(({ quantity }) => scaleFree.has(quantity)),
    missing: [...[...lost].map((quantity) => ({ quantity, needs })), ...constants.missing],
  };
}

/**
 * The factor, above one, by which the scale of the position may be off where it differs a little from the speed without
 * a known reason, or counts were missed on the way; 1 where neither was found. Each of the constants in question goes
 * with the scale, or with one over it.
 */
function scaleSpread(run: Run): number {
  const sizeOf = (code: string): number => {
    const value = run.checks.find((finding) => finding.code === code)?.value;
    return typeof value === "number" ? Math.abs(value) : 0;
  };
  const ratio = sizeOf("scale-doubtful");
  const missed = sizeOf("missed-counts");
  const { angle, step = 0 } = run.shaft ?? {};
  const counted = missed === 0 || angle === undefined || !(step > 0) ? 0 : pathOf(angle) / step;
  const lost = counted > 0 ? missed / counted : 0;
  return Math.max(1, ratio, ratio > 0 ? 1 / ratio : 1) * (1 + lost);
}

function pathOf(angle: Float64Array): number {
  let path = 0;
  for (let i = 1; i < angle.length; i += 1) {
    const way = Math.abs(angle[i] - angle[i - 1]);
    if (way - way === 0) path += way;
  }
  return path;
}

/** Constants whose intervals hold that the scale is off by as much either way. */
function widened(constants: Constants, spread: number): Constants {
  if (!(spread > 1)) return constants;
  const wider = (name: string, estimate: Estimate): Estimate => {
    if (scaleFree.has(name as ConstantName)) return estimate;
    const [low, high] = [estimate.low / spread, estimate.high * spread];
    // Of a bound below zero a factor above one is the wider one.
    return {
      ...estimate,
      low: estimate.low < 0 ? estimate.low * spread : low,
      high: estimate.high < 0 ? estimate.high / spread : high,
    };
  };
  const group = <T extends object>(of: T): T =>
    Object.fromEntries(Object.entries(of).map(([name, e]) => [name, wider(name, e)])) as T;
  return {
    ...constants,
    electrical: group(constants.electrical),
    mechanical: group(constants.mechanical),
    ratios: group(constants.ratios),
    routes: constants.routes.map((route) => ({
      ...route,
      estimate: wider(route.quantity, route.estimate),
    })),
  };
}

/** The scale of the motion rests on one column alone: what that is, and what would hold it against another. */
function aloneFor(run: Run): { readonly message: string; readonly remedy: string } | undefined {
  const { logged } = run;
  // Lines that were inferred make the position agree with the speed whatever the unit of the speed is.
  if (logged.findings.some(({ code }) => code === "lines-inferred"))
    return {
      message: `The scale of the motion rests on the unit of "${logged.channels.speed?.name ?? "speed"}" alone: the encoder's lines were inferred from it.`,
      remedy: "if that unit is wrong, so are {names}; state --lines to hold one against the other",
    };
  const counts = unconfirmedCounts(run);
  if (counts === undefined) return undefined;
  const { column, overReference } = counts;
  const reference =
    overReference === undefined
      ? ""
      : ` The counted speed settles at ${Number(overReference.toPrecision(4))} times its reference.`;
  return {
    message: `The scale of the motion rests on "${column}" and the lines as stated, which nothing else in the log confirms.${reference}`,
    remedy:
      "counts that are missing evenly, or lines stated a little wrong, would not show: {names} would be off by as much, and where the drive counts the same its offset error would wander with every turn; log the drive's own speed or the index pulse beside the counts",
  };
}

function withCaution(constants: Constants, run: Run): Constants {
  const resting = constants.routes.map(({ quantity }) => quantity).filter((q) => !scaleFree.has(q));
  const alone = resting.length === 0 ? undefined : aloneFor(run);
  if (alone === undefined) return constants;
  const names = [...new Set(resting)].map((q) => constantNames[q].words);
  const named = `${names.slice(0, 6).join(", ")}${names.length > 6 ? " and others" : ""}`;
  const caution: Finding = {
    severity: "warning",
    code: "scale-unconfirmed",
    message: alone.message,
    meaning: alone.remedy.replace("{names}", named),
  };
  return { ...constants, findings: [...constants.findings, caution] };
}
