import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, test } from "vitest";
import { looseJson } from "../../lib/recording/formats/looseJson.js";
import { readRecordings } from "../../lib/recording/index.js";
import type { Recording } from "../../lib/recording/types.js";
import { machines, runTrial } from "../corpus/rig.js";

// Lines as loggers, consoles and programs print them: whatever stands around the values, each value ends in its
// channel.

const folder = mkdtempSync(join(tmpdir(), "shaftwise-lines-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const { time, currentCommand, speed, current } = runTrial("speed", machines.small, 7);
const rows = time.length;
const second = runTrial("speed", machines.small, 8);

async function read(name: string, content: string): Promise<Recording[]> {
  const file = join(folder, name);
  writeFileSync(file, content);
  const { recordings, problems } = await readRecordings([file]);
  expect(problems.filter((p) => p.severity === "error")).toEqual([]);
  return [...recordings];
}

const each = (line: (k: number) => string): string =>
  Array.from({ length: rows }, (_, k) => `${line(k)}\n`).join("");
const t = (k: number): string => time[k].toFixed(4);
const clock = (k: number): string => new Date(36e6 + Math.round(1e3 * time[k])).toISOString().slice(11, 23);
const pairs = (k: number): string =>
  `iq_ref=${currentCommand[k].toFixed(3)} iq=${current[k].toFixed(4)} vel=${speed[k].toFixed(3)}`;
const cells = (k: number): string =>
  `${t(k)},${currentCommand[k].toFixed(3)},${current[k].toFixed(4)},${speed[k].toFixed(3)}`;

function expectWhole(log: Recording): void {
  expect(log.time.length).toBe(rows);
  expect(log.time[rows - 1] - log.time[0]).toBeCloseTo(time[rows - 1] - time[0], 2);
  expect(log.channels.current?.data[rows >> 1]).toBeCloseTo(current[rows >> 1], 3);
  expect(log.channels.currentCommand?.data[rows >> 1]).toBeCloseTo(currentCommand[rows >> 1], 2);
  expect(log.channels.speed).toBeDefined();
}

describe("prefixes of loggers", () => {
  test.each([
    ["a moment and a level in brackets", (k: number) => `[${clock(k)}] [info] ${pairs(k)}`],
    ["seconds in brackets, level, tag", (k: number) => `[${t(k)}] [INFO] motor: ${pairs(k)}`],
    ["a number of the line", (k: number) => `#${339 + k} t=${t(k)} ${pairs(k)}`],
    ["letter, ticks, tag", (k: number) => `I (${Math.round(1e3 * time[k])}) foc: t=${t(k)} ${pairs(k)}`],
    [
      "a journal with moments of whole seconds",
      (k: number) => `Mar  4 14:02:${11 + Math.floor(time[k])} rig motord[81]: t=${t(k)} ${pairs(k)}`,
    ],
    [
      "a moment with a comma, level, thread, class",
      (k: number) => `2025-03-04 ${clock(k).replace(".", ",")} DEBUG [main] rig.Motor - ${pairs(k)}`,
    ],
    [
      "an object behind the level",
      (k: number) =>
        `[2025-03-04 ${clock(k)}] INFO: {"iq_ref": ${currentCommand[k].toFixed(3)}, "iq": ${current[k].toFixed(4)}, "vel": ${speed[k].toFixed(3)}}`,
    ],
    [
      "key=value with the moment as one of them",
      (k: number) => `ts=2025-03-04T${clock(k)}Z level=info ${pairs(k)}`,
    ],
    ["words and numbers in turns", (k: number) => `t ${t(k)} ${pairs(k).replaceAll("=", " ")}`],
    [
      "words, numbers and units between bars",
      (k: number) =>
        `Time ${t(k)}s | ${pairs(k).replaceAll("=", " ").replaceAll(" vel", "A | vel").replaceAll(" iq ", "A | iq ")}rad/s`,
    ],
  ])("%s", async (_name, line) => {
    const [log, ...others] = await read("prefixed.log", each(line));
    expect(others).toEqual([]);
    expectWhole(log);
  });

  test.each([
    ["a tag", (k: number) => `I (${k}) foc: ${cells(k)}`, "I (0) foc: t,iq_ref,iq,vel"],
    ["a prompt", (k: number) => `rig7> ${cells(k)}`, "rig7> t,iq_ref,iq,vel"],
    [
      "colours",
      (k: number) => `\u001b[0;32mI (${k}) foc: ${cells(k)}\u001b[0m`,
      "\u001b[0;32mI (0) foc: t,iq_ref,iq,vel\u001b[0m",
    ],
    [
      "a module and a level",
      (k: number) => `2025-03-04 ${clock(k).replace(".", ",")} - motor - INFO - ${cells(k)}`,
      "2025-03-04 10:00:00,000 - motor - INFO - t,iq_ref,iq,vel",
    ],
  ])("cells behind %s, messages between", async (_name, line, heading) => {
    const noisy = (k: number): string => (k % 31 === 0 ? `[${clock(k)}] heartbeat ok\n` : "") + line(k);
    const [log, ...others] = await read("cells.log", `${heading}\n${each(noisy)}`);
    expect(others).toEqual([]);
    expectWhole(log);
  });

  test("messages of two kinds in turns come onto one time", async () => {
    const text = each(
      (k) =>
        `[${t(k)}] current: ref=${currentCommand[k].toFixed(3)} act=${current[k].toFixed(4)}\n` +
        `[${(time[k] + 1e-4).toFixed(4)}] motion: vel=${speed[k].toFixed(3)}`,
    );
    const [log, ...others] = await read("kinds.log", text);
    expect(others).toEqual([]);
    expectWhole(log);
  });
});

describe("several devices in one log", () => {
  const row = (of: typeof second, k: number): string =>
    `${of.currentCommand[k].toFixed(3)},${of.current[k].toFixed(4)},${of.speed[k].toFixed(3)}`;
  const first = { time, currentCommand, speed, current } as typeof second;

  test.each([
    [
      "a column of numbers",
      (k: number) => `${t(k)},1,${row(first, k)}\n${t(k)},2,${row(second, k)}`,
      "t,motor_id,iq_ref,iq,vel\n",
    ],
    [
      "a column of words",
      (k: number) => `${t(k)},A3,${row(first, k)}\n${(time[k] + 2e-4).toFixed(4)},A7,${row(second, k)}`,
      "t,node,iq_ref,iq,vel\n",
    ],
    [
      "headings twice",
      (k: number) => `${t(k)},${row(first, k)},${row(second, k)}`,
      "t,iq_ref,iq,vel,iq_ref,iq,vel\n",
    ],
  ])("%s", async (_name, line, heading) => {
    const logs = await read("devices.csv", heading + each(line));
    expect(logs.length).toBe(2);
    expectWhole(logs[0]);
    expect(logs[1].channels.current?.data[rows >> 1]).toBeCloseTo(second.current[rows >> 1], 3);
    expect(logs[0].motor).not.toBe(logs[1].motor);
  });

  test("tags of a logger, and objects within a line of JSON", async () => {
    const tagged = each((k) => `[${t(k)}] M1 ${pairs(k)}\n[${t(k)}] M2 iq_ref=0 iq=0.1 vel=${(k % 7) + 1}`);
    expect((await read("tags.log", tagged)).length).toBe(2);
    const motor = (k: number, of: typeof second): object => ({
      iq_ref: of.currentCommand[k],
      iq: of.current[k],
      vel: of.speed[k],
    });
    const lines = each((k) => JSON.stringify({ t: time[k], motors: [motor(k, first), motor(k, second)] }));
    const logs = await read("objects.jsonl", lines);
    expect(logs.length).toBe(2);
    expectWhole(logs[0]);
  });
});

describe("other shapes of tables", () => {
  const heading = "t,iq_ref,iq,vel\n";
  const signals = (k: number): [string, number][] => [
    ["iq_ref", currentCommand[k]],
    ["iq", current[k]],
    ["vel", speed[k]],
  ];
  const tags = (k: number): string =>
    signals(k)
      .map(([n, v]) => `  <${n}>${v.toFixed(4)}</${n}>`)
      .join("\n");

  test.each([
    [
      "one point a line",
      each((k) =>
        signals(k)
          .map(([n, v]) => `>${n}:${Math.round(1e3 * time[k])}:${v.toFixed(4)}`)
          .join("\n"),
      ),
    ],
    [
      "attributes of elements",
      `<log>\n${each((k) => `<s t="${t(k)}" ${pairs(k).replace(/=(\S+)/g, '="$1"')}/>`)}</log>`,
    ],
    [
      "elements within elements",
      `<?xml version="1.0"?>\n<log>\n${each((k) => `<s>\n  <t>${t(k)}</t>\n${tags(k)}\n</s>`)}</log>`,
    ],
    [
      "a table in a page",
      `<html><table><tr><th>t</th><th>iq_ref</th><th>iq</th><th>vel</th></tr>${each((k) => `<tr><td>${cells(k).replaceAll(",", "</td><td>")}</td></tr>`)}</table></html>`,
    ],
    [
      "columns that run into each other",
      `      t  iq_ref      iq     vel\n${each((k) => t(k).padStart(7) + currentCommand[k].toFixed(3).padStart(7) + (current[k] - 10).toFixed(4).padStart(8) + (speed[k] / 100).toFixed(3).padStart(8))}`,
    ],
    [
      "records behind a rule with their moment",
      each(
        (k) =>
          `--- ${t(k)}\n${pairs(k).replaceAll("=", " ").replaceAll(" i", "\n i").replaceAll(" vel", "\nvel")}`,
      ),
    ],
    ["single quotes", `'t','iq_ref','iq','vel'\n${each((k) => `'${cells(k).replaceAll(",", "','")}'`)}`],
    ["carets", `t^iq_ref^iq^vel\n${each((k) => cells(k).replaceAll(",", "^"))}`],
    ["a comma for everything", heading + each((k) => cells(k).replaceAll(".", ","))],
    [
      "columns by their names and row numbers",
      JSON.stringify(
        Object.fromEntries(
          Object.entries({ t: time, iq_ref: currentCommand, iq: current, vel: speed }).map(([n, v]) => [
            n,
            { ...Array.from(v) },
          ]),
        ),
      ),
    ],
    [
      "a block for each signal",
      ["iq_ref", "iq", "vel"]
        .map(
          (n, j) => `Signal: ${n}\nt [s]\t${n}\n${each((k) => `${t(k)}\t${signals(k)[j][1].toFixed(4)}`)}\n`,
        )
        .join(""),
    ],
    [
      "a stamp of whole seconds and milliseconds",
      `time,ms,iq_ref,iq,vel\n${each((k) => `${clock(k).slice(0, 8)},${Math.round(1e3 * time[k]) % 1000},${cells(k).split(",").slice(1).join(",")}`)}`,
    ],
    [
      "days of a spreadsheet",
      `Date/Time,iq_ref,iq,vel\n${each((k) => `${(45_720.5 + time[k] / 86_400).toFixed(10)},${cells(k).split(",").slice(1).join(",")}`)}`,
    ],
  ])("%s", async (name, text) => {
    const [log, ...others] = await read("shape.txt", text);
    expect(others).toEqual([]);
    expect(log.time.length).toBe(rows);
    expect(log.time[rows - 1] - log.time[0]).toBeCloseTo(time[rows - 1] - time[0], 2);
    const offset = name.startsWith("columns that run") ? 10 : 0;
    expect(log.channels.current?.data[rows >> 1]).toBeCloseTo(current[rows >> 1] - offset, 3);
    expect(log.channels.speed).toBeDefined();
  });

  test("a factor above the rows of a matrix, rows that go on in the next line", async () => {
    const factor = `   1.0e+01 *\n\n${each((k) => `  ${(time[k] / 10).toFixed(5)}  ${(current[k] / 10).toFixed(5)}`)}`;
    const options = { map: { time: "#1", current: "#2" } };
    writeFileSync(join(folder, "factor.txt"), factor);
    const [scaled] = (await readRecordings([join(folder, "factor.txt")], options)).recordings;
    expect(scaled.channels.current?.data[rows >> 1]).toBeCloseTo(current[rows >> 1], 3);
    const wrapped = `[${each((k) => `[${t(k)} ${currentCommand[k].toFixed(3)}\n  ${current[k].toFixed(4)}]`)}]`;
    writeFileSync(join(folder, "wrapped.txt"), wrapped);
    const answered = { map: { time: "#1", current: "#3" } };
    const [log] = (await readRecordings([join(folder, "wrapped.txt")], answered)).recordings;
    expect(log.time.length).toBe(rows);
    expect(log.channels.current?.data[rows >> 1]).toBeCloseTo(current[rows >> 1], 3);
  });

  test("one value a row with the motor in a column of its own", async () => {
    const text = `time,motor,signal,value\n${each((k) =>
      ["m1", "m2"]
        .map((m) =>
          signals(k)
            .map(([n, v]) => `${t(k)},${m},${n},${v.toFixed(4)}`)
            .join("\n"),
        )
        .join("\n"),
    )}`;
    const logs = await read("long.csv", text);
    expect(logs.length).toBe(2);
    expectWhole(logs[0]);
  });

  test("many tables with one question: it is asked once", async () => {
    const text = Array.from(
      { length: 40 },
      (_, n) =>
        `${n % 2 === 0 ? "1.5 2.5 3.5\n2.5 3.5 1.5\n" : "7.5 8.5\n8.5 7.5\n"}${each((k) => (k < 3 ? "0.5 0.25 0.125" : "")).trim()}\n`,
    ).join("text between\n");
    writeFileSync(join(folder, "many.txt"), text);
    const { problems } = await readRecordings([join(folder, "many.txt")]);
    expect(problems.length).toBeLessThan(12);
  });
});

describe("what programs print", () => {
  const object = (k: number): string =>
    `{'t': ${t(k)}, 'iq_ref': ${currentCommand[k].toFixed(3)}, 'iq': ${current[k].toFixed(4)}, 'vel': ${speed[k].toFixed(3)}}`;
  const all = Array.from({ length: rows }, (_, k) => object(k));

  test.each([
    ["a dictionary a line", `${all.join("\n")}\n`],
    ["a list of dictionaries", `[${all.join(", ")}]`],
    [
      "objects of a script with a name, a comma after the last",
      `const log = [\n${all.join(",\n").replaceAll("'", "")},\n];\n`,
    ],
    [
      "lists by their names",
      `{'t': [${Array.from(time).join(", ")}], 'iq_ref': [${Array.from(currentCommand).join(", ")}], 'iq': [${Array.from(current).join(", ")}], 'vel': [${Array.from(speed).join(", ")}], 'note': None, 'ok': True}`,
    ],
  ])("%s", async (_name, text) => {
    const [log, ...others] = await read("printed.txt", text);
    expect(others).toEqual([]);
    expectWhole(log);
  });

  test("a document that breaks off is read up to there, and told", async () => {
    const text = JSON.stringify(
      Array.from({ length: rows }, (_, k) => ({ t: time[k], iq: current[k], vel: speed[k] })),
    );
    const [log] = await read("cut.json", text.slice(0, -150));
    expect(log.time.length).toBeGreaterThan(rows - 4);
    expect(log.findings.map((f) => f.code)).toContain("truncated");
  });

  test("values as programs write them, and what is none", () => {
    expect(looseJson("{'a': (1, 2.5), b: None, c: NaN,}")?.value).toEqual({ a: [1, 2.5], b: null, c: null });
    expect(looseJson('{"a": 1}\n{"a": 2}')?.value).toEqual([{ a: 1 }, { a: 2 }]);
    expect(looseJson("x = array([1, 2], dtype=int)")).toBeUndefined();
    expect(looseJson("[14:02:11.038] [info] vel: 3")).toBeUndefined();
    expect(looseJson('{"__proto__": {"polluted": 1}}')?.value).not.toHaveProperty("polluted");
  });
});

describe("dress of numbers", () => {
  const plain = each((k) => cells(k).replaceAll(",", " "));
  test.each([
    ["true minus signs", `t iq_ref iq vel\n${plain.replaceAll("-", "\u2212")}`],
    [
      "exponents with D",
      `# t iq_ref iq vel\n${each((k) => [time[k], currentCommand[k], current[k], speed[k]].map((v) => v.toExponential(6).replace(/e([+-])(\d)$/, "D$10$2")).join(" "))}`,
    ],
    [
      "a box of lines",
      `┌──────┬───┐\n│ t │ iq_ref │ iq │ vel │\n├──────┤\n${each((k) => `│ ${cells(k).replaceAll(",", " │ ")} │`)}└───┘\n`,
    ],
    [
      "commas in numbers and between them",
      `t, iq_ref, iq, vel\n${each((k) => cells(k).split(",").join(", ").replaceAll(".", ","))}`,
    ],
  ])("%s", async (_name, text) => {
    const [log, ...others] = await read("dress.txt", text);
    expect(others).toEqual([]);
    expectWhole(log);
  });
});

describe("marks that are no JSON", () => {
  const whole = (k: number): string => `${k / 10}, i=${(k % 9) / 2}, n=${3 * k}`;
  test.each([
    ["a tag in braces", (k: number) => `{motor1} t=${whole(k)}`],
    ["braces around the line", (k: number) => `{t=${whole(k)}}`],
    ["names without quotes", (k: number) => `{t: ${k / 10}, i: ${(k % 9) / 2}, n: ${3 * k}}`],
    ["a number in brackets", (k: number) => `[1${String(k).padStart(3, "0")}] t=${whole(k)}`],
    ["no blank after the comma", (k: number) => `{a} t=${k / 10},i=${(k % 9) / 2},n=${3 * k}`],
  ])("%s: whole numbers before a comma are read as they stand", async (name, line) => {
    const text = Array.from({ length: 80 }, (_, k) => line(k)).join("\n");
    for (const title of ["", "log of bench 4\n"]) {
      const [log] = await read(`${name}${title.length}.txt`, `${title}${text}\n`);
      expect([...log.time].map((v) => Math.round(10 * v))).toEqual(Array.from({ length: 80 }, (_, k) => k));
      expect([...(log.channels.current?.data ?? [])]).toEqual(
        Array.from({ length: 80 }, (_, k) => (k % 9) / 2),
      );
    }
  });

  test("what is refused is not called JSON for its first bracket", async () => {
    for (const [name, text, json] of [
      ["stamps", "[12:00:01] ready\n[12:00:02] ready\n[12:00:03] ready\n", false],
      ["numbers", "{1} ready\n{2} ready\n{3} ready\n", false],
      ["cut", '{"speed": [1, 2, 3], "current": [1, 2', true],
    ] as const) {
      const file = join(folder, `${name}.log`);
      writeFileSync(file, text);
      const { recordings, problems } = await readRecordings([file]);
      expect(recordings).toEqual([]);
      expect(/JSON/.test(problems[0].message), problems[0].message).toBe(json);
    }
  });
});

describe("lines above a heading", () => {
  test("a title of two cells before an empty line names no columns", async () => {
    const [log] = await read(
      "title.csv",
      `Trial #3\nBrass flywheel, hub A\n\nsec,RPM\n${each((k) => `${t(k)},${(9.549 * speed[k]).toFixed(1)}`)}`,
    );
    expect(log.channels.speed?.name).toBe("RPM");
    expect(log.time[rows - 1] - log.time[0]).toBeCloseTo(time[rows - 1] - time[0], 2);
  });

  test("a remark of half as many cells does not make pairs of whole numbers decimals", async () => {
    const whole = (v: number): number => Math.round(1000 * v);
    const [log] = await read(
      "remark.csv",
      `// free running timer, ADC already in mA\ntime_us,iqRef_mA,iqMeas_mA,encCnt\n${each(
        (k) =>
          `${Math.round(1e6 * time[k])},${whole(currentCommand[k])},${whole(current[k])},${Math.round(3000 + 40 * time[k])}`,
      )}`,
    );
    expect(log.time.length).toBe(rows);
    expect(log.channels.current?.data[rows >> 1]).toBeCloseTo(current[rows >> 1], 2);
  });

  test("a title says in what unit speeds are that say none", async () => {
    const table = (title: string): string =>
      `${title}\nTime Vcmd Vfb\n${each((k) => `${t(k)} ${speed[rows >> 1].toFixed(1)} ${speed[k].toFixed(2)}`)}`;
    const [said] = await read("said.txt", table("Axis trace group 1 - rpm, percent"));
    expect(said.channels.speed?.sourceUnit).toBe("{rev}/min");
    const [unsaid] = await read("unsaid.txt", table("Axis trace group 1"));
    expect(unsaid.channels.speed?.sourceUnit).not.toBe("{rev}/min");
  });

  test("a word of a console before cells, and the heading in one of its messages", async () => {
    const [log] = await read(
      "console.log",
      `[0000.000][INFO] boot v0.9.3\n[0000.010][INFO] csv: ms;mode;Idem;Iq;rpm\n${each(
        (k) =>
          `DAT ${(1e3 * time[k]).toFixed(1)};CURRENT;${currentCommand[k].toFixed(2)};${current[k].toFixed(4)};${(9.549 * speed[k]).toFixed(1)}`,
      )}`,
    );
    expectWhole(log);
  });
});

describe("names in short", () => {
  const roleOf = async (name: string, heading: string, cell: (k: number) => string): Promise<Recording> =>
    (await read(name, `${heading}\n${each(cell)}`))[0];

  test("turns a minute with an underscore, Hungarian turns a minute, Fahrenheit", async () => {
    const log = await roleOf(
      "minute.csv",
      "ms;giri_min;alapjel[f/p];Temp (F)",
      (k) => `${(1e3 * time[k]).toFixed(1)};${(9.549 * speed[k]).toFixed(1)};0;75`,
    );
    expect(log.channels.speed?.sourceUnit).toBe("{rev}/min");
    expect(log.channels.speedCommand?.sourceUnit).toBe("{rev}/min");
    expect(log.channels.temperature?.sourceUnit).toBe("[degF]");
  });

  test("q beside d are currents, th_e is an angle of the field", async () => {
    let angle = 0;
    const angles = Float64Array.from(speed, (w, k) => {
      angle += k > 0 ? 4 * w * (time[k] - time[k - 1]) : 0;
      return angle;
    });
    const log = await roleOf(
      "axes.csv",
      "t_s,vel_rad/s,q,d,th_e",
      (k) =>
        `${t(k)},${speed[k].toFixed(3)},${current[k].toFixed(4)},${(0.02 * Math.sin(k)).toFixed(4)},${angles[k].toFixed(4)}`,
    );
    expect(log.channels.current?.name).toBe("q");
    expect(log.channels.currentD?.name).toBe("d");
    expect(log.channels.electricalAngle?.name).toBe("th_e");
  });

  test("initials of Chinese words beside each other", async () => {
    const log = await roleOf(
      "initials.csv",
      "ms,m_mb,m_sd,m_dl",
      (k) =>
        `${(1e3 * time[k]).toFixed(1)},${speed[rows >> 1].toFixed(0)},${speed[k].toFixed(2)},${current[k].toFixed(4)}`,
    );
    expect(log.channels.speed?.name).toBe("m_sd");
    expect(log.channels.current?.name).toBe("m_dl");
  });
});
