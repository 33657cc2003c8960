/**
 * Beginnings of the names of the months, January first, that tell them from all others, from the names and
 * abbreviations of Unicode's Common Locale Data Repository (CLDR) for the Gregorian calendar in some fifty languages,
 * with and without the accents of Latin letters; points are left out. Where languages contradict each other the one of
 * more people is taken: Czech and Polish before Croatian.
 */
const stems: readonly string[] = [
  `ene gen ian ion jaa jan jän led oca sau sij sty tam urt xan yan ιαν сту січ янв яну јан қаң հնվ հունվ
   ינו جان جنو ينا ژان जनव जान জান ਜਨ જાન ஜன జన දුර มกร มค იან`,
  `chw feb fev fév hel lut ots peb shk sub uno vas vee vel úno şub φεβ ақп лют феб фев փետ փտվ פבר شبا فبر
   فرو فور فيف फ़र फेब ফেব ਫ਼ਰ ફેબ பிப ఫిబ නවම กพ กุม თებ`,
  `bre bře kov maa mac mar maw mrt már mär ozu ožu μαρ бер мар нау сак մար մրտ מרץ آذا مار मार মার ਮਾਰ માર
   மார మార මැද มีค มีน მარ`,
  `abr api apr avr bal dub ebr huh kwi nis pri tra ápr απρ апр кві кра сәу ապր אפר آور أبر أفر اپر نيس अप्
   एप् এপ্ ਅਪ੍ એપ્ ஏப் ఏప్ බක් เมย เมษ აპრ`,
  `geg kve kvě mag mai maj may maí mei máj svi tou μαΐ μαι маи май мам мая мај тра մայ մյս מאי أيا مئی ماي
   مه मई मे মে ਮਈ મે மே మే වෙස พค พฤษ მაი`,
  `bir cerven cervn cvn cze eka giu haz hun iun iyn iyun juin jun juun jún jūn kes lipa lipn meh qer xun
   xuñ červen červn čvn ιουν июн мау чер чэр юни јун հնս հունի יונ جوا جون حزي يون ژوئن जुन जून জুন ਜੂਨ જૂન
   ஜூன జూన පොස มิถ มิย ივნ`,
  `cervenc cervene cvc gor hei hul iul iyl iyul juil jul juul júl jūl kor lie lip lug srpa srpnj tem uzt
   xul červenc červene čvc ιουλ июл лип ліп шіл юли јул հլս հուլ יול تمو جول جوي يول ژوئی जुल জুল ਜੁਲ જુલ
   ஜூல జుల ඇසළ กค กรก ივლ`,
  `abu ag aou aoû aug avg avq aws ağu elo gus kol ogo rugp sie srp ágú αυγ авг жні сер там օգո օգս אוג آب
   أغس أوت اوت اگس अगस ऑग আগ ਅਗ ઑગસ ஆக ఆగ නික สค สิง აგვ`,
  `eyl ira med rugs ruj sen sep set sht syy sze wrz zar zář σεπ вер сен сеп қыр սեպ ספט أيل سبت ستم سپت सप्
   सित सेप সেপ ਸਤੰ સપ્ செப సెప බින กย กัน სექ`,
  `eki hyd lok oct okt ott out paz paź rij spa tet urr říj οκτ жов кас окт қаз հոկ אוק أكت اکت अक् ऑक् অক্
   ਅਕਤ ઑક્ அக் అక్ වප් ตค ตุล ოქტ`,
  `aza kas lap lis marr nen nob noi nov noy nën nóv stu tac νοε лис ліс нов ное ноя қар նոյ נוב نوا نوف نوم
   नवं नोभ नोव নভে ਨਵੰ નવે நவ నవం ඉල් พย พฤศ ნოე`,
  `abe ara dec dek des det dez dhj dic dis déc gru jou pro rha δεκ гру дек дец жел сне դեկ דצמ دسا دسم ديس
   डिस दिस ডিস ਦਸੰ ડિસ டிச డిస උඳු ธค ธัน დეკ`,
];

/** Beginnings of names of months, and the months from 1. */
export const monthStems: ReadonlyMap<string, number> = new Map(
  stems.flatMap((all, k) => all.split(/\s+/).map((stem) => [stem, k + 1] as const)),
);

/** Length of the longest beginning, in characters. */
export const longestStem = Math.max(...[...monthStems.keys()].map((stem) => stem.length));

/**
 * The month from 1 that a name or an abbreviation in one of these languages means; undefined for another word.
 *
 * @example
 * monthOf("août"); // => 8
 */
export function monthOf(word: string): number | undefined {
  const name = word.toLowerCase().replaceAll(".", "");
  for (let n = Math.min(name.length, longestStem); n >= 2; n -= 1) {
    const month = monthStems.get(name.slice(0, n));
    if (month !== undefined) return month;
  }
  return undefined;
}
