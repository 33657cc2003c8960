/** A mistake of the speed's unit under which the counts of a turn would be those of a usual encoder. */
export interface LinesInDoubt {
  /** Counts a turn if the unit of the speed is the mistaken one. */
  readonly counts: number;
  /** What the speed, as declared, is of the true one. */
  readonly factor: number;
  readonly text: string;
  /** Probability of the mistake against a turn of an odd count, 0 to 1. */
  readonly probability: number;
}

/** Lines of encoders that are sold by the dozen, beside powers of two (common practice, no source). */
const usualLines = [
  100, 200, 250, 360, 400, 500, 600, 720, 800, 900, 1000, 1200, 1250, 1440, 1500, 1800, 2000, 2500, 3000,
  3600, 4000, 5000, 6000, 8000, 10_000,
];
const usualCounts = [
  ...Array.from({ length: 14 }, (_, k) => 2 ** (k + 7)),
  ...usualLines.map((lines) => 4 * lines),
];

const mistakes = [
  { factor: 60 / (2 * Math.PI), text: "rad/s taken for rev/min, or the reverse" },
  { factor: (2 * Math.PI) / 60, text: "rev/min taken for rad/s, or the reverse" },
  { factor: 60, text: "turns a second taken for turns a minute, or the reverse" },
  { factor: 1 / 60, text: "turns a minute taken for turns a second, or the reverse" },
  { factor: 1000, text: "units a thousand apart" },
  { factor: 1e-3, text: "units a thousand apart" },
  { factor: 180 / Math.PI, text: "degrees and radians mixed up" },
  { factor: Math.PI / 180, text: "degrees and radians mixed up" },
  { factor: 2 * Math.PI, text: "turns and radians mixed up" },
  { factor: 1 / (2 * Math.PI), text: "turns and radians mixed up" },
  ...[2, 3, 4, 5, 6, 7, 8, 10, 11, 14, 15, 20, 21].map((pairs) => ({
    factor: pairs,
    text: `an electrical speed, of ${pairs} pole pairs, taken for the shaft's`,
  })),
];

/**
 * What is assumed before the numbers are seen (judgement): a mistaken unit in one log of thirty; a gear or a roller
 * between encoder and shaft, so that a turn has an odd count, in one of five; of mistaken logs nine tenths have a usual
 * encoder. Odd counts are spread evenly over the logarithm from 8 to 1e6.
 */
const prior = { mistaken: 1 / 30, odd: 1 / 5, usual: 0.9, spread: Math.log(1e6 / 8) };

/** A count that is a whole hundred, where the interval is so narrow that one in ten would be by chance at most. */
const isRound = (turn: number, half: number): boolean =>
  half <= 5 && Math.abs(turn - 100 * Math.round(turn / 100)) <= Math.max(half, 0.5);

/**
 * Whether a count that no encoder has would be a usual one under a mistaken unit of the speed it was inferred from.
 * Undefined where the count is usual by itself, or a mistake is less likely than a gear.
 *
 * @param turn counts a turn
 * @param half half of the 95 % interval of it
 */
export function linesInDoubt(turn: number, half: number): LinesInDoubt | undefined {
  const width = Math.max(half / turn, 1e-4);
  const near = (counts: number): number | undefined =>
    usualCounts.find((usual) => Math.abs(counts / usual - 1) <= width);
  if (near(turn) !== undefined || isRound(turn, half)) return undefined;
  // How many of the usual counts an odd one would meet by chance, under any of the mistakes.
  const met = (mistakes.length * usualCounts.length * 2 * width) / prior.spread;
  const hits = mistakes.flatMap(({ factor, text }) => {
    const counts = near(turn * factor);
    return counts === undefined ? [] : [{ factor, text, counts }];
  });
  const [first] = hits;
  if (first === undefined) return undefined;
  const mistaken = prior.mistaken * prior.usual;
  const odd = prior.odd * Math.min(1, met);
  const probability = mistaken / (mistaken + odd);
  return probability > 0.5 ? { ...first, probability } : undefined;
}

/** Counts may get lost up to this part of them before the speed beside them is no longer believed (judgement). */
const mostLost = 0.08;

/**
 * The usual count that an odd one lies a little below, as where counts get lost all along; undefined where the count is
 * usual itself, or none lies near.
 *
 * @param turn counts a turn
 * @param half half of the 95 % interval of it
 */
export function usualCountAbove(turn: number, half: number): number | undefined {
  const width = Math.max(half / turn, 1e-4);
  if (usualCounts.some((usual) => Math.abs(turn / usual - 1) <= width) || isRound(turn, half))
    return undefined;
  return usualCounts
    .filter((usual) => turn < usual && turn > (1 - mostLost) * usual)
    .sort((a, b) => a - b)[0];
}
