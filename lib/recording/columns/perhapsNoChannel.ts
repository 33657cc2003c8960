import type { Axis, Quantity } from "./roles.js";
import type { SaidByWords } from "./saidByWords.js";
import { extremeWords } from "./tables/sideWords.js";

/**
 * Weighs that a heading which names a quantity belongs to a column that is no channel of the motor, by habits of
 * naming: the likelihoods of its quantities are changed (judgement; common practice, no source).
 *
 * @param phase the axis found from columns beside it
 */
export function weighNoChannel(said: SaidByWords, phase: Axis | undefined): void {
  const { words, read, quantity, marks, namesQuantity } = said;
  const any = (among: ReadonlySet<string>): boolean => words.some((w) => among.has(w));
  // The speed of the field is that of the shaft times a number that is not said.
  if (quantity.has("speed") && words.some((w) => electrical.test(w))) otherAtLeast(quantity, 0.4);
  // What is asked of an axis of an attitude and what it does are angles of a gimbal's or a joint's motor.
  if (marks.any() && words.some((w) => /^(roll|pitch|yaw)$/.test(w)))
    quantity.set("other", 0.25 * (quantity.get("other") ?? 0));
  if (words.some((w) => /^(ff|feedforward)$/.test(w))) weighFedForward(said);
  // How fast a boat goes or the wind blows is no speed of a shaft.
  if (quantity.has("speed") && any(ofSurroundings)) otherAtLeast(quantity, 4 * (quantity.get("speed") ?? 0));
  // How long something takes is no clock.
  if (quantity.has("time") && any(durations)) otherAtLeast(quantity, 0.6);
  // The voltage of one phase is no channel.
  if ((phase === "u" || phase === "v" || phase === "w") && (quantity.get("voltage") ?? 0) > 0.3)
    quantity.set("other", 0.9);
  // A load or a disturbance is a torque that acts from outside: no channel of the motor unless it is measured.
  if (quantity.has("torque") && any(fromOutside) && !any(ofSensor))
    otherAtLeast(quantity, 0.5 * (quantity.get("torque") ?? 0));
  // The last word of an English heading is its subject: `current_action` may be no current.
  const end = read.at(-1);
  const unknownEnd = end?.meaning === undefined && /^(?!none$|null$)[a-z]{4,}$/.test(end?.word ?? "");
  if (namesQuantity && unknownEnd && words.length > 1) otherAtLeast(quantity, 0.05);
  // A largest value may be a limit: whether it ever changes tells.
  if (namesQuantity && any(extremeWords)) otherAtLeast(quantity, 0.15);
}

function otherAtLeast(quantity: Map<Quantity, number>, likelihood: number): void {
  quantity.set("other", Math.max(quantity.get("other") ?? 0, likelihood));
}

/** What is fed forward is a part of a controller's output; of a torque or a current it is as often what the drive is
 * told. */
function weighFedForward({ words, read, quantity }: SaidByWords): void {
  for (const q of ["torque", "current"] as const) {
    const named = read.some(({ meaning }) =>
      meaning?.alternatives.some((a) => a.quantity === q && a.weight > 0.8),
    );
    if (named || (q === "torque" && words.includes("t"))) quantity.set(q, 0.4).set("other", 0.5);
  }
}

const electrical = /^(electrical|electric|elec|elektrisch\w*|electrique|electrica|elettrica)$/;

const fromOutside = new Set(
  "load ext external disturbance disturb dist hand human rider pedal pedals crank cyclist fahrer tret last lastmoment charge carga carico yuk 负载 負荷 부하".split(
    " ",
  ),
);

const ofSurroundings = new Set(
  "boat ship vessel wind air airspeed gps sog water kn knots boot schiff bateau barco barca nave vent viento vento 风速 風速".split(
    " ",
  ),
);

/** A torque that a load cell or another sensor measures is one that is measured. */
const ofSensor = new Set(
  "cell sensor transducer aufnehmer messwelle capteur sensore kraftaufnehmer 传感器 センサ".split(" "),
);

const durations = new Set(
  "loop exec execution processing computation compute calc solve delta latency response rise settle settling dead idle overrun jitter age since".split(
    " ",
  ),
);
