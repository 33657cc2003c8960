/**
 * The units that motor logs are written in, with their factor to SI, so that the common case needs no library. A test
 * holds every entry against the maintained UCUM library.
 */

/** SI unit (UCUM code) a unit leads to, and the factor that takes it there. */
export interface UnitEntry {
  readonly si: string;
  readonly factor: number;
}

const turn = 2 * Math.PI;
const pound = 0.45359237; // kg, exact (international pound)
const inch = 0.0254; // m, exact
const gravity = 9.80665; // m/s2, exact (standard gravity)

/** UCUM code to its SI unit and factor. Turns are written `{rev}` and counts of an encoder `{count}`, as UCUM
 * annotations. */
export const unitTable: Readonly<Record<string, UnitEntry>> = {
  s: { si: "s", factor: 1 },
  ms: { si: "s", factor: 1e-3 },
  us: { si: "s", factor: 1e-6 },
  ns: { si: "s", factor: 1e-9 },
  min: { si: "s", factor: 60 },
  h: { si: "s", factor: 3600 },
  A: { si: "A", factor: 1 },
  mA: { si: "A", factor: 1e-3 },
  uA: { si: "A", factor: 1e-6 },
  kA: { si: "A", factor: 1e3 },
  V: { si: "V", factor: 1 },
  mV: { si: "V", factor: 1e-3 },
  kV: { si: "V", factor: 1e3 },
  rad: { si: "rad", factor: 1 },
  mrad: { si: "rad", factor: 1e-3 },
  deg: { si: "rad", factor: turn / 360 },
  "'": { si: "rad", factor: turn / 21600 },
  circ: { si: "rad", factor: turn },
  "{rev}": { si: "rad", factor: turn },
  "rad/s": { si: "rad/s", factor: 1 },
  "rad/min": { si: "rad/s", factor: 1 / 60 },
  "deg/s": { si: "rad/s", factor: turn / 360 },
  "circ/s": { si: "rad/s", factor: turn },
  "circ/min": { si: "rad/s", factor: turn / 60 },
  "{rev}/s": { si: "rad/s", factor: turn },
  "{rev}/min": { si: "rad/s", factor: turn / 60 },
  "k{rev}/min": { si: "rad/s", factor: (turn * 1000) / 60 },
  "rad/s2": { si: "rad/s2", factor: 1 },
  "deg/s2": { si: "rad/s2", factor: turn / 360 },
  "{rev}/s2": { si: "rad/s2", factor: turn },
  "{rev}/min/s": { si: "rad/s2", factor: turn / 60 },
  "N.m": { si: "N.m", factor: 1 },
  "mN.m": { si: "N.m", factor: 1e-3 },
  "uN.m": { si: "N.m", factor: 1e-6 },
  "kN.m": { si: "N.m", factor: 1e3 },
  "N.cm": { si: "N.m", factor: 1e-2 },
  "dN.m": { si: "N.m", factor: 0.1 },
  "kgf.m": { si: "N.m", factor: gravity },
  "kgf.cm": { si: "N.m", factor: gravity / 100 },
  "[lbf_av].[ft_i]": { si: "N.m", factor: pound * gravity * inch * 12 },
  "[lbf_av].[in_i]": { si: "N.m", factor: pound * gravity * inch },
  "[oz_av].[g].[in_i]": { si: "N.m", factor: (pound / 16) * gravity * inch },
  "1": { si: "1", factor: 1 },
  "%": { si: "1", factor: 0.01 },
  "{count}": { si: "{count}", factor: 1 },
  "{count}/s": { si: "{count}/s", factor: 1 },
  "{count}/min": { si: "{count}/s", factor: 1 / 60 },
  Hz: { si: "Hz", factor: 1 },
  kHz: { si: "Hz", factor: 1e3 },
  Ohm: { si: "Ohm", factor: 1 },
  mOhm: { si: "Ohm", factor: 1e-3 },
  H: { si: "H", factor: 1 },
  mH: { si: "H", factor: 1e-3 },
  uH: { si: "H", factor: 1e-6 },
  Wb: { si: "Wb", factor: 1 },
  mWb: { si: "Wb", factor: 1e-3 },
};
