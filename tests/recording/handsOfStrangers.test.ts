import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, test } from "vitest";
import { readRecordings } from "../../lib/recording/index.js";

// What names mean beside others, in other scripts, and with words of a title: common practice, no source.

const folder = mkdtempSync(join(tmpdir(), "hands-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const asked = (k: number): number => (k < 30 ? 0 : k < 150 ? 30 : k < 220 ? 45 : 0);
const speeds = (() => {
  let w = 0;
  return Array.from({ length: 300 }, (_, k) => {
    w += (asked(k) * 29 - w) / 12;
    return w;
  });
})();
const noise = (k: number, of: number): number => ((k * of) % 101) / 50 - 1;

/** Roles and units by heading, `-` where a column is left out. */
async function meant(name: string, text: string): Promise<Record<string, string>> {
  const file = join(folder, name);
  writeFileSync(file, text);
  const { recordings } = await readRecordings([file]);
  expect(recordings).toHaveLength(1);
  return Object.fromEntries(
    (recordings[0].understanding ?? []).map((c) => [
      c.column,
      c.role === undefined ? "-" : `${c.role} ${c.unit ?? ""}`.trim(),
    ]),
  );
}

const rows = (of: (k: number) => readonly (number | string)[], between = ","): string =>
  `${Array.from({ length: 300 }, (_, k) => of(k).join(between)).join("\n")}\n`;

test("volts and amperes of one thing are its voltage and its current, and the sun's power is none of the motor's", async () => {
  const found = await meant(
    "panel.csv",
    `time_s,motor_V,motor_A,shaft_rpm,sun_Wm2\n${rows((k) => [
      (0.1 * k).toFixed(1),
      (0.5 * asked(k)).toFixed(1),
      (1 + Math.abs(29 * asked(k) - speeds[k]) / 90 + 0.05 * noise(k, 37)).toFixed(2),
      (speeds[k] + 2 * noise(k, 53)).toFixed(0),
      300 + ((k * 7) % 11),
    ])}`,
  );
  expect(found.motor_V).toMatch(/^voltage(Command)? V$/);
  expect(found).toMatchObject({ motor_A: "current A", shaft_rpm: "speed {rev}/min", sun_Wm2: "-" });
});

test("a frequency that is set is a command in hertz, in other scripts too, and whether or not a unit is said", async () => {
  const of = (heading: string): string =>
    `t [s],${heading},motor speed [rpm],motor current [A]\n${rows((k) => [
      (0.1 * k).toFixed(1),
      asked(k).toFixed(1),
      (speeds[k] + 2 * noise(k, 53)).toFixed(0),
      (2 + Math.abs(29 * asked(k) - speeds[k]) / 100 + 0.1 * noise(k, 37)).toFixed(2),
    ])}`;
  for (const heading of [
    "ความถี่ตั้ง (Hz)",
    "التردد المطلوب (هرتز)",
    "Частота заданная (Гц)",
    "目标频率",
    "Freq setpoint",
  ])
    expect((await meant("drive.csv", of(heading)))[heading], heading).toBe("speedCommand Hz");
  expect((await meant("drive.csv", of("bandwidth frequency")))["bandwidth frequency"]).toBe("-");
});

test("numbers of fixed point beside ticks of a stated length: what the title speaks of, and samples", async () => {
  const found = await meant(
    "drum.txt",
    `// tick = 2 ms. Drum speeds /8 = rpm\nu32Tick|s16DrumRef_q|s16DrumAct_q|s16Iq_q|u16Vdc_q\n${rows(
      (k) => [
        90_412 + 10 * k,
        29 * asked(k),
        Math.round(speeds[k] + 3 * noise(k, 53)),
        Math.round(40 + (29 * asked(k) - speeds[k]) / 2 + 6 * noise(k, 37)),
        9930 + ((k * 7) % 12),
      ],
      "|",
    )}`,
  );
  expect(found.u32Tick).toBe("sample");
  expect(found.s16DrumRef_q).toMatch(/^speedCommand/);
  expect(found.s16DrumAct_q).toMatch(/^speed /);
  expect(found.s16Iq_q).toMatch(/^current /);
});

test("thousandths behind a name, an error of following, and a label that is no unit", async () => {
  const found = await meant(
    "axis.csv",
    `Time_ms,Axis.CmdVelocity,Axis.ActVelocity,Axis.TorqueActual_pm,Axis.FE\n${rows((k) => [
      20 * k,
      (0.1 * asked(k)).toFixed(3),
      (speeds[k] / 290 + 0.002 * noise(k, 53)).toFixed(3),
      Math.round(40 + (29 * asked(k) - speeds[k]) / 4 + 6 * noise(k, 37)),
      (0.1 * asked(k) - speeds[k] / 290).toFixed(4),
    ])}`,
  );
  expect(found["Axis.TorqueActual_pm"]).toBe("torque [ppth]");
  expect(found["Axis.FE"]).toBe("-");
});

test("lengths behind labelled values are units", async () => {
  const found = await meant(
    "door.log",
    rows(
      (k) => [
        `경과=${20 * k}ms`,
        `목표위치=${(0.5 * Math.min(k, 200)).toFixed(1)}mm`,
        `문위치=${(0.5 * Math.max(0, Math.min(k - 4, 200))).toFixed(1)}mm`,
        `모터전류=${(0.5 + 0.04 * noise(k, 37)).toFixed(2)}A`,
      ],
      " | ",
    ),
  );
  expect(Object.values(found)).toEqual(["time ms", "positionCommand mm", "position mm", "current A"]);
});

/** A table that is read, with its columns. */
async function rowsRead(name: string, text: string): Promise<readonly [number, Record<string, string>]> {
  const found = await meant(name, text);
  const { recordings } = await readRecordings([join(folder, name)]);
  return [recordings[0].time.length, found];
}

test("a long table with what each value is worth, beside its moment, signal and unit, is read", async () => {
  const signal = (k: number, tag: string, value: string, unit: string): string =>
    `2024-02-18T06:${String(10 + Math.floor(k / 60)).padStart(2, "0")}:${String(k % 60).padStart(2, "0")}+01:00,P1.${tag},${value},${unit},${k % 29 === 7 ? "UNCERTAIN" : "GOOD"}`;
  const [count, found] = await rowsRead(
    "historian.csv",
    `timestamp,tag,value,unit,quality\n${Array.from({ length: 300 }, (_, k) =>
      [
        signal(k, "HZ.SP", asked(k).toFixed(1), "Hz"),
        signal(k, "RPM.PV", speeds[k].toFixed(0), "rpm"),
        signal(k, "AMPS.PV", (2 + 0.1 * noise(k, 37)).toFixed(1), "A"),
      ].join("\n"),
    ).join("\n")}\n`,
  );
  expect(count).toBe(300);
  expect(found).toMatchObject({ "P1.RPM.PV": "speed {rev}/min", "P1.HZ.SP": "speedCommand Hz" });
});

test("labelled values below settings of other labels, one line of them behind another that was cut off", async () => {
  const line = (k: number): string =>
    `t=${184_320 + 50 * k} thr=${asked(k)} erpm=${(7 * speeds[k]).toFixed(0)} im=${(2 + Math.abs(29 * asked(k) - speeds[k]) / 100 + 0.1 * noise(k, 37)).toFixed(1)} ib=${(1 + asked(k) / 20 + 0.1 * noise(k, 53)).toFixed(1)} vin=44.${k % 3}`;
  const lines = Array.from({ length: 300 }, (_, k) => line(k));
  lines[120] = `${lines[120].slice(0, 21)}${lines[121]}`;
  lines.splice(121, 1);
  const [count, found] = await rowsRead(
    "console.log",
    `*** boot ok, fw 3.11, board "b2" ***\nhall table loaded\nadc offset u=2047 v=2051 w=2040\n${lines.join("\n")}\n`,
  );
  expect(count).toBe(299);
  expect(found).toMatchObject({ im: "current A", ib: "currentBus A" });
  expect(Object.keys(found).some((name) => name.endsWith(" 2"))).toBe(false);
});

test("names and units of columns above runs of bare rows in a document", async () => {
  const run = (leads: string) => ({
    leads,
    rows: Array.from({ length: 300 }, (_, k) => [0.1 * k, asked(k), Number((speeds[k] / 29).toFixed(2))]),
  });
  const [, found] = await rowsRead(
    "one.json",
    JSON.stringify({
      rig: "b3",
      fields: ["t", "set_tps", "tps"],
      units: ["s", "turn/s", "turn/s"],
      runs: [run("A B C")],
    }),
  );
  expect(found).toEqual({ t: "time s", set_tps: "speedCommand {rev}/s", tps: "speed {rev}/s" });
});

test("lines that say their values in words, on a clock of half days", async () => {
  const [count, found] = await rowsRead(
    "belt.log",
    rows(
      (k) => [
        `${12 - (k < 150 ? 1 : 0)}:${k < 150 ? 59 : "00"}:${String(((30 + 0.1 * k) % 60) | 0).padStart(2, "0")}.${k % 10} ${k < 150 ? "AM" : "PM"} INFO  belt 3: drive asked ${asked(k).toFixed(1)} Hz`,
        ` shaft ${speeds[k].toFixed(0)} rpm`,
        ` motor ${(2 + Math.abs(29 * asked(k) - speeds[k]) / 90 + 0.05 * noise(k, 37)).toFixed(1)} A`,
        " eye clear",
      ],
      ",",
    ),
  );
  expect(count).toBeGreaterThan(280);
  expect(Object.values(found)).toEqual(
    expect.arrayContaining(["speedCommand Hz", "speed {rev}/min", "current A"]),
  );
});

test("values in words that wide blanks part, with decimal commas, behind a bare time of day", async () => {
  const comma = (v: number, digits: number): string => v.toFixed(digits).replace(".", ",");
  const [count, found] = await rowsRead(
    "poort.log",
    rows((k) => [
      `04:12:${comma((0.1 * k) % 60, 3).padStart(6, "0")} gate: gewenst ${comma(asked(k), 1)} Hz  as ${comma(speeds[k], 0)} rpm  stroom ${comma(2 + Math.abs(29 * asked(k) - speeds[k]) / 90 + 0.05 * noise(k, 37), 1)} A`,
    ]),
  );
  expect(count).toBe(300);
  expect(Object.values(found)).toEqual(
    expect.arrayContaining(["speedCommand Hz", "speed {rev}/min", "current A"]),
  );
  const [, bare] = await rowsRead(
    "crane.txt",
    `percent of 1150 rpm\n${rows(
      (k) => [
        `06:14:${((0.1 * k) % 60).toFixed(1).padStart(4, "0")} CRANE2 ref ${asked(k).toFixed(1)} Hz`,
        ` speed ${speeds[k].toFixed(0)} rpm`,
        ` current ${(2 + Math.abs(29 * asked(k) - speeds[k]) / 90 + 0.05 * noise(k, 37)).toFixed(1)} A`,
        " brake open",
      ],
      ",",
    )}`,
  );
  expect(Object.values(bare)).toEqual(
    expect.arrayContaining(["speedCommand Hz", "speed {rev}/min", "current A"]),
  );
});

test("letters before every value are what the remark above says of them, and so are the counts of a turn", async () => {
  const turned = speeds.map(
    (
      (sum) => (w: number) =>
        (sum += (w / 60) * 0.1 * 48)
    )(0),
  );
  const file = join(folder, "wheel.txt");
  writeFileSync(
    file,
    `// left side: T ms, S percent, E encoder ticks (48 a turn), A amps, V pack volts\n// on blocks\n${rows(
      (k) => [
        `T:${7000 + 100 * k}`,
        `S:${asked(k)}`,
        `E:${turned[k].toFixed(0)}`,
        `A:${(2 + Math.abs(29 * asked(k) - speeds[k]) / 90 + 0.05 * noise(k, 37)).toFixed(1)}`,
        `V:${(25 + 0.1 * noise(k, 41)).toFixed(1)}`,
      ],
      " ",
    )}`,
  );
  const { recordings } = await readRecordings([file]);
  const found = Object.fromEntries((recordings[0].understanding ?? []).map((c) => [c.column, c.role]));
  expect(found).toMatchObject({ T: "time", S: "duty", E: "position", A: "current", V: "voltageBus" });
  expect(recordings[0].encoder.lines).toBe(12);
});

test("one value a row, of two drives that a column of their own names", async () => {
  const both = ["PM1", "PM2"] as const;
  const file = join(folder, "shift.csv");
  writeFileSync(
    file,
    `tid;don;signal;värde;enhet\n${Array.from({ length: 300 }, (_, k) =>
      both
        .flatMap((one, j) => [
          [one, "börvärde", asked(k) * 29, "r/min"],
          [one, "ärvärde", (speeds[k] * (1 - 0.01 * j)).toFixed(1), "r/min"],
          [one, "ström", (2 + Math.abs(29 * asked(k) - speeds[k]) / 90 + 0.1 * noise(k, 37)).toFixed(2), "A"],
        ])
        .map((cells) =>
          [`2026-10-14 06:0${Math.floor(k / 60)}:${String(k % 60).padStart(2, "0")}`, ...cells].join(";"),
        )
        .join("\n"),
    ).join("\n")}\n`,
  );
  const { recordings } = await readRecordings([file]);
  expect(recordings).toHaveLength(2);
  for (const recording of recordings)
    expect(Object.keys(recording.channels).sort()).toEqual(["current", "speed", "speedCommand"]);
});

test("a row of units with newtons among them, and signs of full width around units", async () => {
  const plain = (k: number) => [
    (0.1 * k).toFixed(1).padStart(8),
    (29 * asked(k)).toFixed(0).padStart(8),
    speeds[k].toFixed(1).padStart(8),
    (9 * noise(k, 37)).toFixed(0).padStart(8),
  ];
  const printed = await meant(
    "stroke.prn",
    `TEST PRINT   PAGE 1\n\n    TIME  DEMAND   SPEED    CELL\n       s     rpm     rpm       N\n--------------------------------\n${rows(plain, "")}`,
  );
  expect(printed).toEqual({
    TIME: "time s",
    DEMAND: "speedCommand {rev}/min",
    SPEED: "speed {rev}/min",
    CELL: "-",
  });
  const wide = await meant(
    "lift.csv",
    `时间（s）,给定速度（m/s）,轿厢速度（m/s）,母线电压（V）\n${rows((k) => [
      (0.1 * k).toFixed(1),
      (asked(k) / 30).toFixed(3),
      (speeds[k] / 870 + 0.002 * noise(k, 31)).toFixed(3),
      (560 + noise(k, 41)).toFixed(0),
    ])}`,
  );
  expect(Object.values(wide)).toEqual(["time s", "speedCommand m/s", "speed m/s", "voltageBus V"]);
});

test("the frequency of the field is the command of a drive of which nothing else is asked", async () => {
  const of = (heading: string) =>
    meant(
      "pump.csv",
      `t [s],${heading},n [rpm],I [A]\n${rows((k) => [
        (0.1 * k).toFixed(1),
        asked(k).toFixed(1),
        (speeds[k] + 2 * noise(k, 53)).toFixed(0),
        (2 + Math.abs(29 * asked(k) - speeds[k]) / 100 + 0.1 * noise(k, 37)).toFixed(2),
      ])}`,
    );
  expect((await of("f [Hz]"))["f [Hz]"]).toBe("speedCommand Hz");
  // A force has another unit.
  expect((await of("F [N]"))["F [N]"]).toBe("-");
});

test("columns of a JSON document that objects name, under any key", async () => {
  const table = Array.from({ length: 300 }, (_, k) => [
    1e5 * k,
    29 * asked(k),
    Number(speeds[k].toFixed(1)),
    Number((2 + 0.1 * noise(k, 37)).toFixed(2)),
  ]);
  const described = [
    { name: "clk", unit: "us" },
    { name: "n_set", unit: "rpm" },
    { name: "n_act", unit: "rpm" },
    { name: "i", unit: "A" },
  ];
  for (const key of ["cols", "quantities"]) {
    const [count, found] = await rowsRead(
      `${key}.json`,
      JSON.stringify({ axis: "T1", [key]: described, rows: table }),
    );
    expect(count).toBe(300);
    expect(found).toEqual({
      clk: "time us",
      n_set: "speedCommand {rev}/min",
      n_act: "speed {rev}/min",
      i: "current A",
    });
  }
});

test("a set point with a word that nobody knows is told by its unit", async () => {
  const found = await meant(
    "table.csv",
    `t [s],Setpoint zorbel (°),Position (°),Current (A)\n${rows((k) => [
      (0.1 * k).toFixed(1),
      (3 * asked(k)).toFixed(2),
      (speeds[k] / 9.7 + 0.01 * noise(k, 31)).toFixed(2),
      (0.2 * noise(k, 37) + Math.abs(29 * asked(k) - speeds[k]) / 300).toFixed(2),
    ])}`,
  );
  expect(found["Setpoint zorbel (°)"]).toBe("positionCommand deg");
});
