import { describe, expect, test } from "vitest";
import { fitStepResponse, stepMeasures } from "../../lib/identify/index.js";
import { fillShape, type StepShape } from "../../lib/identify/steps/stepShapes.js";
import { fitLeastSquares } from "../../lib/numeric/index.js";
import { noiseSource } from "./noise.js";

const time = Float64Array.from({ length: 1000 }, (_, i) => i * 0.002);
const stepTime = 0.2;
const shapes: Readonly<Record<string, (t: number) => number>> = {
  "first-order": (t) => 1 - Math.exp(-t / 0.2),
  "first-order-dead-time": (t) => (t < 0.05 ? 0 : 1 - Math.exp(-(t - 0.05) / 0.2)),
  "second-order-underdamped": (t) => {
    const root = Math.sqrt(1 - 0.09);
    return 1 - Math.exp(-6 * t) * (Math.cos(20 * root * t) + (0.3 / root) * Math.sin(20 * root * t));
  },
  "second-order-critical": (t) => 1 - (1 + t / 0.1) * Math.exp(-t / 0.1),
  "second-order-overdamped": (t) => 1 - (0.2 * Math.exp(-t / 0.2) - 0.05 * Math.exp(-t / 0.05)) / 0.15,
};

function record(name: string, noise: number, seed = 1, phi = 0): Float64Array {
  const random = noiseSource(seed);
  let e = random.normal();
  return time.map((t) => {
    e = phi * e + Math.sqrt(1 - phi * phi) * random.normal();
    return 5 + (t >= stepTime ? 10 * shapes[name](t - stepTime) : 0) + noise * e;
  });
}

describe("analytic derivatives of the shapes against differences", () => {
  const t = Float64Array.from({ length: 300 }, (_, i) => i / 299);
  const cases: [StepShape, number, number][] = [
    ["first-order", 0.1, 0],
    ["first-order-dead-time", 0.1, 0.0517],
    ["second-order-critical", 0.07, 0],
    ["second-order", 0.02, 0.01],
    ["second-order", 0.1, 0.02],
    ["second-order", 0.1, 0.00255],
    ["second-order", 0.1, 0.0025],
    ["second-order", 0.1, 0.00247],
    ["second-order", 0.1, 0.0024],
    ["second-order", 0.1, 0.0001],
    ["second-order", 3, 0.5],
  ];
  for (const spacing of [0, 1 / 299])
    test.each(cases)(`%s a=%d b=%d${spacing > 0 ? " by recurrence" : ""}`, (shape, a, b) => {
      const at = (p: number, q: number): Float64Array => {
        const g = new Float64Array(300);
        fillShape(shape, p, q, { t, spacing }, { g, da: g.slice(), db: g.slice() });
        return g;
      };
      const da = new Float64Array(300);
      const db = new Float64Array(300);
      fillShape(shape, a, b, { t, spacing }, { g: new Float64Array(300), da, db });
      const largest = (x: Float64Array): number => x.reduce((s, v) => Math.max(s, Math.abs(v)), 0);
      const h = 1e-5;
      const up = at(a * (1 + h), b);
      const down = at(a * (1 - h), b);
      const byA = up.map((v, i) => (v - down[i]) / (2 * a * h) - da[i]);
      expect(largest(byA)).toBeLessThan(1e-6 * largest(da));
      if (b > 0 && shape !== "first-order-dead-time") {
        const more = at(a, b * (1 + h));
        const less = at(a, b * (1 - h));
        const byB = more.map((v, i) => (v - less[i]) / (2 * b * h) - db[i]);
        expect(largest(byB)).toBeLessThan(1e-5 * largest(db));
      }
    });
});

describe("each kind of response is told from the others", () => {
  test.each(Object.keys(shapes))("%s, without noise", (name) => {
    const fit = fitStepResponse(time, record(name, 0), {
      stepTime,
      commandStep: 2,
      unit: "rad/s",
      commandUnit: "A",
    });
    expect(fit.model).toBe(name);
    expect(fit.drift).toBe(false);
    expect(fit.gain?.value).toBeCloseTo(5, 5);
    expect(fit.gain?.unit).toBe("rad/s/A");
    expect(fit.initial?.value).toBeCloseTo(5, 6);
    const expected: Record<string, number | undefined> = {
      timeConstant:
        name === "second-order-underdamped" ? 1 / 6 : name === "second-order-critical" ? 0.1 : 0.2,
      deadTime: name === "first-order-dead-time" ? 0.05 : undefined,
      dampingRatio:
        name === "second-order-underdamped"
          ? 0.3
          : name === "second-order-critical"
            ? 1
            : name === "second-order-overdamped"
              ? 1.25
              : undefined,
      naturalFrequency: name === "second-order-underdamped" ? 20 : name.startsWith("second") ? 10 : undefined,
      fastTimeConstant:
        name === "second-order-overdamped" ? 0.05 : name === "second-order-critical" ? 0.1 : undefined,
    };
    for (const [key, value] of Object.entries(expected)) {
      const found = fit[key as "timeConstant"]?.value;
      if (value === undefined) expect(found, key).toBeUndefined();
      else expect((found ?? 0) / value, key).toBeCloseTo(1, 4);
    }
  });
  test.each(Object.keys(shapes))("%s, with noise, and with correlated noise", (name) => {
    for (const phi of [0, 0.7]) {
      let right = 0;
      for (let seed = 0; seed < 8; seed++)
        if (fitStepResponse(time, record(name, 0.1, seed, phi), { stepTime }).model === name) right++;
      expect(right).toBeGreaterThanOrEqual(7);
    }
  });
  test("a steady slope is found where there is one", () => {
    const values = record("first-order", 0.05).map((v, i) => v + 1.5 * (time[i] - stepTime));
    const fit = fitStepResponse(time, values, { stepTime });
    expect(fit.drift).toBe(true);
    expect(fit.slope?.low).toBeLessThan(1.5);
    expect(fit.slope?.high).toBeGreaterThan(1.5);
    expect(fit.timeConstant?.value).toBeCloseTo(0.2, 1);
  });
  test("candidates are listed with weights that sum to one", () => {
    const fit = fitStepResponse(time, record("first-order", 0.1), { stepTime });
    expect(fit.candidates.length).toBeGreaterThan(5);
    expect(fit.candidates.reduce((s, c) => s + c.weight, 0)).toBeCloseTo(1, 10);
    expect(fit.candidates[0].model).toBe(fit.model);
  });
});

test("the fit agrees with general least squares on the same model", () => {
  const values = record("second-order-underdamped", 0.3, 4);
  const step = fitStepResponse(time, values, { stepTime, covariance: "independent", drift: false });
  const general = fitLeastSquares({
    x: time,
    y: values,
    parameters: [
      { name: "initial", start: 4 },
      { name: "amplitude", start: 8 },
      { name: "damping ratio", start: 0.5 },
      { name: "natural frequency", start: 15 },
    ],
    model: (t, [y0, a, z, w]) => {
      if (t < stepTime) return y0;
      const s = t - stepTime;
      const root = Math.sqrt(1 - z * z);
      return (
        y0 + a * (1 - Math.exp(-z * w * s) * (Math.cos(root * w * s) + (z / root) * Math.sin(root * w * s)))
      );
    },
  });
  general.parameters.forEach((p, j) => {
    const other = step.fit?.parameters[j];
    expect(other?.name).toBe(p.name);
    expect((other?.value ?? 0) / p.value).toBeCloseTo(1, 6);
    expect((other?.standardError ?? 0) / p.standardError).toBeCloseTo(1, 5);
  });
});

describe("records as they come", () => {
  const clean = fitStepResponse(time, record("first-order", 0.1, 3), { stepTime });
  test("missing samples are left out and counted", () => {
    const values = record("first-order", 0.1, 3);
    for (let i = 50; i < 900; i += 7) values[i] = Number.NaN;
    const fit = fitStepResponse(time, values, { stepTime });
    expect(fit.model).toBe("first-order");
    expect(fit.timeConstant?.value).toBeCloseTo(clean.timeConstant?.value ?? 0, 1);
    expect(fit.warnings.join(" ")).toMatch(/of 1000 samples are not finite/);
  });
  test("samples out of order are sorted", () => {
    const values = record("first-order", 0.1, 3);
    const t = time.slice();
    [t[100], t[700]] = [t[700], t[100]];
    [values[100], values[700]] = [values[700], values[100]];
    const fit = fitStepResponse(t, values, { stepTime });
    expect(fit.timeConstant?.value).toBeCloseTo(clean.timeConstant?.value ?? 0, 8);
    expect(fit.warnings.join(" ")).toContain("not ascending");
  });
  test("uneven sampling gives the same answer as even sampling", () => {
    const random = noiseSource(9);
    const t = time.map((v) => v + 0.0008 * random.uniform());
    const values = t.map(
      (v) => 5 + (v >= stepTime ? 10 * shapes["second-order-underdamped"](v - stepTime) : 0),
    );
    const fit = fitStepResponse(t, values, { stepTime });
    expect(fit.dampingRatio?.value).toBeCloseTo(0.3, 6);
    expect(fit.naturalFrequency?.value).toBeCloseTo(20, 4);
  });
  test("isolated spikes are left out and listed", () => {
    const values = record("first-order", 0.1, 3);
    values[400] += 8;
    values[650] -= 20;
    const fit = fitStepResponse(time, values, { stepTime });
    expect(fit.excluded).toEqual([400, 650]);
    expect(fit.timeConstant?.value).toBeCloseTo(clean.timeConstant?.value ?? 0, 3);
    expect(fit.warnings.join(" ")).toContain("2 isolated spikes were left out");
  });
  test("a known initial value is held", () => {
    const from = 100;
    const fit = fitStepResponse(time.subarray(from), record("first-order", 0.1, 3).subarray(from), {
      stepTime,
      initial: 5,
    });
    expect(fit.initial?.value).toBeCloseTo(5, 12);
    expect(fit.timeConstant?.value).toBeCloseTo(0.2, 1);
    expect(fit.fit?.parameters[0].fixed).toBe(true);
  });
  test("a record that ends early says that its final value is extrapolated", () => {
    const fit = fitStepResponse(time.subarray(0, 210), record("first-order", 0.02, 3).subarray(0, 210), {
      stepTime,
    });
    expect(fit.warnings.join(" ")).toContain("extrapolated");
    expect(fit.timeConstant?.low).toBeLessThan(0.2);
    expect(fit.timeConstant?.high).toBeGreaterThan(0.2);
  });
  test("it carries what a chart needs", () => {
    const { fit } = clean;
    expect(fit?.x?.length).toBe(1000);
    expect(fit?.fitted?.length).toBe(1000);
    const inside = fit?.fitted?.every((v, i) => v > (fit.bandLow?.[i] ?? 0) && v < (fit.bandHigh?.[i] ?? 0));
    expect(inside).toBe(true);
  });
});

describe("no response is a result", () => {
  test("noise alone", () => {
    const random = noiseSource(5);
    const fit = fitStepResponse(
      time,
      time.map(() => random.normal()),
      { stepTime },
    );
    expect(fit.determined).toBe(false);
    expect(fit.model).toBe("none");
    expect(fit.missing).toMatch(/noise/);
  });
  test.each([
    ["nothing", 0],
    ["too few samples", 5],
  ])("%s", (_, count) => {
    const fit = fitStepResponse(time.subarray(0, count), record("first-order", 0).subarray(0, count));
    expect(fit.determined).toBe(false);
    expect(fit.missing).toContain("samples");
  });
  test("constant values", () => {
    const fit = fitStepResponse(time, new Float64Array(1000).fill(3), { stepTime });
    expect(fit.determined).toBe(false);
    expect(fit.missing).toContain("never change");
  });
  test("a straight line", () => {
    const random = noiseSource(6);
    const fit = fitStepResponse(
      time,
      time.map((t) => 3 * t + 0.05 * random.normal()),
      { stepTime },
    );
    expect(fit.determined).toBe(false);
  });
  test("all missing, infinite", () => {
    expect(fitStepResponse(time, new Float64Array(1000).fill(Number.NaN)).determined).toBe(false);
    expect(fitStepResponse(time, new Float64Array(1000).fill(Number.POSITIVE_INFINITY)).determined).toBe(
      false,
    );
  });
  test("arrays that differ in length are refused", () => {
    expect(() => fitStepResponse([1, 2], [1])).toThrow(/2 times and 1 values/);
    expect(() => fitStepResponse([1], [1], { commandStep: 0 })).toThrow(/commandStep is 0/);
  });
});

describe("measures of noisy and quantised responses", () => {
  const ringing = (t: number): number =>
    t >= stepTime ? 10 * shapes["second-order-underdamped"](t - stepTime) : 0;
  // Closed form: exp(-pi zeta/sqrt(1-zeta²)) and pi/(omega sqrt(1-zeta²)).
  const overshoot = 100 * Math.exp((-Math.PI * 0.3) / Math.sqrt(0.91));
  const peakTime = Math.PI / (20 * Math.sqrt(0.91));
  test("noise does not add to the overshoot", () => {
    let over = 0;
    let held = 0;
    for (let seed = 0; seed < 40; seed++) {
      const random = noiseSource(seed);
      const m = stepMeasures(
        time,
        time.map((t) => ringing(t) + 0.2 * random.normal()),
        { stepTime },
      );
      over += (m.overshoot?.value ?? 0) / 40;
      if (m.overshoot && m.overshoot.low <= overshoot && m.overshoot.high >= overshoot) held++;
      expect(Math.abs((m.peakTime?.value ?? 0) - peakTime)).toBeLessThan(0.02);
    }
    expect(Math.abs(over - overshoot)).toBeLessThan(1);
    expect(held).toBeGreaterThanOrEqual(34);
  });
  test("a single spike is not the overshoot", () => {
    const random = noiseSource(2);
    const values = time.map((t) => ringing(t) + 0.05 * random.normal());
    values[800] += 15;
    const m = stepMeasures(time, values, { stepTime });
    expect(m.spikes).toBe(1);
    expect(Math.abs((m.overshoot?.value ?? 0) - overshoot)).toBeLessThan(1.5);
    expect(m.peakTime?.value).toBeCloseTo(peakTime, 2);
  });
  test("steps of quantisation are not the overshoot of a response without one", () => {
    const values = time.map(
      (t) => 0.25 * Math.round((t >= stepTime ? 10 * shapes["first-order"](t - stepTime) : 0) / 0.25),
    );
    const m = stepMeasures(time, values, { stepTime });
    expect(m.resolution).toBeCloseTo(0.25, 10);
    expect(m.overshoot?.value).toBe(0);
    expect((m.riseTime?.value ?? 0) / (0.2 * Math.log(9))).toBeGreaterThan(0.93);
    expect((m.riseTime?.value ?? 0) / (0.2 * Math.log(9))).toBeLessThan(1.07);
  });
  test("noise alone shows no overshoot of a first order", () => {
    let found = 0;
    for (let seed = 0; seed < 40; seed++) {
      const random = noiseSource(seed);
      const values = time.map(
        (t) => (t >= stepTime ? 10 * shapes["first-order"](t - stepTime) : 0) + 0.3 * random.normal(),
      );
      if ((stepMeasures(time, values, { stepTime }).overshoot?.value ?? 0) > 0) found++;
    }
    expect(found).toBeLessThanOrEqual(2);
  });
  test("steady-state error against a target", () => {
    const random = noiseSource(3);
    const m = stepMeasures(
      time,
      time.map((t) => ringing(t) + 0.1 * random.normal()),
      { stepTime, target: 10.5 },
    );
    expect(m.steadyStateError?.low).toBeLessThan(0.5);
    expect(m.steadyStateError?.high).toBeGreaterThan(0.5);
  });
  test("a falling response is measured like a rising one", () => {
    const up = stepMeasures(time, time.map(ringing), { stepTime });
    const down = stepMeasures(
      time,
      time.map((t) => -ringing(t)),
      { stepTime },
    );
    expect(down.overshoot?.value).toBeCloseTo(up.overshoot?.value ?? 0, 8);
    expect(down.riseTime?.value).toBeCloseTo(up.riseTime?.value ?? 0, 8);
    expect(down.transition?.polarity).toBe("negative");
  });
  test("what the record does not hold is named", () => {
    const slow = stepMeasures(
      time,
      time.map((t) => 10 * (1 - Math.exp(-t / 5))),
      { final: 10 },
    );
    expect(slow.riseTime).toBeUndefined();
    expect(slow.missing.riseTime).toContain("never reaches 90 %");
    const noise = noiseSource(8);
    const none = stepMeasures(
      time,
      time.map(() => noise.normal()),
      { stepTime },
    );
    expect(none.missing.riseTime).toContain("do not differ");
    expect(stepMeasures([], []).missing.riseTime).toContain("0 samples");
  });
});
