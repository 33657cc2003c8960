import { describe, expect, test } from "vitest";
import { isEvenNumbers } from "../../lib/recording/formats/evenNumbers.js";
import { numberForms } from "../../lib/recording/formats/numberForms.js";
import { findDialect, type TextDialect } from "../../lib/recording/formats/textDialect.js";

const rows = (row: (i: number) => string, n = 30, end = "\n"): string =>
  Array.from({ length: n }, (_, i) => row(i)).join(end);
const even = (text: string): boolean => isEvenNumbers(text, findDialect(`${text}\n`, true) as TextDialect);

describe("rows of plain numbers under one heading", () => {
  test.each<[string, string]>([
    ["whole numbers", `t,n\n${rows((i) => `${i},${-i}`)}`],
    ["a last line with its break", `t,n\n${rows((i) => `${i},${-i}`)}\n`],
    ["lines ended by two signs", `t;x\r\n${rows((i) => `${i};-0.${i}5`, 30, "\r\n")}`],
    ["no heading", rows((i) => `${i}\t${i}.25\t7`)],
    ["three decimals beside others", `t,x\n${rows((i) => `0.${100 + i},${i}.5`)}`],
  ])("%s", (_what, text) => {
    expect(even(text)).toBe(true);
  });
});

describe("anything else is looked at closely", () => {
  test.each<[string, string]>([
    ["perhaps grouped in thousands", `t,x\n${rows((i) => `${i},1.${100 + i}`)}`],
    ["too few rows", `t,n\n${rows((i) => `${i},${i}`, 5)}`],
    ["a missing cell", `t,n\n${rows((i) => (i === 9 ? `${i},` : `${i},${i}`))}`],
    ["a row cut short", `t,n\n${rows((i) => (i === 9 ? `${i}` : `${i},${i}`))}`],
    ["a row too long", `t,n\n${rows((i) => (i === 9 ? `${i},1,1` : `${i},${i}`))}`],
    ["a title", `bench 4\nt,n\n${rows((i) => `${i},${i}`)}`],
    ["a row of units", `t,n\ns,A\n${rows((i) => `${i},${i}.5`)}`],
    ["a blank line", `t,n\n${rows((i) => (i === 9 ? "" : `${i},${i}`))}`],
    ["zeros in front", `t,n\n${rows((i) => `${i},00${i}`)}`],
    ["exponents", `t,n\n${rows((i) => `${i},${i}e-3`)}`],
    ["units in cells", `t,n\n${rows((i) => `${i},${i} A`)}`],
    ["decimal commas", `t;n\n${rows((i) => `${i};${i},5`)}`],
    ["numbers above the rows", `1,2,3\nt,n,m\n${rows((i) => `${i},${i},1`)}`],
    ["nothing behind a point", `t,n\n${rows((i) => `${i},${i}.`)}`],
  ])("%s", (_what, text) => {
    expect(even(text)).toBe(false);
  });
});

test("points that are no groups of thousands settle the form of all columns", () => {
  const columns = [
    Array.from({ length: 100 }, (_, i) => `${i}.${100 + i}`),
    Array.from({ length: 100 }, (_, i) => (i < 2 ? `${i}.5` : `${i}.125`)),
  ];
  expect(numberForms(columns).every((form) => "thousands" in form && form.thousands === "")).toBe(true);
});
