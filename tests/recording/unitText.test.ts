import { describe, expect, test } from "vitest";
import { spelledUnit, splitHeading, unitInHeading } from "../../lib/recording/columns/unitText.js";

/** Words, unit and scale of a heading; a unit that no channel has in brackets, one that is not plain with a question
 * mark. */
function read(heading: string): string {
  const { words, unit, otherUnit, plain } = splitHeading(heading);
  const scale = unit?.scale === undefined ? "" : ` ${unit.scale.factor}`;
  const said = unit ? `${unit.code}${scale}` : otherUnit === undefined ? "-" : `(${otherUnit})`;
  return `${words} | ${said}${plain ? "" : "?"}`;
}
const each = (all: Readonly<Record<string, string>>): void => {
  for (const [heading, meant] of Object.entries(all)) expect(read(heading), heading).toBe(meant);
};

describe("headings taken apart", () => {
  test("a unit in brackets, at the end, in front, within, or right behind the words", () =>
    each({
      "speed [rpm]": "speed | {rev}/min",
      "speed (filtered) [rpm]": "speed filtered | {rev}/min",
      "(note) [rpm]": "note | {rev}/min",
      "[rpm]": " | {rev}/min",
      "speed [in rpm]": "speed | {rev}/min",
      "speed [rpm, max]": "speed | {rev}/min",
      "current [A rms]": "current | A",
      "speed in rad/s": "speed | rad/s",
      "iq/A": "iq | A",
      "Zeit in s": "Zeit | s",
      "acc m/s^2": "acc | m/s2",
      speed_deg_per_s: "speed | deg/s",
      "speed obr_min": "speed | {rev}/min",
      obr_min: "rpm | {rev}/min",
      rpm: "rpm | {rev}/min",
      amps: "amps | A",
      "rpm set": "rpm set | {rev}/min",
      "mm/s ref": "ref | mm/s",
      "Nm load": "load | N.m",
      "angle.rad": "angle | rad",
      "angle °": "angle | deg",
      速度rpm: "速度 | {rev}/min",
      SpdRPM: "Spd | {rev}/min",
      speedDegPerSec: "speed | deg/s",
      TIMEMS: "TIME | ms",
      currentma: "current | mA",
      torquenm: "torque | N.m",
      Status_RPM_V1: "Status_RPM_V1 | {rev}/min",
      cur_mA_filt: "cur_mA_filt | mA",
      x_nm_y: "x_nm_y | N.m",
      "torque mnm est": "torque mnm est | mN.m",
    }));

  test("a unit that another quantity is glued to is none, and a letter that may be a phase is no plain one", () =>
    each({
      timerad: "timerad | -",
      speednm: "speednm | -",
      "value F": "value F | -",
      "temp F": "temp | [degF]",
      "pos deg val": "pos deg val | deg?",
      "foo s": "foo | s?",
      t_s: "t | s",
      "error count": "error count | -",
      "encoder count": "encoder | {count}",
    }));

  test("percent and parts of a thousand, as words too", () =>
    each({
      "speed %": "speed | %",
      "torque ‰": "torque | [ppth]",
      "current pct": "current | %",
      "load pmil": "load | [ppth]",
      "load perm": "load | [ppth]",
    }));

  test("power, charge and pressure are units of no channel", () =>
    each({
      kW: " | (kW)",
      kWh: " | (kWh)",
      "amp hours": "amp hours | (Ah)",
      "mAmp-hrs used": "mAmp-hrs used | (Ah)",
      "watt hours": "watt hours | (Ah)",
      "P/W": "P | (W)",
      "power W": "power | (W)",
      "phase W": "phase W | -",
      "x [Pa]": "x | (Pa)",
      "pressure kPa": "pressure | (kPa)",
      "pressure bar": "pressure | (bar)",
    }));

  test("a register's scale: a part of ten, or a number that multiplies", () =>
    each({
      "speed 0.01 rpm": "speed | {rev}/min 0.01",
      "motor current 0.01 A": "motor current | A 0.01",
      "speed x0.1 rpm": "speed | {rev}/min 0.1",
      "speed x10 rpm": "speed | {rev}/min 0.1",
      "speed x100 rpm int16": "speed | {rev}/min 0.01",
      "Freq Ref x100 [Hz]": "Freq Ref | Hz 0.01",
      "Current x100 (mA)": "Current | mA 0.01",
      "Current x100 [0.1 A]": "Current x100 | A 0.1",
      "volt x5 [V]": "volt x5 | V",
      "vel_cmd s16": "vel_cmd | -",
      "speed (float)": "speed | -",
      "CH1 (current clamp 100 mV/A)": "CH1 current clamp | A 10",
      "CH2 (100 mV/A)": "CH2 | A 10",
    }));

  test("objects of the drive profile by their number (CiA 402)", () =>
    each({
      "6064h": "position actual value | -",
      "606Ch": "velocity actual value | -",
      "position actual [6064h]": "position actual | -",
      "speed [606Ch:00]": "speed | -",
      // Torque is in thousandths of the rated one.
      "6077h Torque actual": "Torque actual | [ppth]",
      "Torque actual [6077h]": "Torque actual | [ppth]",
      "6064 position (counts)": "position | {count}",
      "6077h Torque [Nm]": "Torque | N.m",
    }));

  test("what stands in brackets may be a place, a range or a note", () =>
    each({
      "motor[1].velocity": "motor 1 velocity | -",
      "knee[left]:position": "knee left position | -",
      "speed (1) [rpm]": "speed 1 | {rev}/min",
      "x (range 5)": "x | -",
      "x [bogus]": "x bogus | -",
      "(foo)": "(foo) | -",
      "N° essai": "no essai | -",
    }));

  test("what is of the field is not the shaft's", () =>
    each({
      eRPM: "erpm | -",
      "speed e-rpm": "speed erpm | -",
      "phase angle °el": "phase angle electricalangle | deg",
      "theta grad el.": "theta electricalangle | deg",
      "winkel rad_elektrisch": "winkel electricalangle | rad",
      f_el: "frequency | -",
      "f.elec (Hz)": "frequency | Hz",
    }));
});

test("the unit of a column is the one beside its heading, or one that the heading says plainly", () => {
  expect(unitInHeading("speed [rpm]")).toBe("rpm");
  expect(unitInHeading("power [kW]")).toBe("kW");
  expect(unitInHeading("foo s")).toBeUndefined();
  expect(spelledUnit({ name: "speed [rpm]", unit: "rad/s" })).toBe("rad/s");
  expect(spelledUnit({ name: "speed [rpm]" })).toBe("rpm");
});

test("a text that is longer than any name is left whole", () => {
  const long = `${"speed ".repeat(60)}rpm`;
  expect(splitHeading(long)).toEqual({ words: long, plain: true });
});
