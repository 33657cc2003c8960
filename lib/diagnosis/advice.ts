import { doNotClose } from "./danger.js";
import type { JudgedRecording } from "./judged.js";
import { looseAdvice } from "./looseAdvice.js";
import { nextTest } from "./nextTest.js";
import type { DiagnoseOptions } from "./options.js";
import { type OrderPicture, orderPictures } from "./orders.js";
import { capital, remediesOf } from "./remedies.js";
import { scaleFirst, setAdvice, turnsAgainst } from "./setAdvice.js";
import { thresholds } from "./tables/thresholds.js";
import type { NextTest } from "./types.js";

/** What to do, most useful first; and the single next test. Where no order is stated, what can hurt someone comes
 * first. */
export function adviceFor(
  all: readonly JudgedRecording[],
  options: DiagnoseOptions,
): { advice: string[]; nextTest?: NextTest } {
  const judged = all.filter(tells);
  const pictures = orderPictures(judged);
  const loose = all.filter(({ recording }) => recording.ordering === undefined);
  const { dangerous, others } = looseAdvice(loose, all.length > 1);
  const advice = [...dangerous];
  const motors = [...new Set(pictures.map(({ motor }) => motor))];
  for (const motor of motors) {
    const set = pictures.filter((picture) => picture.motor === motor);
    const name = motors.length > 1 && motor !== "" ? `${motor}: ` : "";
    advice.push(...setAdvice(set, options).map((line) => `${name}${line}`));
  }
  advice.push(...others);
  const bare = orderPictures(all.filter((one) => !tells(one)));
  advice.push(...scaleFirst(bare));
  const test = testFor(judged, pictures);
  if (test) advice.push(testSentence(test));
  if ([...pictures, ...bare].some(turnsAgainst))
    advice.push(doNotClose.replace("on it:", "on an order that turns against its command:"));
  return test ? { advice, nextTest: test } : { advice };
}

/** Something in the recording tells of causes. */
function tells({ trials }: JudgedRecording): boolean {
  return trials.some(
    (t) =>
      t.hand?.mismatch !== undefined ||
      t.hand?.frozen === true ||
      t.hand?.verdict === "blocked" ||
      (!t.hand && t.likelihood && t.observation.holds.some((h) => h.sense !== 0)),
  );
}

function testSentence({ test, outcomes, caution }: NextTest): string {
  return `Next test: ${test} ${outcomes.map((o) => `${capital(o)}.`).join(" ")}${caution ? ` Caution: ${caution}.` : ""}`;
}

/** The test for the recording whose cause is least certain; where an order works already, only for what stays open
 * beside it. */
function testFor(
  judged: readonly JudgedRecording[],
  pictures: readonly OrderPicture[],
): NextTest | undefined {
  let best: NextTest | undefined;
  let of: JudgedRecording | undefined;
  for (const one of judged) {
    if (remediesOf(one.posterior)[0]?.probability >= thresholds.settled.value) continue;
    const test = nextTest(one.posterior, one.fieldOriented);
    if (test && (!best || test.information > best.information)) {
      best = test;
      of = one;
    }
  }
  if (!best || !of) return undefined;
  const order = of.recording.ordering;
  return order && pictures.length > 1 ? { ...best, test: `(${order}) ${best.test}` } : best;
}
