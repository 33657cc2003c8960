import { readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, test } from "vitest";
import { givenNumbers, numbersIn } from "./givenNumbers.js";
import { chartWith, type Layer, layersOf, notebookNames, type Spec, stored, tableWith } from "./stored.js";

const datasets = join(import.meta.dirname, "../../datasets");
const all = notebookNames.map((name) => stored(name));
const number = (value: unknown): number => Number(value);
/** Numbers of a text, signs as they are printed. */
const numbers = (text: string): number[] =>
  (text.replaceAll("−", "-").match(/-?\d+(?:\.\d+)?/g) ?? []).map(Number);

/** Height of a curve of one series at a place, by straight lines between its points. */
function at(rows: Layer["rows"], x: string, y: string, place: number, log = false): number {
  const scale = (v: number) => (log ? Math.log(v) : v);
  const k = rows.findIndex((row) => number(row[x]) >= place);
  if (k <= 0) return number(rows[Math.max(k, 0)][y]);
  const [a, b] = [rows[k - 1], rows[k]];
  const part = (scale(place) - scale(number(a[x]))) / (scale(number(b[x])) - scale(number(a[x])));
  return number(a[y]) + part * (number(b[y]) - number(a[y]));
}

describe.each(all.map((one) => [one.name, one] as const))("%s", (name, notebook) => {
  test("its texts state no result: each number is given, with a reason, and everything else is computed", () => {
    const given = givenNumbers[name.slice(0, 2)] ?? {};
    const allowed = new Set(
      Object.keys(given).flatMap((text) => [text, text.replace("−", ""), `−${text}`, `+${text}`]),
    );
    const bare = (text: string) => text.replace(/^[+]/, "");
    const found = notebook.markdown.flatMap(numbersIn).map(bare);
    expect(
      found.filter((text) => !allowed.has(text) && !allowed.has(text.replace(/\s?(°|%|[A-Za-z/]+)$/, ""))),
    ).toEqual([]);
  });

  test("nothing of its charts lies outside an axis whose ends are stated", () => {
    for (const spec of notebook.charts) {
      for (const { mark, encoding, rows } of layersOf(spec)) {
        if (mark === "text") continue;
        for (const channel of ["x", "y"] as const) {
          const { field, scale } = (encoding[channel] ?? {}) as {
            field?: string;
            scale?: { domain?: number[] };
          };
          const ends = scale?.domain;
          if (field === undefined || !Array.isArray(ends)) continue;
          const slack = 1e-3 * Math.abs(ends[1] - ends[0]);
          const beyond = rows.filter((row) => {
            const value = row[field];
            return typeof value === "number" && (value < ends[0] - slack || value > ends[1] + slack);
          });
          // A Nyquist curve comes from infinity: its pictures are cut on purpose.
          if (!/complex plane/.test(String((spec.title as { subtitle?: string } | undefined)?.subtitle)))
            expect(beyond.slice(0, 2), `${spec.title?.text}, ${channel}`).toEqual([]);
        }
      }
    }
  });
});

test("a recording's picture holds samples of its file, extremes and steps among them", () => {
  const file = readFileSync(join(datasets, "parcel-sorter/order-vwu.csv"), "utf8").trim().split("\n");
  const heads = file.find((line) => /^time/.test(line))?.split(",") as string[];
  const rows = file
    .slice(file.findIndex((line) => /^time/.test(line)) + 1)
    .map((line) => line.split(",").map(Number));
  const column = heads.findIndex((head) => head.startsWith("i_meas"));
  const spec = chartWith(stored("03"), "Order VWU");
  const [panel] = (spec.vconcat as { data: { values: Layer["rows"] } }[]).map(({ data }) => data.values);
  const drawn = panel.map((row) => [number(row.t), number(row.v1)] as const);
  const byTime = new Map(rows.map((row) => [row[0].toFixed(4), row[column]]));
  for (const [t, v] of drawn) expect(v).toBeCloseTo(byTime.get(t.toFixed(4)) as number, 3);
  const within = rows.filter(([t]) => t <= 4.5).map((row) => row[column]);
  expect(Math.max(...drawn.map(([, v]) => v))).toBeCloseTo(Math.max(...within), 3);
  expect(Math.min(...drawn.map(([, v]) => v))).toBeCloseTo(Math.min(...within), 3);
});

test("6: every margin's bar begins on its curve, ends on its line, and is the table's number", () => {
  const notebook = stored("06");
  const spec = chartWith(notebook, "Phase margin:");
  const layers = layersOf(spec);
  const table = tableWith(notebook, "phase margin of the picture (deg)");
  const [gainBars, phaseBars] = ["Gain (dB)", "Phase (degrees)"].map((title) =>
    layers.filter(({ mark, encoding }) => mark === "rule" && encoding.y?.title === title && encoding.y2),
  );
  const curve = (label: string) =>
    (spec.data as { values: Layer["rows"] }).values.filter((row) => row.k === label);
  expect(phaseBars).toHaveLength(table.length);
  table.forEach((row, i) => {
    const [bar] = phaseBars[i].rows;
    const own = curve(row.gains);
    expect(number(bar.a)).toBeCloseTo(at(own, "f", "p", number(bar.f), true), 0);
    expect(at(own, "f", "m", number(bar.f), true)).toBeCloseTo(0, 0);
    expect(number(bar.a) + 180).toBeCloseTo(number(row["phase margin of the picture (deg)"]), 1);
    expect(row["phase margin of the picture (deg)"]).toBe(row["phase margin of the table (deg)"]);
    const [other] = gainBars[i].rows;
    expect(at(own, "f", "p", number(other.f), true)).toBeCloseTo(-180, 0);
    expect(number(other.a)).toBeCloseTo(at(own, "f", "m", number(other.f), true), 0);
  });
  // The table of the loop as set says the same margin once more, and its gain margin as a factor is the bar's in
  // decibels.
  const whole = tableWith(notebook, "what");
  expect(number(whole[0].value)).toBeCloseTo(number(table[0]["phase margin of the table (deg)"]), 1);
  const factor = number(whole.find(({ what }) => what.startsWith("gain margin"))?.value);
  expect(20 * Math.log10(factor)).toBeCloseTo(-number(gainBars[0].rows[0].a), 1);
});

test("3: poles, growth, prediction and pictures are one another's, and the closed form's", () => {
  const notebook = stored("03");
  const poles = layersOf(chartWith(notebook, "Turning the torque factor")).find(
    ({ mark, rows }) => mark === "point" && rows.some((row) => "side" in row),
  )?.rows as Layer["rows"];
  for (const row of poles) expect(row.side).toBe(number(row.x) < 0 ? "stable" : "unstable");
  // J s^2 + (B + g Kt kp) s + g Kt ki with the roller's own numbers; the notebook has them from the log.
  const [J, Kt, B, kp, ki] = [1.4e-4, 0.093, 8e-5, 0.03, 0.3];
  for (const g of [-0.25, -0.5, -1]) {
    const b = B + g * Kt * kp;
    const root = (-b + Math.sqrt(b * b - 4 * J * g * Kt * ki)) / (2 * J);
    const drawn = poles.find((row) => row.k === `g = −${Math.abs(g)}` && number(row.x) > 0);
    expect(Math.abs(number(drawn?.x) / root - 1)).toBeLessThan(0.02);
  }
  const growth = tableWith(notebook, "error grows e-fold in (s)");
  const asSet = number(growth.find(({ gains }) => gains.startsWith("1 ×"))?.["error grows e-fold in (s)"]);
  expect(notebook.text).toMatch(/Predicted from the torque trial of VWU/);
  const [tau, low, high] = numbers(/e-fold in [^,]*/.exec(notebook.text)?.[0] ?? "");
  expect(low).toBeLessThan(tau);
  expect(tau).toBeLessThan(high);
  // The sweep of gains takes g from both orders, the prediction from the bad order alone: they agree within both
  // intervals.
  expect(Math.abs((1000 * asSet) / tau - 1)).toBeLessThan(0.06);
  const truth = numbers(/the truth is known: [^,]*/.exec(notebook.text)?.[0] ?? "")[0];
  const b = B - 0.5 * Kt * kp;
  expect(truth).toBeCloseTo((1000 * 2 * J) / (-b + Math.sqrt(b * b + 2 * J * Kt * ki)), 1);
  expect(/which the interval holds/.test(notebook.text)).toBe(low <= truth && truth <= high);
  // The end of the predicted line, as the text says it.
  const predicted = layersOf(chartWith(notebook, "Predicted, then measured"));
  const last = predicted.find(({ encoding }) => encoding.y?.field === "p")?.rows.at(-1);
  const [end] = numbers(/the shaft turns at [^;]*/.exec(notebook.text)?.[0] ?? "");
  expect(Math.abs(number(last?.p) / end - 1)).toBeLessThan(0.01);
});

test("3: the torque trials are drawn on one scale, and say the speeds that their lines reach", () => {
  const notebook = stored("03");
  const pictures = ["Order UVW", "Order VWU"].map((words) => chartWith(notebook, words));
  const speedAxes = pictures.map((spec) =>
    layersOf(spec).find(({ encoding }) => encoding.y?.title === "Speed (rev/min)" && encoding.y.field),
  ) as (Layer & { encoding: { y: { scale: { domain: number[] } } } })[];
  expect(speedAxes[0].encoding.y.scale.domain).toEqual(speedAxes[1].encoding.y.scale.domain);
  pictures.forEach((spec, i) => {
    const said = numbers(/to ([−\d]+) rev/.exec(String(spec.title?.text))?.[1] ?? "")[0];
    // The line passes the speed said where the positive command ends.
    const current = layersOf(spec).find(({ rows }) => rows.some((row) => "v1" in row)) as Layer;
    const end = Math.max(...current.rows.filter((row) => number(row.v0) > 0).map((row) => number(row.t)));
    const near = speedAxes[i].rows.filter(({ t }) => Math.abs(number(t) - end) < 0.02);
    const values = near.map((row) => number(row.v0));
    expect(values.length).toBeGreaterThan(3);
    expect(Math.min(...values)).toBeLessThanOrEqual(said + 0.5);
    expect(Math.max(...values)).toBeGreaterThanOrEqual(said - 0.5);
  });
});

test("4 and 5: whether an interval holds the truth of the synthetic bench is said rightly", () => {
  const steps = tableWith(stored("04"), "interval holds the truth");
  const [J, Kt, B, kp, ki] = [1.4e-4, 0.093, 8e-5, 0.03, 0.3];
  const truth: Record<string, number> = {
    naturalFrequency: Math.sqrt((Kt * ki) / J),
    dampingRatio: (B + Kt * kp) / (2 * Math.sqrt(J * Kt * ki)),
  };
  expect(steps).toHaveLength(2);
  for (const row of steps) {
    expect(number(row.truth)).toBeCloseTo(truth[row.parameter], 2);
    const holds = number(row.from) <= truth[row.parameter] && truth[row.parameter] <= number(row.to);
    expect(row["interval holds the truth"]).toBe(holds ? "yes" : "no");
  }
  const notebook = stored("05");
  const constants = tableWith(notebook, "convention; method");
  const claims = tableWith(notebook, "interval holds it");
  expect(claims).toHaveLength(7);
  for (const claim of claims) {
    const row = constants.find(({ constant }) => constant === claim.constant) as Record<string, string>;
    // Cells are rounded to four digits: a truth at the very end of an interval could go either way.
    const [low, high, real] = [row.from, row.to, claim.truth].map(Number);
    const near = Math.min(Math.abs(low / real - 1), Math.abs(high / real - 1)) < 2e-4;
    if (!near)
      expect(claim["interval holds it"], claim.constant).toBe(low <= real && real <= high ? "yes" : "no");
    expect(number(claim.estimate)).toBe(number(row.value));
  }
  // A miss is not excused: the share of runs whose interval holds the truth stands beside it.
  expect(tableWith(notebook, "intervals that hold the truth, of 10")).toHaveLength(7);
});

test("5: the model of friction that is drawn is the table's, and its points lie on it", () => {
  const notebook = stored("05");
  const row = (words: string) =>
    tableWith(notebook, "convention; method").find(({ constant }) => constant === words) as Record<
      string,
      string
    >;
  const [tc, b] = ["Coulomb friction", "viscous friction"].map((words) => number(row(words).value));
  const layers = layersOf(chartWith(notebook, "Friction"));
  const line = layers.find(({ mark, rows }) => mark === "line" && rows.length > 1 && "w" in rows[0]);
  expect(line).toBeDefined();
  for (const { w, t } of (line as Layer).rows) {
    if (typeof w !== "number" || typeof t !== "number" || w === 0) continue;
    const torque = 1000 * (Math.sign(w) * tc + (b * w * 2 * Math.PI) / 60);
    expect(Math.abs(t - torque)).toBeLessThan(0.3);
  }
});

test("8: centre, limits, mean and shape that are drawn are those that are said", () => {
  const notebook = stored("08");
  const control = layersOf(chartWith(notebook, "outside the limits"));
  const texts = control.flatMap(({ mark, encoding }) =>
    mark === "text" ? [String(encoding.text?.value ?? "")] : [],
  );
  const limit = (word: string) => numbers(texts.find((text) => text.startsWith(word)) ?? "")[0];
  const points = control.filter(({ mark }) => mark === "point");
  const signals = points.flatMap(({ rows }) => rows).filter((row) => row.state === "signal");
  for (const { v } of points.flatMap(({ rows }) => rows).filter((row) => row.state !== "signal"))
    expect(number(v) <= limit("upper") + 0.01 && number(v) >= limit("lower") - 0.01).toBe(true);
  const title = String(chartWith(notebook, "outside the limits").title?.text);
  expect(numbers(title)[0]).toBe(signals.length);
  expect(title).toContain("B06");
  const kv = chartWith(notebook, "Kv:");
  const rule = layersOf(kv).find(({ mark, rows }) => mark === "rule" && rows[0]?.a !== undefined)?.rows[0].a;
  expect(number(rule)).toBeCloseTo(numbers(String(kv.title?.text))[0], 1);
  const ticks = layersOf(kv).find(({ mark }) => mark === "tick")?.rows.length;
  expect(numbers(String((kv.title as { subtitle?: string }).subtitle))[0]).toBe(ticks);
  const weibull = chartWith(notebook, "One in ten has failed") as Spec & { title: { subtitle: string } };
  const [shape, shapeLow, shapeHigh, scale] = numbers(weibull.title.subtitle);
  const line =
    layersOf(weibull).find(({ mark, rows }) => mark === "line" && rows[0]?.y !== undefined)?.rows ?? [];
  for (const { t, y } of line)
    expect(Math.abs(number(y) - shape * Math.log(number(t) / scale))).toBeLessThan(0.02);
  expect(notebook.text).toContain(
    `shape ${shape.toFixed(2)} (${shapeLow.toFixed(2)} to ${shapeHigh.toFixed(2)})`,
  );
  // The band holds the line and is widest where the least is known, and the line's tenth is the title's.
  const band = layersOf(weibull).find(({ mark, encoding }) => mark === "area" && encoding.x2)?.rows ?? [];
  expect(band.length).toBeGreaterThan(8);
  for (const { y, l, h } of band) {
    const t = scale * Math.exp(number(y) / shape);
    expect(number(l) < t && t < number(h)).toBe(true);
  }
  const tenth = scale * (-Math.log(0.9)) ** (1 / shape);
  const said = numbers(String(weibull.title.text).replaceAll(",", ""))[0];
  expect(Math.abs(said / tenth - 1)).toBeLessThan(0.01);
});

test("10: from loading to an exported report on a stranger's folder in at most twelve lines", () => {
  const { code, text } = stored("10");
  const upTo = code.findIndex((cell) => cell.includes(".report("));
  const lines = code
    .slice(0, upTo + 1)
    .flatMap((cell) => cell.split("\n").filter((line) => line.trim() !== ""));
  expect(lines.length).toBeLessThanOrEqual(12);
  expect(text).toContain("report.html");
});
