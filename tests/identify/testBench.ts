/**
 * A second, independent bench: a time-stepped machine written only for these tests, so that the estimators are not
 * checked against the same code that other rooms simulate with. Isotropic machine in the drive's dq frame turned by the
 * offset error.
 */

import type { Channel, ChannelRole, Recording, Step, Trial } from "../../lib/recording/types.js";
import { uniforms as randomFrom } from "../house/uniforms.js";

/** True values of a bench; SI, amplitude-invariant. */
export interface Truth {
  readonly polePairs: number;
  readonly fluxLinkage: number;
  readonly resistance: number;
  readonly inductance: number;
  readonly inertia: number;
  readonly coulomb: number;
  readonly viscous: number;
  readonly staticFriction: number;
  readonly stribeckSpeed: number;
  readonly busVoltage: number;
  /** Offset error, rad. */
  readonly offset: number;
  readonly lines: number;
  /** Standard deviation of the measured current, A, and voltage, V. */
  readonly currentNoise: number;
  readonly voltageNoise: number;
  /** Slow torque disturbance: standard deviation, N m, and correlation time, s. */
  readonly disturbance: number;
  readonly disturbanceTime: number;
  /** Cogging: amplitude, N m, and periods per turn. */
  readonly cogging: number;
  readonly coggingOrder: number;
  /** How many times stiffer than usual the speed loop is; 1 when absent. */
  readonly stiffness?: number;
}

/** One leg of a program: a torque (current) or speed command, or the drive switched off. */
export interface Leg {
  readonly kind: "torque" | "speed" | "coast";
  readonly seconds: number;
  readonly command: number;
  /** Ramp from the previous command instead of a step. */
  readonly ramp?: boolean;
}

/** Standard normal numbers (Box and Muller). */
export function normalFrom(random: () => number): () => number {
  return () => Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
}

/** A servo motor drawn around a common size; the seed decides. */
export function randomTruth(seed: number): Truth {
  const random = randomFrom(seed * 7919 + 17);
  const between = (a: number, b: number): number => a * (b / a) ** random();
  const fluxLinkage = between(0.006, 0.012);
  const polePairs = 2 + Math.floor(random() * 4);
  const torqueConstant = 1.5 * polePairs * fluxLinkage;
  const coulomb = torqueConstant * between(0.08, 0.25);
  return {
    polePairs,
    fluxLinkage,
    resistance: between(0.3, 1),
    inductance: between(0.2e-3, 0.8e-3),
    inertia: between(3e-5, 1e-4),
    coulomb,
    viscous: between(1e-5, 6e-5),
    staticFriction: coulomb * between(1.2, 1.6),
    stribeckSpeed: between(0.5, 1.5),
    busVoltage: 24,
    offset: 0,
    lines: [1024, 2048, 2500][Math.floor(random() * 3)],
    currentNoise: between(0.02, 0.06),
    voltageNoise: between(0.05, 0.2),
    disturbance: coulomb * 0.02,
    disturbanceTime: 0.02,
    cogging: 0,
    coggingOrder: 12,
  };
}

/** Runs a program on a bench and returns a recording with its trials, sampled at 1 kHz. */
export function runBench(
  truth: Truth,
  legs: readonly Leg[],
  seed: number,
  channels: readonly ChannelRole[] = ["currentCommand", "current", "position", "speed"],
): { recording: Recording; trials: Trial[] } {
  const normal = normalFrom(randomFrom(seed));
  const interval = 1e-3;
  const inner = 20;
  const h = interval / inner;
  const { polePairs: p, fluxLinkage, resistance: R, inductance: L, inertia: J } = truth;
  const psi = p * fluxLinkage;
  const Kt = 1.5 * psi;
  const limit = truth.busVoltage / Math.sqrt(3);
  const rows = Math.round(legs.reduce((s, l) => s + l.seconds, 0) / interval);
  const log = (): Float64Array => new Float64Array(rows);
  const columns: Partial<Record<ChannelRole, Float64Array>> = {};
  for (const role of channels) columns[role] = log();
  const time = log();
  const trials: Trial[] = [];
  let w = 0;
  let theta = 0.3 * normal();
  let id = 0;
  let iq = 0;
  let integralD = 0;
  let integralQ = 0;
  let speedIntegral = 0;
  let disturbance = 0;
  const keep = Math.exp(-h / truth.disturbanceTime);
  const bandwidth = 1500;
  let row = 0;
  let lastCommand = 0;
  let lastKind = "";
  const q = (2 * Math.PI) / (4 * truth.lines);
  let lastCount = Math.floor(theta / q);
  let open: { kind: Leg["kind"]; from: number; steps: Step[] } | null = null;
  const close = (at: number): void => {
    if (open === null) return;
    trials.push({
      kind: open.kind,
      from: open.from,
      to: at,
      start: open.from * interval,
      end: at * interval,
      ...(open.kind === "coast"
        ? {}
        : {
            command: open.kind === "torque" ? ("currentCommand" as const) : ("speedCommand" as const),
          }),
      steps: open.steps,
      source: "declared",
    });
  };
  for (const leg of legs) {
    if (leg.kind !== lastKind) {
      close(row);
      open = { kind: leg.kind, from: row, steps: [] };
      lastKind = leg.kind;
      speedIntegral = 0;
    }
    if (leg.kind !== "coast" && !leg.ramp)
      open!.steps.push({ at: row, time: row * interval, from: lastCommand, to: leg.command });
    const count = Math.round(leg.seconds / interval);
    const start = lastCommand;
    for (let k = 0; k < count; k++, row++) {
      const command = leg.ramp ? start + ((leg.command - start) * k) / count : leg.command;
      let lastD = 0;
      let lastQ = 0;
      let lastId = 0;
      let lastIq = 0;
      let iCommand = 0;
      for (let s = 0; s < inner; s++) {
        if (leg.kind === "torque") iCommand = command;
        else if (leg.kind === "speed") {
          const error = command - w;
          const kp = ((truth.stiffness ?? 1) * 0.1 * J) / Kt / 0.01;
          const unlimited = kp * error + speedIntegral;
          iCommand = Math.max(-6, Math.min(6, unlimited));
          if (unlimited === iCommand) speedIntegral += kp * 5 * error * h;
        } else iCommand = 0;
        const off = leg.kind === "coast";
        // Drive frame turned by the offset: true q current = iq*cos - id*sin.
        const c = Math.cos(truth.offset);
        const n = Math.sin(truth.offset);
        const eq = w * psi * c;
        const ed = w * psi * n;
        let vd = 0;
        let vq = 0;
        if (off) {
          id = 0;
          iq = 0;
          integralD = 0;
          integralQ = 0;
        } else {
          const errorQ = iCommand - iq;
          const errorD = -id;
          vq = bandwidth * L * errorQ + integralQ;
          vd = bandwidth * L * errorD + integralD;
          const size = Math.hypot(vd, vq);
          if (size > limit) {
            vd *= limit / size;
            vq *= limit / size;
          }
          integralQ += bandwidth * R * errorQ * h;
          integralD += bandwidth * R * errorD * h;
          if (size > limit) {
            const held = Math.min(1, limit / Math.max(limit, Math.hypot(integralD, integralQ)));
            integralD *= held;
            integralQ *= held;
          }
          const we = p * w;
          id += ((vd - R * id + we * L * iq - ed) / L) * h;
          iq += ((vq - R * iq - we * L * id - eq) / L) * h;
        }
        disturbance = disturbance * keep + truth.disturbance * Math.sqrt(1 - keep * keep) * normal();
        const drive =
          Kt * (iq * c + id * n) + disturbance + truth.cogging * Math.sin(truth.coggingOrder * theta);
        if (Math.abs(w) < 1e-9 && Math.abs(drive) <= truth.staticFriction) w = 0;
        else {
          const sense = Math.abs(w) < 1e-9 ? Math.sign(drive) : Math.sign(w);
          const friction =
            (truth.coulomb +
              (truth.staticFriction - truth.coulomb) * Math.exp(-((w / truth.stribeckSpeed) ** 2))) *
              sense +
            truth.viscous * w;
          const next = w + ((drive - friction) / J) * h;
          w = next * w < 0 ? 0 : next;
        }
        theta += w * h;
        lastD = vd;
        lastQ = vq;
        lastId = id;
        lastIq = iq;
      }
      time[row] = row * interval;
      const put = (role: ChannelRole, value: number): void => {
        const column = columns[role];
        if (column) column[row] = value;
      };
      const counts = Math.floor(theta / q);
      put("position", counts * q);
      put("speed", ((counts - lastCount) * q) / interval);
      lastCount = counts;
      put("current", iq + truth.currentNoise * normal());
      put("currentD", id + truth.currentNoise * normal());
      put("currentCommand", leg.kind === "coast" ? 0 : iCommand);
      put("speedCommand", leg.kind === "speed" ? command : 0);
      put("voltageQ", lastQ + truth.voltageNoise * normal());
      put("voltageD", lastD + truth.voltageNoise * normal());
      put("voltageBus", truth.busVoltage + 0.05 * normal());
      put("torque", Kt * (lastIq * Math.cos(truth.offset) + lastId * Math.sin(truth.offset)));
    }
    lastCommand = leg.kind === "coast" ? 0 : leg.command;
  }
  close(row);
  const made: Partial<Record<ChannelRole, Channel>> = {};
  for (const role of channels)
    made[role] = {
      role,
      name: role,
      sourceUnit: "",
      recognisedBy: "descriptor",
      data: columns[role]!,
      ...(role === "position" ? { resolution: q } : {}),
    };
  return {
    recording: {
      path: `bench-${seed}`,
      time,
      channels: made,
      machine: {},
      drive: {},
      encoder: {},
      findings: [],
    },
    trials,
  };
}
