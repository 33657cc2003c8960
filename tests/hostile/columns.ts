import { type Random, seeded } from "./mutate.js";

/** A table before it is written in some format: names and columns of equal length (unless damage made them unequal). */
export interface Columns {
  readonly names: readonly string[];
  readonly data: readonly Float64Array[];
}

const pick = <T>(random: Random, values: readonly T[]): T => values[Math.floor(random() * values.length)];

const absurd = [
  Number.NaN,
  Number.POSITIVE_INFINITY,
  Number.NEGATIVE_INFINITY,
  1e308,
  -1e308,
  5e-324,
  -0,
  2 ** 53 + 2,
  -(2 ** 31) - 1,
  1e30,
  -1e-30,
  32767,
  65535,
  4294967295,
];

const oddNames = [
  "time",
  "speed",
  "position",
  "current",
  "__proto__",
  "constructor",
  "toString",
  "a\u001b[31mred",
  "line\nbreak",
  "tab\there",
  "zero\u0000byte",
  "\u202eright to left",
  '"quoted"',
  "'; DROP TABLE x; --",
  "<script>alert(1)</script>",
  "=1+1",
  " ",
  "",
  "x".repeat(5000),
  "speed [furlong/fortnight]",
  "ωm",
];

type Change = (table: Columns, random: Random) => Columns;

const onColumn =
  (change: (values: Float64Array, random: Random) => Float64Array): Change =>
  ({ names, data }, random) => {
    const at = Math.floor(random() * data.length);
    return { names, data: data.map((column, k) => (k === at ? change(column.slice(), random) : column)) };
  };

const fillSome = (values: Float64Array, random: Random, share: number): Float64Array => {
  const value = pick(random, absurd);
  for (let i = 0; i < values.length; i += 1) if (random() < share) values[i] = value;
  return values;
};

/** What can be wrong with the contents of a recording in any format. */
export const contentChanges: Readonly<Record<string, Change>> = {
  fewAbsurd: onColumn((values, random) => fillSome(values, random, 0.01)),
  halfAbsurd: onColumn((values, random) => fillSome(values, random, 0.5)),
  allAbsurd: onColumn((values, random) => fillSome(values, random, 2)),
  allEqual: onColumn((values) => values.fill(values[0])),
  allZero: onColumn((values) => values.fill(0)),
  scaled: onColumn((values, random) => {
    const factor = 10 ** (random() * 600 - 300);
    return values.map((v) => v * factor);
  }),
  offset: onColumn((values, random) => {
    const by = (random() - 0.5) * 10 ** (random() * 20);
    return values.map((v) => v + by);
  }),
  negated: onColumn((values) => values.map((v) => -v)),
  backwards: onColumn((values) => values.reverse()),
  noise: onColumn((values, random) => {
    const size = 10 ** (random() * 8 - 4);
    return values.map((v) => v + size * (random() - 0.5));
  }),
  stuck: onColumn((values, random) => values.fill(values[0], Math.floor(random() * values.length))),
  coarse: onColumn((values, random) => {
    const step = 10 ** (random() * 6 - 3);
    return values.map((v) => Math.round(v / step) * step);
  }),
  spike: onColumn((values, random) => {
    values[Math.floor(random() * values.length)] = pick(random, absurd);
    return values;
  }),
  swapColumns: ({ names, data }, random) => {
    const [a, b] = [Math.floor(random() * data.length), Math.floor(random() * data.length)];
    return { names, data: data.map((column, k) => (k === a ? data[b] : k === b ? data[a] : column)) };
  },
  renameColumn: ({ names, data }, random) => {
    const at = Math.floor(random() * names.length);
    const name = pick(random, oddNames);
    return { names: names.map((old, k) => (k === at ? name : old)), data };
  },
  dropColumn: ({ names, data }, random) => {
    if (names.length < 2) return { names, data };
    const at = Math.floor(random() * names.length);
    return { names: names.filter((_, k) => k !== at), data: data.filter((_, k) => k !== at) };
  },
  doubleColumn: ({ names, data }, random) => {
    const at = Math.floor(random() * names.length);
    return { names: [...names, `${names[at]} 2`], data: [...data, data[at]] };
  },
  fewRows: ({ names, data }, random) => {
    const rows = pick(random, [1, 2, 3, 5, 20]);
    return { names, data: data.map((column) => column.slice(0, rows)) };
  },
  shuffledRows: ({ names, data }, random) => {
    const order = Array.from(data[0], (_, i) => [random(), i] as const).sort((a, b) => a[0] - b[0]);
    return { names, data: data.map((column) => Float64Array.from(order, ([, i]) => column[i])) };
  },
  timeJump: ({ names, data }, random) => {
    const time = data[0].slice();
    const from = Math.floor(random() * time.length);
    const by = (random() - 0.3) * 10 ** (random() * 12 - 3);
    for (let i = from; i < time.length; i += 1) time[i] += by;
    return { names, data: [time, ...data.slice(1)] };
  },
};

/** Damages the contents by one to three changes chosen by the seed, and says which. */
export function damageContents(
  table: Columns,
  seed: number,
): { readonly table: Columns; readonly did: readonly string[] } {
  const random = seeded(seed ^ 0x5eed);
  const names = Object.keys(contentChanges);
  const did: string[] = [];
  let out = table;
  const times = 1 + Math.floor(random() * 3);
  for (let i = 0; i < times; i += 1) {
    const name = pick(random, names);
    did.push(name);
    out = contentChanges[name](out, random);
  }
  return { table: out, did };
}
