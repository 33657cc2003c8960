import { agrees } from "./answeredPart.js";
import { againstCommand, enough, speedSays } from "./scaleCulprit.js";
import type { Scaled, ScaleEvidence, WeighedMistake } from "./scaleEvidence.js";

/** What is done about the factor between a log's speed and position. */
export type ScaleDecision =
  | { readonly kind: "none" }
  /** One of the two is off by this factor, and it is open which. */
  | { readonly kind: "open"; readonly ratio: number; readonly fromSet?: true }
  /** In other logs of the motor the speed settles at this many times its reference. */
  | { readonly kind: "reference"; readonly ratio: number }
  | {
      readonly kind: "wrong";
      readonly role: Scaled;
      /** What the channel is to be multiplied by. */
      readonly factor: number;
      readonly mistake: WeighedMistake["mistake"];
      readonly text: string;
      /** The channel's command is off by the same factor. */
      readonly command: boolean;
      /** Another channel agrees with the corrected one. */
      readonly confirmed: boolean;
      /** The log itself moved too little to show it: other logs of its motor do. */
      readonly fromSet?: true;
    };

/** Speed over position within this of one is no wrong unit (common practice, no source). */
const nearly = 0.2;
/** A factor measured on a log that hardly moved may be off by this factor and still be that of its set. */
const roughly = 2;

/**
 * Decides which scale is off, by all logs of one rig that show the same factor: a log by itself where it is given
 * alone. What a mistake and the stated facts say counts once, since it is the same in each log. Whether the command
 * goes with the speed or with the position is one fact of the rig, so each log that shows it has a vote; the fastest
 * log says what the shaft would have reached.
 */
function decided(logs: readonly ScaleEvidence[]): ScaleDecision {
  const [{ compared }] = logs;
  if (compared === undefined || !compared.differs) return { kind: "none" };
  const shared = compared.mistakes.filter((m) =>
    logs.every((log) => log.compared?.mistakes.some((other) => sameMistake(m, other))),
  );
  const wrong = shared.map((mistake) => ({ mistake, role: culprit(mistake, logs) }));
  const kinds = new Set(wrong.map(({ mistake, role }) => `${role ?? "?"} ${mistake.factor}`));
  const first = wrong[0];
  if (first?.role === undefined || kinds.size !== 1) {
    // A little that no mistake explains (rounding, a wheel for its shaft) turn no verdict; the check tells of them.
    const small = shared.length === 0 && Math.abs(Math.abs(compared.ratio) - 1) < nearly;
    return small ? { kind: "none" } : { kind: "open", ratio: compared.ratio };
  }
  const { role, mistake } = first;
  const factor = role === "speed" ? 1 / mistake.factor : mistake.factor;
  const { mistake: name, text } = mistake;
  return { kind: "wrong", role, factor, mistake: name, text, ...commandBeside(logs, role, factor) };
}

const sameMistake = (a: WeighedMistake, b: WeighedMistake): boolean =>
  a.mistake === b.mistake && a.factor === b.factor;

/** The channel whose scale a mistake spoils; undefined where it may be either. */
function culprit(mistake: WeighedMistake, logs: readonly ScaleEvidence[]): Scaled | undefined {
  const own = logs.map(
    ({ compared }) => compared?.mistakes.find((other) => sameMistake(mistake, other)) as WeighedMistake,
  );
  const votes = logs.flatMap(({ answered }) => {
    const part = answered.speed?.part;
    if (part === undefined) return [];
    if (Math.abs(part / mistake.factor - 1) < agrees) return [againstCommand];
    return Math.abs(part - 1) < agrees ? [mistake.follows] : [];
  });
  const top = Math.max(...logs.map((log) => log.top));
  const odds =
    mean(own.map(({ says }) => says)) + mean(votes) + speedSays(top / mistake.factor) - speedSays(top);
  return odds >= enough ? "speed" : odds <= -enough ? "position" : undefined;
}

const mean = (list: readonly number[]): number =>
  list.length === 0 ? 0 : list.reduce((a, b) => a + b, 0) / list.length;

/** Whether the command that goes with a channel is off by the same factor: as most logs show in which one follows the
 * other. */
function commandBeside(
  logs: readonly ScaleEvidence[],
  role: Scaled,
  factor: number,
): { readonly command: boolean; readonly confirmed: boolean } {
  const beside = logs.flatMap(({ answered }) => answered[role] ?? []);
  if (beside.length === 0) return { command: false, confirmed: true };
  const near = (times: number): number =>
    beside.filter(({ part }) => part !== undefined && Math.abs(part * times - 1) < agrees).length;
  // Both in one unit, right or wrong: what was asked is what was logged.
  const [alike, apart] = [near(1), near(factor)];
  if (alike !== apart) return { command: alike > apart, confirmed: true };
  return { command: beside[0].sameUnit, confirmed: false };
}

/**
 * What is to be done about each log of one rig, in their order. Logs that show the same factor are decided together;
 * one that moved too little to show any takes over what the others show, unless one of them shows that the two agree.
 *
 * @param logs what each log says, of one motor and with the same `rig`
 * @example
 * decideScales([evidence])[0].kind; // => "none"
 */
export function decideScales(logs: readonly ScaleEvidence[]): ScaleDecision[] {
  const cluster = largestCluster(logs);
  const alone = logs.map((log) => decided([log]));
  if (logs.length < 2) return alone;
  if (cluster.length === 0) return beyondReference(logs, alone);
  const joint = decided(cluster);
  const factor = cluster[0].compared?.ratio ?? 1;
  const contradicted = logs.some(({ compared }) => compared !== undefined && !compared.differs);
  return logs.map((log, k) => {
    if (cluster.includes(log))
      return joint.kind === "open" ? { kind: "open", ratio: log.compared?.ratio ?? factor } : joint;
    const off = Math.abs((log.compared?.ratio ?? factor) / factor);
    const tells = log.compared !== undefined && log.compared.mistakes.length > 0;
    if (contradicted || tells || joint.kind === "none" || off > roughly || off < 1 / roughly) return alone[k];
    return { ...joint, fromSet: true };
  });
}

/** Where speed and position agree in all logs, and the speed settles at another factor than one of its reference in
 * some and at its reference in none, the scale of both is as doubtful in the others. */
function beyondReference(logs: readonly ScaleEvidence[], alone: readonly ScaleDecision[]): ScaleDecision[] {
  const ratio = logs.find(({ overReference }) => overReference !== undefined)?.overReference;
  if (ratio === undefined || logs.some(({ holds }) => holds)) return [...alone];
  return alone.map((own, k) =>
    own.kind === "none" && logs[k].overReference === undefined ? { kind: "reference", ratio } : own,
  );
}

/** The most logs that share a mistake which explains them. */
function largestCluster(logs: readonly ScaleEvidence[]): readonly ScaleEvidence[] {
  const sharing = (m: WeighedMistake): ScaleEvidence[] =>
    logs.filter(({ compared }) => compared?.mistakes.some((other) => sameMistake(m, other)));
  return logs
    .flatMap(({ compared }) => compared?.mistakes ?? [])
    .map(sharing)
    .reduce<readonly ScaleEvidence[]>((most, one) => (one.length > most.length ? one : most), []);
}

/** Whether two decisions come to the same. */
export const sameDecision = (a: ScaleDecision, b: ScaleDecision): boolean =>
  JSON.stringify(Object.entries(a).sort()) === JSON.stringify(Object.entries(b).sort());
