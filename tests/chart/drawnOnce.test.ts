import { expect, test } from "vitest";
import { drawnOnce } from "../../lib/chart/render/drawnOnce.js";

test("what was asked lately is drawn once, anything else anew, and only some megabytes of pictures are kept", () => {
  let drawn = 0;
  const picture = (asked: string, size = 1): string =>
    drawnOnce(asked, () => {
      drawn += 1;
      return asked.padEnd(size, ".");
    });
  expect([picture("a"), picture("b"), picture("a")]).toEqual(["a", "b", "a"]);
  expect(drawn).toBe(2);
  // Three large pictures push out the smaller ones; of these, the ones asked longest ago first.
  for (const name of ["c", "d", "e"]) picture(name, 3_000_000);
  expect(drawn).toBe(5);
  picture("e", 3_000_000);
  picture("d", 3_000_000);
  expect(drawn).toBe(5);
  picture("b");
  expect(drawn).toBe(6);
  picture("c", 3_000_000);
  expect(drawn).toBe(7);
});
