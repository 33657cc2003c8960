import { visible } from "../../units/text.js";
import type { SourceColumn, SourceData, SourceTable } from "../formats/sourceTable.js";
import type { Finding } from "../types.js";
import { devicesInTurns, turnOf } from "./devicesInTurns.js";
import { placeOf } from "./statedColumns.js";
import { mayBeTime } from "./timeBases.js";
import { spelledUnit, unitOfText } from "./unitText.js";

const idName =
  /(^|[^a-z])(id|motor|axis|axes|node|device|dev|unit|joint|servo|drive|wheel|esc|ctrl|controller|actuator|side|name|slave|achse|antrieb|knoten|axe|moteur|eje|asse|motore|rad|gelenk)([^a-z]|$)|电机|轴|モータ|軸|모터|축/i;
const mostDevices = 32;
const fewestRows = 8;
const mostColumns = 64;

/**
 * Parts a table whose rows are of several devices in turns (`motor_id` 1, 2, 1, 2) into one table for each. Rows follow
 * one another within a device, and not from row to row. Any other table is given back as it is.
 *
 * @param channels columns that are stated to be channels, by name or number: they tell no devices apart
 */
export async function devicesApart(
  table: SourceTable,
  channels: readonly string[] = [],
): Promise<readonly SourceTable[]> {
  const stated = new Set(channels.map((name) => placeOf(table, name)));
  const candidates = table.columns
    .map((c, k) => ({ c, k }))
    .filter(({ c, k }) => !stated.has(k) && mayTell(c, table.nameless));
  const numbers = table.columns
    .map((c, k) => ({ c, k }))
    .filter(({ c }) => c.kind === "number" || c.kind === "stamp")
    .map(({ k }) => k)
    .slice(0, mostColumns);
  if (candidates.length === 0 || numbers.length < 2) return [table];
  const wanted = [...new Set([...candidates.map(({ k }) => k), ...numbers])];
  const data = await table.read(wanted);
  const values = new Map(wanted.map((k, j) => [k, data.columns[j]] as const));
  for (const { c, k } of candidates) {
    const own = values.get(k) ?? new Float64Array(0);
    const others = numbers.filter((n) => n !== k);
    const clocks = new Map([k, ...others].map((n) => [n, values.get(n) ?? own] as const));
    const turns = devicesInTurns(clocks);
    const named = idName.test(c.name);
    const apart = turns?.column === k || (named && (turnOf(own) !== undefined || torn(own, others, values)));
    if (apart) return tablesOf(table, k, own, data.words.get(k));
  }
  return [table];
}

/** A few whole numbers or words that change to and fro. What is measured in a unit is no device. */
function mayTell(column: SourceColumn, nameless = false): boolean {
  const { samples, kind, name } = column;
  if ((kind !== "number" && kind !== "text") || mayBeTime(column) || samples.length < 4) return false;
  const unit = unitOfText(spelledUnit(column) ?? "1")?.code;
  if (unit !== undefined && unit !== "1") return false;
  if (nameless ? kind !== "text" : !idName.test(name) && kind !== "number") return false;
  if (kind === "number" && !samples.every((s) => /^\d{1,3}$/.test(s))) return false;
  const seen = new Set(samples);
  if (seen.size < 2 || seen.size > mostDevices || seen.size > samples.length / 2) return false;
  let moved = 0;
  for (let i = 1; i < samples.length; i += 1) if (samples[i] !== samples[i - 1]) moved += 1;
  return moved >= 0.3 * (samples.length - 1);
}

/** Within a device the values run on from row to row, and across devices they jump; or the clock runs on in both. */
function torn(
  ids: Float64Array,
  others: readonly number[],
  values: ReadonlyMap<number, Float64Array>,
): boolean {
  const n = Math.min(ids.length, 4000);
  let jumps = false;
  for (const k of others) {
    const v = values.get(k);
    if (v === undefined) continue;
    const last = new Map<number, number>();
    let near = 0;
    let far = 0;
    let steps = 0;
    for (let i = 0; i < n; i += 1) {
      const before = last.get(ids[i]);
      if (i > 0 && before !== undefined && ids[i] !== ids[i - 1]) {
        const [a, b] = [Math.abs(v[i] - v[i - 1]), Math.abs(v[i] - v[before])];
        if (a - a === 0 && b - b === 0) {
          near += a;
          far += b;
          steps += 1;
        }
      }
      last.set(ids[i], i);
    }
    if (steps > 0.2 * n && near > 1.5 * far) jumps = true;
  }
  return jumps;
}

function tablesOf(
  table: SourceTable,
  column: number,
  ids: Float64Array,
  words: readonly string[] | undefined,
): readonly SourceTable[] {
  const groups = new Map<number, number[]>();
  let none = 0;
  for (let i = 0; i < ids.length; i += 1) {
    const own = groups.get(ids[i]);
    if (Number.isNaN(ids[i])) none += 1;
    else if (own === undefined) groups.set(ids[i], [i]);
    else own.push(i);
  }
  const kept = [...groups].filter(([, rows]) => rows.length >= fewestRows);
  if (kept.length < 2 || groups.size > mostDevices) return [table];
  const lost = none + [...groups].reduce((sum, [, r]) => sum + (r.length < fewestRows ? r.length : 0), 0);
  const { name } = table.columns[column];
  return kept.map(([id, rows], n) => {
    const value = visible((words?.[id] ?? String(id)).replace(/[#,]/g, " "), 40);
    return {
      ...table,
      path: `${table.path}${table.path.includes("#") ? "," : "#"}${visible(name, 30)}=${value}`,
      files: table.files ?? [table.path],
      label: table.label === undefined ? `${name} ${value}` : `${table.label}, ${name} ${value}`,
      facts: { ...table.facts, motor: table.facts?.motor ?? value },
      columns: table.columns.map((c, k) => (k === column ? { ...c, kind: "text", samples: [value] } : c)),
      findings: [
        ...table.findings,
        ...(n > 0 ? [] : [told(table, name, kept.length), ...left(table, name, lost)]),
      ],
      read: async (indices) => rowsOf(await table.read(indices), rows, indices, column, value),
    };
  });
}

function rowsOf(
  data: SourceData,
  rows: readonly number[],
  indices: readonly number[],
  column: number,
  value: string,
): SourceData {
  const words = new Map(data.words);
  if (indices.includes(column)) words.set(column, [value]);
  let at = 0;
  const marks = (data.marks ?? []).map((m) => {
    while (at < rows.length && rows[at] < m.row) at += 1;
    return { ...m, row: at };
  });
  return {
    ...data,
    words,
    marks,
    columns: data.columns.map((v, j) => Float64Array.from(rows, (i) => (indices[j] === column ? 0 : v[i]))),
    owned: true,
    firstLine: undefined,
  };
}

function told(table: SourceTable, name: string, devices: number): Finding {
  return {
    severity: "note",
    code: "devices-apart",
    message: `the rows are of ${devices} devices in turns, told apart by "${visible(name, 40)}"; each is a recording of its own`,
    value: devices,
    file: table.path,
  };
}

function left(table: SourceTable, name: string, lost: number): Finding[] {
  if (lost === 0) return [];
  return [
    {
      severity: "warning",
      code: "rows-not-read",
      message: `${lost} ${lost === 1 ? "row has" : "rows have"} no usual value of "${visible(name, 40)}"`,
      value: lost,
      meaning: "it is not known which device they are of; they are left out",
      file: table.path,
    },
  ];
}
