import fc from "fast-check";
import { expect, test } from "vitest";
import { isBare, isPlain } from "../../lib/recording/formats/plainNumber.js";
import { splitRecords } from "../../lib/recording/formats/splitRecords.js";

const written = /^[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?$/;
const withComma = /^[+-]?(\d+(,\d*)?|,\d+)([eE][+-]?\d+)?$/;
const withEither = /^[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?$/;
/** Texts of few signs, so that most are nearly numbers. */
const nearly = fc.string({ unit: fc.constantFrom(..."0159+-.,eEx \u00e9"), maxLength: 9 });

test("a plain number is what its grammar says", () => {
  fc.assert(
    fc.property(nearly, (text) => {
      expect(isPlain(text, ".")).toBe(written.test(text));
      expect(isPlain(text, ",")).toBe(withComma.test(text));
      expect(isPlain(text)).toBe(withEither.test(text));
      expect(isBare(text)).toBe(/^[\d.,+-]*$/.test(text));
    }),
    { numRuns: 2000 },
  );
});

test("whatever JavaScript writes for a finite number is plain", () => {
  fc.assert(
    fc.property(fc.double({ noNaN: true, noDefaultInfinity: true }), (x) => {
      expect(isPlain(String(x), ".")).toBe(true);
    }),
  );
});

test("lines without quotes are parted as those with quotes are, by RFC 4180", () => {
  const cell = fc.string({ unit: fc.constantFrom(..."01a;. "), maxLength: 4 });
  const lines = fc.array(fc.array(cell, { minLength: 1, maxLength: 4 }), { minLength: 1, maxLength: 5 });
  fc.assert(
    fc.property(lines, fc.constantFrom("\n", "\r\n", "\r"), fc.boolean(), (rows, end, complete) => {
      const bare = rows.map((row) => row.join(",")).join(end);
      // A quoted cell ahead sends the text the long way; its line is taken off again.
      const quoted = splitRecords(`"q"${end}${bare}`, ",", 100, complete).slice(1);
      const found = splitRecords(bare, ",", 100, complete);
      expect(found.map(({ fields, text }) => ({ fields, text }))).toEqual(
        quoted.map(({ fields, text }) => ({ fields, text })),
      );
      expect(found.map(({ line }) => line + 1)).toEqual(quoted.map(({ line }) => line));
    }),
    { numRuns: 500 },
  );
});
