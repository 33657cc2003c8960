import { expect, test } from "vitest";
import { nameEvidence } from "../../lib/recording/columns/nameEvidence.js";
import { type Meaning, roleFacts } from "../../lib/recording/columns/roles.js";
import { splitHeading } from "../../lib/recording/columns/unitText.js";

// Units as they are spelled in the languages of the headings (general dictionaries, from memory).
test.each([
  [
    "{rev}/min",
    "د/د|دورة/دقيقة|об/хв|vrt/min|sūk/min|p/min|fordulat/perc|devir/dk|στρ/λεπτό|चक्कर/मिनट|รอบ/นาที|ბრ/წთ|putaran/menit",
  ],
  ["rad/s", "rad/sn|rad/mp|rad/seg|rad/ث|弧度/秒|рад/с|rad/초"],
  ["deg/s", "grados/s|stopni/s|度/秒|derece/s|градусов/с|°/sek"],
  ["s", "másodperc|segundos|ثانية|วินาที|giây|秒|sekundės|saniye"],
  ["A", "ampér|アンペア|أمبير|安培|ампер"],
  ["V", "ボルト|فولت|вольт|voltios"],
  ["N.m", "牛·米|ن.م|ньютон-метр"],
  ["deg", "degrés|درجة|องศา|laipsniai|gráður"],
])("%s in many languages", (code, spellings) => {
  for (const spelling of spellings.split("|"))
    expect(splitHeading(`x [${spelling}]`).unit?.code, spelling).toBe(code);
});

const likeliest = (heading: string): string => {
  const list = [...nameEvidence(splitHeading(heading).words).score].map(
    ([role, score]) => [role, score + Math.log(roleFacts[role as Meaning].prior)] as const,
  );
  return list.reduce((a, b) => (b[1] > a[1] ? b : a))[0];
};

// Words of general dictionaries, from memory.
test.each([
  [
    "speedCommand",
    "задата брзина|tezlik berilgan|สั่ง ความเร็ว เป้าหมาย|lakshya gati|სასურველი სიჩქარე|vitesse voulue",
  ],
  ["speed", "хуткасць|snúningshraði|շարժիչի արագություն|வேகம்|cyflymder|tachytita kinitira"],
  ["current", "cərəyan|rryma|korronte|հոսանք|revma"],
  ["position", "өнцөг|pozicioni|კუთხე|zavit|kedudukan"],
  ["time", "վրկ ժամանակ|хугацаа|საათი დრო|denbora|tími"],
  ["other", "skekkja|xəta|pomylka|ralat"],
])("%s in many languages", (role, headings) => {
  for (const heading of headings.split("|")) expect(likeliest(heading), heading).toBe(role);
});

// Habits of naming: tags after ISA-5.1 (letters from memory), objects of IEC 61800-7-201, fractions of full scale.
test.each([
  ["P201.SI.SP", "speedCommand", undefined],
  ["P201.II.PV", "current", undefined],
  ["TIC-404 PV", "temperature", undefined],
  ["Target torque (6071h)", "torqueCommand", "[ppth]"],
  ["IqRef_q15", "currentCommand", "{count}"],
  ["mm/s speed ref", "speedCommand", "mm/s"],
  ["wheel_vel_counts_per_second", "speed", "{count}/s"],
  ["CH2 (tacho 10V=3000rpm)", "speed", "{rev}/min"],
  ["CH1 (current clamp 100mV/A)", "current", "A"],
])("%s", (heading, role, unit) => {
  const found = splitHeading(heading);
  expect(found.unit?.code).toBe(unit);
  expect(likeliest(heading)).toBe(role);
});

test.each([
  ["pstn trgt", "positionCommand"],
  ["vltg mtr", "voltage"],
  ["drhz", "speed"],
  ["wnkl", "position"],
  ["strt", "other"],
])("words without their vowels: %s", (heading, role) => {
  expect(likeliest(heading)).toBe(role);
});

test("a short word of a language is no part of another word", () => {
  expect(likeliest("spare")).toBe("other");
});
