import { largest } from "../../numeric/series/largest.js";
import type { Compared, NumberColumn } from "./compared.js";
import type { Relation } from "./jointTypes.js";
import { commandAndMeasured, type Meaning, roleFacts } from "./roles.js";
import { relationWeights as weights } from "./tables/numberLikelihoods.js";
import type { Windows } from "./windows.js";

/** More columns than this that move are not taken three at a time. */
const mostTogether = 12;
/** Fewer windows tell nothing. */
const fewestWindows = 24;

/**
 * What columns without a word show of the drive together: a motion goes towards its command long before it gets there,
 * and a voltage is what the back-EMF and the resistance take of it.
 */
export function driveRelations(columns: readonly NumberColumn[], { windows }: Compared): Relation[] {
  if (columns.length > mostTogether) return [];
  const silent = columns.filter(({ named }) => !named);
  return [
    ...silent.flatMap((c) => columns.flatMap((p) => (p === c ? [] : goesTowards(c, p, windows)))),
    ...silent.flatMap((x) => windingOf(x, columns, windows)),
  ];
}

/** Parts of a range that a motion must be away from its command, and of its fastest that it must move; how often it
 * must go that way, how many windows tell it, and by how much the ranges of the two may differ (judgement). */
const towards = { away: 0.08, moves: 0.05, agrees: 0.9, fewestAgainstSign: 6, ranges: 4 };

/** A column goes up where another is above it and down where that is below it: a set and an actual value, although the
 * actual one may not arrive before the next is set. */
function goesTowards(c: NumberColumn, p: NumberColumn, windows: Windows): Relation[] {
  const { shape } = c.numbers;
  if (shape === "noisy" || windows.wraps[p.place] !== undefined) return [];
  const [reach, asked] = [p, c].map(({ numbers }) => numbers.max - numbers.min);
  if (!(reach > 0 && asked > 0) || Math.abs(Math.log(reach / asked)) > Math.log(towards.ranges)) return [];
  const [goal, place, change] = [windows.mean[c.place], windows.mean[p.place], windows.change[p.place]];
  const fastest = largest(change);
  let all = 0;
  let right = 0;
  // Where the command's own sign says the other thing, it is not what pushes.
  let other = 0;
  let otherRight = 0;
  for (let k = 0; k < change.length; k += 1) {
    const error = goal[k] - place[k];
    if (!(Math.abs(error) > towards.away * asked && Math.abs(change[k]) > towards.moves * fastest)) continue;
    const agrees = error > 0 === change[k] > 0 ? 1 : 0;
    all += 1;
    right += agrees;
    if (goal[k] > 0 !== error > 0) {
      other += 1;
      otherRight += agrees;
    }
  }
  if (all < fewestWindows || right < towards.agrees * all) return [];
  if (other < towards.fewestAgainstSign || otherRight < towards.agrees * other) return [];
  return [
    {
      columns: [c.index, p.index],
      mutual: "towards",
      unseen: true,
      text: `"${p.label}" goes towards "${c.label}"`,
      score: ([set, actual]) => {
        const { quantity } = roleFacts[set.role];
        const [command, measured] = commandAndMeasured[quantity] ?? [];
        const pair = set.role === command && actual.role === measured;
        return pair && set.unit === actual.unit ? weights.towards : 0;
      },
    },
  ];
}

/** How much of a voltage its two parts must explain, and by how many times more is left without either (judgement). */
const winding = { left: 0.03, without: 3 };

/** A column that is a share of a speed and a share of a current, and neither alone: the voltage of a winding. */
function windingOf(x: NumberColumn, columns: readonly NumberColumn[], windows: Windows): Relation[] {
  // A command that is held may as well be the set speed of a loop without integral action.
  if (x.numbers.shape === "held") return [];
  let best: { left: number; w: NumberColumn; i: NumberColumn; rate: boolean } | undefined;
  const mean = windows.mean[x.place];
  const others = columns.filter((c) => c !== x && c.numbers.rising < onlyRises);
  for (const [k, w] of others.entries())
    for (const rate of [false, true]) {
      const speed = rate
        ? windows.change[w.place].map((v, n) => v / windows.duration[n])
        : windows.mean[w.place];
      for (const i of rate ? others : others.slice(k + 1)) {
        if (i === w) continue;
        const left = leftByTwo(mean, speed, windows.mean[i.place]);
        if (left !== undefined && left < (best?.left ?? winding.left)) best = { left, w, i, rate };
      }
    }
  if (best === undefined) return [];
  const { w, i, rate } = best;
  return [
    {
      columns: [x.index, w.index, i.index],
      unseen: true,
      text: `"${x.label}" is a part of ${rate ? "the rate of " : ""}"${w.label}" and of "${i.label}", as a voltage is`,
      proposals: rate
        ? [["voltage", "position", "current"]]
        : [
            ["voltage", "speed", "current"],
            ["voltage", "current", "speed"],
          ],
      score: ([voltage, a, b]) => {
        if (!voltages.has(voltage.role)) return 0;
        const shafts = rate ? a.role === "position" && pushes(b.role) : speedAndDrive(a.role, b.role);
        return shafts ? weights.winding : 0;
      },
    },
  ];
}

/** A column of which so many changes are rises may be a clock. */
const onlyRises = 0.95;

function speedAndDrive(a: Meaning, b: Meaning): boolean {
  return (a === "speed" && pushes(b)) || (b === "speed" && pushes(a));
}

const voltages = new Set<Meaning>(["voltage", "voltageCommand", "voltageQ", "duty"]);

function pushes(role: Meaning): boolean {
  return role === "current" || role === "currentCommand" || role === "torque" || role === "torqueCommand";
}

/** What least squares on two others and a constant leaves of a column, as a part of it; undefined where they do not
 * both make it up, with positive parts. */
function leftByTwo(y: Float64Array, a: Float64Array, b: Float64Array): number | undefined {
  let n = 0;
  const s = { y: 0, a: 0, b: 0 };
  const known = (k: number): boolean => y[k] + a[k] + b[k] - (y[k] + a[k] + b[k]) === 0;
  for (let k = 0; k < y.length; k += 1) {
    if (!known(k)) continue;
    n += 1;
    s.y += y[k];
    s.a += a[k];
    s.b += b[k];
  }
  if (n < fewestWindows) return undefined;
  let yy = 0;
  let aa = 0;
  let bb = 0;
  let ya = 0;
  let yb = 0;
  let ab = 0;
  for (let k = 0; k < y.length; k += 1) {
    if (!known(k)) continue;
    const [v, p, q] = [y[k] - s.y / n, a[k] - s.a / n, b[k] - s.b / n];
    yy += v * v;
    aa += p * p;
    bb += q * q;
    ya += v * p;
    yb += v * q;
    ab += p * q;
  }
  const determinant = aa * bb - ab * ab;
  if (!(yy > 0 && determinant > 1e-6 * aa * bb)) return undefined;
  const [ofA, ofB] = [(ya * bb - yb * ab) / determinant, (yb * aa - ya * ab) / determinant];
  const left = Math.max(0, 1 - (ofA * ya + ofB * yb) / yy);
  const [withoutB, withoutA] = [1 - (ya * ya) / (aa * yy), 1 - (yb * yb) / (bb * yy)];
  const both = Math.min(withoutA, withoutB) > winding.without * Math.max(left, 1e-3);
  return ofA > 0 && ofB > 0 && left < winding.left && both ? left : undefined;
}
