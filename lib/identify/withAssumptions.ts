import { type Assumption, assumptionsOf } from "../recording/assumptions.js";
import type { ChannelRole, Finding, Recording } from "../recording/types.js";
import type { Run } from "../run/run.js";
import type { Estimate } from "../units/estimate.js";
import { quantityText } from "../units/forPeople.js";
import { visible } from "../units/text.js";
import { type ConstantName, type Constants, constantNames, type Route } from "./constants.js";
import { inOwnScale, type Powers, sharesOf } from "./ownScale.js";
import { isPossible } from "./possible.js";

/**
 * Constants with what each rests on that nobody stated. Where that is a unit, each also has its figure in the numbers
 * of the file, which holds whatever the unit is; where the assumed unit would make it larger or smaller than any
 * electric machine, that figure alone is left, among `unscaled`.
 */
export function withAssumptions(constants: Constants, run: Run): Constants {
  const open = assumptionsOf(run.logged);
  const { recording } = run;
  const told = new Map<Estimate, Estimate>();
  const of = (quantity: ConstantName, estimate: Estimate): Estimate => {
    const known = told.get(estimate) ?? resting(recording, open, quantity, estimate);
    told.set(estimate, known);
    return known;
  };
  const routes = constants.routes.map(({ quantity, estimate }) => ({
    quantity,
    estimate: of(quantity, estimate),
  }));
  const impossible = routes.filter(
    ({ quantity, estimate }) => estimate.own !== undefined && !isPossible(quantity, estimate),
  );
  const odd = routes.filter((r) => !impossible.includes(r) && !isPossible(r.quantity, r.estimate));
  if (open.length === 0 && odd.length === 0) return constants;
  const lost = new Set(impossible.map(({ estimate }) => estimate));
  const group = <T extends object>(all: T): T =>
    Object.fromEntries(
      Object.entries(all).flatMap(([name, estimate]) => {
        const now = of(name as ConstantName, estimate as Estimate);
        return lost.has(now) ? [] : [[name, now]];
      }),
    ) as T;
  return {
    ...constants,
    electrical: group(constants.electrical),
    mechanical: group(constants.mechanical),
    ratios: group(constants.ratios),
    routes: routes.filter((r) => !impossible.includes(r)),
    ...(impossible.length === 0 ? {} : { unscaled: impossible.map(unscaled) }),
    findings: [
      ...constants.findings,
      ...impossible.map((r) => mistaken(r, open)),
      ...odd.map((r) => mistaken(r, [])),
    ],
  };
}

/** The figure in the numbers of the file alone. */
function unscaled({ quantity, estimate: { own, ...rest } }: Route): Route {
  return { quantity, estimate: own === undefined ? rest : { ...rest, ...own } };
}

function mistaken({ quantity, estimate }: Route, open: readonly Assumption[]): Finding {
  const { words } = constantNames[quantity];
  const answers = open.filter((a) => estimate.restsOn?.includes(a.column) && a.role !== "time");
  const columns = [...new Set(answers.map((a) => `"${visible(a.column, 40)}"`))];
  return {
    severity: "warning",
    code: "size-impossible",
    message: `${words} would be ${quantityText(estimate.value, estimate.unit)}, which no electric machine has`,
    value: estimate.value,
    unit: estimate.unit,
    meaning:
      columns.length === 0
        ? "a unit, a role or a stated fact that it rests on is mistaken"
        : `${columns.join(" or ")} is not what was assumed, and it is given in the numbers of the file alone; say what ${columns.length === 1 ? "it is" : "they are"} with ${answers.map((a) => a.option).join(" ")}`,
  };
}

function resting(
  recording: Recording,
  open: readonly Assumption[],
  quantity: ConstantName,
  estimate: Estimate,
): Estimate {
  const roles = estimate.channels ?? [];
  const powers = powersOf(quantity, roles);
  const shares = powers && sharesOf(recording, roles, powers);
  const scaling = shares?.map(({ channel }) => channel.role) ?? roles;
  const on = open.filter(({ role, of }) =>
    role === "time"
      ? powers?.seconds !== undefined
      : of === "unit"
        ? (scaling as readonly string[]).includes(role)
        : roles.includes(role),
  );
  if (on.length === 0) return estimate;
  const byUnit = on.some((a) => a.of === "unit" && a.role !== "time");
  const restsOn = [...new Set(on.map(({ column }) => column))];
  if (!byUnit || shares === undefined) return { ...estimate, restsOn };
  // kv is in turns a minute; its figure in the file's numbers starts from rad/s.
  const si = quantity === "kv" ? times(estimate, (2 * Math.PI) / 60) : estimate;
  return { ...estimate, restsOn, own: inOwnScale(si, shares, powers?.seconds ?? 0) };
}

const times = (e: Estimate, by: number): Estimate => ({
  ...e,
  value: e.value * by,
  low: e.low * by,
  high: e.high * by,
});

/** What a constant is made of, by its unit; undefined where that is not known. */
function powersOf(quantity: ConstantName, roles: readonly string[]): Powers | undefined {
  if (quantity === "speedPerDuty") return { angle: 1, seconds: -1, duty: -1 };
  if (quantity === "deadBandDuty" || quantity === "breakawayDuty") return { duty: 1 };
  const effort = (["torque", "torqueCommand"] as ChannelRole[]).some((role) => roles.includes(role));
  const { unit } = constantNames[quantity];
  return (effort ? fromTorque[unit] : undefined) ?? powersOfUnit[unit];
}

/** Constants in newton metres, where a torque was logged. */
const fromTorque: Readonly<Record<string, Powers>> = {
  "N.m/A": { torque: 1, current: -1 },
  "N.m": { torque: 1 },
  "N.m.s/rad": { torque: 1, angle: -1, seconds: 1 },
  "kg.m2": { torque: 1, angle: -1, seconds: 2 },
};

/** The others; those in newton metres are from the back-EMF, V s/rad, times a current. */
const powersOfUnit: Readonly<Record<string, Powers>> = {
  "{rev}/min/V": { angle: 1, voltage: -1, seconds: -1 },
  "V.s/rad": { voltage: 1, angle: -1, seconds: 1 },
  Wb: { voltage: 1, angle: -1, seconds: 1 },
  "N.m/A": { voltage: 1, angle: -1, seconds: 1 },
  Ohm: { voltage: 1, current: -1 },
  H: { voltage: 1, current: -1, seconds: 1 },
  s: { seconds: 1 },
  "s-1": { seconds: -1 },
  A: { current: 1 },
  V: { voltage: 1 },
  deg: {},
  "1": {},
  "rad/s": { angle: 1, seconds: -1 },
  "rad/s/V": { angle: 1, voltage: -1, seconds: -1 },
  "rad/s2": { angle: 1, seconds: -2 },
  "rad-1": { angle: -1 },
  "A.s2/rad": { current: 1, angle: -1, seconds: 2 },
  "A.s/rad": { current: 1, angle: -1, seconds: 1 },
  "N.m": { voltage: 1, current: 1, angle: -1, seconds: 1 },
  "N.m.s/rad": { voltage: 1, current: 1, angle: -2, seconds: 2 },
  "kg.m2": { voltage: 1, current: 1, angle: -2, seconds: 3 },
};
