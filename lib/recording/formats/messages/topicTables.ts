import { visible } from "../../../units/text.js";
import { glanceAtTable } from "../../columns/glance.js";
import type { Finding } from "../../types.js";
import { CannotRead, type SourceColumn, type SourceTable } from "../sourceTable.js";
import type { MessageValues } from "./decodeMessage.js";

/** Values that are kept of one file, of all topics together. */
const mostValues = 40_000_000;
const mostTables = 500;
const mostColumns = 400;

interface Table {
  readonly topic: string;
  readonly joint: string | undefined;
  readonly time: number[];
  readonly columns: Map<string, number[]>;
}

/** Messages of many topics as tables: one for each topic, or for each joint that a topic names, with a row a
 * message. */
export class TopicTables {
  private readonly tables = new Map<string, Table>();
  private readonly damaged = new Map<string, { count: number; why: string }>();
  private values = 0;
  private left = 0;

  /** Adds a message that was logged at a time, s. */
  add(topic: string, time: number, { numbers, lists, words }: MessageValues): void {
    const names = [...words.values()].find((w) => w.length > 0 && new Set(w).size === w.length);
    const plain = new Map(numbers);
    const joints = new Map<string, Map<string, number>>();
    for (const [path, list] of lists) {
      if (names !== undefined && list.length === names.length) {
        for (const [i, name] of names.entries()) {
          const own = joints.get(name) ?? new Map<string, number>();
          joints.set(name, own.set(`joint ${path}`, list[i]));
        }
      } else for (const [i, v] of list.entries()) plain.set(`${path}[${i}]`, v);
    }
    const stamp = [...plain].find(([path]) => /(^|\.)stamp$/.test(path))?.[1];
    const at = stamp !== undefined && stamp > 0 ? stamp : time;
    for (const path of [...plain.keys()]) if (/(^|\.)stamp$|(^|\.)seq$/.test(path)) plain.delete(path);
    if (joints.size === 0) this.row(topic, undefined, at, plain);
    else for (const [joint, own] of joints) this.row(topic, joint, at, new Map([...own, ...plain]));
  }

  /** Counts a message that could not be read. */
  damage(topic: string, why: unknown): void {
    const known = this.damaged.get(topic);
    if (known === undefined)
      this.damaged.set(topic, { count: 1, why: why instanceof Error ? why.message : String(why) });
    else known.count += 1;
  }

  private row(
    topic: string,
    joint: string | undefined,
    time: number,
    values: ReadonlyMap<string, number>,
  ): void {
    if (values.size === 0) return;
    const key = `${topic}\n${joint ?? ""}`;
    let table = this.tables.get(key);
    if (table === undefined && this.tables.size >= mostTables) return;
    if (this.values + values.size > mostValues) {
      this.left += 1;
      return;
    }
    if (table === undefined) {
      table = { topic, joint, time: [], columns: new Map() };
      this.tables.set(key, table);
    }
    const row = table.time.length;
    table.time.push(time);
    for (const [name, value] of values) {
      let column = table.columns.get(name);
      if (column === undefined) {
        if (table.columns.size >= mostColumns) continue;
        column = [];
        table.columns.set(name, column);
      }
      while (column.length < row) column.push(Number.NaN);
      column.push(value);
    }
    this.values += values.size + 1;
  }

  /**
   * The tables with something of a motor in them by their names; what else the file holds is told.
   *
   * @throws CannotRead when no topic has such
   */
  sources(path: string, format: string, noticed: readonly Finding[]): SourceTable[] {
    const all = [...this.tables.values()].map((t) => sourceOf(t, path, format));
    const useful = all.filter((t) => t.columns.length > 1 && hasMotor(t));
    const others = [...new Set([...this.tables.values()].map((t) => t.topic))].filter(
      (topic) => !useful.some((t) => t.label?.split(" ")[0] === topic),
    );
    const findings = [...noticed, ...this.told(path, others)];
    if (useful.length === 0) {
      const names = others.slice(0, 12).map((t) => visible(t, 40));
      throw new CannotRead({
        severity: "error",
        code: "no-numbers",
        message: `the file holds ${names.length === 0 ? "no messages whose numbers can be read" : `no topic with the position, speed, current or effort of a motor (topics: ${names.join(", ")})`}${this.firstDamage()}`,
        meaning: "export the topic with the joint states to CSV, or record it",
        file: path,
      });
    }
    return useful.map((t, k) => (k === 0 ? { ...t, findings } : t));
  }

  private firstDamage(): string {
    const [first] = this.damaged;
    return first === undefined ? "" : `; "${visible(first[0], 40)}": ${visible(first[1].why, 100)}`;
  }

  private told(file: string, others: readonly string[]): Finding[] {
    const out: Finding[] = [];
    if (others.length > 0)
      out.push({
        severity: "note",
        code: "topics-left",
        message: `${others.length} ${others.length === 1 ? "topic holds" : "topics hold"} nothing of a motor by name and ${others.length === 1 ? "was" : "were"} left: ${others
          .slice(0, 12)
          .map((t) => visible(t, 40))
          .join(", ")}${others.length > 12 ? ", ..." : ""}`,
        file,
      });
    for (const [topic, { count, why }] of [...this.damaged].slice(0, 20))
      out.push({
        severity: "warning",
        code: "messages-not-read",
        message: `${count} ${count === 1 ? "message" : "messages"} of "${visible(topic, 60)}" could not be read: ${visible(why, 120)}`,
        value: count,
        meaning: "export this topic to CSV if it holds the motor",
        file,
      });
    if (this.left > 0)
      out.push({
        severity: "warning",
        code: "thinned",
        message: `the file holds more values than are kept in memory: ${this.left} messages at its end were left out`,
        value: this.left,
        meaning: "cut the file, or record fewer topics",
        file,
      });
    return out;
  }
}

function sourceOf(table: Table, path: string, format: string): SourceTable {
  const rows = table.time.length;
  const names = [...table.columns.keys()];
  const data = [table.time, ...table.columns.values()];
  const columns: SourceColumn[] = ["time", ...names].map((name, k) => ({
    name,
    kind: "number",
    ...(k === 0 ? { unit: "s", unitFrom: "message" } : {}),
    samples: data[k].slice(0, 20).map(String),
  }));
  const label = [table.topic, table.joint].filter((t) => t !== undefined).join(" ");
  return {
    path: `${path}#${visible(label.replace(/[#,]/g, " "), 80)}`,
    label,
    files: [path],
    format,
    columns,
    facts: table.joint === undefined ? {} : { motor: table.joint },
    findings: [],
    read: async (indices) => ({
      columns: indices.map((k) => Float64Array.from({ length: rows }, (_, i) => data[k][i] ?? Number.NaN)),
      words: new Map(),
      origins: new Map(),
      findings: [],
      owned: true,
      kept: 1,
    }),
  };
}

const ofMotor = /^(speed|position|current|torque|duty|voltage)/;

function hasMotor(table: SourceTable): boolean {
  return glanceAtTable(table, new Map()).some((g) => ofMotor.test(g.role) && g.probability > 0.5);
}
