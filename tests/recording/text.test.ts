import { describe, expect, test } from "vitest";

import { stampForm } from "../../lib/recording/columns/stamps.js";
import { understandTable, usedFrom } from "../../lib/recording/columns/understand.js";
import { splitHeading, unitInHeading } from "../../lib/recording/columns/unitText.js";
import { wrapOf } from "../../lib/recording/columns/wrapOf.js";
import { splitRecords } from "../../lib/recording/formats/splitRecords.js";
import { findDialect } from "../../lib/recording/formats/textDialect.js";

describe("RFC 4180 (Common Format and MIME Type for CSV Files), section 2, its own examples", () => {
  const fields = (text: string): string[][] => splitRecords(text, ",", 100, true).map((r) => r.fields);
  test.each([
    [
      "rule 1: records by CRLF",
      "aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n",
      [
        ["aaa", "bbb", "ccc"],
        ["zzz", "yyy", "xxx"],
      ],
    ],
    [
      "rule 2: no break after the last",
      "aaa,bbb,ccc\r\nzzz,yyy,xxx",
      [
        ["aaa", "bbb", "ccc"],
        ["zzz", "yyy", "xxx"],
      ],
    ],
    [
      "rule 5: quoted fields",
      '"aaa","bbb","ccc"\r\nzzz,yyy,xxx',
      [
        ["aaa", "bbb", "ccc"],
        ["zzz", "yyy", "xxx"],
      ],
    ],
    [
      "rule 6: line break in a field",
      '"aaa","b\r\nbb","ccc"\r\nzzz,yyy,xxx',
      [
        ["aaa", "b\r\nbb", "ccc"],
        ["zzz", "yyy", "xxx"],
      ],
    ],
    ["rule 7: quotes doubled", '"aaa","b""bb","ccc"', [["aaa", 'b"bb', "ccc"]]],
  ])("%s", (_rule, text, expected) => {
    expect(fields(text)).toEqual(expected);
  });
});

describe("ISO 8601 (calendar date and time of day, extended and basic form)", () => {
  test.each([
    ["2026-11-25T09:00:00Z", "ISO 8601"],
    ["2026-11-25T09:00:00.125+01:00", "ISO 8601"],
    ["2026-11-25T09:00:00,125", "ISO 8601"],
    ["20261125T090000Z", "ISO 8601 basic"],
    ["2026-11-25 09:00:00.125", "ISO 8601"],
    ["25.11.2026 09:00:00", "day.month.year"],
    ["09:00:00.125", "time of day"],
    ["11/25", undefined],
    ["2026", undefined],
    ["12.5", undefined],
  ])("%s", (text, form) => {
    expect(stampForm([text])?.name).toBe(form);
  });
});

/** The role a heading alone is taken for, without numbers and neighbours. */
function roleOfHeading(name: string, unit: string | undefined): string | undefined {
  const column = { name, unit, kind: "number" as const, samples: [] };
  const table = {
    path: "test",
    format: "test",
    columns: [{ name: "first", kind: "number" as const, samples: [] }, column],
    findings: [],
    read: () => Promise.reject(new Error("not read")),
  };
  const { role, probability } = understandTable(table, new Map(), new Map()).columns[1];
  return probability < usedFrom ? undefined : role;
}

describe("column headings", () => {
  test.each([
    ["speed [rpm]", "speed", "rpm"],
    ["i_q (A)", "i_q", "A"],
    ["pos/counts", "pos", "counts"],
    ["speed_rpm", "speed", "rpm"],
    ["time_s", "time", "s"],
    ["i_a", "i_a", undefined],
    ["speedRpm", "speed", "rpm"],
    ["a/b", "a/b", undefined],
  ])("%s", (heading, name, unit) => {
    const got = splitHeading(heading);
    expect(got.plain ? got.words : heading).toBe(name);
    expect(unitInHeading(heading)?.toLowerCase()).toBe(unit?.toLowerCase());
  });

  test.each([
    ["i_q", undefined, "current"],
    ["Iq_ref", undefined, "currentCommand"],
    ["iqRef", undefined, "currentCommand"],
    ["id", "A", "currentD"],
    ["I_d_cmd", "A", "currentDCommand"],
    ["i_u", "A", "currentU"],
    ["Ia", "A", undefined],
    ["I_dc", "A", "currentBus"],
    ["Vbus", "V", "voltageBus"],
    ["u_q", "V", "voltageQ"],
    ["Zwischenkreisspannung", "V", "voltageBus"],
    ["Drehzahl Sollwert", undefined, "speedCommand"],
    ["n_ist", "{rev}/min", "speed"],
    ["n", "{rev}/min", "speed"],
    ["omega_ref", undefined, "speedCommand"],
    ["Vitesse consigne", undefined, "speedCommand"],
    ["velocidad real", undefined, "speed"],
    ["位置", undefined, "position"],
    ["目标速度", undefined, "speedCommand"],
    ["theta", "rad", "position"],
    ["encoder counts", "{count}", "position"],
    ["position_command", undefined, "positionCommand"],
    ["Drehmoment", "N.m", "torque"],
    ["torque_cmd", "N.m", "torqueCommand"],
    ["M_soll", "N.m", "torqueCommand"],
    ["z_pulse", undefined, "index"],
    ["index", undefined, "sample"],
    ["Zeit", undefined, "time"],
    ["timestamp", undefined, "time"],
    ["motor temperature", undefined, "temperature"],
    ["speed", "A", undefined],
    ["status", undefined, undefined],
    ["error code", undefined, undefined],
  ])("%s in %s is %s", (name, unit, role) => {
    expect(roleOfHeading(name, unit)).toBe(role);
  });
});

describe("dialects that invite a silent misreading", () => {
  test("a decimal comma in semicolon fields is no thousands separator", () => {
    const text = Array.from({ length: 20 }, (_, i) => `${(i / 10).toFixed(3)};1,500`.replace(".", ",")).join(
      "\n",
    );
    expect(findDialect(`t;i\n${text}\n`, true)).toMatchObject({ decimal: ",", delimiter: ";" });
    expect(findDialect(`t;i\n${text}\n`, true)?.thousands).toBeUndefined();
  });

  test("whole numbers by comma stay fields by comma", () => {
    expect(findDialect("a,b\n1,2\n3,4\n", true)).toMatchObject({ delimiter: ",", fields: 2, decimal: "." });
  });

  test("a units row is no header and no data", () => {
    const found = findDialect("time,speed\ns,rpm\n0,1\n1,2\n", true);
    expect(found).toMatchObject({ names: ["time", "speed"], units: ["s", "rpm"], skip: 2 });
  });

  test("the first rows of a column may be empty", () => {
    expect(findDialect("t,c\n0,\n1,\n2,5\n", true)).toMatchObject({ fields: 2, skip: 1 });
  });
});

test("wraps are found by size, and a slow counter that merely grows has none", () => {
  const counter = (n: number, step: number, wrap: number): Float64Array =>
    Float64Array.from({ length: n }, (_, i) => (i * step) % wrap);
  expect(wrapOf(counter(1000, 900, 65536), [4096, 65536, 2 ** 32])?.size).toBe(65536);
  expect(wrapOf(counter(1000, 500, 4096), [4096, 65536])?.size).toBe(4096);
  expect(
    wrapOf(
      Float64Array.from({ length: 100 }, (_, i) => i * 100),
      [4096, 65536],
    ),
  ).toBeUndefined();
  const signed = counter(1000, 900, 65536).map((v) => (v > 32767 ? v - 65536 : v));
  expect(wrapOf(signed, [65536])?.size).toBe(65536);
});
