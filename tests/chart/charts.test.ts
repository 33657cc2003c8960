import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { Ajv } from "ajv";
import { wcagContrast } from "culori";
import { compile } from "vega-lite";
import { describe, expect, test } from "vitest";
import { chartPng, chartSvg, orderingsChart, withTheme } from "../../lib/chart/index.js";
import {
  caseColors,
  commandColor,
  darkMarks,
  dataColor,
  quantityColor,
  repainted,
  verdictColor,
} from "../../lib/chart/marks/palette.js";
import { themeColors } from "../../lib/chart/marks/theme.js";
import { still } from "../../lib/chart/render/render.js";
import { zoomable } from "../../lib/chart/render/zoomable.js";
import { samples } from "./samples.js";

/** The language's own schema, as its authors publish it. */
const schema = JSON.parse(
  readFileSync(createRequire(import.meta.url).resolve("vega-lite/vega-lite-schema.json"), "utf8"),
);
const ajv = new Ajv({ strict: false, allErrors: false, logger: false, validateFormats: false });
const valid = ajv.compile(schema);

/** The errors that lie deepest: the ones above them only say that no alternative fits. */
function deepest(): string[] {
  const errors = valid.errors ?? [];
  const depth = Math.max(...errors.map((error) => error.instancePath.split("/").length));
  return errors
    .filter((error) => error.instancePath.split("/").length === depth)
    .slice(0, 4)
    .map((error) => `${error.instancePath} ${error.message} ${JSON.stringify(error.params)}`);
}

describe.each(Object.entries(samples))("%s", (_name, spec) => {
  test("is valid Vega-Lite by the published schema", () => {
    for (const one of [spec, zoomable(spec)]) {
      const ok = valid(one);
      expect(ok ? [] : deepest()).toEqual([]);
    }
  });

  test("compiles without a warning, live and still", () => {
    const said: string[] = [];
    const note = (args: unknown[]) => {
      said.push(args.join(" "));
      return logger;
    };
    const logger = {
      level: () => logger,
      error: (...args: unknown[]) => note(args),
      warn: (...args: unknown[]) => note(args),
      info: () => logger,
      debug: () => logger,
    };
    compile(spec as never, { logger: logger as never });
    compile(still(spec) as never, { logger: logger as never });
    compile(zoomable(spec) as never, { logger: logger as never });
    expect(said).toEqual([]);
  });

  test("has values to read under the pointer", () => {
    expect(JSON.stringify(spec)).toContain('"tooltip":[');
  });

  test("is drawn, says what is to be seen, and needs nothing from outside", async () => {
    const svg = await chartSvg(spec);
    expect(svg).toMatch(/^<svg /);
    expect(svg.length).toBeGreaterThan(4000);
    expect(svg.length).toBeLessThan(250_000);
    expect(svg).not.toMatch(/NaN|undefined|Infinity/);
    expect(spec.description.length).toBeGreaterThan(30);
    expect(spec.description).not.toMatch(/NaN|undefined|null/);
    expect(JSON.stringify(spec.data ?? {})).not.toContain('"url"');
    const size = /width="(\d+)" height="(\d+)"/.exec(svg);
    expect(Number(size?.[1])).toBeLessThan(860);
  });
});

test("every colour of a mark keeps 4.5 to 1 on the dark background (WCAG 2.2, contrast minimum)", () => {
  const used = [
    ...Object.values(quantityColor),
    ...Object.values(verdictColor),
    ...caseColors,
    commandColor,
    dataColor,
  ];
  for (const color of used)
    expect(wcagContrast(darkMarks[color], themeColors.dark.background), color).toBeGreaterThan(4.5);
  for (const [light, dark] of Object.entries(darkMarks)) {
    expect(repainted({ color: light, data: { values: [light] } }, true)).toEqual({
      color: dark,
      data: { values: [light] },
    });
    expect(repainted({ color: dark }, false)).toEqual({ color: light });
  }
});

test("a theme changes the paper and the colours of marks, and back", async () => {
  const dark = withTheme(samples.traceChart, "dark");
  const svg = await chartSvg(dark);
  expect(svg).toContain("#15191e");
  expect(svg).toContain(darkMarks["#0072b2"]);
  expect(svg).not.toContain("#0072b2");
  expect(JSON.stringify(withTheme(dark, "light"))).toBe(JSON.stringify(samples.traceChart));
  expect((await chartSvg(samples.traceChart, { theme: "dark" })) === svg).toBe(true);
});

test("a PNG is a PNG of the stated size", async () => {
  const svg = await chartSvg(samples.quantileChart);
  const png = await chartPng(samples.quantileChart, { scale: 2 });
  expect([...png.slice(0, 8)]).toEqual([137, 80, 78, 71, 13, 10, 26, 10]);
  const view = new DataView(png.buffer, png.byteOffset);
  expect(view.getUint32(16)).toBe(2 * Number(/width="(\d+)"/.exec(svg)?.[1]));
});

test("an order whose speed is not known in rev/min says so, and has no axes", () => {
  const time = Float64Array.from({ length: 50 }, (_, i) => i / 10);
  const unknown = time.map(() => Number.NaN);
  const trial = { kind: "torque trial", verdict: "tracking", time } as const;
  const none = JSON.stringify(orderingsChart([{ ordering: "UVW", trials: [{ ...trial, speed: unknown }] }]));
  expect(none).toContain("no speed in rev/min");
  expect(none).toContain("state the lines of the encoder");
  expect(none).not.toContain('"domain"');
  // Where another order has a speed, that one is drawn, and carries the axis of time although it is not the last.
  const mixed = JSON.stringify(
    orderingsChart([
      { ordering: "UVW", trials: [{ ...trial, speed: time }] },
      { ordering: "VWU", trials: [{ ...trial, speed: unknown }] },
    ]),
  );
  expect(mixed).toContain('"Time in the trial (s)"');
  expect(mixed.match(/no speed in rev\/min/g)).toHaveLength(1);
});
