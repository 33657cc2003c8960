import { expect, test } from "vitest";
import { diagnose } from "../../lib/diagnosis/index.js";
import { seededRandom } from "../../lib/numeric/distributions/seededRandom.js";
import { type Columns, madeRecording } from "../house/madeRecording.js";

function verdictOf(time: Float64Array, columns: Columns) {
  const recording = madeRecording(time, columns);
  const { trials } = diagnose([{ recording }] as never).recordings[0];
  return trials.filter(({ kind }) => kind === "torque" || kind === "held")[0];
}

const random = seededRandom(46110900);
const noise = (size: number): number => size * (random.uniform() + random.uniform() + random.uniform() - 1.5);
const time = Float64Array.from({ length: 1200 }, (_, i) => 2e-3 * i);
const asked = time.map((_, i) => (i < 115 ? 0 : Math.floor((i - 15) / 200) - 3));
const current = time.map((_, i) => (i < 100 ? 0 : Math.floor(i / 200) - 3) + noise(0.02));
const stands = time.map(() => 0);

test("a shaft that stands and makes torque by its sensor is not called blocked, though its command was logged late", () => {
  const torque = current.map((v) => 0.7 * v + noise(0.02));
  const seen = verdictOf(time, { currentCommand: asked, current, torque, speed: stands });
  expect(seen?.verdict).toBe("tracking");
});

test("a torque that the drive works out from its current shows nothing: the shaft is blocked", () => {
  const torque = current.map((v) => 0.7 * v);
  const seen = verdictOf(time, { currentCommand: asked, current, torque, position: stands });
  expect(seen?.verdict).toBe("blocked");
});

test("a position of a few coarse steps that stands no longer than between two of them has not stopped", () => {
  const command = time.map((_, i) => (i < 100 ? 0 : 1));
  const measured = command.map((v) => v + noise(0.01));
  const angle = time.map((t) => (t < 0.2 ? 0 : 8 * (t - 0.2)));
  const position = angle.map((v) => 3 * Math.floor(v / 3));
  const seen = verdictOf(time, { currentCommand: command, current: measured, position });
  expect(seen?.verdict).not.toBe("blocked");
});

test("torque that follows the current both ways at a speed that another machine holds is torque made", () => {
  const torque = current.map((v) => 0.7 * v + noise(0.02));
  const speed = time.map(() => 157 + noise(0.3));
  const seen = verdictOf(time, { currentCommand: asked, current, torque, speed });
  expect(seen?.verdict).toBe("tracking");
  expect(seen?.text).toMatch(/held at 1[45]\d\d rev/);
});
