import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, test } from "vitest";
import { objectOf } from "../../lib/recording/columns/objectNumbers.js";
import { splitHeading } from "../../lib/recording/columns/unitText.js";
import { dumpedRows, tuplesApart } from "../../lib/recording/formats/printedTuples.js";
import { readRecordings } from "../../lib/recording/index.js";
import { machines, runTrial } from "../corpus/rig.js";

const folder = mkdtempSync(join(tmpdir(), "shaftwise-more-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const { time, speedCommand, speed, current, position } = runTrial("speed", machines.small, 11);
const rows = [...time.keys()];
const comma = (v: number, digits: number): string => v.toFixed(digits).replace(".", ",");

/** Roles and units of the columns of a text, by heading; with the problems where nothing was read. */
async function taken(name: string, content: string): Promise<Record<string, string>> {
  const file = join(folder, name);
  writeFileSync(file, content);
  const { recordings, problems } = await readRecordings([file]);
  const columns = recordings[0]?.understanding ?? problems[0]?.understanding ?? [];
  return Object.fromEntries(
    columns.map((c) => [c.column, c.unit === undefined ? (c.role ?? "-") : `${c.role} ${c.unit}`]),
  );
}

describe("object numbers of the drive profile (IEC 61800-7-201, from memory)", () => {
  test.each([
    ["6064", "position actual value"],
    ["0x606C:00", "velocity actual value"],
    ["6071h", "target torque"],
    ["60770010", "torque actual value"],
    ["#x607A sub0", "target position"],
    ["6041.0", "status word"],
  ])("%s", (text, words) => expect(objectOf(text)?.words).toBe(words));

  test.each(["603F", "605A", "605C", "606A", "606F", "607A", "607C", "607F"])(
    "%s is no size of a unit",
    (text) => expect(splitHeading(text).unit).toBeUndefined(),
  );

  test.each(["6064 rpm", "16064", "60", "6099", "position 6064", "60641234"])("%s is none", (text) =>
    expect(objectOf(text)).toBeUndefined(),
  );

  test("torques are in thousandths of their rated value", () =>
    expect(splitHeading("0x6077:00 Torque").unit?.code).toBe("[ppth]"));

  test("a list of objects with one value a row", async () => {
    const lines = rows.flatMap((i) => [
      `${time[i].toFixed(4)},606C0020,${Math.round(speed[i] * 9.5493)}`,
      `${time[i].toFixed(4)},60FF0020,${Math.round(speedCommand[i] * 9.5493)}`,
      `${time[i].toFixed(4)},60780010,${Math.round(current[i] * 1000)}`,
    ]);
    expect(await taken("objects.csv", `timestamp,object,value\n${lines.join("\n")}\n`)).toMatchObject({
      "606C0020": "speed {rev}/min",
      "60FF0020": "speedCommand {rev}/min",
      "60780010": "current [ppth]",
    });
  });
});

test("a list of signals whose column has a name of its own, with times in another language", async () => {
  const lines = rows.flatMap((i) => [
    `${time[i].toFixed(4)},Turație / rpm,${(speed[i] * 9.5493).toFixed(1)}`,
    `${time[i].toFixed(4)},Curent / A,${current[i].toFixed(3)}`,
  ]);
  expect(await taken("long.csv", `Timp,ce,cât\n${lines.join("\n")}\n`)).toMatchObject({
    "Turație / rpm": "speed {rev}/min",
    "Curent / A": "current A",
  });
});

test("signals in JSON whose values are texts with decimal commas", async () => {
  const signal = (name: string, unit: string, values: string[]) => ({ name, unit, values });
  const signals = [
    signal(
      "t",
      "s",
      rows.map((i) => comma(time[i], 4)),
    ),
    signal(
      "n_soll",
      "1/min",
      rows.map((i) => comma(speedCommand[i] * 9.5493, 1)),
    ),
    signal(
      "n_ist",
      "1/min",
      rows.map((i) => comma(speed[i] * 9.5493, 1)),
    ),
    signal(
      "i_ist",
      "A",
      rows.map((i) => comma(current[i], 3)),
    ),
  ];
  expect(await taken("signals.json", JSON.stringify({ axis: 1, signals }))).toEqual({
    t: "time s",
    n_soll: "speedCommand {rev}/min",
    n_ist: "speed {rev}/min",
    i_ist: "current A",
  });
});

test("`1/min` in a row of units is a unit and no number", async () => {
  const lines = rows.map((i) =>
    [comma(time[i], 4), comma(current[i], 3), comma(speed[i] * 9.5493, 1)].join(";"),
  );
  expect(await taken("row.csv", `Zeit;Strom;Drehzahl\ns;A;1/min\n${lines.join("\n")}\n`)).toEqual({
    Zeit: "time s",
    Strom: "current A",
    Drehzahl: "speed {rev}/min",
  });
});

test("rows of a source, of units and of scales above the names of an oscilloscope", async () => {
  const lines = rows.map((i) => [time[i].toFixed(4), current[i].toFixed(3), speed[i].toFixed(2)].join(","));
  const above = "Source,CH1,CH2\nUnits,A,rad/s\nOffset,0,0\nScale,1,20\n";
  expect(await taken("blocks.csv", `${above}Time,Current,Speed\n${lines.join("\n")}\n`)).toEqual({
    Time: "time s",
    Current: "current A",
    Speed: "speed rad/s",
  });
});

test("units with a power sign behind labels in a log of lines", async () => {
  const lines = rows.map(
    (i) =>
      `t[s]=${time[i].toFixed(4)} vel[rad/s]=${speed[i].toFixed(2)} accel[rad/s^2]=${(-speed[i]).toFixed(1)}`,
  );
  expect(Object.keys(await taken("power.log", lines.join("\n")))).toContain("accel[rad/s^2]");
});

test("axes whose letter stands before the word", async () => {
  const lines = rows.map((i) =>
    [time[i], speed[i], current[i], -speed[i], -current[i]].map((v) => v.toFixed(4)).join(","),
  );
  const file = join(folder, "axes.csv");
  writeFileSync(file, `t,A轴转速(rpm),A轴电流(A),B轴转速(rpm),B轴电流(A)\n${lines.join("\n")}\n`);
  const { recordings } = await readRecordings([file]);
  expect(recordings.map((r) => r.motor)).toEqual(["a", "b"]);
  for (const r of recordings) expect(Object.keys(r.channels).sort()).toEqual(["current", "speed"]);
});

test.each([
  ["kąt obrotu", "position"],
  ["коэффициент заполнения", "duty"],
])("a term of two words: %s", async (heading, role) => {
  const scaled = (i: number): number => (role === "duty" ? speedCommand[i] / 400 : position[i]);
  const lines = rows.map((i) => [time[i], current[i], scaled(i)].map((v) => v.toFixed(4)).join(","));
  const all = await taken("terms.csv", `t [s],I [A],${heading}\n${lines.join("\n")}\n`);
  expect(all[heading].split(" ")[0]).toBe(role);
});

describe("rows that a program printed", () => {
  const tuples = rows.map((i) => `${time[i].toFixed(4)}, ${current[i].toFixed(3)}, ${speed[i].toFixed(2)}`);
  test.each([
    ["tuples of one list", `data = [${tuples.map((t) => `(${t})`).join(", ")}]\n`],
    ["lists as texts", `[${tuples.map((t) => `'[${t}]'`).join(", ")}]`],
  ])("%s in one line", async (_, text) => {
    const file = join(folder, "printed.txt");
    writeFileSync(file, text);
    const { recordings } = await readRecordings([file], { map: { time: "#1", current: "#2", speed: "#3" } });
    expect(recordings[0].time.length).toBe(rows.length);
    expect(recordings[0].channels.current?.data[9]).toBeCloseTo(current[9], 3);
  });

  test("a dump of a data base, its names from the statement that made the table", async () => {
    const made = "CREATE TABLE log (t REAL, iq REAL, omega REAL, note VARCHAR(20));\n";
    const lines = tuples.map((t) => `INSERT INTO log VALUES (${t}, 'a, (b)');`);
    expect(await taken("dump.sql", `${made}${lines.join("\n")}\n`)).toMatchObject({
      t: "time s",
      iq: "current A",
      omega: "speed rad/s",
    });
    const listed = `INSERT INTO log (t, iq, omega) VALUES\n${tuples.map((t) => `(${t})`).join(",\n")};\n`;
    expect(Object.keys(await taken("listed.sql", listed))).toEqual(["t", "iq", "omega"]);
  });

  test("brackets without end take no time", () => {
    const before = performance.now();
    expect(tuplesApart(`[(1${" ".repeat(2e6)}, (2`)).toBeUndefined();
    expect(tuplesApart("[(1, ".repeat(4e5))).toBeUndefined();
    expect(dumpedRows(`INSERT INTO a VALUES ${"('".repeat(4e5)}`)).toBeUndefined();
    expect(performance.now() - before).toBeLessThan(5000);
  });
});

test("volts of a probe are asked about by a scale that works", async () => {
  const lines = rows.map((i) =>
    [time[i], speedCommand[i] / 100, current[i] / 10].map((v) => v.toFixed(5)).join(","),
  );
  const file = join(folder, "volts.csv");
  writeFileSync(file, `Time [s],Speed [V],Current [V]\n${lines.join("\n")}\n`);
  const { problems } = await readRecordings([file]);
  const answers = (problems[0].answers ?? []).filter(({ option }) => option === "unit");
  expect(answers.map(({ of }) => of)).toContain("Current [V]");
  const unit = Object.fromEntries(answers.map(({ of, value }) => [of, value]));
  const { recordings } = await readRecordings([file], { unit });
  expect(recordings[0].channels.current?.data[9]).toBeCloseTo(current[9], 3);
});

test("a current that goes to exactly 100 may be in percent", async () => {
  const peak = Math.max(...current.map(Math.abs));
  const unit = async (scale: number): Promise<number | undefined> => {
    const lines = rows.map((i) => `${time[i].toFixed(4)},${((current[i] / peak) * scale).toFixed(3)}`);
    const file = join(folder, "percent.csv");
    writeFileSync(file, `Time [s],Current\n${lines.join("\n")}\n`);
    const { recordings } = await readRecordings([file]);
    return recordings[0].understanding?.find((c) => c.role === "current")?.unitProbability;
  };
  expect(await unit(100)).toBeLessThan(0.8);
  expect(await unit(12)).toBeGreaterThan(0.9);
});

test("the spread of a signal beside its mean is none", async () => {
  const lines = rows.map((i) =>
    [time[i], current[i], current[i] - 0.2, current[i] + 0.2, speed[i]].map((v) => v.toFixed(4)).join(","),
  );
  const all = await taken("spread.csv", `t [s],i_avg,i_min,i_max,omega\n${lines.join("\n")}\n`);
  expect(all).toMatchObject({ i_avg: "current A", i_min: "-", i_max: "-" });
});

test("whole seconds and the rest of them in columns of any ending", async () => {
  const lines = rows.map((i) => {
    const whole = Math.floor(time[i]);
    return `${1_700_000_000 + whole},${Math.round((time[i] - whole) * 1e9)},${speed[i].toFixed(3)}`;
  });
  const file = join(folder, "seconds.csv");
  writeFileSync(
    file,
    `header.stamp.secs joint_a,header.stamp.nsecs joint_a,velocity joint_a\n${lines.join("\n")}\n`,
  );
  const { recordings } = await readRecordings([file]);
  expect(recordings[0].time.at(-1)).toBeCloseTo(time[rows.length - 1], 6);
});
