import { expect, test } from "vitest";
import { table } from "../../lib/cli/layout.js";

test("blanks at the start of a cell indent all of its lines, also when the cell is wrapped", () => {
  const rows = [
    ["rule", "rise"],
    ["  symmetrical optimum", "12.8 ms"],
  ];
  expect(table(rows, 80)).toBe("rule                   rise\n  symmetrical optimum  12.8 ms");
  expect(table(rows, 24)).toBe("rule             rise\n  symmetrical    12.8 ms\n  optimum");
});

test("a row of one cell runs across the columns and does not widen them", () => {
  const rows = [["step", "value"], ["0.5 s, command 0 to 1.2 A"], ["  rise", "0.73 s"]];
  expect(table(rows, 80)).toBe("step    value\n0.5 s, command 0 to 1.2 A\n  rise  0.73 s");
  expect(table([["one"], ["two"]], 80)).toBe("one\ntwo");
});
