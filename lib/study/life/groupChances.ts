import { chiSquare } from "../../numeric/distributions/distributions.js";
import { seededRandom } from "../../numeric/distributions/seededRandom.js";
import { type DrawnLives, drawnLives } from "./drawnLives.js";
import { failureCount, isUndetermined, type Life, type Undetermined, unitCount } from "./lifeData.js";
import type { LifeModel } from "./lifeModel.js";

/** Fits a Weibull life to some lives with effects of some groups beside what is always taken into account. `level`: of
 * the interval, where it is another than the table's. */
export type WeibullOf = (
  lives: readonly Life[],
  groups: readonly string[],
  intervals: "last" | "none",
  level?: number,
) => LifeModel | Undetermined;

/** From so many failures on, of a group and of those it is held against, the gain in likelihood has the distribution
 * of large samples. */
const enough = 50;
/** Tables drawn: as many as a second or so allows, within these. */
const drawn = { least: 100, most: 1000, work: 2e5 };

/** A table drawn as if some groups alone had lives of their own, with its likelihood. */
interface Drawn extends DrawnLives {
  readonly logLikelihood: number;
}

/**
 * Chances of the gain in likelihood that a life of its own gives a group. In small samples the gain is larger than the
 * chi-square distribution of large ones; it is divided by its mean in tables drawn like the one at hand without that
 * life of its own (Bartlett, M. S. (1937), Proceedings of the Royal Society A 160, 268-282; the mean simulated, as in
 * Rocke, D. M. (1989), Journal of the American Statistical Association 84, 598-601).
 */
export class GroupChances {
  readonly #plain = new Map<string, LifeModel | Undetermined>();
  readonly #tables = new Map<string, readonly Drawn[]>();
  readonly #factors = new Map<string, number>();

  /**
   * @param groups - how many there are
   * @param covariates - what `weibull` takes into account beside the groups
   */
  constructor(
    private readonly lives: readonly Life[],
    private readonly groups: number,
    private readonly weibull: WeibullOf,
    private readonly covariates: (life: Life) => readonly number[],
  ) {}

  /** Chance of so large a gain of a group whose life is that of the others; `differing` have lives of their own. Not a
   * number where it cannot be told. */
  chance(group: string, differing: readonly string[]): number {
    const others = differing.filter((g) => g !== group);
    // Someone must be left to be compared with.
    if (failureCount(this.#left(group, others)) === 0) return Number.NaN;
    const plain = this.#plainOf(others);
    if (isUndetermined(plain)) return Number.NaN;
    const gain = gainOf(
      { lives: this.lives, logLikelihood: plain.logLikelihood },
      group,
      others,
      this.weibull,
    );
    return gain === undefined ? Number.NaN : chiSquare.upper(gain / this.factor(group, others), 1);
  }

  /** By how much the gain of a group is larger than in large samples. */
  factor(group: string, differing: readonly string[]): number {
    const others = differing.filter((g) => g !== group);
    const key = JSON.stringify([group, ...[...others].sort()]);
    const known = this.#factors.get(key);
    if (known !== undefined) return known;
    const own = failureCount(this.lives.filter((life) => life.group === group));
    const left = failureCount(this.#left(group, others));
    const found = Math.min(own, left) >= enough ? 1 : this.#meanGain(group, others);
    this.#factors.set(key, found);
    return found;
  }

  #left(group: string, others: readonly string[]): Life[] {
    return this.lives.filter((life) => life.group !== group && !others.includes(life.group ?? ""));
  }

  #plainOf(others: readonly string[]): LifeModel | Undetermined {
    const key = JSON.stringify([...others].sort());
    const found = this.#plain.get(key) ?? withOwnLives(this.lives, others, this.weibull);
    this.#plain.set(key, found);
    return found;
  }

  #meanGain(group: string, others: readonly string[]): number {
    const tables = this.#tablesOf(others).flatMap((table) => {
      const gain = gainOf(table, group, others, this.weibull);
      return gain === undefined ? [] : [{ gain, table }];
    });
    // Where next to no table can be told there is nothing to correct by.
    if (tables.length < 20) return 1;
    // What the gain would be were all but the group's life known: its mean is known, which takes most of the chance out
    // of the mean of the gains.
    const apart = apartness(
      tables.map((one) => one.table),
      group,
      others,
    );
    const mean = (of: (k: number) => number) => tables.reduce((sum, _, k) => sum + of(k), 0) / tables.length;
    const gains = mean((k) => tables[k].gain);
    const off = mean((k) => apart[k] - 1);
    const both = mean((k) => (tables[k].gain - gains) * (apart[k] - 1 - off));
    const own = mean((k) => (apart[k] - 1 - off) ** 2);
    return Math.max(0.5, gains - (own > 0 ? (off * both) / own : 0));
  }

  #tablesOf(others: readonly string[]): readonly Drawn[] {
    const key = JSON.stringify([...others].sort());
    const known = this.#tables.get(key);
    if (known !== undefined) return known;
    const plain = this.#plainOf(others);
    const tables = isUndetermined(plain) ? [] : this.#drawTables(plain, others);
    this.#tables.set(key, tables);
    return tables;
  }

  #drawTables(plain: LifeModel, others: readonly string[]): Drawn[] {
    // Groups of their own in which nothing has failed live on.
    const lasting = others.filter((g) => failureCount(this.lives.filter((l) => l.group === g)) === 0);
    const finite = others.filter((g) => !lasting.includes(g));
    const kept = this.lives.filter((life) => lasting.includes(life.group ?? ""));
    const moving = this.lives.filter((life) => !lasting.includes(life.group ?? ""));
    const x = (life: Life) => [...this.covariates(life), ...finite.map((g) => (life.group === g ? 1 : 0))];
    const draw = drawnLives(moving, plain, x, seededRandom(1));
    const work = (this.groups + 1) * (unitCount(moving) + 100);
    const count = Math.max(drawn.least, Math.min(drawn.most, Math.round(drawn.work / work)));
    return Array.from({ length: count }, draw).flatMap(({ lives, excess }) => {
      const table = [...lives, ...kept];
      const model = withOwnLives(table, others, this.weibull);
      return isUndetermined(model) ? [] : [{ lives: table, excess, logLikelihood: model.logLikelihood }];
    });
  }
}

/** For each table the square of how much more of the group has failed than the model lets expect, for each failure,
 * than of the others, over the mean of that square: its own mean is 1. */
function apartness(tables: readonly Drawn[], group: string, others: readonly string[]): number[] {
  const sums = tables.map(({ lives, excess }) => {
    const sum = { own: 0, left: 0, failedOwn: 0, failedLeft: 0 };
    for (let i = 0; i < excess.length; i++) {
      const { group: g = "", by } = lives[i];
      const failed = by === Infinity ? 0 : 1;
      if (g === group) {
        sum.own += excess[i];
        sum.failedOwn += failed;
      } else if (!others.includes(g)) {
        sum.left += excess[i];
        sum.failedLeft += failed;
      }
    }
    return sum;
  });
  const mean = (of: (sum: (typeof sums)[number]) => number) =>
    sums.reduce((total, sum) => total + of(sum), 0) / sums.length;
  const [own, left] = [mean((sum) => sum.failedOwn), mean((sum) => sum.failedLeft)];
  if (!(own > 0) || !(left > 0)) return sums.map(() => 1);
  return sums.map((sum) => (sum.own / own - sum.left / left) ** 2 / (1 / own + 1 / left));
}

/** Twice the gain in log likelihood; nothing where there is no model. */
function gainOf(
  { lives, logLikelihood }: Pick<Drawn, "lives" | "logLikelihood">,
  group: string,
  others: readonly string[],
  weibull: WeibullOf,
): number | undefined {
  const rest = lives.filter((life) => life.group !== group && !others.includes(life.group ?? ""));
  if (failureCount(rest) === 0) return undefined;
  const own = withOwnLives(lives, [...others, group], weibull);
  return isUndetermined(own) ? undefined : Math.max(0, 2 * (own.logLikelihood - logLikelihood));
}

/** The Weibull model in which some groups have a life of their own. One in which nothing has failed lives on for ever
 * then: its highest likelihood is 1, and it leaves the fit. */
export function withOwnLives(
  lives: readonly Life[],
  groups: readonly string[],
  weibull: WeibullOf,
): LifeModel | Undetermined {
  const lasting = groups.filter((group) => failureCount(lives.filter((l) => l.group === group)) === 0);
  return weibull(
    lives.filter((life) => !lasting.includes(life.group ?? "")),
    groups.filter((group) => !lasting.includes(group)),
    "none",
  );
}
