import { describe, expect, test } from "vitest";
import { channelInSi, type Missing, type StatedUnits } from "../../lib/recording/columns/channelInSi.js";
import type { Choice } from "../../lib/recording/columns/chooseChannels.js";
import type { SourceTable } from "../../lib/recording/formats/sourceTable.js";
import type { Channel, ChannelRole, Finding } from "../../lib/recording/types.js";

// Factors: SI Brochure (9th edition), UCUM; inch, foot and mile by NIST SP 811, appendix B; the degree Fahrenheit too.

interface Column {
  readonly role: ChannelRole;
  readonly unit: string;
  readonly values: readonly number[];
  readonly name?: string;
  readonly spelling?: string;
  readonly scale?: { readonly factor: number; readonly zero: number };
  readonly sure?: number;
  readonly stated?: Partial<StatedUnits>;
  readonly mine?: boolean;
  readonly hall?: boolean;
  readonly by?: string;
}

async function made(column: Column) {
  const { role, unit, values, name = "x", spelling = unit, scale, sure, mine = false, hall } = column;
  const raw = Float64Array.from(values);
  const table: SourceTable = {
    path: "log.csv",
    format: "CSV",
    columns: [{ name, kind: "number", samples: [], hall }],
    findings: [],
    read: () => Promise.reject(new Error("nothing is read")),
  };
  const choice: Choice = {
    index: 0,
    role,
    unit,
    spelling,
    scale,
    unitStated: sure === undefined,
    unitProbability: sure ?? 1,
    recognisedBy: column.by ?? "name",
  };
  const stated = { machine: {}, drive: {}, encoder: {}, ...column.stated };
  const findings: Finding[] = [];
  const found = await channelInSi({ raw, mine, choice, table, stated }, findings);
  return { found, findings, raw, codes: findings.map(({ code }) => code) };
}
const channel = async (column: Column): Promise<Channel> => {
  const { found } = await made(column);
  if ("finding" in found) throw new Error(found.finding.message);
  return found;
};
const missing = async (column: Column): Promise<Missing> => {
  const { found } = await made(column);
  if (!("finding" in found)) throw new Error("it was converted");
  return found;
};

describe("units in SI", () => {
  test.each<[ChannelRole, string, number, number]>([
    ["speed", "{rev}/min", 60, 2 * Math.PI],
    ["speed", "Hz", 1, 2 * Math.PI],
    ["speed", "kHz", 1, 2000 * Math.PI],
    ["speed", "deg/s", 180, Math.PI],
    ["position", "deg", 90, Math.PI / 2],
    ["position", "{rev}", 2, 4 * Math.PI],
    ["current", "mA", 1500, 1.5],
    ["voltage", "mV", 24_000, 24],
    ["torque", "mN.m", 500, 0.5],
    ["temperature", "Cel", 25, 298.15],
    ["temperature", "[degF]", 212, 373.15],
    ["temperature", "[degF]", 32, 273.15],
    ["temperature", "K", 300, 300],
    ["duty", "%", 50, 0.5],
    ["duty", "[ppth]", 250, 0.25],
    ["duty", "1", 0.5, 0.5],
    // Servo pulses.
    ["duty", "us", 1500, 0.5],
    ["duty", "us", 1000, 0],
  ])("%s in %s: %d is %d", async (role, unit, logged, si) => {
    expect((await channel({ role, unit, values: [logged, logged] })).data[1]).toBeCloseTo(si, 9);
  });

  test("a scale that was stated, with the place of its zero", async () => {
    const scale = { factor: 0.05, zero: 2048 };
    const { data, sourceUnit } = await channel({
      role: "current",
      unit: "A",
      values: [2048, 2148],
      scale,
      spelling: "0.05 A from 2048",
    });
    expect([...data]).toEqual([0, 5]);
    expect(sourceUnit).toBe("0.05 A from 2048");
    const warm = await channel({
      role: "temperature",
      unit: "Cel",
      values: [200, 300],
      scale: { factor: 0.1, zero: 0 },
    });
    expect(warm.data[1]).toBeCloseTo(303.15, 9);
    const fast = await channel({
      role: "speed",
      unit: "Hz",
      values: [10, 30],
      scale: { factor: 0.1, zero: 10 },
    });
    expect(fast.data[1]).toBeCloseTo(4 * Math.PI, 9);
  });

  test("values are left where they are unless the array may be changed", async () => {
    const shared = await made({ role: "current", unit: "mA", values: [1000, 2000] });
    expect([...shared.raw]).toEqual([1000, 2000]);
    const own = await made({ role: "current", unit: "mA", values: [1000, 2000], mine: true });
    expect((own.found as Channel).data).toBe(own.raw);
    expect(own.raw[1]).toBeCloseTo(2, 12);
    const plain = await made({ role: "current", unit: "A", values: [1, 2] });
    expect((plain.found as Channel).data).toBe(plain.raw);
    expect((plain.found as Channel).perUnit).toBeUndefined();
    expect((await channel({ role: "temperature", unit: "Cel", values: [20] })).perUnit).toBeUndefined();
    expect((shared.found as Channel).perUnit).toBeCloseTo(1e-3, 15);
  });
});

describe("parts of a rated value", () => {
  const machine = { ratedCurrent: 8, ratedTorque: 2, ratedSpeed: 300 };
  test.each<[ChannelRole, string, number, number]>([
    ["current", "%", 50, 4],
    ["current", "[ppth]", 250, 2],
    ["torque", "%", 10, 0.2],
    ["torque", "[ppth]", 1000, 2],
    ["torque", "1", 0.5, 1],
    ["speed", "%", 100, 300],
  ])("%s in %s: %d is %d", async (role, unit, logged, si) => {
    const stated = { machine };
    expect((await channel({ role, unit, values: [logged], stated })).data[0]).toBeCloseTo(si, 9);
    const { finding, answer, reason } = await missing({ role, unit, values: [logged] });
    expect(finding.code).toBe("rating-missing");
    expect(finding.message).toContain(
      { "%": "in percent of", "[ppth]": "in thousandths of", "1": "in parts of" }[unit],
    );
    expect(finding.meaning).toContain(
      { "%": "what one percent is", "[ppth]": "what one thousandth is", "1": "what 1 is" }[unit],
    );
    expect(reason).toContain("rated value");
    expect(answer?.value).toMatch(unit === "1" ? /^5 / : /^0\.05 /);
  });

  test("it is said whether the column says so itself", async () => {
    const of = async (sure?: number) =>
      (await missing({ role: "current", unit: "%", values: [1], sure })).finding.message;
    expect(await of()).toContain("is in percent");
    expect(await of(0.7)).toContain("says no unit and is likeliest in percent");
  });

  test("a voltage has no rated value that could be stated", async () => {
    const { finding } = await missing({ role: "voltage", unit: "%", values: [1], stated: { machine } });
    expect(finding.code).toBe("rating-missing");
  });
});

describe("counts", () => {
  const encoder = { lines: 1000 };
  test("of an encoder with its lines stated: four counts a line", async () => {
    const position = await channel({
      role: "position",
      unit: "{count}",
      values: [0, 1000, 2000],
      stated: { encoder },
    });
    expect(position.data[2]).toBeCloseTo(Math.PI, 12);
    expect(position.resolution).toBeCloseTo((2 * Math.PI) / 4000, 15);
    const speed = (unit: string) => channel({ role: "speed", unit, values: [0, 4000], stated: { encoder } });
    expect((await speed("{count}/s")).data[1]).toBeCloseTo(2 * Math.PI, 12);
    expect((await speed("{count}/min")).data[1]).toBeCloseTo((2 * Math.PI) / 60, 12);
    expect((await speed("{count}/s")).resolution).toBeUndefined();
  });

  test("of an encoder whose lines nobody said: what is missing, and what one turn by hand would say", async () => {
    const { found, findings, codes } = await made({
      role: "position",
      unit: "{count}",
      values: [0, 1000, 2000],
    });
    expect(codes).toEqual(["lines-missing", "one-turn"]);
    expect(findings[0].message).toContain('the position "x" is in counts,');
    expect((found as Missing).oneTurn).toEqual({ counts: 2000, lines: 500 });
    expect(findings[1].meaning).toContain("--lines 500 ");
    const speed = await made({ role: "speed", unit: "{count}/s", values: [0, 2000] });
    expect(speed.codes).toEqual(["lines-missing"]);
    expect(speed.findings[0].message).toContain('the speed "x" is in counts per time,');
  });

  test.each([
    [16, 4],
    [80_000, 20_000],
    [13, undefined],
    [80_003, undefined],
  ])("%d counts are one turn of %s lines", async (span, lines) => {
    const { oneTurn } = await missing({ role: "position", unit: "{count}", values: [0, span] });
    expect(oneTurn?.lines).toBe(lines);
  });

  test("of Hall signals: the pole pairs are what is missing", async () => {
    const { finding, answer } = await missing({
      role: "position",
      unit: "{count}",
      values: [0, 6],
      hall: true,
    });
    expect(answer?.option).toBe("pole-pairs");
    expect(finding.message).toContain("Hall");
    const both = { role: "position", unit: "{count}", values: [0, 6], hall: true } as const;
    expect((await made({ ...both, stated: { encoder } })).codes).toEqual([]);
  });

  test("of a converter: the scale is missing, and its middle is offered for zero", async () => {
    const { finding, answer } = await missing({ role: "current", unit: "{count}", values: [2050, 2300] });
    expect(finding.code).toBe("scale-missing");
    expect(answer?.value).toBe("0.01 A from 2048");
    expect((await missing({ role: "current", unit: "{count}", values: [3, 40] })).answer?.value).toBe(
      "0.01 A",
    );
    expect((await missing({ role: "voltage", unit: "{count}", values: [3, 40] })).answer?.value).toBe(
      "0.01 V",
    );
  });

  test.each([
    [100, 100],
    [101, 127],
    [255, 255],
    [1000, 1000],
    [65_535, 65_535],
    [70_000, 70_000],
  ])("of a duty: %d counts are part of %d", async (largest, full) => {
    const { data } = await channel({ role: "duty", unit: "{count}", values: [0, -largest] });
    expect(data[1]).toBeCloseTo(-largest / full, 12);
  });

  test("of an electrical angle: one turn is what it wraps at", async () => {
    const values = Array.from({ length: 200 }, (_, i) => (i * 100) % 4096);
    const { data, wrap } = await channel({ role: "electricalAngle", unit: "{count}", values });
    expect(wrap).toBeCloseTo(2 * Math.PI, 12);
    expect(data[199]).toBeCloseTo((199 * 100 * 2 * Math.PI) / 4096, 9);
    expect((await missing({ role: "electricalAngle", unit: "{count}", values: [0, 5] })).finding.code).toBe(
      "scale-missing",
    );
  });
});

describe("angles that wrap", () => {
  const turns = (step: number, size: number): number[] =>
    Array.from({ length: 100 }, (_, i) => (i * step) % size);

  test("are put back together, and how far it is from being a guess is said", async () => {
    const { found, findings } = await made({ role: "position", unit: "deg", values: turns(20, 360) });
    const { data, wrap } = found as Channel;
    expect(data[99]).toBeCloseTo((99 * 20 * Math.PI) / 180, 9);
    expect(wrap).toBeCloseTo(2 * Math.PI, 12);
    expect(findings.map(({ code, severity }) => `${severity} ${code}`)).toEqual(["note unwrapped"]);
    // 20 of 180 degrees.
    expect(findings[0].value).toBeCloseTo(1 / 9, 9);
    expect(findings[0].message).toContain("wraps at 360 ");
    expect(findings[0].message).toContain("(5 times)");
    expect(findings[0].message).toContain("11 % of half a wrap");
    expect(findings[0].meaning).toBeUndefined();
  });

  test("once, and near half a wrap a row", async () => {
    const once = await made({ role: "position", unit: "deg", values: turns(5, 360) });
    expect(once.findings[0].message).toContain("(once)");
    const fast = await made({ role: "position", unit: "deg", values: turns(170, 360) });
    expect(fast.findings.map(({ code, severity }) => `${severity} ${code}`)).toEqual([
      "warning unwrap-doubtful",
    ]);
    expect(fast.findings[0].meaning).toContain("sample faster");
  });

  test("a command that steps across its range stays as it was asked, one that moves through does not", async () => {
    const steps = turns(0, 1).map((_, i) => (Math.floor(i / 20) % 2 === 0 ? 0 : 350));
    const asked = await made({ role: "positionCommand", unit: "deg", values: steps });
    expect(asked.codes).toEqual([]);
    expect((asked.found as Channel).data[20]).toBeCloseTo((350 * Math.PI) / 180, 12);
    expect((await made({ role: "positionCommand", unit: "deg", values: turns(20, 360) })).codes).toEqual([
      "unwrapped",
    ]);
    expect((await made({ role: "position", unit: "deg", values: steps })).codes[0]).toMatch(/^unwrap/);
  });

  test("a speed is never unwrapped, nor a count at a size that none is kept in", async () => {
    expect((await made({ role: "speed", unit: "deg/s", values: turns(20, 360) })).codes).toEqual([]);
    const counts = (size: number) =>
      made({
        role: "position",
        unit: "{count}",
        values: turns(300, size),
        stated: { encoder: { lines: 250 } },
      });
    expect((await counts(65_536 / 16)).codes).toEqual(["unwrapped"]);
    expect((await counts(1000)).codes).toEqual(["unwrapped"]);
    expect((await counts(7000)).codes).toEqual([]);
  });
});

describe("what is assumed, and what is not known", () => {
  test.each<[number, string]>([
    [0.9, "note"],
    [0.6, "warning"],
  ])("a unit that is %d likely is a %s", async (sure, severity) => {
    const { found, findings } = await made({ role: "speed", unit: "{rev}/min", values: [1, 2], sure });
    expect((found as Channel).recognisedBy).toBe("name, unit assumed");
    expect(findings[0]).toMatchObject({ code: "unit-assumed", severity, value: sure });
    expect(findings[0].message).toContain(`was assumed (${100 * sure} %)`);
    expect((await channel({ role: "speed", unit: "{rev}/min", values: [1, 2] })).recognisedBy).toBe("name");
  });

  test("turns and counts were assumed, a plain number was", async () => {
    const of = async (role: ChannelRole, unit: string) =>
      (await made({ role, unit, values: [1, 2], sure: 0.7, stated: { encoder: { lines: 4 } } })).findings[0]
        .message;
    expect(await of("position", "{rev}")).toContain("were assumed");
    expect(await of("position", "{count}")).toContain("were assumed");
    expect(await of("duty", "1")).toContain("a plain number was assumed");
    expect(await of("current", "A")).toContain("was assumed");
  });

  test("an index pulse has no unit to assume, and is taken as it was logged", async () => {
    expect([...(await channel({ role: "index", unit: "V", values: [0, 5] })).data]).toEqual([0, 5]);
    const { found, codes } = await made({ role: "index", unit: "1", values: [0, 1], sure: 0.5 });
    expect((found as Channel).recognisedBy).toBe("name");
    expect(codes).toEqual([]);
  });

  test("turns of the field are slower by the pole pairs, and without these it is said", async () => {
    const erpm = { role: "speed", unit: "{rev}/min", values: [0, 600], name: "motor erpm" } as const;
    const known = await made({ ...erpm, stated: { machine: { polePairs: 5 } } });
    expect((known.found as Channel).data[1]).toBeCloseTo(4 * Math.PI, 9);
    expect(known.codes).toEqual([]);
    const open = await made(erpm);
    expect((open.found as Channel).data[1]).toBeCloseTo(20 * Math.PI, 9);
    expect(open.codes).toEqual(["electrical-speed"]);
    expect((await made({ ...erpm, by: "name, --unit" })).codes).toEqual([]);
    expect((await made({ ...erpm, name: "motor rpm" })).codes).toEqual([]);
    const power = { ...erpm, role: "current", unit: "A" } as const;
    const hertz = { ...erpm, name: "speed", unit: "{rev}/s", stated: { machine: { polePairs: 5 } } } as const;
    expect((await channel(hertz)).data[1]).toBeCloseTo(1200 * Math.PI, 6);
    expect((await made(power)).codes).toEqual([]);
  });

  test("effective values are said to be such, but not of a supply", async () => {
    const of = async (role: ChannelRole, unit: string, spelling: string) =>
      (await made({ role, unit, spelling, values: [1, 2] })).codes;
    expect(await of("current", "A", "A rms")).toEqual(["effective-value"]);
    expect(await of("voltage", "V", "Veff")).toEqual(["effective-value"]);
    expect(await of("currentBus", "A", "A rms")).toEqual([]);
    expect(await of("speed", "{rev}/min", "rpm rms")).toEqual([]);
    expect(await of("current", "A", "A")).toEqual([]);
  });

  test("a motion along a line: what one turn moves is asked for, by an example of 5 mm", async () => {
    const of = async (role: ChannelRole, unit: string) =>
      (await missing({ role, unit, values: [1, 2] })).finding.meaning;
    // 1 mm is a fifth of a turn: 72 degrees; 1 mm/s are 12 turns a minute.
    expect(await of("position", "mm")).toContain('"72 deg"');
    expect(await of("speed", "mm/s")).toContain('"12 rev/min"');
    expect(await of("speed", "m/min")).toContain('"200 rev/min"');
    expect(await of("position", "[in_i]")).toContain('"1828.8 deg"');
  });

  test("what is no unit of the role is left out with the option that says it", async () => {
    const { finding, reason } = await missing({ role: "speed", unit: "kg", values: [1], name: "v" });
    expect(reason).toBe("unit kg does not fit");
    expect(finding).toMatchObject({ code: "unit", severity: "warning", column: "v", file: "log.csv" });
    expect(finding.meaning).toContain("--unit v=<unit>");
    const nameless = await missing({ role: "speed", unit: "kg", values: [1], name: " " });
    expect(nameless.finding.message).toContain('"#1"');
  });

  test("an acceleration along a line is kept as it was logged, and nothing rests on it", async () => {
    const { finding, reason } = await missing({ role: "acceleration", unit: "m/s^2 ", values: [1] });
    expect(finding).toMatchObject({ code: "unit", severity: "note" });
    expect(reason).toContain("is no unit of a shaft's acceleration");
  });

  test("the step of a position is found where its unit does not tell it", async () => {
    const values = Array.from({ length: 200 }, (_, i) => Math.round(Math.sin(i / 9) * 200) / 10);
    expect((await channel({ role: "position", unit: "rad", values })).resolution).toBeCloseTo(0.1, 6);
    expect((await channel({ role: "speed", unit: "rad/s", values })).resolution).toBeUndefined();
    expect((await channel({ role: "position", unit: "rad", values: [1, 1, 1] })).resolution).toBeUndefined();
  });
});
