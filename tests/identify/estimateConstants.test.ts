import { expect, test } from "vitest";
import { estimateConstants } from "../../lib/identify/index.js";
import { recordingFromTrace } from "../../lib/recording/index.js";
import { simulate } from "../../lib/simulation/index.js";
import { type Leg, randomTruth, runBench } from "./testBench.js";

const torqueAndCoast: readonly Leg[] = [
  { kind: "torque", seconds: 1, command: 3 },
  { kind: "torque", seconds: 1, command: -3 },
  { kind: "coast", seconds: 2, command: 0 },
];

test("finds the constants of a simulated bench with dq voltages, in their conventions", () => {
  const truth = randomTruth(4);
  const { recording, trials } = runBench(truth, torqueAndCoast, 9, [
    "currentCommand",
    "current",
    "currentD",
    "voltageQ",
    "voltageD",
    "position",
  ]);
  const { electrical, mechanical } = estimateConstants(
    { ...recording, machine: { polePairs: truth.polePairs } },
    trials,
  );
  const psi = truth.polePairs * truth.fluxLinkage;
  expect(electrical.fluxLinkage!.value / truth.fluxLinkage).toBeCloseTo(1, 2);
  expect(electrical.torqueConstant!.value / (1.5 * psi)).toBeCloseTo(1, 2);
  expect(electrical.backEmfConstant!.value / (Math.sqrt(3) * psi)).toBeCloseTo(1, 2);
  expect((electrical.kv!.value * Math.sqrt(3) * psi * 2 * Math.PI) / 60).toBeCloseTo(1, 2);
  expect(electrical.resistance!.value / truth.resistance).toBeCloseTo(1, 1);
  expect(mechanical.inertia!.value / truth.inertia).toBeCloseTo(1, 2);
  expect(Math.abs(mechanical.coulombFriction!.value / truth.coulomb - 1)).toBeLessThan(0.15);
  expect(mechanical.coulombFriction!.unit).toBe("N.m");
});

test("a recording with nothing to use says what is missing instead of failing", () => {
  const { recording } = runBench(randomTruth(1), torqueAndCoast, 1);
  const bare = estimateConstants({ ...recording, channels: {} }, []);
  expect(bare.routes).toEqual([]);
  expect(bare.missing.map((m) => m.quantity)).toContain("inertia");
});

// Amplitude-invariant dq: Kt*Kv = 1.5*60/(2*pi*sqrt(3)) = 8.270 (closed form); single constant Kt = Ke:
// 60/(2*pi) = 9.549 (closed form).
test("Kt times Kv is the number of its convention, never the other one", () => {
  const truth = randomTruth(2);
  const { recording, trials } = runBench(truth, torqueAndCoast, 3, [
    "currentCommand",
    "current",
    "currentD",
    "voltageQ",
    "voltageD",
    "position",
  ]);
  const { electrical } = estimateConstants(recording, trials);
  const product = electrical.torqueConstant!.value * electrical.kv!.value;
  expect(product).toBeCloseTo(8.27, 2);
  expect(electrical.kv!.convention).toContain("line-to-line peak");
  expect(electrical.torqueConstant!.convention).toContain("amplitude-invariant");
  // Without pole pairs there is a torque constant but no flux linkage, and the list says why.
  expect(electrical.fluxLinkage).toBeUndefined();
});

// Retardation test (IEEE Std 1812 for permanent-magnet machines, IEC 60034-2-1; from memory): friction torque at a
// speed is J*dw/dt there. Closed form of the coast-down with Coulomb and viscous friction: w(t) = (w0 +
// Tc/B)*exp(-B*t/J) - Tc/B.
test("a coast-down gives Tc/J and B/J of its closed form, and friction torque with a stated inertia", () => {
  const [J, Tc, B, w0] = [2e-4, 0.012, 6e-5, 250];
  const q = (2 * Math.PI) / 10000;
  const time = Float64Array.from({ length: 2000 }, (_, i) => i * 1e-3);
  const position = time.map((t) => {
    const decay = Math.exp((-B * t) / J);
    return Math.floor((((w0 + Tc / B) * J * (1 - decay)) / B - (Tc / B) * t) / q) * q;
  });
  const { mechanical, ratios } = estimateConstants(
    {
      path: "closed form",
      time,
      channels: {
        position: {
          role: "position",
          name: "angle",
          sourceUnit: "rad",
          recognisedBy: "name",
          data: position,
          resolution: q,
        },
      },
      machine: { inertia: J },
      drive: {},
      encoder: {},
      findings: [],
    },
    [{ kind: "coast", from: 0, to: 2000, start: 0, end: 2, steps: [], source: "declared" }],
  );
  expect(ratios.coulombOverInertia!.value / (Tc / J)).toBeCloseTo(1, 2);
  expect(ratios.viscousOverInertia!.value / (B / J)).toBeCloseTo(1, 1);
  expect(mechanical.coulombFriction!.value / Tc).toBeCloseTo(1, 2);
  expect(mechanical.mechanicalTimeConstant!.value / (J / B)).toBeCloseTo(1, 1);
});

test("a stale offset of 120 degrees: the angle, g = -0.5, a warning, and friction and inertia not falsified by it", () => {
  const truth = { ...randomTruth(6), offset: (2 * Math.PI) / 3 };
  const { recording, trials } = runBench(truth, torqueAndCoast, 4, [
    "currentCommand",
    "current",
    "currentD",
    "voltageQ",
    "voltageD",
    "position",
  ]);
  const { electrical, mechanical, findings } = estimateConstants(recording, trials);
  expect(Math.abs(electrical.offsetError!.value - 120)).toBeLessThan(1);
  expect(electrical.torqueGain!.value).toBeCloseTo(-0.5, 1);
  expect(findings.map((f) => f.code)).toContain("torque-against-current");
  expect(Math.abs(mechanical.inertia!.value / truth.inertia - 1)).toBeLessThan(0.05);
});

test("two leads exchanged: the shaft only swings, and no inertia or friction is read from that", () => {
  const motor = {
    polePairs: 4,
    resistance: 0.45,
    inductanceD: 5e-4,
    inductanceQ: 5e-4,
    fluxLinkage: 0.008,
    inertia: 6e-5,
    coulombFriction: 0.006,
    viscousFriction: 2e-5,
    staticFriction: 0.009,
  };
  const bench = {
    motor,
    drive: {
      busVoltage: 24,
      modulation: "space-vector" as const,
      currentLimit: 8,
      samplePeriod: 1e-4,
      currentBandwidth: 2000,
      polePairs: 4,
      encoderLines: 2048,
      speedLoop: { kp: 0.05, ki: 0.5 },
      speedFilter: 1e-3,
      alignment: { kind: "stale" as const, from: "UVW" as const },
    },
    encoder: { lines: 2048, sense: 1 as const },
    order: "VUW" as const,
  };
  const trace = simulate(bench, [
    { kind: "torque", from: 3, duration: 0.4 },
    { kind: "torque", from: -3, duration: 0.4 },
  ]);
  const recording = recordingFromTrace(trace, bench);
  const { mechanical, ratios, missing } = estimateConstants(recording, [
    {
      kind: "torque",
      from: 0,
      to: 800,
      start: 0,
      end: 0.8,
      command: "currentCommand",
      steps: [{ at: 400, time: 0.4, from: 3, to: -3 }],
      source: "declared",
    },
  ]);
  expect(mechanical).toEqual({});
  expect(ratios).toEqual({});
  expect(missing.find((m) => m.quantity === "inertia")?.needs).toContain("two turns");
});

test("isolated outliers in every channel change no constant beyond its interval", () => {
  const truth = randomTruth(4);
  const { recording, trials } = runBench(truth, torqueAndCoast, 9);
  const clean = estimateConstants(recording, trials);
  const current = recording.channels.current!.data.slice();
  const position = recording.channels.position!.data.slice();
  for (let i = 60; i < current.length; i += 173) current[i] += 8;
  for (let i = 90; i < position.length; i += 211) position[i] -= 0.7;
  const spiked = estimateConstants(
    {
      ...recording,
      channels: {
        ...recording.channels,
        current: { ...recording.channels.current!, data: current },
        position: { ...recording.channels.position!, data: position },
      },
    },
    trials,
  );
  const [a, b] = [clean.ratios.inertiaOverTorqueConstant!, spiked.ratios.inertiaOverTorqueConstant!];
  expect(Math.abs(b.value / a.value - 1)).toBeLessThan(0.02);
  expect(spiked.findings.map((f) => f.code)).toContain("spikes-removed");
});

test("a bus voltage that is not what was stated shows as two routes that disagree", () => {
  const truth = randomTruth(4);
  const { recording, trials } = runBench(truth, torqueAndCoast, 9, [
    "currentCommand",
    "current",
    "currentD",
    "voltageQ",
    "voltageD",
    "position",
  ]);
  const { findings } = estimateConstants(
    { ...recording, machine: { polePairs: truth.polePairs }, drive: { busVoltage: 48 } },
    trials,
  );
  const disagreement = findings.find((f) => f.code === "routes-disagree" && f.message.startsWith("kv"));
  expect(disagreement).toBeDefined();
});
