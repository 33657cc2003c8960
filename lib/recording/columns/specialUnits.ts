import { lengthByFoot, metresASecond } from "./lengths.js";

/** So many of something in a minute, with the words for a minute. */
const byTheMinute =
  /^(\p{L}{1,14})\.?\/(min\.?|minutos?|minuut|minutt?|minuta|m[ií]n|perc|da?k\.?|мин\.?|хв\.?|λεπτό|λεπτο|λεπ\.?|分|分钟|分鐘|분|phút|นาที|دقيقة|دقیقه|मिनट|דקה)$/u;
/** What is counted by the minute in a log of a motor is turns, whatever a language calls them, unless it is a length,
 * an angle, a volume, a mass, heat, or marks of an encoder. */
const noTurns =
  /^([kcmdµu]?(m|l|g|n)|in|inch|ft|deg|grad|rad|k|c|f|a|v|w|j|kj|cal|kcal|lit(er|re)s?|lb|count|counts|cts|imp|pulses?|pls|inc|inkr?|ticks?|steps?|zyk|zyklen|cycles?|samples?|events?|msgs?|s|sec|град|рад|м|мм|см|л|имп)$/u;

/** UCUM code of a spelling that the table of units does not hold: percent of what is rated, words of other languages,
 * encoder counts by any name. */
export function specialUnit(text: string): string | undefined {
  const plain = text.toLowerCase().replace(/\s+/g, "");
  if (
    /^%(\(?(of|von|de|i|m|n|p|t)?-?_?(n|nenn|rated|nom|nominal|max|in|un|mn|nn|fs|fsd|fsr)?\)?)$/.test(plain)
  )
    return "%";
  if (
    /^(‰|promill?e?s?|promila|per_?mille?|промилле|проміле|千分比|パーミル|퍼밀|0[.,]1%|\[ppth\])$/.test(
      plain,
    )
  )
    return "[ppth]";
  if (/^(°c|degc|deg_c|celsius|cel|º?c|℃)$/.test(plain)) return "Cel";
  if (/^(°f|degf|fahrenheit)$/.test(plain) || text.trim() === "F") return "[degF]";
  if (/^(k|kelvin)$/.test(plain) && text.trim() !== "k") return "K";
  if (
    /^(radps|rads?_s|rads\/s|rad·s(⁻¹|-1)|rad_per_s|rads\^?-1|radpersec(ond)?|rad\/sek|рад\/с|рад\/сек)$/.test(
      plain,
    )
  )
    return "rad/s";
  if (
    /^(degps|deg_s|ast(etta)?[/_]s|deg_per_s|degpersec(ond)?|grad\/s|град\/с|º\/s|(deg|°|º)[·.]?s(\^?[-−]1|⁻¹))$/.test(
      plain,
    )
  )
    return "deg/s";
  if (/^(min\^\{-1\}|min\^\(-1\))$/.test(plain)) return "{rev}/min";
  if (/^[dc][AV]$/.test(text.trim())) return text.trim();
  const radians = /^([dcmu])rad(\/s|_s|ps|\/sec)?$/.exec(plain.replace(/[µμ]/, "u"));
  if (radians !== null) return `${radians[1]}rad${radians[2] === undefined ? "" : "/s"}`;
  if (/^(1\/s|s-1|\/s|1\/sec)$/.test(plain)) return "{rev}/s";
  if (/^(kmh|kph|km\/h)$/.test(plain)) return "km/h";
  if (/^[uµμ]m$/.test(plain)) return "um";
  if (/^(mm|cm|m|[uµμ]m\/s|mm\/s|cm\/s|m\/s|m\/min|mm\/min)$/.test(plain) && !/^M/.test(text))
    return plain.replace(/^[µμ]/, "u");
  if (/^(mpm|m_per_min)$/.test(plain)) return "m/min";
  const byScript = /^(мк?м?|мм|см|км)\/(с|сек|мин|ч|час)$/.exec(plain);
  if (byScript !== null) return metresOf(byScript[1], byScript[2]);
  const byFoot = lengthByFoot(plain);
  if (byFoot !== undefined) return byFoot;
  if (/^(mps|met(er|re)s?\/s(ec)?|m\/sec|m_per_s(ec)?)$/.test(plain)) return "m/s";
  if (/^rot(ations?)?$/.test(plain)) return "{rev}";
  if (/^(rot(ations?)?\/s(ec)?|rev_s|revps|revpersec(ond)?|umdr\/s|tour\/s|об\/с)$/.test(plain))
    return "{rev}/s";
  if (
    /^(v[oò]ng[/_]?ph[uú]t|rev_min|r_min|u_min|1_min|umin-?1|giri\/minuto|rev\.?\/?min\.?|vueltas\/min|d\/dk|dev\/dk|rot\/min|r\.p\.m\.?|trs?\/mi?n|tours?\/mi?n|t\/min|tpm|obr?\.\/min|ot\.\/min|об\/хв|(devir|dev|d)\/d(a?k)|toeren\/min|kierr\/min|f\/perc|1\/perc|ford\/perc|fordulat\/perc|varv\/min|omdr\/min|omw\/min|rpm_?m?|ob\/min|об\/мин|회전\/분|回転\/分|転\/分)$/.test(
      plain,
    )
  )
    return "{rev}/min";
  // Two words before the slash are a name and what is counted.
  const counted = byTheMinute.exec(
    text
      .trim()
      .toLowerCase()
      .replace(/\s*\/\s*/, "/")
      .normalize("NFC"),
  )?.[1];
  if (counted !== undefined && !noTurns.test(counted)) return "{rev}/min";
  if (
    /^(с|сек|сек\.|секунды?|секунд|초|sek\.?|sekunder|sekuntia|saniye|sekundy|sekund|detik|secondi)$/.test(
      plain,
    )
  )
    return "s";
  if (/^(мс|мсек)$/.test(plain)) return "ms";
  if (/^(а|ampere|amp\.|aeff|arms|a_?rms|a_?eff|apk|a_?pk|aac|adc)$/.test(plain)) return "A";
  if (/^(в|v_?rms|vrms|vac|volt\.?)$/.test(plain)) return "V";
  if (/^(н·?м|нм|н\*м|newton.?met(er|re)s?)$/.test(plain)) return "N.m";
  if (/^kn·?m$/.test(plain)) return "kN.m";
  if (/^(pct|percent|prozent)$/.test(plain)) return "%";
  if (/^(frac|fraction)$/.test(plain)) return "1";
  if (
    /^(град|град\.|gradi|grados|graus|degres|stopnie|stopni|stupne|graden|grader|derece|derajat|astetta|fok|度|도|deg\.)$/.test(
      plain,
    )
  )
    return "deg";
  if (/^(об|оборот)$/.test(plain)) return "{rev}";
  if (/^(rad\.?|рад)$/.test(plain)) return "rad";
  // `Q15`: fractions of a full scale that nobody says.
  if (/^(\d{1,2}-?bits?|q(7|1[0-6]|2[0-8]|3[01]))$/.test(plain)) return "{count}";
  if (
    /^(imp|cts|inkr\.|impulsy|impulsos|impulsions|imp\.|pulsos|pulsi|steps|step|qcounts|digits|digit|raw|adc|dec|int16|имп|pls|パルス)$/.test(
      plain,
    )
  )
    return "{count}";
  if (/^(qc\/s|imp\/s|pulses\/s|steps\/s|pps|pls\/s)$/.test(plain)) return "{count}/s";
  return undefined;
}

/** Speeds along a line in Cyrillic letters. */
function metresOf(length: string, time: string): string | undefined {
  const of = { м: "m", мм: "mm", см: "cm", мкм: "um", км: "km" }[length];
  const code = `${of}/${time.startsWith("с") ? "s" : time.startsWith("м") ? "min" : "h"}`;
  return metresASecond.has(code) ? code : undefined;
}
