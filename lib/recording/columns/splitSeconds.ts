import type { SourceData, SourceTable } from "../formats/sourceTable.js";

const seconds = /^(.*?)(?:t?v?_?secs?|seconds?|(?<=_)s)(|[^\p{L}\p{N}_].*)$/iu;
const parts: readonly (readonly [RegExp, number])[] = [
  [/^(.*?)(?:t?v?_?nano_?secs?|nsecs?|nanoseconds?|nanos)(|[^\p{L}\p{N}_].*)$/iu, 1e-9],
  [/^(.*?)(?:t?v?_?micro_?secs?|usecs?|us|microseconds?|micros)(|[^\p{L}\p{N}_].*)$/iu, 1e-6],
  [/^(.*?)(?:t?v?_?milli_?secs?|msecs?|ms|milliseconds?|millis)(|[^\p{L}\p{N}_].*)$/iu, 1e-3],
];

interface Split {
  readonly whole: number;
  readonly part: number;
  readonly size: number;
}

/**
 * A moment that is logged in two columns, whole seconds and the rest in smaller units (`stamp.sec` and
 * `stamp.nanosec`), as one time in the column of the seconds. Any other table is given back as it is.
 */
export function oneSeconds(table: SourceTable): SourceTable {
  const split = splitOf(table);
  if (split === undefined) return table;
  const { whole, part, size } = split;
  return {
    ...table,
    read: async (indices): Promise<SourceData> => {
      if (!indices.includes(whole)) return table.read(indices);
      const all = indices.includes(part) ? [...indices] : [...indices, part];
      const data = await table.read(all);
      const [s, rest] = [data.columns[all.indexOf(whole)], data.columns[all.indexOf(part)]];
      const sum = s.map((v, i) => v + size * rest[i]);
      const own = isRest(s, rest, size) ? sum : s;
      return {
        ...data,
        columns: indices.map((k) => (k === whole ? own : data.columns[all.indexOf(k)])),
        words: new Map([...data.words].filter(([k]) => indices.includes(k))),
        origins: new Map([...data.origins].filter(([k]) => indices.includes(k))),
        owned: false,
      };
    },
  };
}

function splitOf(table: SourceTable): Split | undefined {
  if (table.nameless) return undefined;
  const { columns } = table;
  for (const [part, column] of columns.entries()) {
    for (const [pattern, size] of parts) {
      const own = pattern.exec(column.name.trim());
      if (own === null || column.kind !== "number") continue;
      const whole = columns.findIndex((c, k) => {
        const m = seconds.exec(c.name.trim());
        return k !== part && c.kind === "number" && m !== null && m[1] === own[1] && m[2] === own[2];
      });
      if (whole >= 0) return { whole, part, size };
      // Beside a stamp of whole seconds.
      const stamp = columns.findIndex((c) => c.kind === "stamp");
      if (
        own[1] === "" &&
        own[2] === "" &&
        stamp >= 0 &&
        columns.filter((c) => c.kind === "stamp").length === 1
      )
        return { whole: stamp, part, size };
    }
  }
  return undefined;
}

/** True when the second column begins anew with every second of the first: both are whole numbers, and their sum only
 * rises. */
function isRest(whole: Float64Array, rest: Float64Array, size: number): boolean {
  let rows = 0;
  let falls = 0;
  for (let i = 0; i < whole.length; i += 1) {
    if (Number.isNaN(whole[i]) || Number.isNaN(rest[i])) continue;
    if (!Number.isInteger(whole[i]) || rest[i] < 0 || rest[i] * size >= 1) return false;
    rows += 1;
    if (i > 0 && whole[i] + size * rest[i] < whole[i - 1] + size * rest[i - 1]) falls += 1;
  }
  return rows > 1 && falls <= 0.05 * rows;
}
