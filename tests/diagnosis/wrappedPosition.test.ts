import { expect, test } from "vitest";
import { diagnose } from "../../lib/diagnosis/index.js";
import type { Finding, Recording } from "../../lib/recording/types.js";
import { type Columns, madeRecording } from "../house/madeRecording.js";

const turn = 2 * Math.PI;

const recordingOf = (time: Float64Array, columns: Columns, findings: Finding[] = []) =>
  madeRecording(time, columns, { wrap: turn }, { findings });

const verdicts = (recording: Recording) => diagnose([{ recording }] as never).recordings[0];

/** Turns that stand for the angles between 0 and a turn that an actuator was sent to, one row each. */
const angles = [
  0.17, 0.26, 0.19, 0.5, 0.3, 0.65, 0.2, 0, 0.11, 0.9, 0.95, 0.05, 0.76, 0.11, 0.95, 0.61, 0, 0.76,
];

test("a position that was carried across its wrap the wrong way, and stands at its command all the same, is followed", () => {
  const time = Float64Array.from(angles, (_, i) => 1.1 * i);
  const command = Float64Array.from(angles, (a) => a * turn);
  // From row to row by the shorter way, as unwrapping takes it.
  const position = command.slice();
  for (let i = 1; i < position.length; i += 1)
    position[i] = position[i - 1] + turn * ((((command[i] - command[i - 1]) / turn + 1.5) % 1) - 0.5);
  const { trials } = verdicts(recordingOf(time, { positionCommand: command, position }));
  expect(trials.map(({ kind, verdict }) => `${kind} ${verdict}`)).toEqual(["position tracking"]);
  const stays = command.map(() => 0.3 * turn);
  const blocked = verdicts(recordingOf(time, { positionCommand: command, position: stays }));
  expect(blocked.trials.map(({ verdict }) => verdict)).not.toContain("tracking");
});

test("a wrapped angle that turns by more than half a wrap a row is left out where the speed tells another motion", () => {
  const n = 400;
  const dt = 5e-3;
  const time = Float64Array.from({ length: n }, (_, i) => i * dt);
  const asked = time.map((t) => (t < 0.2 ? 0 : t < 1 ? 1 : t < 1.8 ? -1 : 0));
  const speed = new Float64Array(n);
  const position = new Float64Array(n);
  const logged = new Float64Array(n);
  for (let i = 1; i < n; i += 1) {
    speed[i] = speed[i - 1] + dt * (2500 * asked[i] - 1.5 * speed[i - 1]);
    position[i] = position[i - 1] + speed[i] * dt;
    // By the shorter way from row to row.
    const step = (position[i] - position[i - 1]) / turn;
    logged[i] = logged[i - 1] + turn * (step - Math.round(step));
  }
  const doubt: Finding = {
    severity: "warning",
    code: "unwrap-doubtful",
    message: "near half a wrap",
    column: "position",
  };
  const columns = { currentCommand: asked, current: asked.slice(), speed, position: logged };
  const { trials, attention } = verdicts(recordingOf(time, columns, [doubt]));
  expect(attention?.map(({ code }) => code)).toContain("position-aliased");
  const torque = trials.find(({ kind }) => kind === "torque");
  expect(torque?.verdict).toBe("tracking");
  expect(torque?.confidence).toBeLessThanOrEqual(0.9);
});
