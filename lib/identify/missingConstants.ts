import type { Recording, Trial } from "../recording/types.js";
import type { Book } from "./book.js";
import type { ConstantName } from "./constants.js";

/** Lists the constants that are not identifiable, and what each would take; a reason that an estimator has given itself
 * stands. */
export function missingConstants(
  recording: Recording,
  trials: readonly Trial[],
  motion: boolean,
  book: Book,
): void {
  const has = (q: ConstantName): boolean => book.get(q) !== undefined;
  const { channels } = recording;
  const add = (quantity: ConstantName, needs: string): void => {
    // What was said nearer to the attempt is the truer reason.
    if (!has(quantity) && !book.missing.some((m) => m.quantity === quantity))
      book.missing.push({ quantity, needs });
  };
  if (isDcMotor(recording, book)) {
    add("armatureConstant", "the current of the armature, logged beside its voltage");
    add("inertia", "the current of the armature, logged beside its voltage, and steps of it");
    add("coulombOverInertia", "a run-down of the shaft with no current");
    return;
  }
  const kinds = new Set(trials.map((t) => t.kind));
  const current = channels.current !== undefined || channels.currentCommand !== undefined;
  const voltages = channels.voltageQ !== undefined;
  const electrical = voltages
    ? "a torque or speed trial in which the shaft makes more than two turns"
    : "a dq voltage channel, or a bus voltage and a torque trial that ends in a voltage-limited plateau with the current logged beside its command";
  add("kv", electrical);
  add("torqueConstant", electrical);
  if (has("kv")) add("fluxLinkage", "the number of pole pairs");
  else add("fluxLinkage", electrical);
  add(
    "resistance",
    voltages ? "current and voltage that change while logged" : "the q-axis voltage and the current, logged",
  );
  add(
    "inductanceQ",
    voltages
      ? "voltageD, the pole pairs and a trial at speed, or fast-logged current steps"
      : "dq voltage channels",
  );
  add(
    "offsetError",
    channels.voltageD === undefined ? "both dq voltage channels" : "a trial in which the shaft turns",
  );
  const noMotion =
    recording.unscaled?.position === undefined && recording.unscaled?.speed === undefined
      ? "a position or speed channel"
      : "the scale of the motion (the encoder's lines), or a speed channel";
  const mechanical = !motion
    ? noMotion
    : !current
      ? "a current channel"
      : "a torque or speed trial in which the shaft makes more than two turns and its speed changes";
  add("inertiaOverTorqueConstant", mechanical);
  add("coulombOverTorqueConstant", mechanical);
  if (!has("inertia"))
    add(
      "inertia",
      has("inertiaOverTorqueConstant") ? "a torque constant (stated, or from voltages)" : mechanical,
    );
  if (!has("coulombFriction"))
    add(
      "coulombFriction",
      has("coulombOverTorqueConstant") || has("coulombOverInertia")
        ? "a torque constant or an inertia (stated, or from voltages)"
        : mechanical,
    );
  add(
    "coulombOverInertia",
    !motion
      ? noMotion
      : kinds.has("coast")
        ? "a coast-down in which the shaft slows by more than its speed is uncertain"
        : "a coast-down: the shaft runs down with nothing driving it",
  );
}

/** A motor on a voltage or duty, of which no dq quantity was logged: nothing of a field-oriented drive is asked for. */
function isDcMotor({ channels }: Recording, book: Book): boolean {
  const driven = channels.voltage ?? channels.voltageCommand ?? channels.duty;
  const fieldOriented = channels.voltageQ ?? channels.currentCommand ?? channels.currentU;
  return (
    driven !== undefined &&
    fieldOriented === undefined &&
    (book.get("speedTimeConstant") !== undefined ||
      book.missing.some((m) => m.quantity === "speedTimeConstant"))
  );
}
