import type { LeadOrder } from "../../lib/motor/facts.js";
import { leadOrders } from "../../lib/motor/facts.js";
import type { Channel, ChannelRole, Recording, Step, Trial } from "../../lib/recording/types.js";
import { siUnits } from "../../lib/recording/types.js";

/**
 * A second bench, written apart from lib/motor and on other lines (complex space vectors, fixed Euler steps, its own
 * drive), so that the verdicts are not judged only on the simulator they may have grown used to.
 */
export interface SecondBench {
  readonly polePairs: number;
  readonly resistance: number;
  readonly inductance: number;
  readonly fluxLinkage: number;
  readonly inertia: number;
  readonly coulomb: number;
  readonly viscous: number;
  readonly stiction: number;
  readonly busVoltage: number;
  readonly currentLimit: number;
  /** Closed current loop, rad/s. */
  readonly currentBandwidth: number;
  readonly kp: number;
  readonly ki: number;
  readonly lines: number;
  // What is set in the drive and how it is wired.
  readonly order: LeadOrder;
  readonly encoderSense: 1 | -1;
  readonly setPolePairs: number;
  readonly setLines: number;
  /** Offset error of the drive's angle when the order is even and nothing else is wrong, electrical rad. */
  readonly offset: number;
  readonly startAngle: number;
  readonly jammed?: boolean;
  readonly openLead?: boolean;
  /** Constant load torque beyond friction, N m (acts against motion when below stiction). */
  readonly load?: number;
  readonly disabled?: boolean;
  /** What the bridge loses in each phase against its current (dead time, switches), V. */
  readonly bridgeLoss?: number;
  /** The drive's reading of its currents over the true ones; 1 when absent. */
  readonly currentGain?: number;
}

export interface SecondProgram {
  readonly kind: "torque" | "speed";
  /** Command from each time on. */
  readonly steps: readonly { readonly time: number; readonly value: number }[];
  readonly length: number;
  /** Rate of change of the command per second; a step when absent. */
  readonly ramp?: number;
  /** Command is taken away at this speed, rad/s (overspeed trip). */
  readonly tripSpeed?: number;
  readonly initialSpeed?: number;
}

export interface SecondLog {
  readonly rate: number;
  readonly currentNoise: number;
  readonly currentOffset?: number;
  readonly speedDelay?: number;
  readonly speedFilter?: number;
  readonly speedNoise?: number;
  readonly channels: readonly ChannelRole[];
  readonly random: () => number;
  /**
   * Longest Euler step, s; 2e-5 when absent. At that step and 1,000 electrical rad/s the torque is up to 0.4 % less
   * than the currents say, which an estimator rightly reads as viscous friction.
   */
  readonly step?: number;
}

/** Small seeded generator (mulberry32); written here once more, since this bench shares no code with `lib`. */
export function seeded(seed: number): () => number {
  let a = seed >>> 0;
  return () => {
    a = (a + 0x6d2b79f5) >>> 0;
    let t = a;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

export function gaussian(random: () => number): number {
  return Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
}

function commandAt(program: SecondProgram, t: number): number {
  let value = 0;
  let previous = 0;
  for (const step of program.steps) {
    if (t < step.time) break;
    previous = value;
    const since = t - step.time;
    if (program.ramp) {
      const change = step.value - previous;
      value = previous + Math.sign(change) * Math.min(Math.abs(change), program.ramp * since);
    } else value = step.value;
  }
  return value;
}

/** Runs one trial and logs it. The trial covers the whole recording. */
export function secondRun(
  bench: SecondBench,
  program: SecondProgram,
  log: SecondLog,
): { recording: Recording; trials: Trial[]; truthSpeed: Float64Array } {
  const p = bench.polePairs;
  const kt = 1.5 * p * bench.fluxLinkage;
  const dt = Math.min(log.step ?? 2e-5, (0.05 * bench.inductance) / bench.resistance);
  const k = (bench.encoderSense * bench.setPolePairs * bench.lines) / bench.setLines;
  const odd = leadOrders.indexOf(bench.order) >= 3;
  const cyclic = ((leadOrders.indexOf(bench.order) % 3) * 2 * Math.PI) / 3;
  const control = 1e-4;
  const kpc = bench.currentBandwidth * bench.inductance;
  const kic = bench.currentBandwidth * bench.resistance;
  const vmax = bench.busVoltage / Math.sqrt(3);
  const reads = bench.currentGain ?? 1;
  const { bridgeLoss = 0 } = bench;
  // Below a fiftieth of the largest current a bridge loses in proportion to it.
  const passes = (current: number): number => Math.max(-1, Math.min(1, (50 * current) / bench.currentLimit));
  const step = (2 * Math.PI) / (4 * bench.lines);
  let theta = bench.startAngle;
  let w = program.initialSpeed ?? 0;
  let ia = 0;
  let ib = 0; // motor-side stator currents
  let va = 0;
  let vb = 0;
  let sumd = 0;
  let sumq = 0;
  let sumSpeed = 0;
  let speedMeasured = 0;
  let previousCount = Math.floor(theta / step);
  let tripped = false;
  let iqCommand = 0;
  let idm = 0;
  let iqm = 0;
  let vd = 0;
  let vq = 0;
  let ref = 0;
  // The drive's angle at the start stands off the magnets by exactly `offset`, whatever the order.
  const atStart = odd ? cyclic - p * bench.startAngle : cyclic + p * bench.startAngle;
  const phi = atStart - k * bench.startAngle + bench.offset;
  const rows = Math.floor(program.length * log.rate);
  const out: Partial<Record<ChannelRole, Float64Array>> = {};
  for (const role of log.channels) out[role] = new Float64Array(rows);
  const time = new Float64Array(rows);
  const truthSpeed = new Float64Array(rows);
  const delayed: number[] = [];
  let filtered = 0;
  let nextControl = 0;
  let row = 0;
  const total = Math.ceil(program.length / dt);
  const set = (role: ChannelRole, value: number): void => {
    const column = out[role];
    if (column) column[row] = value;
  };
  for (let n = 0; n <= total && row < rows; n += 1) {
    const t = n * dt;
    if (t >= nextControl) {
      nextControl += control;
      const count = Math.floor((bench.encoderSense * theta) / step);
      const raw = ((count - previousCount) * 2 * Math.PI) / (4 * bench.setLines) / control;
      previousCount = count;
      speedMeasured += (raw - speedMeasured) * 0.12;
      ref = commandAt(program, t);
      if (program.tripSpeed && Math.abs(w) > program.tripSpeed) tripped = true;
      if (tripped) ref = 0;
      if (program.kind === "torque") iqCommand = ref;
      else if (tripped) iqCommand = 0;
      else {
        const e = ref - speedMeasured;
        const wanted = bench.kp * e + sumSpeed;
        iqCommand = Math.max(-bench.currentLimit, Math.min(bench.currentLimit, wanted));
        if (iqCommand === wanted || Math.sign(e) !== Math.sign(wanted)) sumSpeed += bench.ki * e * control;
      }
      const psi = k * theta + phi;
      // motor side to drive side
      let xa = reads * ia;
      let xb = reads * (odd ? -ib : ib);
      const ca = Math.cos(cyclic);
      const sa = Math.sin(cyclic);
      [xa, xb] = [xa * ca - xb * sa, xa * sa + xb * ca];
      const c = Math.cos(psi);
      const s = Math.sin(psi);
      idm = xa * c + xb * s;
      iqm = -xa * s + xb * c;
      if (bench.disabled) {
        va = 0;
        vb = 0;
        vd = 0;
        vq = 0;
      } else {
        const ed = -idm;
        const eq = iqCommand - iqm;
        vd = kpc * ed + sumd;
        vq = kpc * eq + sumq;
        const size = Math.hypot(vd, vq);
        if (size > vmax) {
          vd *= vmax / size;
          vq *= vmax / size;
          sumd += 0.02 * (vd - sumd - kpc * ed);
          sumq += 0.02 * (vq - sumq - kpc * eq);
        } else {
          sumd += kic * ed * control;
          sumq += kic * eq * control;
        }
        const da = vd * c - vq * s;
        const db = vd * s + vq * c;
        const ma = da * ca + db * sa;
        const mb = -da * sa + db * ca;
        va = ma;
        vb = odd ? -mb : mb;
      }
    }
    const te = p * theta;
    const ea = -bench.fluxLinkage * p * w * Math.sin(te);
    const eb = bench.fluxLinkage * p * w * Math.cos(te);
    if (bench.disabled) {
      ia = 0;
      ib = 0;
    } else if (bench.openLead) {
      // Lead on motor phase U open: alpha current stays zero.
      ia = 0;
      ib += ((vb - eb - bench.resistance * ib) / bench.inductance) * dt;
      ib = Math.max(-3 * bench.currentLimit, Math.min(3 * bench.currentLimit, ib));
    } else {
      let [la, lb] = [0, 0];
      if (bridgeLoss > 0) {
        const [u, v, x] = [
          passes(ia),
          passes((Math.sqrt(3) * ib - ia) / 2),
          passes((-Math.sqrt(3) * ib - ia) / 2),
        ];
        la = (bridgeLoss * (2 * u - v - x)) / 3;
        lb = (bridgeLoss * (v - x)) / Math.sqrt(3);
      }
      ia += ((va - la - ea - bench.resistance * ia) / bench.inductance) * dt;
      ib += ((vb - lb - eb - bench.resistance * ib) / bench.inductance) * dt;
    }
    const torque = 1.5 * p * bench.fluxLinkage * (ib * Math.cos(te) - ia * Math.sin(te));
    if (bench.jammed) w = 0;
    else {
      const load = bench.load ?? 0;
      const net = torque - load;
      if (w === 0) {
        if (Math.abs(net) > bench.stiction) w = ((net - Math.sign(net) * bench.coulomb) / bench.inertia) * dt;
      } else {
        const next = w + ((net - Math.sign(w) * bench.coulomb - bench.viscous * w) / bench.inertia) * dt;
        w = next * w < 0 && Math.abs(net) < bench.stiction ? 0 : next;
      }
      theta += w * dt;
    }
    if (t >= row / log.rate) {
      time[row] = row / log.rate;
      truthSpeed[row] = w;
      const noise = (): number => log.currentNoise * gaussian(log.random);
      set("currentCommand", iqCommand);
      set("current", iqm + noise() + (log.currentOffset ?? 0));
      set("currentD", idm + noise());
      set("voltageD", vd);
      set("voltageQ", vq);
      set("torque", torque + 0.02 * kt * gaussian(log.random));
      set("torqueCommand", iqCommand * kt);
      const logged = bench.encoderSense * theta;
      set("position", (Math.floor(logged / step) * step * bench.lines) / bench.setLines);
      delayed.push((bench.encoderSense * w * bench.lines) / bench.setLines);
      const lag = Math.round((log.speedDelay ?? 0) * log.rate);
      const old = delayed[Math.max(0, delayed.length - 1 - lag)];
      const f = log.speedFilter ? 1 - Math.exp(-log.speedFilter / log.rate) : 1;
      filtered += f * (old - filtered);
      set("speed", filtered + (log.speedNoise ?? 0) * gaussian(log.random));
      if (program.kind === "speed") set("speedCommand", ref);
      const u = reads * ia;
      const across = (Math.sqrt(3) / 2) * reads * ib;
      set("currentU", u + noise());
      set("currentV", -u / 2 + across + noise());
      set("currentW", -u / 2 - across + noise());
      row += 1;
    }
  }
  const channels: Partial<Record<ChannelRole, Channel>> = {};
  for (const role of log.channels) {
    if (role === "speedCommand" && program.kind !== "speed") continue;
    channels[role] = {
      role,
      name: role,
      sourceUnit: siUnits[role],
      recognisedBy: "simulated",
      data: out[role] as Float64Array,
      ...(role === "position" ? { resolution: (2 * Math.PI) / (4 * bench.setLines) } : {}),
    };
  }
  const command: ChannelRole | undefined =
    program.kind === "speed"
      ? channels.speedCommand
        ? "speedCommand"
        : undefined
      : (["currentCommand", "torqueCommand"] as const).find((role) => channels[role]);
  let from = 0;
  const steps: Step[] = program.steps.map(({ time: at, value }) => {
    const made = { at: Math.min(rows - 1, Math.ceil(at * log.rate)), time: at, from, to: value };
    from = value;
    return made;
  });
  return {
    recording: {
      path: "second-bench",
      ordering: bench.order,
      motor: "m",
      time,
      channels,
      machine: { polePairs: p },
      drive: { polePairs: bench.setPolePairs, encoderLines: bench.setLines },
      encoder: { lines: bench.lines },
      findings: [],
    },
    truthSpeed,
    trials: [
      {
        kind: program.kind,
        from: 0,
        to: rows,
        start: 0,
        end: program.length,
        ...(command ? { command } : {}),
        steps,
        source: "declared",
      },
    ],
  };
}
