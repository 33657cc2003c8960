import { namesQuadrature } from "../recording/columns/quadrature.js";
import type { ChannelRole, Recording, Trial } from "../recording/types.js";
import { type DriveSignName, driveModel, driveSigns } from "./tables/driveKind.js";

/** Signs of the kind of drive that one recording shows. */
export function driveSignsOf(recording: Recording, trials: readonly Trial[]): DriveSignName[] {
  const { channels, machine, drive } = recording;
  const has = (...roles: ChannelRole[]): boolean => roles.some((role) => channels[role] !== undefined);
  const kinds = new Set(trials.map(({ kind }) => kind));
  const named = (["current", "currentCommand"] as const).some((role) =>
    namesQuadrature(channels[role]?.name ?? ""),
  );
  const joint = kinds.has("motion") || trials.some(({ conditions }) => conditions?.load === "gravity");
  const signs: Readonly<Partial<Record<DriveSignName, boolean>>> = {
    leadOrder: recording.ordering !== undefined,
    dAxis: has("currentD", "currentDCommand", "voltageD"),
    qVoltage: has("voltageQ"),
    electricalAngle: has("sweepAngle", "electricalAngle"),
    phases: ["currentU", "currentV", "currentW"].filter((role) => has(role as ChannelRole)).length >= 2,
    polePairs: machine.polePairs !== undefined || drive.polePairs !== undefined,
    qAxisName: named,
    currentCommand: has("currentCommand"),
    torqueCommand: has("torqueCommand"),
    voltageInput: has("voltageCommand"),
    dutyInput: has("duty"),
    motorVoltage: has("voltage"),
    otherTrials: kinds.has("voltage") || kinds.has("duty"),
    joint,
    position: kinds.has("position") && !has("currentCommand", "torqueCommand", "speedCommand"),
  };
  return (Object.keys(signs) as DriveSignName[]).filter((name) => signs[name]);
}

/** Nothing logged or stated tells what kind of motor and drive a recording is of. */
export function kindUnknown(fieldOriented: number, signs: readonly DriveSignName[]): boolean {
  return fieldOriented === 0 && !signs.some((name) => driveSigns[name].ratio < 1);
}

/**
 * Probability that the drive of a set is field-oriented, from all signs that its recordings show, each counted once. A
 * log without any sign of one is taken for none: what an alignment or a lead order would do for it is not known.
 */
export function fieldOrientedProbability(signs: Iterable<DriveSignName>): number {
  const seen = new Set(signs);
  if (![...seen].some((name) => driveSigns[name].ratio >= driveModel.evidence)) return 0;
  let odds: number = driveModel.prior.odds;
  for (const name of seen) odds *= driveSigns[name].ratio;
  const probability = odds / (1 + odds);
  const { below, above } = driveModel.excluded;
  return probability < below ? 0 : probability > above ? 1 : probability;
}
