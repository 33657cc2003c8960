import type { ChannelRole } from "../types.js";

/** What a column means: a channel, the time axis, a sample counter, or a word that tells recordings in one file apart. */
export type ColumnRole = ChannelRole | "time" | "sample" | "run" | "motor" | "ordering";

/** Words for each quantity, in the languages logs come in (folded: lower case, no accents). Longer words are tried first. */
const quantities: Readonly<Record<string, readonly string[]>> = {
  current: [
    ..."current currents curr strom stromstarke courant intensite corriente corrente stroom prad proud ток akim 电流 電流 i iq id".split(
      " ",
    ),
  ],
  voltage: [
    ..."voltage volt spannung tension tensione voltaje tensao spanning napiecie напряжение 电压 電圧 u uq ud vq vd".split(
      " ",
    ),
  ],
  speed: [
    ..."speed velocity vel spd drehzahl geschwindigkeit winkelgeschwindigkeit vitesse velocidad velocita velocidade toerental predkosc скорость rpm omega 转速 速度 回転数 n w ω".split(
      " ",
    ),
  ],
  position: [
    ..."position pos angle theta winkel lage stellung posicion posizione posicao positie angulo angolo pozycja положение encoder enc counts zaehler zahler geber codeur 位置 角度 θ".split(
      " ",
    ),
  ],
  torque: [
    ..."torque trq moment drehmoment couple par coppia koppel torsiemoment momento момент 扭矩 转矩 トルク m_ist tq".split(
      " ",
    ),
  ],
  time: [
    ..."time zeit temps tiempo tempo tijd czas время timestamp stamp datetime date clock uhrzeit zeitstempel heure hora 时间 時間 t seconds sec".split(
      " ",
    ),
  ],
  sample: [
    ..."sample samples index idx counter nr no n abtastung echantillon muestra campione row tick 序号 sampleno samplenumber".split(
      " ",
    ),
  ],
  index: [
    ..."index indexpulse zpulse z zero marker nullimpuls nullmarke referenzmarke topzero tacca".split(" "),
  ],
  sweep: [..."sweep sweepangle alignangle alignmentangle fieldangle feldwinkel elangle thetae".split(" ")],
};

const commandWords = new Set(
  "cmd command commanded ref reference setpoint set sp target demand demanded desired soll sollwert fuhrung fuhrungsgrosse vorgabe consigne cons consigna referencia riferimento rif impostato zadana задание уставка 指令 给定 目标 設定 want star".split(
    " ",
  ),
);
const measuredWords = new Set(
  "act actual meas measured measure feedback fb fbk ist istwert real mesure mesuree medido medida misurato misurata reel reelle zmierzone 实际 反馈 値 mes msr".split(
    " ",
  ),
);

/** Words of a heading: split at punctuation, case changes and digits; folded. */
export function wordsOf(name: string): string[] {
  return name
    .normalize("NFKD")
    .replace(/[\u0300-\u036f]/g, "")
    .replace(/ß/g, "ss")
    .replace(/\*/g, " star ")
    .replace(/([a-z0-9])([A-Z])/g, "$1 $2")
    .toLowerCase()
    .split(/[^\p{L}\p{N}]+/u)
    .filter((w) => w !== "");
}

const inside: readonly [RegExp, string][] = [
  [/电流|電流|strom|courant|corriente|corrente/u, "current"],
  [/转速|速度|回転数|drehzahl|geschwindigkeit|vitesse|velocidad|velocita/u, "speed"],
  [/位置|角度|position|winkel/u, "position"],
  [/扭矩|转矩|トルク|drehmoment|torque/u, "torque"],
  [/电压|電圧|spannung|voltage/u, "voltage"],
  [/时间|時間|timestamp/u, "time"],
];

/**
 * The role a column's name speaks for, or undefined when it speaks for none (or for two). `unit` (UCUM) settles names such as `n` or `M`,
 * and refuses a role that the unit contradicts.
 *
 * @example
 * roleOfName("Drehzahl Sollwert"); // "speedCommand"
 */
export function roleOfName(name: string, unit?: string): ColumnRole | undefined {
  const words = wordsOf(name);
  if (words.length === 0) return undefined;
  const joined = words.join("");
  if (/^(motor|motorid|motorno|motorserial|serial|serialno|serialnumber|unitid|dut)$/.test(joined))
    return "motor";
  if (
    /^(run|runid|runno|runnumber|trial|trialid|test|testid|testno|versuch|essai|prueba|prova|messung|recording)$/.test(
      joined,
    )
  )
    return "run";
  if (/^(order|ordering|leadorder|phaseorder|wiring|wiringorder|phasenfolge|anschlussfolge)$/.test(joined))
    return "ordering";

  let command = false;
  let measured = false;
  let axis: "q" | "d" | "u" | "v" | "w" | "bus" | undefined;
  const quantity = new Set<string>();
  const left: string[] = [];
  for (const word of words) {
    if (commandWords.has(word)) command = true;
    else if (measuredWords.has(word)) measured = true;
    else if (
      /^(bus|dc|dcbus|dclink|link|zwischenkreis|zk|vbus|supply|batt|battery|ubus|udc|vdc|idc|ibus)$/.test(
        word,
      )
    ) {
      axis = "bus";
      if (/^(vbus|ubus|udc|vdc)$/.test(word)) quantity.add("voltage");
      if (/^(idc|ibus)$/.test(word)) quantity.add("current");
    } else left.push(word);
  }
  for (const word of left) {
    const composite = compositeWord(word);
    if (composite !== undefined) {
      if (composite.command) command = true;
      if (composite.measured) measured = true;
      if (composite.axis !== undefined) axis = composite.axis;
      quantity.add(composite.quantity);
      continue;
    }
    if (/^[qd]$/.test(word)) axis = word as "q" | "d";
    else if (/^(quadrature|quer)$/.test(word)) axis = "q";
    else if (/^(direct|langs)$/.test(word)) axis = "d";
    else if (
      /^[uvw]$/.test(word) &&
      left.length > 1 &&
      !(word === "u" && left[0] === "u" && left.length === 2 && /^[qd]$/.test(left[1]))
    )
      axis = word as "u" | "v" | "w";
    else if (/^[abc]$/.test(word) && left.length > 1)
      axis = { a: "u", b: "v", c: "w" }[word] as "u" | "v" | "w";
    else {
      const exact = Object.entries(quantities).filter(([, list]) => list.includes(word));
      if (exact.length > 0) for (const [q] of exact) quantity.add(q);
      else for (const [pattern, q] of inside) if (pattern.test(word)) quantity.add(q);
      if (/soll|consigne|指令|给定|目标|目標|設定|设定|指定/u.test(word)) command = true;
      if (/istwert|实际|反馈/u.test(word)) measured = true;
    }
  }
  if (left.length === 1 && left[0] === "u" && !quantity.has("voltage")) quantity.add("voltage");
  return settle(quantity, { command, measured, axis }, unit, words);
}

interface Marks {
  readonly command: boolean;
  readonly measured: boolean;
  readonly axis: "q" | "d" | "u" | "v" | "w" | "bus" | undefined;
}

/** Words such as `iqref`, `id`, `nist`, `msoll`, `ia`. */
function compositeWord(
  word: string,
): { quantity: string; command: boolean; measured: boolean; axis?: "q" | "d" | "u" | "v" | "w" } | undefined {
  const m =
    /^(i|u|v|n|m|w|theta|pos|vel|speed|omega|torque)(q|d|a|b|c|u|v|w|1|2|3)?(ref|cmd|soll|set|sp|star|des|target|ist|act|meas|fb|mes)?$/.exec(
      word,
    );
  if (m === null || (m[2] === undefined && m[3] === undefined)) return undefined;
  const base: Record<string, string> = {
    i: "current",
    u: "voltage",
    v: "voltage",
    n: "speed",
    w: "speed",
    m: "torque",
    theta: "position",
    pos: "position",
    vel: "speed",
    speed: "speed",
    omega: "speed",
    torque: "torque",
  };
  const electrical = m[1] === "i" || m[1] === "u" || m[1] === "v";
  if (m[2] !== undefined && !electrical) return undefined;
  const axes: Record<string, "q" | "d" | "u" | "v" | "w"> = {
    q: "q",
    d: "d",
    a: "u",
    b: "v",
    c: "w",
    u: "u",
    v: "v",
    w: "w",
    "1": "u",
    "2": "v",
    "3": "w",
  };
  const tail = m[3] ?? "";
  const measured = /^(ist|act|meas|fb|mes)$/.test(tail);
  return {
    quantity: base[m[1]],
    command: tail !== "" && !measured,
    measured,
    axis: m[2] === undefined ? undefined : axes[m[2]],
  };
}

/** Quantity a UCUM unit speaks for. */
export function quantityOfUnit(unit: string | undefined): readonly string[] {
  if (unit === undefined) return [];
  if (/^([mu]|k)?A$/.test(unit)) return ["current"];
  if (/^[mk]?V$/.test(unit)) return ["voltage"];
  if (/\/(s|min)$/.test(unit) || /^k?Hz$/.test(unit)) return ["speed"];
  if (/^(rad|mrad|deg|circ|\{rev\}|\{count\}|')$/.test(unit)) return ["position", "sweep"];
  if (/N\.c?m|gf\.|lbf|\[oz/.test(unit)) return ["torque"];
  if (/^([mun]?s|min|h)$/.test(unit)) return ["time"];
  return [];
}

function settle(
  quantity: Set<string>,
  marks: Marks,
  unit: string | undefined,
  words: readonly string[],
): ColumnRole | undefined {
  const byUnit = quantityOfUnit(unit);
  let q: string | undefined;
  const named = [...quantity];
  if (named.includes("sweep")) q = "sweep";
  else if (byUnit.length > 0) {
    const both = named.filter((x) => byUnit.includes(x));
    if (both.length === 1) q = both[0];
    // The name speaks for something else than the unit does: neither is believed.
    else if (named.length > 0) return undefined;
    else if (named.length === 0 && (marks.command || marks.measured || marks.axis !== undefined))
      q = byUnit[0];
    else return undefined;
  } else if (named.length === 1) q = named[0];
  else if (named.includes("index") && named.includes("sample")) {
    q = words.some((w) => /pulse|impuls|z|marker|encoder|enc/.test(w)) ? "index" : "sample";
  } else if (named.includes("speed") && named.includes("sample"))
    q = words.length > 1 || marks.command || marks.measured ? "speed" : undefined;
  else if (named.includes("position") && named.includes("index")) q = "index";
  else if (named.includes("time") && named.includes("sample")) q = "time";
  else if (named.includes("speed") && named.includes("position"))
    q = words.includes("encoder") || words.includes("enc") ? "speed" : undefined;
  else if (named.includes("torque") && named.includes("current")) q = "current";
  else if (named.length === 0) return undefined;
  else return undefined;
  const { command, measured, axis } = marks;
  if (command && measured) return undefined;
  switch (q) {
    case "current":
      if (axis === "bus") return command ? undefined : "currentBus";
      if (axis === "d") return command ? "currentDCommand" : "currentD";
      if (axis === "u") return command ? undefined : "currentU";
      if (axis === "v") return command ? undefined : "currentV";
      if (axis === "w") return command ? undefined : "currentW";
      return command ? "currentCommand" : "current";
    case "voltage":
      if (axis === "q") return "voltageQ";
      if (axis === "d") return "voltageD";
      return axis === "bus" ? "voltageBus" : undefined;
    case "speed":
      return command ? "speedCommand" : "speed";
    case "position":
      return command ? "positionCommand" : "position";
    case "torque":
      return command ? "torqueCommand" : "torque";
    case "sweep":
      return "sweepAngle";
    case "index":
      return "index";
    case "time":
      return "time";
    case "sample":
      return "sample";
    default:
      return undefined;
  }
}
