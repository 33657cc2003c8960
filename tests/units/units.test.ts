import { describe, expect, test } from "vitest";
import { libraryConversion } from "../../lib/units/convert.js";
import {
  conversion,
  convertUnit,
  csvField,
  escapeHtml,
  unitCode,
  unitTable,
  visible,
} from "../../lib/units/index.js";

test("every unit of the built-in table agrees with the maintained UCUM library", async () => {
  for (const [code, { si, factor }] of Object.entries(unitTable)) {
    const line = await libraryConversion(code, si);
    expect(line, code).toBeDefined();
    expect((line?.factor ?? 0) / factor, code).toBeCloseTo(1, 12);
    expect(line?.offset, code).toBe(0);
  }
});

describe("conversions published with the units themselves", () => {
  // The Unified Code for Units of Measure, tables of defined units: deg = 2 [pi].rad/360, min = 60 s, [in_i] = 2.54 cm,
  // [lb_av] = 7000 [gr], [gr] = 64.79891 mg, [g] = 9.80665 m/s2, [degF] by 5 (t + 459.67)/9 K, Cel by t + 273.15 K.
  test.each([
    [180, "deg", "rad", Math.PI],
    [1, "min", "s", 60],
    [1, "[in_i]", "cm", 2.54],
    [1, "[lb_av]", "mg", 7000 * 64.79891],
    [1, "[g]", "m/s2", 9.80665],
    [0, "Cel", "K", 273.15],
    [212, "[degF]", "Cel", 100],
    [1, "[lbf_av].[ft_i]", "N.m", 0.45359237 * 9.80665 * 0.3048],
    [1, "kW.h", "J", 3.6e6],
    [1, "[HP]", "W", 550 * 0.3048 * 0.45359237 * 9.80665],
  ])("%d %s is %s %d", async (value, from, to, expected) => {
    expect(await convertUnit(value, from, to)).toBeCloseTo(
      expected,
      9 - Math.ceil(Math.log10(Math.abs(expected))),
    );
  });

  test("turns a minute, by definition", async () => {
    expect(await convertUnit(60, "{rev}/min", "rad/s")).toBeCloseTo(2 * Math.PI, 12);
    expect(await convertUnit(1, "{rev}/s", "{rev}/min")).toBeCloseTo(60, 12);
    expect(await convertUnit(360, "deg/s", "{rev}/min")).toBeCloseTo(60, 12);
  });

  test("what does not convert does not convert", async () => {
    expect(await conversion("A", "V")).toBeUndefined();
    expect(await conversion("no such unit", "V")).toBeUndefined();
    expect(await conversion("<script>", "V")).toBeUndefined();
    expect(await conversion("x".repeat(500), "V")).toBeUndefined();
    await expect(convertUnit(1, "A", "rad")).rejects.toThrow("cannot be converted");
  });
});

test.each([
  ["rpm", "{rev}/min"],
  ["RPM", "{rev}/min"],
  ["1/min", "{rev}/min"],
  ["min⁻¹", "{rev}/min"],
  ["U/min", "{rev}/min"],
  ["tr/min", "{rev}/min"],
  ["об/мин", "{rev}/min"],
  ["rad / s", "rad/s"],
  ["rad per second", undefined],
  ["mA", "mA"],
  ["MA", undefined],
  ["Nm", "N.m"],
  ["mNm", "mN.m"],
  ["N·m", "N.m"],
  ["µs", "us"],
  ["μs", "us"],
  ["°", "deg"],
  ["Inkr", "{count}"],
  ["furlong", undefined],
])("people write %s", (spelling, code) => {
  expect(unitCode(spelling)).toBe(code);
});

test("text from outside is harmless in a terminal, in HTML and in a spreadsheet", () => {
  expect(visible("a\u001b[2Jb\r\nc\u202e")).toBe("a\\x1b[2Jb\\x0d\\x0ac\\u202e");
  expect(escapeHtml(`<a href="x">'&`)).toBe("&lt;a href=&quot;x&quot;&gt;&#39;&amp;");
  expect(csvField("=1+1")).toBe("'=1+1");
  // RFC 4180, section 2, rules 6 and 7: fields with line breaks, quotes and commas are quoted, and quotes doubled.
  expect(csvField('a,"b"\r\nc')).toBe('"a,""b""\r\nc"');
});
