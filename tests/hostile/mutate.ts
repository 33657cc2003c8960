import { uniforms } from "../house/uniforms.js";

/**
 * Seeded, structure-aware damage to files: what a flaky logger, a bad disk or a hostile sender can make of a recording.
 * Every mutation is a pure function of the bytes and a random source, so that a failing file can be made again from its
 * number.
 */

/** A random source, uniform in [0, 1). */
export type Random = () => number;

export { uniforms as seeded } from "../house/uniforms.js";

const pick = <T>(random: Random, values: readonly T[]): T => values[Math.floor(random() * values.length)];

const oddNumbers = [
  "NaN",
  "nan",
  "inf",
  "-inf",
  "Infinity",
  "1e308",
  "-1e308",
  "1e-320",
  "1e400",
  "-0",
  "0x1f",
  "1,5",
  "1.5.2",
  "1e",
  "--3",
  "9007199254740993",
  "99999999999999999999999999999999",
  "-2147483649",
  "",
  " ",
  "null",
  "true",
  "#REF!",
  "=1+1",
  "=cmd|'/c calc'!A0",
  "<script>alert(1)</script>",
  "\u001b[2J\u001b[31mred",
  "١٢٣",
  "٫5",
  "1 000",
  "1'000",
  "12:30:00",
  "2026-02-30T25:61:00Z",
  "0000-00-00",
  "\u202egnp.exe",
  "\ufeff1",
  "…",
];

type Mutation = (bytes: Buffer, random: Random) => Buffer;

const truncate: Mutation = (bytes, random) => bytes.subarray(0, Math.floor(random() * bytes.length));

const flipBits: Mutation = (bytes, random) => {
  const out = Buffer.from(bytes);
  const flips = 1 + Math.floor(random() * 20);
  for (let i = 0; i < flips && out.length > 0; i += 1)
    out[Math.floor(random() * out.length)] ^= 1 << Math.floor(random() * 8);
  return out;
};

const eraseBlock: Mutation = (bytes, random) => {
  const from = Math.floor(random() * bytes.length);
  const to = Math.min(bytes.length, from + Math.floor(random() * 4096));
  return Buffer.concat([bytes.subarray(0, from), bytes.subarray(to)]);
};

const zeroBlock: Mutation = (bytes, random) => {
  const out = Buffer.from(bytes);
  const from = Math.floor(random() * out.length);
  out.fill(0, from, Math.min(out.length, from + Math.floor(random() * 512)));
  return out;
};

const repeatBlock: Mutation = (bytes, random) => {
  const from = Math.floor(random() * bytes.length);
  const part = bytes.subarray(from, from + Math.floor(random() * 2048));
  return Buffer.concat([bytes.subarray(0, from), part, part, part, bytes.subarray(from)]);
};

const hugeLengthField: Mutation = (bytes, random) => {
  const out = Buffer.from(bytes);
  if (out.length < 8) return out;
  const at = Math.floor(random() * (out.length - 4));
  out.writeUInt32LE(pick(random, [0xffffffff, 0x7fffffff, 0x80000000, 0x10000000, 0]), at);
  return out;
};

/** Damage that any file can take. */
export const byteMutations: Readonly<Record<string, Mutation>> = {
  truncate,
  flipBits,
  eraseBlock,
  zeroBlock,
  repeatBlock,
  hugeLengthField,
};

function onLines(change: (lines: string[], random: Random) => string[]): Mutation {
  return (bytes, random) =>
    Buffer.from(change(bytes.toString("utf8").split("\n"), random).join("\n"), "utf8");
}

function onCells(change: (cells: string[], random: Random) => string[], share: number): Mutation {
  return onLines((lines, random) =>
    lines.map((line) => (random() < share && line !== "" ? change(line.split(","), random).join(",") : line)),
  );
}

/** Damage to the structure of a text table. */
export const textMutations: Readonly<Record<string, Mutation>> = {
  oddCell: onCells((cells, random) => {
    cells[Math.floor(random() * cells.length)] = pick(random, oddNumbers);
    return cells;
  }, 0.02),
  manyOddCells: onCells(
    (cells, random) => cells.map((cell) => (random() < 0.5 ? pick(random, oddNumbers) : cell)),
    0.5,
  ),
  dropCell: onCells((cells, random) => cells.toSpliced(Math.floor(random() * cells.length), 1), 0.05),
  extraCell: onCells((cells) => [...cells, "7"], 0.05),
  swapColumns: onLines((lines, random) => {
    const width = lines[0].split(",").length;
    const [a, b] = [Math.floor(random() * width), Math.floor(random() * width)];
    return lines.map((line, i) => {
      if (i === 0) return line;
      const cells = line.split(",");
      [cells[a], cells[b]] = [cells[b] ?? "", cells[a] ?? ""];
      return cells.join(",");
    });
  }),
  headerName: onLines((lines, random) => {
    const cells = lines[0].split(",");
    cells[Math.floor(random() * cells.length)] = pick(random, [
      ...oddNumbers,
      "time",
      "speed",
      "speed [furlong/fortnight]",
      "__proto__",
      "constructor",
    ]);
    return [cells.join(","), ...lines.slice(1)];
  }),
  noHeader: onLines((lines) => lines.slice(1)),
  headerOnly: onLines((lines) => lines.slice(0, 1)),
  headerTwice: onLines((lines, random) => {
    const at = Math.floor(random() * lines.length);
    return lines.toSpliced(at, 0, lines[0]);
  }),
  hugeField: onCells((cells, random) => {
    cells[Math.floor(random() * cells.length)] = "9".repeat(Math.floor(random() * 300_000));
    return cells;
  }, 0.002),
  openQuote: onCells((cells, random) => {
    cells[Math.floor(random() * cells.length)] = '"never closed';
    return cells;
  }, 0.003),
  otherDelimiter: onLines((lines, random) => {
    const delimiter = pick(random, [";", "\t", "|", " ", "::"]);
    return lines.map((line) => line.replaceAll(",", delimiter));
  }),
  lineEnds: onLines((lines, random) => lines.map((line) => line + pick(random, ["", "\r", "\r\r", " "]))),
  manyColumns: onLines((lines, random) => {
    const extra = Math.floor(random() * 3000);
    return lines
      .slice(0, 30)
      .map((line, i) => line + Array.from({ length: extra }, (_, c) => (i === 0 ? `,c${c}` : ",0")).join(""));
  }),
  shuffleRows: onLines((lines, random) => [lines[0], ...lines.slice(1).sort(() => random() - 0.5)]),
  sameTime: onLines((lines) => lines.map((line, i) => (i === 0 ? line : line.replace(/^[^,]*/, "1.0")))),
  timeJumps: onLines((lines, random) =>
    lines.map((line, i) =>
      i > 0 && random() < 0.01
        ? line.replace(/^[^,]*/, String((random() - 0.5) * 10 ** (random() * 20)))
        : line,
    ),
  ),
  wideText: (bytes) => Buffer.from(`\ufeff${bytes.toString("utf8")}`, "utf16le"),
  zeroBytes: onLines((lines, random) =>
    lines.map((line) => (random() < 0.02 ? line.replace(/\d/, "\u0000") : line)),
  ),
};

/** Damages a file's bytes by one to three mutations chosen by the seed, and says which. */
export function damage(
  bytes: Buffer,
  text: boolean,
  seed: number,
): { readonly bytes: Buffer; readonly did: readonly string[] } {
  const random = uniforms(seed);
  const table = text && random() < 0.75 ? textMutations : byteMutations;
  const names = Object.keys(table);
  const did: string[] = [];
  let out = bytes;
  const times = 1 + Math.floor(random() * 3);
  for (let i = 0; i < times; i += 1) {
    const name = pick(random, names);
    did.push(name);
    out = table[name](out, random);
  }
  return { bytes: out, did };
}
