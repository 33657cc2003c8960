import { expect, test } from "vitest";
import { isOtherUnit, unitOfText } from "../../lib/recording/columns/unitText.js";
import { conversion } from "../../lib/units/convert.js";

// Spellings that loggers, drives and people of several languages use, by their UCUM code. What one of them is in SI
// follows from the SI Brochure (9th edition) and, for inch, foot and mile, from NIST SP 811, appendix B.
const spellings: Readonly<Record<string, string>> = {
  "{rev}/min":
    "rpm|1/min|min^{-1}|min^(-1)|r/min|r.p.m.|rev_min|U_min|tr/min|giri/minuto|vueltas/min|obr./min|d/dk|dev/dak|f/perc|ot./min|varv/min|kierr/min|об/мин|об/хв|회전/분|転/分|vòng/phút|σαλ/λεπτό",
  "{rev}/s": "1/s|s-1|/s|1/sec|rot/s|rotations/sec|rev_s|revps|umdr/s|tour/s|об/с",
  "{rev}": "rot|rotation|rotations|об|оборот",
  "rad/s": "radps|rads/s|rad_per_s|rad·s⁻¹|рад/с|rad/sek",
  "mrad/s": "mrad/s|mrad_s|mradps|mrad/sec",
  "urad/s": "µrad/s|urad/s|μradps",
  mrad: "mrad",
  urad: "µrad",
  crad: "crad",
  "deg/s": "degps|deg_s|grad/s|град/с|º/s|°·s⁻¹|deg s^-1|ast/s",
  deg: "град|grados|graus|derece|度|deg.",
  um: "um|µm|μm",
  mm: "mm",
  "m/min": "m/min|mpm|m_per_min",
  "m/s": "m/s|mps|meter/s|metres/sec|m_per_sec|м/с",
  "mm/min": "mm/min|мм/мин",
  "um/s": "um/s|мкм/сек",
  "cm/s": "cm/s|см/с",
  "km/h": "km/h|kph|kmh|км/ч|км/час",
  "[in_i]/s": "in/s|ips|inch_per_sec",
  "[ft_i]/min": "ft/min|fpm|feet per minute",
  "[mi_i]/h": "mph",
  dA: "dA",
  cV: "cV",
  A: "А|ampere|A_rms|Aeff|Apk|amp.",
  V: "В|Vrms|vac|volt.",
  "N.m": "Н·м|нм|newton meter|newtonmetres",
  "kN.m": "kNm|kN·m",
  K: "K|kelvin",
  Cel: "°C|degC|celsius|℃",
  "[degF]": "°F|degF|F|fahrenheit",
  "%": "%|pct|percent|Prozent|% IN|%(n)|% of rated|%FS",
  "[ppth]": "‰|promille|per mille|0.1%|0,1%",
  "1": "frac|fraction",
  s: "с|сек|sekunder|saniye|detik|초",
  ms: "мс|мсек",
  "{count}": "12bit|16 bits|Q7|Q15|Q28|Q31|imp|cts|steps|raw|int16|パルス",
  "{count}/s": "qc/s|imp/s|pulses/s|steps/s|pps|pls/s",
};

test.each(Object.entries(spellings))("%s is written %s", (code, all) => {
  for (const text of all.split("|")) expect(unitOfText(text)?.code, text).toBe(code);
});

test("what looks alike is no unit, or another", () => {
  for (const text of ["M", "Mm", "k", "kn", "% load", "Q8", "Q29", "123bits", "л/мин", "m-1", "x".repeat(61)])
    expect(unitOfText(text)?.code, text).toBeUndefined();
  expect(["л/мин", "kWh", "Pa", "rpm"].map(isOtherUnit)).toEqual([false, true, true, false]);
});

test.each([
  ["mrad/s", "rad/s", 1e-3],
  ["{rev}/min", "rad/s", Math.PI / 30],
  ["{rev}/s", "rad/s", 2 * Math.PI],
  ["deg/s", "rad/s", Math.PI / 180],
  ["crad", "rad", 1e-2],
  ["dA", "A", 0.1],
  ["cV", "V", 0.01],
  ["kN.m", "N.m", 1000],
])("one %s is so many %s", async (code, si, factor) => {
  expect((await conversion(code, si))?.factor).toBeCloseTo(factor, 12);
});

test.each([
  ["100 mV/A", "A", 10],
  ["0.5 V/A", "A", 2],
  ["20 mV/mA", "mA", 50],
  ["1V/krpm", "k{rev}/min", 1],
  ["5 V = 10 A", "A", 2],
  ["200 mV = 1 Nm", "N.m", 5],
  ["0.05 A", "A", 0.05],
  ["x 0.1 rpm", "{rev}/min", 0.1],
  ["-0.5 A", "A", -0.5],
  ["1e-3 A", "A", 1e-3],
  ["1/100 rpm", "{rev}/min", 0.01],
  ["1 / 1000 A", "A", 1e-3],
  ["arcsec", "deg", 1 / 3600],
  ["arc_minutes", "deg", 1 / 60],
  ["c°C", "Cel", 0.01],
  ["d°C", "Cel", 0.1],
  ["ddegC", "Cel", 0.1],
])("%s: one logged is so many %s", (text, code, factor) => {
  const unit = unitOfText(text);
  expect(unit?.code).toBe(code);
  expect(unit?.scale?.factor).toBeCloseTo(factor, 12);
  expect(unit?.scale?.zero).toBe(0);
});

test("a scale may say where zero lies; one of nought, or of what is no unit, is none", () => {
  expect(unitOfText("0.05 A from 2048")?.scale).toEqual({ factor: 0.05, zero: 2048 });
  expect(unitOfText("0.05 A from -12.5")?.scale).toEqual({ factor: 0.05, zero: -12.5 });
  for (const text of ["0 A", "0 V = 1 A", "0 V/A", "5 V = 3 cats", "3 cats", "1/10 cats"])
    expect(unitOfText(text)?.scale, text).toBeUndefined();
});
