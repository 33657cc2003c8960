import { readFileSync } from "node:fs";
import { join } from "node:path";
import { inflateSync } from "node:zlib";
import { describe, expect, test } from "vitest";
import { type MatValue, NotAMatFile, readMatFile } from "../../lib/recording/formats/matFile.js";

const folder = join(import.meta.dirname, "../published/mat");
const inflate = (bytes: Uint8Array, limit: number) => inflateSync(bytes, { maxOutputLength: limit });
const numbers = (value: MatValue | undefined) =>
  value?.kind === "numeric" ? Array.from(value.data) : undefined;

// Reference: SciPy's savemat wrote the files (tests/published/mat/make_reference.py holds the values and the command).
describe.each(["plain.mat", "compressed.mat"])("%s, written by SciPy", (name) => {
  const { variables, broken } = readMatFile(readFileSync(join(folder, name)), inflate);

  test("is read to its end, every variable by its name", () => {
    expect(broken).toBeUndefined();
    expect([...variables.keys()].sort()).toEqual(
      ["counts", "cube", "empty", "label", "mixed", "run", "single", "special", "table", "wide"].sort(),
    );
  });

  test("numbers of every storage type, column-major, IEEE 754 edge values kept", () => {
    expect(variables.get("table")).toMatchObject({ kind: "numeric", size: [2, 3] });
    expect(numbers(variables.get("table"))).toEqual([0, 0.001, 1.5, 1e-300, -2.25, 1e300]);
    expect(numbers(variables.get("counts"))).toEqual([-32768, 32767, 0]);
    expect(numbers(variables.get("wide"))).toEqual([2147483648, 4294967295]);
    expect(numbers(variables.get("single"))).toEqual([Math.fround(0.1)]);
    const special = numbers(variables.get("special")) ?? [];
    expect(special.slice(0, 3)).toEqual([Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY]);
    expect(Object.is(special[3], -0)).toBe(true);
    expect(variables.get("cube")).toMatchObject({ size: [2, 2, 2] });
    expect(numbers(variables.get("cube"))).toEqual([0, 4, 2, 6, 1, 5, 3, 7]);
    expect(variables.get("empty")).toMatchObject({ kind: "numeric", size: [0, 3] });
  });

  test("text, structures and cells", () => {
    expect(variables.get("label")).toMatchObject({ kind: "text", text: "Rolle 7, größer" });
    const run = variables.get("run");
    expect(run).toMatchObject({ kind: "structure" });
    const record = run?.kind === "structure" ? run.elements[0] : undefined;
    expect(numbers(record?.rate)).toEqual([1000]);
    expect(record?.unit).toMatchObject({ kind: "text", text: "rad/s" });
    expect(numbers(record?.lines)).toEqual([1024]);
    const mixed = variables.get("mixed");
    const cells = mixed?.kind === "cell" ? mixed.elements : [];
    expect(numbers(cells[0])).toEqual([1, 2]);
    expect(cells[1]).toMatchObject({ kind: "text", text: "U-V-W" });
  });
});

test("a file cut anywhere never throws: it gives what stood before the break and says where it broke", () => {
  const whole = readFileSync(join(folder, "plain.mat"));
  const all = readMatFile(whole, inflate).variables.size;
  let broken = 0;
  for (let length = 128; length < whole.length; length += 7) {
    const read = readMatFile(whole.subarray(0, length), inflate);
    expect(read.variables.size).toBeLessThanOrEqual(all);
    if (read.broken !== undefined) broken += 1;
  }
  expect(broken).toBeGreaterThan(50);
});

test("a compressed variable that unfolds past the limit is refused, not unfolded", () => {
  const bytes = readFileSync(join(folder, "compressed.mat"));
  const { broken, variables } = readMatFile(bytes, inflate, 16);
  expect(variables.size).toBe(0);
  expect(broken).toMatch(/at byte 128 of/);
});

test("other bytes are no MAT-file", () => {
  expect(() => readMatFile(new Uint8Array(10), inflate)).toThrow(NotAMatFile);
  expect(() => readMatFile(new TextEncoder().encode("time,speed\n".repeat(40)), inflate)).toThrow(
    NotAMatFile,
  );
});
