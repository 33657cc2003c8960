import type { Finding } from "../recording/types.js";
import type { Run } from "../run/run.js";
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
  if (open === undefined) return withCaution(constants, run);
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

/** Lines that were inferred make the position agree with the speed whatever the unit of the speed is: nothing in the
 * log confirms that unit. */
function withCaution(constants: Constants, run: Run): Constants {
  const inferred = run.logged.findings.find(({ code }) => code === "lines-inferred");
  const resting = constants.routes.map(({ quantity }) => quantity).filter((q) => !scaleFree.has(q));
  if (inferred === undefined || resting.length === 0) return constants;
  const names = [...new Set(resting)].map((q) => constantNames[q].words);
  const caution: Finding = {
    severity: "warning",
    code: "scale-unconfirmed",
    message: `The scale of the motion rests on the unit of "${run.logged.channels.speed?.name ?? "speed"}" alone: the encoder's lines were inferred from it.`,
    meaning: `if that unit is wrong, so are ${names.slice(0, 6).join(", ")}${names.length > 6 ? " and others" : ""}; state --lines to hold one against the other`,
  };
  return { ...constants, findings: [...constants.findings, caution] };
}
