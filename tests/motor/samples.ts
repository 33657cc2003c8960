import type { Bench, Segment } from "../../lib/motor/index.js";

/** A change to the plain bench of these tests. */
export interface Change {
  readonly motor?: Partial<Bench["motor"]>;
  readonly drive?: Partial<Bench["drive"]>;
  readonly encoder?: Partial<Bench["encoder"]>;
  readonly order?: Bench["order"];
  readonly openLead?: Bench["openLead"];
  readonly alignedAt?: number;
}

/** A plain sound bench: 4 pole pairs, fine encoder, no friction. */
export function plainBench(change: Change = {}): Bench {
  return {
    motor: {
      polePairs: 4,
      resistance: 0.8,
      inductanceD: 1e-3,
      inductanceQ: 1e-3,
      fluxLinkage: 0.015,
      inertia: 2e-4,
      coulombFriction: 0,
      viscousFriction: 0,
      staticFriction: 0,
      ...change.motor,
    },
    drive: {
      busVoltage: 48,
      modulation: "space-vector",
      currentLimit: 10,
      samplePeriod: 1e-4,
      currentBandwidth: 2500,
      polePairs: 4,
      encoderLines: 5000,
      speedLoop: { kp: 0.02, ki: 0.2 },
      speedFilter: 1e-9,
      alignment: { kind: "aligned" },
      ...change.drive,
    },
    encoder: { lines: 5000, sense: 1, ...change.encoder },
    order: change.order ?? "UVW",
    ...(change.openLead === undefined ? {} : { openLead: change.openLead }),
    ...(change.alignedAt === undefined ? {} : { alignedAt: change.alignedAt }),
  };
}

/** Torque constant of the plain bench, N m/A peak: 1.5*p*flux. */
export const plainTorqueConstant = 1.5 * 4 * 0.015;

export const torque = (from: number, duration: number): Segment => ({ kind: "torque", from, duration });
export const last = (values: Float64Array) => values[values.length - 1];
export const at = (time: Float64Array, t: number) => time.findIndex((value) => value >= t - 1e-9);
export const mean = (values: ArrayLike<number>) => {
  let sum = 0;
  for (let i = 0; i < values.length; i += 1) sum += values[i];
  return sum / values.length;
};
