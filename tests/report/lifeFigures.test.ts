import { expect, test } from "vitest";
import { lifeFigures } from "../../lib/report/study/studyFigures.js";
import { inverseTemperature } from "../../lib/study/life/arrhenius.js";
import { isUndetermined, type Life } from "../../lib/study/life/lifeData.js";
import { lifeSummary } from "../../lib/study/life/lifeSummary.js";
import { seeded } from "../study/seeded.js";

interface Layer {
  readonly data?: { readonly values: readonly Record<string, number>[] };
  readonly mark: { readonly type: string; readonly filled?: boolean; readonly strokeWidth?: number };
}

/** Failures drawn on the paper, and the fitted line. */
function paperOf(lives: readonly Life[]) {
  const summary = lifeSummary(lives);
  const figure = lifeFigures(summary).find((f) => f.name === "weibull");
  if (figure === undefined) throw new Error("no probability plot");
  const { layer } = (figure.drawing as { spec: unknown }).spec as { layer: readonly Layer[] };
  const of = (found: (l: Layer) => boolean) => layer.find(found)?.data?.values ?? [];
  return {
    summary,
    caption: figure.caption,
    points: of((l) => l.mark.type === "point" && l.mark.filled === true),
    line: of((l) => l.mark.type === "line" && l.mark.strokeWidth === 2),
  };
}

const weibull = (u: number, shape: number, scale: number) => scale * (-Math.log(u)) ** (1 / shape);

test("lives at several temperatures are drawn at the reference temperature, where the model's line holds", () => {
  const random = seeded(8);
  const lives = [50, 70, 90].flatMap((temperature) =>
    Array.from({ length: 20 }, (): Life => {
      const scale = 1000 * Math.exp(0.5 * (inverseTemperature(temperature) - inverseTemperature(70)));
      const time = weibull(random.uniform(), 2, scale);
      return { after: time, by: time, temperature };
    }),
  );
  const { summary, points, line, caption } = paperOf(lives);
  expect(caption).toContain("each time is moved to 70.0 degrees Celsius by the model");
  expect(points.length).toBeGreaterThan(50);
  // All failed: the points are the order statistics of times divided by the model's acceleration.
  const slope = isUndetermined(summary.model) ? Number.NaN : summary.model.coefficients[1].value;
  const moved = lives
    .map(
      (l) => l.by / Math.exp(slope * (inverseTemperature(l.temperature as number) - inverseTemperature(70))),
    )
    .sort((a, b) => a - b);
  expect(points[0].t / moved[0]).toBeCloseTo(1, 3);
  expect(points[29].t / moved[29]).toBeCloseTo(1, 3);
  // The line goes through the characteristic life at the height of 63.2 %.
  const scale = summary.characteristic?.value as number;
  const [a, b] = [line[0], line[line.length - 1]];
  const at = a.y + ((b.y - a.y) * Math.log(scale / a.t)) / Math.log(b.t / a.t);
  expect(at).toBeCloseTo(0, 2);
});

test("a log-normal life is a curve through its own median, and a group that lives on is left out by name", () => {
  const random = seeded(21);
  const normal = () => Math.sqrt(-2 * Math.log(random.uniform())) * Math.cos(2 * Math.PI * random.uniform());
  const failed = Array.from({ length: 150 }, (): Life => {
    const time = 500 * Math.exp(0.9 * normal());
    return { after: time, by: time, group: "A" };
  });
  const lasting = Array.from({ length: 40 }, (): Life => ({ after: 3000, by: Infinity, group: "B" }));
  const { summary, points, line, caption } = paperOf([...failed, ...lasting]);
  expect(isUndetermined(summary.better) ? "" : summary.better.distribution).toBe("log-normal");
  expect(caption).toContain("150 failed, 0 still running; without B, of which none has failed");
  expect(caption).toContain("the line is the log-normal model");
  expect(points.length).toBeGreaterThan(70);
  const height = Math.log(Math.log(2));
  const k = line.findIndex(({ y }) => y >= height);
  const [a, b] = [line[k - 1], line[k]];
  const median = a.t * (b.t / a.t) ** ((height - a.y) / (b.y - a.y));
  expect(median / (summary.median?.value as number)).toBeCloseTo(1, 1);
});

test("how surely one distribution fits is never written as a power of ten", () => {
  const random = seeded(3);
  for (let k = 0; k < 12; k++) {
    const lives = Array.from({ length: 20 + 8 * k }, (): Life => {
      const time = weibull(random.uniform(), 2, 1000);
      return { after: time, by: time };
    });
    const { better } = lifeSummary(lives);
    expect(isUndetermined(better) ? "" : better.text).toMatch(/probability (above )?[\d.]+ %/);
  }
});
