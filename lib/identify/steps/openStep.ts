import { type Assumption, assumptionsOf } from "../../recording/assumptions.js";
import type { ChannelRole, Recording } from "../../recording/types.js";
import type { Run } from "../../run/run.js";
import type { Estimate } from "../../units/estimate.js";
import { inOwnScale, type Powers, sharesOf } from "../ownScale.js";
import type { StepFit } from "./stepFitTypes.js";
import type { StepMeasures } from "./stepMeasures.js";

/** A fitted step of a command. */
interface FittedCommand {
  readonly command: ChannelRole;
  readonly from: number;
  readonly to: number;
  readonly response: ChannelRole;
  readonly fit: StepFit;
  readonly measures: StepMeasures;
}

/** What such a step rests on, and its command in the numbers of the file. */
interface Open {
  readonly restsOn?: readonly string[];
  readonly ownCommand?: { readonly from: number; readonly to: number; readonly unit: string };
}

/** A step with what it rests on that nobody stated; where that is a unit, its figures are also given in the numbers of
 * the file, which hold whatever the unit is. */
export function withOpenUnits<T extends FittedCommand>(run: Run, step: T): T & Open {
  const { recording } = run;
  const { channels } = recording;
  // A speed that was not logged is worked out from the position.
  const response = channels[step.response] === undefined ? "position" : step.response;
  const on = assumptionsOf(run.logged).filter(({ role }) => [step.command, response, "time"].includes(role));
  if (on.length === 0) return step;
  const restsOn = [...new Set(on.map(({ column }) => column))];
  const open = on.filter((a) => a.of === "unit" && a.role !== "time");
  if (open.length === 0) return { ...step, restsOn };
  const roles = { command: step.command, response };
  const command = inNumbers(recording, roles, step.response, open);
  const asked: Estimate = { value: step.from, low: step.from, high: step.to, unit: "1", method: "" };
  const own = command(asked, { command: 1 });
  return {
    ...step,
    restsOn,
    ...(own === undefined ? {} : { ownCommand: { from: own.low, to: own.high, unit: own.unit } }),
    fit: withOwn(step.fit, command),
    measures: withOwn(step.measures, command),
  };
}

/** Powers of the command, the response and the second in a figure of a step. */
interface StepPowers {
  readonly command?: number;
  readonly response?: number;
  readonly seconds?: number;
}

/** Figures that scale with what was logged, by their names in `StepFit` and `StepMeasures`. */
const figures: Readonly<Record<string, StepPowers>> = {
  initial: { response: 1 },
  amplitude: { response: 1 },
  final: { response: 1 },
  peakValue: { response: 1 },
  steadyStateError: { response: 1 },
  gain: { response: 1, command: -1 },
  slope: { response: 1, seconds: -1 },
  rate: { response: 1, seconds: -1 },
  rateGain: { response: 1, command: -1, seconds: -1 },
  slewLimit: { response: 1, seconds: -1 },
  deadBand: { command: 1 },
};

type InNumbers = (estimate: Estimate, powers: StepPowers) => Estimate["own"];

function inNumbers(
  recording: Recording,
  roles: { readonly command: string; readonly response: string },
  answers: ChannelRole,
  open: readonly Assumption[],
): InNumbers {
  const [command, response] = [roles.command, roles.response].map((role) =>
    open.some((a) => a.role === role),
  );
  return (estimate, powers) => {
    const touched = (command && powers.command !== undefined) || (response && powers.response !== undefined);
    if (!touched) return undefined;
    const ofResponse: Powers = { angle: powers.response ?? 0 };
    const shares = [
      ...(sharesOf(recording, [roles.response], ofResponse) ?? []),
      ...(powers.command === undefined
        ? []
        : (shareOfCommand(recording, roles.command, powers.command) ?? [])),
    ];
    // A speed is an angle each second, the speed of a command too.
    const spoken = (powers.seconds ?? 0) - (answers === "speed" ? (powers.response ?? 0) : 0);
    const asked = roles.command === "speedCommand" ? (powers.command ?? 0) : 0;
    return inOwnScale(estimate, shares, spoken - asked);
  };
}

const measures = ["angle", "current", "voltage", "duty", "torque"] as const;

/** The command's channel, whatever it measures. */
function shareOfCommand(recording: Recording, role: string, power: number): ReturnType<typeof sharesOf> {
  for (const measured of measures) {
    const shares = sharesOf(recording, [role], { [measured]: power });
    if (shares !== undefined && shares.length > 0) return shares;
  }
  return undefined;
}

function withOwn<T extends object>(of: T, own: InNumbers): T {
  const added = Object.entries(figures).flatMap(([name, powers]) => {
    const estimate = (of as Record<string, Estimate | undefined>)[name];
    const value = estimate && own(estimate, powers);
    return value === undefined ? [] : [[name, { ...estimate, own: value }] as const];
  });
  return { ...of, ...Object.fromEntries(added) };
}
