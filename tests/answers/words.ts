/** What single texts are taken for, by every reader of texts, and what columns of numbers may be under many
 * headings. */
import { accelerationUnit } from "../../lib/recording/columns/accelerationUnit.js";
import { columnNumbers } from "../../lib/recording/columns/columnNumbers.js";
import { fold } from "../../lib/recording/columns/foldedWords.js";
import { hypothesesOf } from "../../lib/recording/columns/hypotheses.js";
import { lengthByFoot } from "../../lib/recording/columns/lengths.js";
import { known, meaningOf, partsOf } from "../../lib/recording/columns/lexicon.js";
import { edgesOf, looked, lookedRows } from "../../lib/recording/columns/lookedRows.js";
import { nameEvidence } from "../../lib/recording/columns/nameEvidence.js";
import { areObjects, objectOf } from "../../lib/recording/columns/objectNumbers.js";
import { partOfUnit } from "../../lib/recording/columns/partsOfUnits.js";
import { namesQuadrature } from "../../lib/recording/columns/quadrature.js";
import { scaleOfTen } from "../../lib/recording/columns/scaleOfTen.js";
import { specialUnit } from "../../lib/recording/columns/specialUnits.js";
import { unitsInTitle } from "../../lib/recording/columns/unitsInTitle.js";
import { splitHeading, unitOfText } from "../../lib/recording/columns/unitText.js";
import { wordsOfName } from "../../lib/recording/columns/wordsOfName.js";
import { answerLines, fewLetters } from "./answerLines.js";
import type { Case } from "./cases.js";
import { bank, factsOf, ranked } from "./inner.js";

const list = (text: string): string[] => text.split("|").map((one) => one.trim());

const units = list(
  `5 V = 10 A|200 mV = 1 Nm|10V=3000rpm|0 V = 1 A|5 V = 3 cats|x 0.1 rpm|-0.5 A|0 A|0.1 %|0,1 %|arcsec|arc min|arc_seconds
  |1/100 rpm|1 / 1000 A|1/10 cats|dC|c°C|ddegC|сек|мс|об/мин|об|рад|град|А|мА|В|Н·м|нм|кН·м|초|度|도|sekunder|saniye|secondi|fok|Prozent
  |pct|frac|Q15|Q6|Q31|12 bits|12-bit|newton meter|newtonmetres|amp.|A_eff|Arms|apk|Vac|vrms|rad.|otáčky/min|omdr/min|tr/min|giri/min|obr/min
  |kierrosta/min|samples/min|turns / min|ft|inch|in/s|rad/s^2|rad/s²|rpm/s|m/s2|deg/s^2|g|mg|counts/s|1000 rpm|kRPM|0.01 Hz`,
);
const headings = list(
  `Current x100|Freq Ref x100 [Hz]|Speed *10|Torque x 1000 (Nm)|x100|fout x10|value x100|6064h|0x606C Velocity actual|6077|603F|6041h:00
  |Position actual (6064h)|speed [607A]|motor[1].velocity|knee[left]:position|N° essai|f_el|f.elec (Hz)|pstn|vltg|drhzl|gschw|wnkl|crrnt
  |trq|spd_rpm|tmprtr|Speed of the field (Hz)|Drehzahl Soll 1/min|n_ist|U_d|U_q|I_alpha|i_beta|Ia|Ib|Ic|theta_e|omega_m|ω|θ|φ [rad]
  |P (W)|P_el W|Leistung W|U W|phase W|current V|torque A|temp C|axis 1 pos|L speed|R speed|left.wheel.vel|isq_ref|id_fbk|Vbus|dc link|duty %
  |pwm|encoder cnt|hall|index|status word|error|setpoint|target velocity|actual velocity|velocity error|load torque|brake|gain kp|t|time(s)
  |Zeit ms|timestamp_us|sec|nsec|row|nr.|sample #|x|y|value|channel 3|CH1|AI0|Durée (min)|velocidad real (rpm)|corrente [A]|скорость, об/мин
  |ток, А|момент|转速(r/min)|电流 A|目標速度|位置[deg]|トルク`,
);
const words = list(
  `pstn|vltg|drhzl|gschw|wnkl|crrnt|trqe|spd|speeds|drehzahlen|sollwert|istwert|geschwindigkeit|vitesse|courant|couple|tension|velocidad
  |corriente|posicion|tensao|binario|coppia|corrente|giri|hastighet|strom|spannung|winkel|lage|moment|prad|predkosc|otacky|fordulat|akim|hiz|nopeus
  |virta|ток|скорость|момент|угол|напряжение|转速|电流|电压|位置|速度|角度|トルク|전류|속도|iq|id|ia|uq|ud|omega|theta|rpm|pwm|duty|enc|pos|vel|cur
  |act|ref|cmd|set|fbk|meas|est|filt|raw|left|right|speedref|motorspeed|wheelspeed|shaftangle|currentlimit|overspeed|speedometer`,
);

const said = (name: string, answer: () => string[]): Case => ({
  name: `words: ${name}`,
  give: () => ({ recordings: [] }),
  answer,
});
const safe = (text: string): string => text.replaceAll(":", ";");

const ofUnits = said("units", () =>
  units.flatMap((text) => [
    ...answerLines(`unit ${safe(text)}`, unitOfText(text)),
    `readers ${safe(text)}: ${[specialUnit(text), accelerationUnit(text), lengthByFoot(text)].join(" ")} ${fewLetters([partOfUnit(text), fold(text), unitsInTitle(`speed in ${text}`)])}`,
  ]),
);

const ofHeadings = said("headings", () =>
  headings.flatMap((text) => {
    const split = splitHeading(text);
    const { words: name } = split;
    const { score, ...evidence } = nameEvidence(name);
    const all = [...score].map(([meaning, log]) => `${meaning} ${log.toFixed(4)}`).sort();
    return [
      ...answerLines(`heading ${safe(text)}`, split),
      ...answerLines(`evidence ${safe(text)}`, evidence),
      `readers ${safe(text)}: ${fewLetters(all)} ${namesQuadrature(text)} ${scaleOfTen(name, 100)} ${fewLetters([objectOf(text), wordsOfName(text), areObjects([text, "6064h"])])}`,
    ];
  }),
);

const ofWords = said("single words", () =>
  words.map((word) => {
    const meaning = meaningOf(word);
    const first = meaning?.alternatives[0];
    return `${word}: ${first?.quantity ?? "-"} ${first?.side ?? "-"} ${first?.axis ?? "-"} ${first?.weight ?? "-"} ${known(word)} ${fewLetters([meaning, partsOf(word)])}`;
  }),
);

const many = list(
  "|time s|speed rpm|Speed|velocity [rad/s]|pos|position [deg]|angle counts|iq_A|current|current mA|torque Nm|U V|duty %|temp °C|setpoint|index|status|value|x",
);
const ofColumns = [...bank()].map(([name, values]) =>
  said(`${name} under many headings`, () => {
    const rows = lookedRows(values.length);
    const numbers = columnNumbers(looked(values, rows), edgesOf(rows));
    return many.map((text) => `${text || "(none)"}: ${ranked(hypothesesOf(factsOf(text, 0, numbers)))}`);
  }),
);

/** All of them. */
export const wordCases: readonly Case[] = [ofUnits, ofHeadings, ofWords, ...ofColumns];
