/**
 * Makes the small files of this folder, one per dialect or format: `npx tsx tests/recording/files/makeFiles.ts`. All hold the trial of
 * scenario.ts; the text files are made here character by character, so that a dialect is exactly what it says.
 */
import { mkdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { gzipSync } from "node:zlib";
import { DuckDBInstance } from "@duckdb/node-api";
import { table } from "arquero";
import { scenario } from "../scenario.js";

interface Hdf5Group {
  create_group(name: string): Hdf5Group;
  create_dataset(set: { name: string; data: Float64Array; shape?: number[] }): {
    create_attribute(name: string, value: string): void;
  };
}

const here = import.meta.dirname;
const data = scenario();
const rpm = data.speed.map((w) => (w * 60) / (2 * Math.PI));

function put(name: string, text: string, encoding: "utf8" | "utf16le" | "latin1" = "utf8"): void {
  writeFileSync(join(here, name), Buffer.from(text, encoding));
}

/** Rows of time, command, current, speed (rev/min) and counts. */
function body(
  delimiter: string,
  options: {
    decimal?: string;
    newline?: string;
    time?: (t: number) => string;
    tail?: string;
    head?: (i: number) => string;
  } = {},
): string {
  const {
    decimal = ".",
    newline = "\n",
    time = (t: number) => t.toFixed(3),
    tail = "",
    head = () => "",
  } = options;
  let text = "";
  for (let i = 0; i < data.time.length; i += 1) {
    const cells = [
      data.command[i].toFixed(2),
      data.current[i].toFixed(4),
      rpm[i].toFixed(3),
      String(data.counts[i]),
    ];
    text +=
      head(i) + [time(data.time[i]), ...cells].join(delimiter).replaceAll(".", decimal) + tail + newline;
  }
  return text;
}
const names = "time [s],i_cmd [A],i_q [A],speed [rpm],pos [counts]";

put("comma.csv", `${names}\n${body(",")}`);
put("byte-order-mark.csv", `\ufeff${names}\n${body(",")}`);
put("windows-line-ends.csv", `${names}\r\n${body(",", { newline: "\r\n" })}`);
put("old-line-ends.csv", `${names}\r${body(",", { newline: "\r" })}`);
put("tabs.tsv", `${names.replaceAll(",", "\t")}\n${body("\t")}`);
put("bars.txt", `${names.replaceAll(",", "|")}\n${body("|")}`);
put(
  "blanks.txt",
  `  time_s  i_cmd_A    i_q_A  speed_rpm   pos_counts\n${body("   ", { head: () => "  " })}`.replaceAll(
    "_A ",
    "(A) ",
  ),
);
put(
  "utf-16-little.csv",
  `\ufeff${names.replaceAll(",", ";")}\r\n${body(";", { newline: "\r\n" })}`,
  "utf16le",
);
writeFileSync(join(here, "utf-16-big.csv"), Buffer.from(`\ufeff${names}\n${body(",")}`, "utf16le").swap16());
put(
  "latin-1-german.csv",
  `Prüfstand Förderrolle 7\nMotor: roller-07\nPhasenfolge: V-U-W\n\nZeit;Strom Soll;Strom Ist;Drehzahl;Lage Geber\ns;A;A;U/min;Inkr\n${body(";", { decimal: "," })}`,
  "latin1",
);
put(
  "french.csv",
  `Temps (s);Consigne courant (A);Courant mesuré (A);Vitesse (tr/min);Position codeur (impulsions)\n${body(";", { decimal: "," })}`.replace(
    "impulsions",
    "counts",
  ),
);
put(
  "spanish.csv",
  `Tiempo [s];Corriente consigna [A];Corriente medida [A];Velocidad [rpm];Posición [counts]\n${body(";", { decimal: "," })}`,
);
put("chinese.csv", `时间(s),指令电流(A),电流(A),转速(rpm),位置(counts)\n${body(",")}`);
put("comments.csv", `# drive-side logger\n# lead order: VUW\n# ${names}\n${body(",")}# end of log\n`);
put(
  "comments-between.csv",
  `% roller 7\n${names}\n${body(",").replace("0.100,", "% operator pressed mark\n0.100,")}`,
);
put("units-row.csv", `time,i_cmd,i_q,speed,pos\n[s],[A],[A],[rpm],[counts]\n${body(",")}`);
put("slash-units.csv", `t/s,i_q_ref/A,i_q/A,n/rpm,pos/counts\n${body(",")}`);
put(
  "quoted.csv",
  `"time [s]","i_cmd, commanded [A]","i_q ""meas"" [A]","speed\n[rpm]","pos [counts]"\n${body('","')
    .split("\n")
    .map((l) => (l === "" ? "" : `"${l}"`))
    .join("\n")}`,
);
put("no-header.csv", body(","));
put("empty-last-column.csv", `${names},\n${body(",", { tail: "," })}`);
put(
  "milliseconds.csv",
  `${names.replace("time [s]", "time [ms]")}\n${body(",", { time: (t) => (t * 1e3).toFixed(0) })}`,
);
put(
  "microseconds.csv",
  `${names.replace("time [s]", "t_us")}\n${body(",", { time: (t) => (t * 1e6).toFixed(0) })}`,
);
put(
  "microseconds-wrapping.csv",
  `${names.replace("time [s]", "t_us")}\n${body(",", { time: (t) => String((4294867296 + Math.round(t * 1e6)) % 4294967296) })}`,
);
put(
  "iso-stamps.csv",
  `${names.replace("time [s]", "timestamp")}\n${body(",", { time: (t) => new Date(Date.UTC(2026, 10, 24, 23, 59, 59, 900) + t * 1000).toISOString() })}`,
);
put(
  "german-stamps.csv",
  `${names.replace("time [s]", "Zeitstempel").replaceAll(",", ";")}\n${body(";", {
    time: (t) => {
      const iso = new Date(Date.UTC(2026, 10, 24, 23, 59, 59, 900) + t * 1000).toISOString();
      return `${iso.slice(8, 10)}#${iso.slice(5, 7)}#${iso.slice(0, 4)} ${iso.slice(11, 23)}`;
    },
    decimal: ",",
  }).replaceAll("#", ".")}`,
);
put(
  "time-of-day.csv",
  `${names.replace("time [s]", "clock")}\n${body(",", { time: (t) => new Date(86399_900 + t * 1000).toISOString().slice(11, 23) })}`,
);
put(
  "sample-counter.csv",
  `${names.replace("time [s]", "sample")}\n${body(",", { time: (t) => String(Math.round(t * 1000)) })}`,
);
put(
  "thousands.csv",
  `time;i_cmd;i_q;speed;pos\ns;A;A;U/min;counts\n${body(";", { decimal: "," }).replace(/;(\d+)(\d{3},\d+);/g, ";$1.$2;")}`,
);
put(
  "runs.csv",
  `run,${names}\n${body(",", { head: () => "first," })}${body(",", { head: () => "second," })}`,
);
put("split-1.csv", `${names}\n${body(",").split("\n").slice(0, 120).join("\n")}\n`);
put("split-2.csv", `${names}\n${body(",").split("\n").slice(120).join("\n")}`);
{
  const list = body(",").split("\n");
  list[50] = list[50].replace(/,1\.4\d+,|,1\.5\d+,/, ",oops,");
  list[70] = list[70].split(",").slice(0, 2).join(",");
  list[90] += ",7,8";
  list[200] = list[200].split(",").slice(0, 2).join(",").slice(0, 8);
  put("broken-rows.csv", `${names}\n${list.slice(0, 201).join("\n")}`);
}
put(
  "lines.jsonl",
  body(",")
    .trim()
    .split("\n")
    .map((l) => {
      const [t, c, i, n, p] = l.split(",").map(Number);
      return JSON.stringify({
        time_ms: t * 1000,
        drive: { "i_cmd [A]": c, "i_q [A]": i },
        speed_rpm: n,
        pos_counts: p,
      });
    })
    .join("\n")
    .concat('\n{"time_ms": 24'),
);
writeFileSync(join(here, "comma.csv.gz"), gzipSync(`${names}\n${body(",")}`));
writeFileSync(join(here, "cut-off.csv.gz"), gzipSync(`${names}\n${body(",")}`).subarray(0, 1500));

const columns = {
  "time [s]": data.time,
  "i_cmd [A]": data.command,
  "i_q [A]": data.current,
  "speed [rad/s]": data.speed,
  "pos [counts]": data.counts,
};
writeFileSync(join(here, "table.arrow"), table(columns).toArrowIPC({ format: "file" }) as Uint8Array);
const connection = await (await DuckDBInstance.create(":memory:")).connect();
const source = `read_csv('${join(here, "comma.csv")}', header=true)`;
rmSync(join(here, "table.parquet"), { force: true });
await connection.run(`COPY (SELECT * FROM ${source}) TO '${join(here, "table.parquet")}' (FORMAT parquet)`);
await connection.run(
  `COPY (SELECT * FROM ${source}) TO '${join(here, "comma.csv.zst")}' (FORMAT csv, COMPRESSION zstd)`,
);

const { default: hdf5, ready } = (await import("h5wasm/node")) as unknown as {
  default: { File: new (path: string, mode: string) => Hdf5Group & { close(): void } };
  ready: Promise<unknown>;
};
await ready;
mkdirSync(here, { recursive: true });
const file = new hdf5.File(join(here, "log.h5"), "w");
const group = file.create_group("log");
for (const [name, values, unit] of [
  ["time", data.time, "s"],
  ["i_cmd", data.command, "A"],
  ["i_q", data.current, "A"],
  ["speed", data.speed, "rad/s"],
  ["pos", data.counts, "counts"],
] as const) {
  const set = group.create_dataset({ name, data: values });
  set.create_attribute("unit", unit);
}
file.close();
// A MAT-file 7.3 is an HDF5 file behind a header of 512 bytes; its vectors lie.
const inner = join(here, "inner.h5");
const mat = new hdf5.File(inner, "w");
for (const [name, values] of [
  ["time", data.time],
  ["i_cmd", data.command],
  ["i_q", data.current],
  ["speed", data.speed],
  ["pos", data.counts],
] as const) {
  const set = mat.create_dataset({ name, data: values, shape: [1, values.length] });
  set.create_attribute("MATLAB_class", "double");
}
mat.close();
const header = Buffer.alloc(512);
header.write("MATLAB 7.3 MAT-file, made for a test, HDF5 schema 1.00 .".padEnd(116, " "), 0, "latin1");
header.writeUInt16LE(0x0200, 124);
header.write("IM", 126, "latin1");
writeFileSync(join(here, "log-7.3.mat"), Buffer.concat([header, readFileSync(inner)]));
rmSync(inner);
