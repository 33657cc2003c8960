/**
 * Columns must be told alike however the same numbers are written: `npx tsx tests/corpus/transforms.ts <folder>...
 * [--only=name,name] [--list]`. Every log with a truth is written anew as plain text, and again with its columns in
 * another order, in other units, without units, in another language, thinned out, cut: how many columns are taken for
 * something else then.
 */
import { createHash } from "node:crypto";
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { basename, join } from "node:path";
import { splitHeading } from "../../lib/recording/columns/unitText.js";
import { openTables } from "../../lib/recording/formats/openTable.js";
import { readRecordings } from "../../lib/recording/index.js";
import { arranged } from "../../lib/recording/readJob.js";
import type { ColumnUnderstanding } from "../../lib/recording/types.js";
import { languageWords } from "./languageWords.js";
import { type ColumnScore, compared, roleOf, type Truth, truthsIn } from "./score.js";

interface Written {
  /** Headings, or none. */
  readonly names: readonly string[] | undefined;
  readonly columns: readonly Float64Array[];
  readonly decimal?: "," | ".";
  readonly digits?: number;
}

interface Plain {
  readonly names: readonly string[];
  readonly nameless: boolean;
  readonly columns: readonly Float64Array[];
  readonly truth: Truth;
  readonly roles: readonly (string | undefined)[];
  /** Headings as the file has them. */
  readonly original: readonly string[];
}

const mostRows = 4000;
const mostColumns = 40;

async function plainOf(file: string, truth: Truth): Promise<Plain | undefined> {
  let tables: Awaited<ReturnType<typeof arranged>>;
  try {
    tables = await arranged(await openTables(file, {}), {});
  } catch {
    return undefined;
  }
  const table = tables[0];
  if (table === undefined || tables.length > 1) return undefined;
  const indices = table.columns.flatMap(({ kind }, i) => (kind === "number" || kind === "stamp" ? [i] : []));
  const data = await table.read(indices).catch(() => undefined);
  await table.close?.();
  if (data === undefined || indices.length > mostColumns || (data.columns[0]?.length ?? 0) < 20)
    return undefined;
  if ((data.marks ?? []).length > 0) return undefined;
  const original = indices.map((i) => table.columns[i].name);
  const asked = truth.columns.filter((t) => original.includes(t.name) || /^column \d+$/.test(t.name));
  if (asked.length === 0) return undefined;
  const roles = original.map((name, k) => {
    const t = truth.columns.find((c) => c.name === name || c.name === `column ${indices[k] + 1}`);
    return t === undefined ? undefined : roleOf(t);
  });
  const nameless = table.nameless === true;
  if (nameless && indices.length !== table.columns.length) return undefined;
  const names = indices.map((i) => {
    const { name, unit } = table.columns[i];
    return unit === undefined || splitHeading(name).unit !== undefined ? name : `${name} [${unit}]`;
  });
  if (!nameless && (new Set(names).size < names.length || names.some((n) => /["\n]|^$/.test(n))))
    return undefined;
  return { names, nameless, columns: data.columns.map((c) => c.slice(0, mostRows)), truth, roles, original };
}

const hash = (text: string): number =>
  Number.parseInt(createHash("sha1").update(text).digest("hex").slice(0, 7), 16);

const words = new Map<string, Map<string, string[]>>();
for (const line of languageWords.trim().split("\n")) {
  const m = /^(\w+)\|(\w+):(.*)$/.exec(line);
  if (m === null) continue;
  const mine = words.get(m[1]) ?? new Map<string, string[]>();
  words.set(m[1], mine.set(m[2], [...(mine.get(m[2]) ?? []), ...m[3].split(";")]));
}

/** Other units of a quantity: what a value is multiplied by. */
const otherUnits: Readonly<Record<string, readonly (readonly [string, number])[]>> = {
  "rad/s": [
    ["rpm", 60 / (2 * Math.PI)],
    ["deg/s", 180 / Math.PI],
  ],
  "{rev}/min": [
    ["rad/s", (2 * Math.PI) / 60],
    ["rev/s", 1 / 60],
    ["deg/s", 6],
  ],
  "deg/s": [
    ["rpm", 1 / 6],
    ["rad/s", Math.PI / 180],
  ],
  "{rev}/s": [["rpm", 60]],
  rad: [
    ["deg", 180 / Math.PI],
    ["rev", 1 / (2 * Math.PI)],
  ],
  deg: [["rad", Math.PI / 180]],
  "{rev}": [["deg", 360]],
  A: [["mA", 1000]],
  mA: [["A", 1e-3]],
  V: [["mV", 1000]],
  mV: [["V", 1e-3]],
  "N.m": [["mNm", 1000]],
  s: [["ms", 1000]],
  ms: [["s", 1e-3]],
  us: [["s", 1e-6]],
};

const round = (v: number): number => Number(v.toPrecision(7));

function inOtherUnits(log: Plain, stated: boolean): Written | undefined {
  if (log.nameless) return undefined;
  let changed = false;
  const names: string[] = [];
  const columns = log.columns.map((values, k) => {
    const { words: rest, unit } = splitHeading(log.names[k]);
    const ways =
      unit === undefined || unit.scale !== undefined || rest.trim() === ""
        ? undefined
        : otherUnits[unit.code];
    if (ways === undefined) {
      names.push(log.names[k]);
      return values;
    }
    const of = unit?.code ?? "";
    const [code, factor] = ways[hash(of) % ways.length];
    changed = true;
    names.push(stated ? `${rest.trim()} [${code}]` : rest.trim());
    return values.map((v) => round(v * factor));
  });
  return changed && new Set(names).size === names.length ? { names, columns } : undefined;
}

function inLanguage(log: Plain, language: string): Written | undefined {
  const mine = words.get(language);
  if (log.nameless || mine === undefined) return undefined;
  const used = log.roles.filter((r) => r !== undefined && r !== "other");
  if (new Set(used).size < used.length) return undefined;
  const names = log.names.map((name, k) => {
    const list = mine.get(log.roles[k] ?? "");
    if (list === undefined || log.roles[k] === "other") return name;
    const { unit } = splitHeading(name);
    return list[hash(`${name}${language}`) % list.length] + (unit === undefined ? "" : ` [${unit.spelling}]`);
  });
  return new Set(names).size === names.length ? { names, columns: log.columns } : undefined;
}

function withoutUnits(log: Plain): Written | undefined {
  if (log.nameless) return undefined;
  const names = log.names.map((n) => {
    const { words: rest, unit } = splitHeading(n);
    return unit === undefined || rest.trim() === "" ? n : rest.trim();
  });
  return names.every((n, k) => n === log.names[k]) || new Set(names).size < names.length
    ? undefined
    : { names, columns: log.columns };
}

const rowsOf = (log: Plain, keep: (i: number, n: number) => boolean): Written | undefined => {
  const n = log.columns[0].length;
  const columns = log.columns.map((c) => c.filter((_, i) => keep(i, n)));
  return columns[0].length < 40 ? undefined : { names: log.nameless ? undefined : log.names, columns };
};

/** A log changed; `order` says where each column went, where they changed place. */
type Change = (log: Plain) => (Written & { readonly order?: readonly number[] }) | undefined;

const asIs = (log: Plain): Written => ({ names: log.nameless ? undefined : log.names, columns: log.columns });

function shuffled(log: Plain, seed: string): Written & { readonly order: readonly number[] } {
  const order = log.columns
    .map((_, k) => k)
    .sort((a, b) => hash(`${seed}${a}${log.original[a]}`) - hash(`${seed}${b}${log.original[b]}`));
  return {
    names: log.nameless ? undefined : order.map((k) => log.names[k]),
    columns: order.map((k) => log.columns[k]),
    order,
  };
}

const motionScale = (role: string | undefined, of: RegExp): boolean => role !== undefined && of.test(role);

const changes: Readonly<Record<string, Change>> = {
  "columns shuffled": (log) => shuffled(log, "a"),
  "columns shuffled again": (log) => shuffled(log, "b"),
  "decimal comma": (log) => ({ ...asIs(log), decimal: "," }),
  "other units": (log) => inOtherUnits(log, true),
  "other units, unsaid": (log) => inOtherUnits(log, false),
  "units unsaid": withoutUnits,
  "every second row": (log) => rowsOf(log, (i) => i % 2 === 0),
  "every fifth row": (log) => rowsOf(log, (i) => i % 5 === 0),
  "first half": (log) => rowsOf(log, (i, n) => i < n / 2),
  "middle third": (log) => rowsOf(log, (i, n) => i >= n / 3 && i < (2 * n) / 3),
  "last half": (log) => rowsOf(log, (i, n) => i >= n / 2),
  "five digits": (log) => ({ ...asIs(log), digits: 5 }),
  "all signs turned": (log) => ({
    ...asIs(log),
    columns: log.columns.map((c, k) =>
      motionScale(log.roles[k], /^(current(Command)?|speed(Command)?|position(Command)?|torque(Command)?)$/)
        ? c.map((v) => (v === 0 ? 0 : -v))
        : c,
    ),
  }),
  capitals: (log) =>
    log.nameless || log.names.some((n) => splitHeading(n).unit !== undefined)
      ? undefined
      : { ...asIs(log), names: log.names.map((n) => n.toUpperCase()) },
  "a tenth of the current": (log) => ({
    ...asIs(log),
    columns: log.columns.map((c, k) =>
      motionScale(log.roles[k], /^current/) ? c.map((v) => round(v / 10)) : c,
    ),
  }),
  "ten times the current": (log) => ({
    ...asIs(log),
    columns: log.columns.map((c, k) =>
      motionScale(log.roles[k], /^current/) ? c.map((v) => round(v * 10)) : c,
    ),
  }),
  ...Object.fromEntries(
    ["de", "fr", "es", "it", "pl", "zh", "ja", "ru", "tr", "pt"].map((l) => [
      `in ${l}`,
      (log: Plain) => inLanguage(log, l),
    ]),
  ),
  "no headings": (log) => (log.nameless ? undefined : { names: undefined, columns: log.columns }),
};

function text({ names, columns, decimal = ".", digits }: Written): string {
  const separator = decimal === "," ? ";" : ",";
  const cell = (v: number): string => {
    if (Number.isNaN(v)) return "";
    const s = digits === undefined ? String(v) : String(Number(v.toPrecision(digits)));
    return decimal === "," ? s.replace(".", ",") : s;
  };
  const quote = (n: string): string => (/[,;]/.test(n) ? `"${n}"` : n);
  const lines = names === undefined ? [] : [names.map(quote).join(separator)];
  for (let i = 0; i < columns[0].length; i += 1) lines.push(columns.map((c) => cell(c[i])).join(separator));
  return `${lines.join("\n")}\n`;
}

async function taken(
  log: Plain,
  written: Written & { readonly order?: readonly number[] },
  folder: string,
): Promise<ColumnScore[]> {
  const file = join(folder, "log.csv");
  writeFileSync(file, text(written));
  const { recordings, problems } = await readRecordings([file]);
  const own = recordings[0]?.understanding ?? problems[0]?.understanding ?? [];
  const order = written.order ?? log.columns.map((_, k) => k);
  const all: ColumnUnderstanding[] = [...own]
    .map((c) => ({ ...c, column: log.original[order[c.index]] ?? "?", index: order[c.index] ?? 0 }))
    .sort((a, b) => a.index - b.index);
  return compared(file, log.truth, all);
}

interface Tally {
  logs: number;
  columns: number;
  right: number;
  rightBefore: number;
  lost: number;
  won: number;
  sure: number;
  sureBefore: number;
}

async function run(): Promise<void> {
  const option = (name: string): string | undefined =>
    process.argv.find((a) => a.startsWith(`--${name}=`))?.slice(name.length + 3);
  const only = option("only")?.split(",");
  const tallies = new Map<string, Tally>();
  const folder = mkdtempSync(join(tmpdir(), "columns-"));
  for (const { file, truth } of process.argv
    .slice(2)
    .filter((a) => !a.startsWith("--"))
    .flatMap((f) => truthsIn(f))) {
    const log = await plainOf(file, truth);
    if (log === undefined) continue;
    const own = join(folder, "one");
    mkdirSync(own, { recursive: true });
    const before = await taken(log, asIs(log), own);
    for (const [name, change] of Object.entries(changes)) {
      if (only !== undefined && !only.includes(name)) continue;
      const written = change(log);
      if (written === undefined) continue;
      const after = await taken(log, written, own);
      const t = tallies.get(name) ?? {
        logs: 0,
        columns: 0,
        right: 0,
        rightBefore: 0,
        lost: 0,
        won: 0,
        sure: 0,
        sureBefore: 0,
      };
      tallies.set(name, t);
      t.logs += 1;
      for (const [k, b] of before.entries()) {
        if (b.got === undefined) continue;
        const a = after[k];
        t.columns += 1;
        t.rightBefore += b.roleRight ? 1 : 0;
        t.right += a.roleRight ? 1 : 0;
        t.lost += b.roleRight && !a.roleRight ? 1 : 0;
        t.won += !b.roleRight && a.roleRight ? 1 : 0;
        t.sure += a.sureAndWrong ? 1 : 0;
        t.sureBefore += b.sureAndWrong ? 1 : 0;
        if (process.argv.includes("--list") && b.roleRight && !a.roleRight)
          console.log(
            `${a.sureAndWrong ? "!!" : "  "} ${name} | ${basename(file)} "${b.truth.name}" ${roleOf(b.truth)} ` +
              `${b.got.probability.toFixed(2)} -> ${a.got?.role ?? "other"} ${a.got?.probability.toFixed(2) ?? "-"} ` +
              `${a.got?.unit ?? ""} | ${a.got?.why.map((w) => w.text).join("; ") ?? "not read"}`,
          );
      }
    }
  }
  rmSync(folder, { recursive: true, force: true });
  console.log(
    "change                      logs columns  right before   lost    won  wrong and sure (before)",
  );
  const percent = (n: number, of: number): string => ((100 * n) / Math.max(1, of)).toFixed(1).padStart(6);
  for (const [name, t] of tallies)
    console.log(
      `${name.padEnd(26)} ${String(t.logs).padStart(5)} ${String(t.columns).padStart(7)} ${percent(t.right, t.columns)} ` +
        `${percent(t.rightBefore, t.columns)} ${percent(t.lost, t.columns)} ${percent(t.won, t.columns)} ` +
        `${percent(t.sure, t.columns)} (${percent(t.sureBefore, t.columns).trim()})`,
    );
}

await run();
