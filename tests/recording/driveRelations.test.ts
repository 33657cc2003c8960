import { expect, test } from "vitest";
import { columnNumbers } from "../../lib/recording/columns/columnNumbers.js";
import type { NumberColumn } from "../../lib/recording/columns/compared.js";
import { driveRelations } from "../../lib/recording/columns/driveRelations.js";
import { windowsOf } from "../../lib/recording/columns/windows.js";
import { seeded } from "../diagnosis/secondBench.js";

const rows = 1200;
const dt = 0.01;
const random = seeded(41);
const noise = (size: number): number => size * (random() + random() - 1);

/** Relations of columns without headings, and the windows they are seen in. */
function relations(columns: readonly Float64Array[]) {
  const time = Float64Array.from({ length: rows }, (_, k) => k * dt);
  const number = columns.map(
    (values, place): NumberColumn => ({
      ...{ index: place, place, label: `#${place + 1}`, values },
      ...{ numbers: columnNumbers(values, [0, rows]), named: false, unit: undefined },
    }),
  );
  const windows = windowsOf(columns, time, [0, rows]);
  const compared = { windows, time: undefined, steady: false, mayBe: () => true, apart: () => false };
  return driveRelations(number, compared).map(({ text }) => text);
}

// u = k w + R i (voltage equation of a DC motor at rows far apart against L/R; R. Krishnan, Electric Motor Drives,
// ch. 2, from memory), with a current that is no share of the speed.
const speed = Float64Array.from({ length: rows }, (_, k) => 40 * Math.sin(k / 90) + noise(0.2));
const current = Float64Array.from({ length: rows }, (_, k) => 3 * Math.cos(k / 37) + noise(0.02));
const voltage = speed.map((w, k) => 0.05 * w + 0.4 * current[k] + noise(0.01));

test("a voltage is told by the speed and the current that make it up, and nothing else is", () => {
  const found = relations([speed, current, voltage]);
  expect(found).toContain('"#3" is a part of "#1" and of "#2", as a voltage is');
  // Solved for the speed or the current, one of the parts is negative.
  expect(found.filter((text) => text.startsWith('"#1" is') || text.startsWith('"#2" is'))).toEqual([]);
  const other = voltage.map(() => noise(1));
  expect(relations([speed, current, other])).toEqual([]);
});

test("a place that is driven to what is asked goes towards it, although it does not arrive", () => {
  const asked = Float64Array.from({ length: rows }, (_, k) => [0, 5, 2, 6, -3, -1][Math.floor(k / 200)]);
  const place = new Float64Array(rows);
  // At the end of its speed all the way: most steps take most of their time.
  for (let k = 1; k < rows; k += 1)
    place[k] =
      place[k - 1] + Math.sign(asked[k] - place[k - 1]) * Math.min(0.03, Math.abs(asked[k] - place[k - 1]));
  expect(relations([asked, place])).toContain('"#2" goes towards "#1"');
  // A command whose own sign is where it goes may as well be an effort.
  const pushed = new Float64Array(rows);
  for (let k = 1; k < rows; k += 1) pushed[k] = pushed[k - 1] + 0.002 * asked[k];
  expect(relations([asked, pushed]).filter((text) => text.includes("towards"))).toEqual([]);
});
