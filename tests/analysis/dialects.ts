/** One recording as text logs that hold the same numbers: other languages, delimiters, units, orders of columns. */
import type { ChannelRole, Recording } from "../../lib/recording/types.js";

type Column = ChannelRole | "time";
type Family = "time" | "current" | "voltage" | "speed" | "position" | "torque" | "duty";

/** Headings of one language, by what they head. */
const languages: Readonly<Record<string, Partial<Record<Column, string>>>> = {
  english: {
    time: "time",
    current: "q-axis current",
    currentCommand: "q-axis current reference",
    currentD: "d-axis current",
    speed: "actual speed",
    speedCommand: "speed setpoint",
    position: "actual position",
    voltageQ: "q-axis voltage",
    voltageD: "d-axis voltage",
    voltageBus: "DC link voltage",
    torque: "measured torque",
    voltageCommand: "voltage setpoint",
    duty: "duty cycle",
  },
  german: {
    time: "Zeit",
    current: "q-Strom Istwert",
    currentCommand: "q-Strom Sollwert",
    currentD: "d-Strom Istwert",
    speed: "Drehzahl Istwert",
    speedCommand: "Drehzahl Sollwert",
    position: "Lageistwert",
    voltageQ: "q-Spannung",
    voltageD: "d-Spannung",
    voltageBus: "Zwischenkreisspannung",
    torque: "Drehmoment Istwert",
    voltageCommand: "Spannung Sollwert",
    duty: "Tastgrad",
  },
  // Symbols of German textbooks.
  symbols: {
    time: "t",
    current: "i_sq_ist",
    currentCommand: "i_sq_soll",
    currentD: "i_sd_ist",
    speed: "n_ist",
    speedCommand: "n_soll",
    position: "phi_ist",
    voltageQ: "u_sq",
    voltageD: "u_sd",
    voltageBus: "U_ZK",
    torque: "M_ist",
    voltageCommand: "U_soll",
    duty: "Tastverhältnis",
  },
  french: {
    time: "temps",
    current: "courant Iq mesuré",
    currentCommand: "consigne courant Iq",
    currentD: "courant Id mesuré",
    speed: "vitesse mesurée",
    speedCommand: "consigne de vitesse",
    position: "position mesurée",
    voltageQ: "tension q",
    voltageD: "tension d",
    voltageBus: "tension bus continu",
    torque: "couple mesuré",
    voltageCommand: "consigne de tension",
    duty: "rapport cyclique",
  },
  spanish: {
    time: "tiempo",
    current: "corriente q medida",
    currentCommand: "consigna de corriente q",
    currentD: "corriente d medida",
    speed: "velocidad medida",
    speedCommand: "consigna de velocidad",
    position: "posición medida",
    voltageQ: "tensión q",
    voltageD: "tensión d",
    voltageBus: "tensión del bus",
    torque: "par medido",
    voltageCommand: "consigna de tensión",
    duty: "ciclo de trabajo",
  },
};

/** What units a family of columns is written in: the symbol, and how many of it make one of SI. */
type Units = Readonly<Record<Family, readonly [symbol: string, perSi: number]>>;

const si: Units = {
  time: ["s", 1],
  current: ["A", 1],
  voltage: ["V", 1],
  speed: ["rad/s", 1],
  position: ["rad", 1],
  torque: ["Nm", 1],
  duty: ["%", 100],
};
const shop: Units = {
  time: ["ms", 1e3],
  current: ["mA", 1e3],
  voltage: ["mV", 1e3],
  speed: ["1/min", 30 / Math.PI],
  position: ["°", 180 / Math.PI],
  torque: ["mNm", 1e3],
  duty: ["%", 100],
};

/** How a log is written. */
export interface Dialect {
  readonly language: keyof typeof languages & string;
  readonly delimiter: string;
  /** Decimal commas. */
  readonly comma?: boolean;
  readonly units?: Units;
  /** The last column first. */
  readonly reversed?: boolean;
  /** Columns beside that have to do with no motor. */
  readonly beside?: boolean;
}

/** The log the others are compared with. */
export const plainDialect: Dialect = { language: "english", delimiter: "," };

export const dialects: Readonly<Record<string, Dialect>> = {
  "English, other units": { language: "english", delimiter: "\t", units: shop },
  "columns in reverse, others beside them": {
    language: "english",
    delimiter: ",",
    reversed: true,
    beside: true,
  },
  German: { language: "german", delimiter: ";", comma: true },
  "German symbols, other units": { language: "symbols", delimiter: "\t", comma: true, units: shop },
  "French, columns in reverse": { language: "french", delimiter: ";", comma: true, reversed: true },
  "Spanish, other units, others beside": {
    language: "spanish",
    delimiter: ";",
    comma: true,
    units: shop,
    beside: true,
  },
};

const families = ["current", "voltage", "speed", "position", "torque"] as const;

/** A recording as the text of a log; columns without a heading in the tables above are left out. */
export function writtenAs(recording: Recording, dialect: Dialect): string {
  const { language, delimiter, comma, units = si, reversed, beside } = dialect;
  const names = languages[language];
  const columns: (readonly [heading: string, value: (row: number) => number])[] = [];
  const data: [Column, Float64Array][] = [["time", recording.time]];
  for (const { role, data: values } of Object.values(recording.channels)) data.push([role, values]);
  for (const [column, values] of data) {
    const name = names[column];
    if (name === undefined) continue;
    const family = families.find((f) => column.startsWith(f)) ?? (column as Family);
    const [symbol, perSi] = units[family];
    columns.push([`${name} [${symbol}]`, (row) => values[row] * perSi]);
  }
  if (beside) {
    const some = (row: number): number => ((row * 7919) % 101) / 101;
    columns.splice(2, 0, ["ambient temperature [°C]", (row) => 23 + 0.1 * Math.round(5 * some(row))]);
    columns.push(["CPU load [%]", (row) => Math.round(40 + 10 * some(row + 7))]);
  }
  if (reversed) columns.reverse();
  const written = (value: number): string => {
    if (!Number.isFinite(value)) return "";
    return comma ? String(value).replace(".", ",") : String(value);
  };
  const rows = Array.from(recording.time, (_, row) =>
    columns.map(([, value]) => written(value(row))).join(delimiter),
  );
  return [columns.map(([heading]) => heading).join(delimiter), ...rows, ""].join("\n");
}
