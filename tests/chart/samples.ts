/** One chart of every kind, from invented data, for the tests and for the eye (npx tsx tests/chart/pictures.ts
 * <folder>). */
import * as charts from "../../lib/chart/index.js";
import { leadOrders } from "../../lib/motor/facts.js";
import { uniforms } from "../house/uniforms.js";

const random = uniforms(7);
const wobble = () => random() + random() + random() - 1.5;
const time = Float64Array.from({ length: 4000 }, (_, i) => i / 1000);
const command = time.map((t) => (t < 0.5 ? 0 : t < 2 ? 2 : -2));
const current = command.map((value) => value + 0.05 * wobble());
const speed = time.map((t) => {
  const value =
    t < 0.5 ? 0 : t < 2 ? 2800 * (1 - Math.exp(-(t - 0.5) / 0.2)) : -2800 + 5600 * Math.exp(-(t - 2) / 0.2);
  return value + 8 * wobble();
});
const zeros = time.map(() => 0);
const step = Float64Array.from({ length: 600 }, (_, i) => i / 1000);
const response = (t: number) => 300 * (1 - Math.exp(-12 * t) * (Math.cos(22 * t) + 0.55 * Math.sin(22 * t)));
const away = time.map((t) => -300 * Math.min(9, Math.exp(Math.max(0, t - 0.5) / 0.6) - 1));
const decade = Float64Array.from({ length: 200 }, (_, i) => 10 ** (i / 66));

/** Every chart, by the name of its builder. */
export const samples: Readonly<Record<string, charts.ChartSpec>> = {
  traceChart: charts.traceChart({
    time,
    panels: [
      {
        title: "Current (A)",
        quantity: "current",
        series: [
          { name: "current commanded", kind: "command", values: command },
          { name: "current measured", values: current },
        ],
        limits: [{ value: 2.6, text: "current limit" }],
      },
      { title: "Speed (rev/min)", quantity: "speed", series: [{ name: "speed measured", values: speed }] },
    ],
    marks: [
      { start: 0.4, end: 2, label: "torque trial: tracking", verdict: "tracking" },
      { start: 2, end: 3.8, label: "torque trial: runaway", verdict: "runaway" },
    ],
  }),
  stepChart: charts.stepChart({
    time: step,
    measured: step.map((t) => response(t) + 3 * wobble()),
    command: step.map(() => 300),
    fit: step.map(response),
    low: step.map((t) => response(t) - 6),
    high: step.map((t) => response(t) + 6),
    axis: "Speed (rev/min)",
    levels: [{ value: 270, text: "90 %" }],
    instants: [
      { time: 0.075, text: "rise time 75 ms" },
      { time: 0.31, text: "settled after 310 ms" },
    ],
  }),
  orderingsChart: charts.orderingsChart(
    leadOrders.map((ordering, i) => ({
      ordering,
      trials: [
        { kind: "torque trial", verdict: i < 3 ? "tracking" : "blocked", time, speed: i < 3 ? speed : zeros },
        {
          kind: "speed trial",
          verdict: i === 0 ? "tracking" : i < 3 ? "runaway" : "blocked",
          time,
          speed: i === 0 ? time.map((t) => (t > 0.5 ? 300 : 0)) : i < 3 ? away : zeros,
          command: time.map((t) => (t > 0.5 ? 300 : 0)),
        },
      ],
    })),
  ),
  torqueGainChart: charts.torqueGainChart([
    { label: "UVW", offset: 4, gain: 0.98, low: 0.93, high: 1.03, verdict: "tracking" },
    { label: "VWU", offset: 121, gain: -0.51, low: -0.56, high: -0.47, verdict: "runaway" },
    { label: "WUV", offset: -119, gain: -0.5, low: -0.55, high: -0.45, verdict: "runaway" },
  ]),
  torqueAngleChart: charts.torqueAngleChart([
    { label: "UVW: angle turns with the magnets", mismatch: 0, note: "Full torque at every angle: it spins" },
    {
      label: "VWU: offset 120° off",
      mismatch: 0,
      offset: 120,
      note: "Half the torque, the other way: it still spins",
    },
    { label: "VUW: two leads exchanged (n = 8)", mismatch: 8, note: "Rests every 45°: blocked" },
    { label: "One pole pair too many (n = 1)", mismatch: 1, note: "Rests after half a turn at most" },
  ]),
  phasePlaneChart: charts.phasePlaneChart(
    [
      {
        label: "UVW",
        verdict: "tracking",
        time: step,
        speed: step.map(response),
        current: step.map((t) => 4 * Math.exp(-12 * t) * Math.cos(22 * t) + 0.2),
      },
      {
        label: "VWU",
        verdict: "runaway",
        time: step,
        speed: step.map((t) => -40 * (Math.exp(t * 6) - 1)),
        current: step.map((t) => Math.min(4, 0.8 * Math.exp(6 * t))),
      },
      {
        label: "VUW",
        verdict: "blocked",
        time: step,
        speed: step.map(() => 0),
        current: step.map((t) => Math.min(4, 14 * t)),
      },
    ],
    300,
  ),
  bodeChart: charts.bodeChart([
    {
      label: "gains as set",
      frequency: decade,
      magnitude: decade.map((f) => 20 * Math.log10(60 / f)),
      phase: decade.map((f) => -90 - (f * 0.004 * 180) / Math.PI),
      crossover: 60,
      phaseMargin: 90 - (60 * 0.004 * 180) / Math.PI,
      phaseCrossover: 392,
      gainMargin: 16.3,
    },
    {
      label: "gains proposed",
      frequency: decade,
      magnitude: decade.map((f) => 20 * Math.log10(130 / f)),
      phase: decade.map((f) => -90 - (f * 0.004 * 180) / Math.PI),
      crossover: 130,
      phaseMargin: 90 - (130 * 0.004 * 180) / Math.PI,
      phaseCrossover: 392,
      gainMargin: 9.6,
    },
  ]),
  nyquistChart: charts.nyquistChart(
    [1, -0.5].map((g) => ({
      label: `g = ${g}`,
      frequency: decade,
      real: decade.map((f) => -g * 40 * (30 / f) ** 2 * 0.01),
      imaginary: decade.map((f) => (-g * 40) / f),
    })),
  ),
  poleMapChart: charts.poleMapChart(
    [1, 0.8, 0.6, 0.4, 0.2, 0.1, -0.1, -0.2, -0.4, -0.5].map((g) => {
      const [a, b, c] = [1, 2 + 40 * g, 400 * g];
      const d = b * b - 4 * a * c;
      const poles =
        d >= 0
          ? [1, -1].map((s) => ({ re: (-b + s * Math.sqrt(d)) / 2, im: 0 }))
          : [1, -1].map((s) => ({ re: -b / 2, im: (s * Math.sqrt(-d)) / 2 }));
      return { label: `g = ${g}`, poles, named: g === 1 || g === -0.5 };
    }),
  ),
  frictionChart: charts.frictionChart({
    points: Array.from({ length: 80 }, (_, i) => {
      const w = (i - 39.5) * 70;
      return { speed: w, torque: Math.sign(w) * 0.004 + 2e-6 * w + 0.0003 * wobble() };
    }),
    coulomb: 0.004,
    viscous: 2e-6,
    low: { coulomb: 0.0038, viscous: 1.9e-6 },
    high: { coulomb: 0.0042, viscous: 2.1e-6 },
  }),
  casesChart: charts.casesChart(
    [0, 45, 80, 100, 120, 180, -120, -60].map((offset) => {
      const g = Math.cos((offset * Math.PI) / 180);
      const values = step.map((t) =>
        g > 0 ? 300 * (1 - Math.exp(-20 * g * t)) : -300 * (Math.exp(-8 * g * t) - 1),
      );
      return {
        label: `ε = ${offset}°, g = ${g.toFixed(2)}`,
        verdict: g > 0 ? ("tracking" as const) : ("runaway" as const),
        time: step,
        values: values.map((v) => Math.max(-2800, v)),
        command: step.map(() => 300),
        predicted: values.map((v) => Math.max(-2800, v * 1.03)),
      };
    }),
    "Speed (rev/min)",
  ),
  distributionChart: charts.distributionChart(
    Array.from({ length: 800 }, () => 103 + 2.2 * wobble()),
    "Kv ((rev/min)/V)",
    { value: 103, low: 102.85, high: 103.15 },
  ),
  quantileChart: charts.quantileChart(
    Array.from({ length: 60 }, (_, i) => ({
      expected: 98 + i / 6,
      found: 98 + i / 6 + 0.2 * wobble(),
      low: 97.5 + i / 6 - 0.02 * Math.abs(i - 30),
      high: 98.5 + i / 6 + 0.02 * Math.abs(i - 30),
    })),
    "Kv ((rev/min)/V)",
  ),
  daysChart: charts.daysChart(
    {
      dates: Array.from({ length: 28 }, (_, i) => `2026-03-${String(i + 1).padStart(2, "0")}`),
      values: Array.from({ length: 28 }, (_, i) => 20 + 0.6 * wobble() + (i === 19 ? 2.4 : 0)),
      center: 20,
      lower: Array.from({ length: 28 }, (_, i) => 18.6 + 0.2 * (i % 3)),
      upper: Array.from({ length: 28 }, (_, i) => 21.4 - 0.2 * (i % 3)),
      signals: [{ at: 19, rule: "beyond its limits" }],
    },
    "Coulomb friction (mN·m)",
  ),
  driftChart: charts.driftChart(
    {
      runs: Array.from({ length: 9 }, (_, i) => {
        const value = 26 + 1.4 * i + wobble();
        return {
          date: `2026-03-${String(2 + 3 * i).padStart(2, "0")}`,
          value,
          low: value - 0.8,
          high: value + 0.8,
        };
      }),
      perDay: 1.4 / 3,
    },
    "Coulomb friction (mN·m)",
  ),
  controlChart: charts.controlChart(
    {
      values: Array.from({ length: 60 }, (_, i) => 103 + wobble() + (i === 40 ? 4.5 : 0)),
      center: 103,
      lower: 100,
      upper: 106,
    },
    "Kv ((rev/min)/V)",
  ),
  survivalChart: charts.survivalChart(
    ["grease A", "grease B"].map((label, k) => ({
      label,
      steps: Array.from({ length: 18 }, (_, i) => {
        const s = Math.exp(-(((i * 800) / (14000 - 5000 * k)) ** 1.8));
        return {
          time: i * 800,
          survival: s,
          low: Math.max(0, s - 0.012 * i),
          high: Math.min(1, s + 0.008 * i),
        };
      }),
      censored: [5200, 9000, 12000],
      model: Array.from({ length: 40 }, (_, i) => ({
        time: i * 350,
        survival: Math.exp(-(((i * 350) / (14000 - 5000 * k)) ** 1.8)),
      })),
      units: 120,
      failures: 60 + 30 * k,
    })),
    "Time in service (h)",
  ),
  weibullChart: charts.weibullChart(
    {
      points: Array.from({ length: 25 }, (_, i) => {
        const failed = (i + 0.7) / 25.4;
        return { time: 12000 * (-Math.log(1 - failed)) ** (1 / 1.8) * (1 + 0.06 * wobble()), failed };
      }),
      shape: 1.8,
      scale: 12000,
      times: Array.from({ length: 12 }, (_, i) => {
        const failed = 0.02 + 0.08 * i;
        const time = 12000 * (-Math.log(1 - failed)) ** (1 / 1.8);
        const factor = 1.1 + 0.3 * (1 - failed) ** 4;
        return { failed, low: time / factor, high: time * factor };
      }),
      shapeInterval: [1.4, 2.3],
      failures: 25,
      running: 75,
    },
    "Time in service (h)",
  ),
};
