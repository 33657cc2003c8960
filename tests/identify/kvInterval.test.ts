import { expect, test } from "vitest";
import { Book } from "../../lib/identify/book.js";
import { addBackEmf } from "../../lib/identify/electrical/electrical.js";

// Found by mutation testing: no other test noticed when this was wrong.
test("a back-EMF that may be zero gives no kv, whose interval would have no end; the others keep theirs", () => {
  const labels = { method: "test", samples: 100, channels: ["voltage"] };
  for (const [low, has] of [
    [-0.001, false],
    [0.002, true],
  ] as const) {
    const book = new Book();
    addBackEmf(book, { value: 0.004, low, high: 0.009 }, labels, "", 4);
    const kv = book.get("kv");
    expect(kv !== undefined).toBe(has);
    expect(book.get("backEmfConstant")?.low).toBeCloseTo(Math.max(0, low) * Math.sqrt(3), 12);
    if (has) expect(kv?.low).toBeCloseTo(60 / (2 * Math.PI * Math.sqrt(3)) / 0.009, 9);
  }
});
