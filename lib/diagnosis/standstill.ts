import { largest } from "../numeric/series/largest.js";
import { noiseLevel } from "../numeric/series/noiseLevel.js";
import { innerCommands } from "../recording/columns/roles.js";
import type { ChannelRole, Trial } from "../recording/types.js";
import type { Run } from "../run/run.js";
import { column, mean, movingAverage, type TrialSignals } from "../run/trialSignals.js";
import { fallsBack } from "./fallsBack.js";
import type { Observation } from "./observation.js";
import { observeHeld } from "./observeHeld.js";
import { turnsUnseen } from "./ohmicRest.js";
import { makesTorque, movedByItself, notTried, standsBetweenSteps } from "./standstillDoubts.js";
import { unlessTooShort } from "./standstillTime.js";

/** What a loop asks for within itself, the outermost first. */
const inner: readonly ChannelRole[] = ["speedCommand", ...innerCommands];

/**
 * Figures (judgement, checked on made-up logs with dead channels): a loop eases off where the last quarter of a held
 * command asks for less than `eased` of what its first half asked, and for more than nothing; a current has fallen
 * where it had reached `reached` of its command and keeps less than `fallen` of it; a command or an effort that is this
 * small beside others of the same log, or beside its own noise, drives nothing.
 */
const limits = {
  eased: 0.5,
  alive: 0.002,
  samples: 40,
  tiny: 0.04,
  kept: 0.7,
  sudden: 2,
  reached: 0.75,
  fallen: 0.55,
  zero: 0.015,
  noises: 4,
  weak: 6,
  unproven: 0.9,
  claimed: 0.58,
  driven: 0.84,
};

/**
 * A standing motion that other channels contradict is no blocked shaft: a drive that eases off while its command is far
 * away sees the shaft arrive; a current that falls below its command has a back-EMF against it (physics: a shaft at
 * rest leaves it all the voltage); a count that goes from speed to standing within one sample, more suddenly than it
 * ever changed before, has no mass behind it; and a command that is next to nothing drove nothing. The verdict is then
 * open, with the reason; what was seen stays, for the causes.
 *
 * @param whole the trial as it was cut, also what follows a trip
 */
export function doubtStandstill(run: Run, observation: Observation, whole: Trial): Observation {
  if (observation.verdict !== "blocked") return observation;
  if (makesTorque(run, observation))
    return { ...observation, ...observeHeld(run, observation.trial, observation.signals), holds: [] };
  const back = fallsBack(run, observation);
  if (back !== undefined) return { ...observation, ...back, holds: [] };
  const reason =
    nothingTried(run, observation) ??
    drawnByItself(observation) ??
    easesOff(run, observation) ??
    currentFalls(run, whole) ??
    stoppedDead(observation) ??
    stoppedBefore(run, observation) ??
    pressesWrongWay(run, observation) ??
    betweenSteps(observation) ??
    hardlyDriven(run, observation);
  if (reason === undefined) {
    const held = unlessOff(run, unlessTooShort(run, observation));
    const column = unmovedColumn(run, observation);
    if (column === undefined) return held;
    return unproven(run, { ...held, unmoved: { column, contradicted: false } });
  }
  const column = reason.channel ? unmovedColumn(run, observation) : undefined;
  return {
    ...inDoubt(observation, { ...reason, text: `${reason.text} Taken as logged it would be blocked.` }),
    ...(column === undefined ? {} : { unmoved: { column, contradicted: true } }),
  };
}

/** An observation of a motion that is in doubt: undetermined, with what is missing. */
export function inDoubt(observation: Observation, { behaviour, text, missing }: Doubt): Observation {
  return {
    ...observation,
    behaviour,
    // Of a motion in doubt no cause is drawn.
    ...(behaviour === "unclear" ? { holds: [] } : {}),
    verdict: "undetermined",
    confidence: 0.5,
    missing: [missing, ...observation.missing],
    text,
  };
}

/** The column of the motion where it holds not a count and no noise in the whole recording. */
function unmovedColumn(run: Run, { signals }: Observation): string | undefined {
  const channel = signals.motionFrom === "none" ? undefined : run.recording.channels[signals.motionFrom];
  const first = channel?.data.find((v) => v - v === 0);
  if (channel === undefined || first === undefined) return undefined;
  return channel.data.every((v) => v === first || v - v !== 0) ? channel.name : undefined;
}

/** Voltages of a winding whose current tells whether it turned. */
const windings: readonly ChannelRole[] = ["voltageCommand", "voltage", "voltageQ", "duty"];

/** Probability that a shaft which is logged as standing turned, by the current that its voltage drove: 1 where the two
 * are not logged, or tell nothing. */
function mayTurn(run: Run, { trial, signals }: Observation): number {
  const role = windings.find((one) => run.channel(one) !== undefined);
  const voltage = role && column(run, role, trial);
  const current = column(run, "current", trial);
  if (voltage === undefined || current === undefined) return 1;
  return turnsUnseen(voltage, current, signals.period) ?? 1;
}

/** One shaft in ten that never moves by a count turned with a dead encoder (judgement: of made-up recordings whose
 * torque trial shows none one encoder in twelve is dead, of real ones perhaps one in five, since a shaft that is held
 * mostly winds up by a count or two; but a drive that commutates by a dead encoder does not turn its shaft either), as
 * far as the current leaves room for a shaft that turned (Bayes). */
function unproven(run: Run, observation: Observation): Observation {
  if (observation.verdict !== "blocked") return observation;
  const dead = (1 - limits.unproven) * mayTurn(run, observation);
  const confidence = (observation.confidence * limits.unproven) / (limits.unproven + dead);
  if (confidence < limits.claimed)
    return inDoubt(observation, {
      behaviour: "unclear",
      missing: alive,
      text: `The motion did not change by a count: the shaft is held, or too weakly driven, or a dead encoder looks the same. Taken as logged it would be blocked.`,
    });
  const doubtful = dead > 0.1 * (1 - limits.unproven) && observation.missing.length === 0;
  return {
    ...observation,
    confidence,
    ...(doubtful ? { missing: [`${alive} (a dead encoder looks the same)`] } : {}),
  };
}

/** What shows that a drive was on. */
const efforts: readonly ChannelRole[] = [
  "current",
  "currentD",
  "currentU",
  "currentBus",
  "torque",
  "duty",
  ...windings,
];

/** A drive of which no effort is logged may be off, or not enabled: one in six of those whose shaft stands
 * (judgement). */
function unlessOff(run: Run, observation: Observation): Observation {
  if (observation.verdict !== "blocked" || observation.behaviour !== "still") return observation;
  const { channels, unscaled } = run.recording;
  if (efforts.some((role) => (channels[role] ?? unscaled?.[role]) !== undefined)) return observation;
  const confidence = limits.driven * observation.confidence;
  const missing = "a current, which shows that the drive was on";
  if (confidence < limits.claimed)
    return inDoubt(observation, {
      behaviour: "unclear",
      missing,
      text: "The shaft stood, and nothing in the log shows that the drive was on. Taken as logged it would be blocked.",
    });
  return { ...observation, confidence, missing: [...observation.missing, missing] };
}

function nothingTried(run: Run, observation: Observation): Doubt | undefined {
  if (!notTried(run, observation)) return undefined;
  return {
    behaviour: observation.behaviour,
    text: "The shaft stood, and no current flowed although a motion was asked for: the drive was off, not enabled or without supply, and nothing was tried here.",
    missing: "a current that flows: enable the drive and repeat the trial",
  };
}

function drawnByItself(observation: Observation): Doubt | undefined {
  if (observation.trial.kind !== "torque" || !movedByItself(observation)) return undefined;
  return {
    behaviour: "unclear",
    text: "The shaft came to rest under torque, but it set out or turned round while none was asked for: a spring or a weight moves it, and rests of that kind show no fault of torque.",
    missing: "a torque trial without what draws the shaft",
  };
}

interface Doubt {
  readonly behaviour: Observation["behaviour"];
  readonly text: string;
  readonly missing: string;
  /** Another channel says that the shaft moved. */
  readonly channel?: true;
}

/** What is missing where a motion channel is in doubt. */
export const alive =
  "a position or speed that answers: turn the shaft by hand and look whether it is counted";

function easesOff(run: Run, { trial, signals }: Observation): Doubt | undefined {
  if (trial.kind !== "speed" && trial.kind !== "position") return undefined;
  const placed = column(run, "positionCommand", trial);
  const outer = trial.kind === "speed" && placed ? placed : signals.command;
  if (!outer) return undefined;
  const start = outer === placed ? outer[0] : 0;
  const span = outer.reduce((most, v) => Math.max(most, Math.abs(v - start)), 0);
  if (!(span > 0)) return undefined;
  for (const role of inner) {
    const effort = column(run, role, trial);
    if (!effort || effort === outer || (trial.kind === "speed" && !placed && role === "speedCommand"))
      continue;
    if (eases(effort, outer, start, span))
      return {
        behaviour: "unclear",
        text: `The logged motion stands still, but the drive eases off while its command holds ("${run.channel(role)?.name ?? role}"), as it does when the shaft arrives: the motion channel is in doubt.`,
        missing: alive,
        channel: true,
      };
  }
  return undefined;
}

/** Over stretches in which the outer command is held away from its start, the inner one falls off and lives on. */
function eases(effort: Float64Array, outer: Float64Array, start: number, span: number): boolean {
  const most = largest(effort);
  let eased = 0;
  let pressed = 0;
  for (let i = 0; i < outer.length; ) {
    let j = i + 1;
    while (j < outer.length && Math.abs(outer[j] - outer[i]) < 0.02 * span) j += 1;
    if (Math.abs(outer[i] - start) > 0.3 * span && j - i >= limits.samples) {
      const quarter = Math.floor((j - i) / 4);
      // A kick of a sample or two at the step is no pressing.
      const early = largest(movingAverage(effort.subarray(i, i + 2 * quarter), Math.max(5, quarter / 12)));
      const late = mean(effort.map(Math.abs), j - quarter, j);
      if (early > 0.1 * most && late < limits.eased * early && late > limits.alive * early) eased += j - i;
      else pressed += j - i;
    }
    i = j;
  }
  return eased > 2 * pressed;
}

/** Where its command is held, the current reaches it and then falls, to something that is not zero. */
function currentFalls(run: Run, trial: Trial): Doubt | undefined {
  const current = column(run, "current", trial);
  const asked = column(run, "currentCommand", trial);
  if (!current || !asked) return undefined;
  const most = largest(asked);
  const noise = noiseLevel(current);
  let fell = 0;
  let held = 0;
  let before = 0;
  for (let i = 0; i < asked.length; ) {
    let j = i + 1;
    while (j < asked.length && Math.abs(asked[j] - asked[i]) < 0.02 * most) j += 1;
    const quarter = Math.floor((j - i) / 4);
    if (Math.abs(asked[i]) > 0.3 * most && j - i >= limits.samples) {
      const sign = Math.sign(asked[i]);
      const early = movingAverage(current.subarray(i, i + 2 * quarter), Math.max(3, quarter / 6));
      const top = early.reduce((high, v) => Math.max(high, v * sign), 0);
      const late = mean(current, j - quarter, j) * sign;
      const left = late > Math.max(limits.zero * most, (6 * noise) / Math.sqrt(quarter));
      const reached = limits.reached * Math.abs(asked[i]);
      if (top > reached) before = Math.max(before, top);
      // Once it had come up, a current that flows on far below its command, and below what it was, has something
      // against it.
      if (left && late < limits.fallen * Math.min(Math.abs(asked[i]), before)) fell += j - i;
      else held += j - i;
    }
    i = j;
  }
  if (!(fell > 0.3 * held)) return undefined;
  return {
    behaviour: "unclear",
    text: "The logged motion stands still, but the current falls below its command, as it does when a shaft turns and takes the voltage: the motion channel is in doubt.",
    missing: alive,
    channel: true,
  };
}

function betweenSteps({ behaviour, signals }: Observation): Doubt | undefined {
  if (behaviour === "still" || !standsBetweenSteps(signals)) return undefined;
  return {
    behaviour: "unclear",
    text: "The position comes in few coarse steps, and it stands no longer than between two of them: whether the shaft stopped is not seen.",
    missing: "a finer position, or the speed",
  };
}

function stoppedDead({ behaviour, signals }: Observation): Doubt | undefined {
  if (behaviour === "still" || !stopsDead(signals)) return undefined;
  return {
    behaviour: "locks",
    text: "The motion goes from speed to standing within one sample and then does not move by a count: a channel that stopped counting looks like that, or a hard stop.",
    missing: alive,
  };
}

/** The motion had stopped like that before the trial begins. */
function stoppedBefore(run: Run, { behaviour, trial, signals }: Observation): Doubt | undefined {
  const angle = run.shaft?.angle;
  if (behaviour !== "still" || angle === undefined || trial.from < 30) return undefined;
  if (!stopsDead({ ...signals, angle: angle.subarray(0, trial.to) })) return undefined;
  return {
    behaviour: "unclear",
    text: "The motion goes from speed to standing within one sample before this trial, and then does not move by a count: a channel that stopped counting, or that has come to the end of its range, looks like that.",
    missing: alive,
  };
}

/** Parts of the largest effort and of the rows under a reversed command (judgement). */
const pressing = { size: 0.3, part: 0.6 };

/**
 * Once its speed command has been reversed a loop that sees its shaft stand presses the other way; one that goes on
 * pressing as before sees another speed than the logged one (the sign of the proportional part).
 */
function pressesWrongWay(run: Run, { trial, signals }: Observation): Doubt | undefined {
  const { command } = signals;
  if (trial.kind !== "speed" || command === undefined) return undefined;
  const role = inner.find((r) => r !== "speedCommand" && run.channel(r) !== undefined);
  const effort = column(run, role ?? "current", trial);
  if (effort === undefined) return undefined;
  const [asked, most] = [largest(command), largest(effort)];
  let first = 0;
  let along = 0;
  let rows = 0;
  let against = 0;
  for (let i = 0; i < command.length; i += 1) {
    if (Math.abs(command[i]) < 0.2 * asked) continue;
    const side = Math.sign(command[i]);
    if (first === 0) first = side;
    const press = Math.abs(effort[i]) > pressing.size * most ? Math.sign(effort[i]) * side : 0;
    if (side === first) along += press;
    else {
      rows += 1;
      if (press < 0) against += 1;
    }
  }
  if (!(along > limits.samples) || rows < limits.samples || against < pressing.part * rows) return undefined;
  return {
    behaviour: "unclear",
    text: "The logged motion stands still, but the drive goes on pressing one way after its speed command was reversed: it sees another speed than the logged one, and the motion channel is in doubt.",
    missing: alive,
    channel: true,
  };
}

/** The angle moves at its full pace to the last sample before it stands, for good: no mass stops like that. */
function stopsDead({ angle, angleStep }: TrialSignals): boolean {
  if (!angle) return false;
  // What arithmetic leaves of one value is that value.
  const same = 1e-9 * largest(angle);
  let last = angle.length - 1;
  while (last > 0 && Math.abs(angle[last] - angle[last - 1]) <= same) last -= 1;
  if (last < 20 || angle.length - last < 0.1 * angle.length) return false;
  const pace = (i: number): number => Math.abs(angle[i] - angle[i - 1]);
  let peak = 0;
  for (let i = last - 15; i <= last; i += 1) peak = Math.max(peak, pace(i));
  let fastest = 0;
  for (let i = 1; i <= last; i += 1) fastest = Math.max(fastest, pace(i));
  if (!(peak > 3 * angleStep)) return keptPace(angle, last, angleStep);
  if (!(peak > 0.3 * fastest) || peak < limits.sudden * mostSudden(angle, last)) return false;
  for (let i = last - 6; i < last; i += 1) if (pace(i) < limits.kept * peak) return false;
  return pace(last) > 0;
}

/** Largest change of pace from row to row before the last: what this shaft was seen to do. */
function mostSudden(angle: Float64Array, last: number): number {
  let most = 0;
  for (let i = 2; i < last - 1; i += 1)
    most = Math.max(most, Math.abs(angle[i] - 2 * angle[i - 1] + angle[i - 2]));
  return most;
}

/** Counts that a pace is told from, and the most rows that they may take (judgement). */
const paced = { counts: 8, rows: 40 };

/** Where few counts come in a row: the last of them came as fast as those before, and then none (a shaft that brakes
 * evenly makes a third of them). */
function keptPace(angle: Float64Array, last: number, angleStep: number): boolean {
  if (!(angleStep > 0)) return false;
  let rows = 1;
  while (rows < paced.rows && Math.abs(angle[last] - angle[last - rows]) < paced.counts * angleStep)
    rows += 1;
  if (rows === paced.rows || last < 3 * rows) return false;
  const way = (k: number): number => angle[last - k * rows] - angle[last - (k + 1) * rows];
  const steady = way(0) / way(1) > 0.9 && Math.abs(way(1) / way(2) - 1) < 0.25;
  return steady && angle.length - last > 5 * rows;
}

function hardlyDriven(run: Run, { trial, signals, holds }: Observation): Doubt | undefined {
  const { command, commandRole, effort } = signals;
  if (trial.kind !== "torque") return undefined;
  if (!command) {
    const width = effort ? Math.max(3, Math.floor(effort.length / 20)) : 0;
    if (!effort || largest(movingAverage(effort, width)) > limits.noises * noiseLevel(effort))
      return undefined;
    return {
      behaviour: "unclear",
      text: "The shaft stood, no command was logged, and what was measured of its effort is no more than noise: nothing shows that it was driven.",
      missing: "the command, or an effort above its noise",
    };
  }
  const measured = commandRole === "currentCommand" ? column(run, "current", trial) : undefined;
  // Of a current in another unit than its command nothing can be compared.
  const comparable = measured !== undefined && largest(movingAverage(measured, 9)) < 3 * largest(command);
  // What turned the shaft and brought it to rest was no weak command, however the current pulsates.
  const stood = !holds.some(({ swing }) => swing > 4 * signals.angleStep);
  if (stood && comparable && largest(command) < limits.weak * noiseLevel(measured))
    return {
      behaviour: "unclear",
      text: "The shaft stood, and its command was hardly above the noise of the measured current: friction alone may have held it.",
      missing: "a command well above the noise of the current",
    };
  const whole = commandRole && run.channel(commandRole)?.filled;
  if (!whole || !(largest(command) < limits.tiny * largest(whole))) return undefined;
  return {
    behaviour: "unclear",
    text: "The shaft stood, and its command was next to nothing beside those elsewhere in this log: it was hardly driven.",
    missing: "a command of some size in this stretch",
  };
}

/**
 * A speed column that stands alone or in for a position that never moves, and itself never changes whatever is
 * commanded, tells of no motion: it may hold a bus voltage or a constant. Nothing is said of a shaft that would run
 * away by it.
 */
export function doubtWitness(run: Run, observation: Observation): Observation {
  const { verdict, signals } = observation;
  if (verdict !== "runaway" && verdict !== "reversed") return observation;
  const { position, speed } = run.recording.channels;
  if (run.shaft?.source !== "speed" || speed === undefined) return observation;
  const alone = position === undefined;
  // Nothing beside it tells that the column is wrong: then not a digit of it may change.
  const values = (alone ? signals.speed : run.shaft.speed)?.filter((v) => v - v === 0) ?? [];
  const level = mean(values as Float64Array);
  let square = 0;
  for (const v of values) square += (v - level) ** 2 / values.length;
  if (!(Math.sqrt(square) < (alone ? 1e-9 : 0.02) * Math.abs(level))) return observation;
  const kept = `"${speed.name}" keeps one value whatever is commanded`;
  const doubt = inDoubt(observation, {
    behaviour: "unclear",
    missing: alive,
    text: alone
      ? `${kept}, to the last digit: it does not show what the shaft did.`
      : `The position stands still throughout, and ${kept}: neither shows what the shaft did.`,
  });
  return { ...doubt, sense: "none" };
}
