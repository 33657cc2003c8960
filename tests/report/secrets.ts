/** Invented people, firms and places, with what makes names hard: blanks, dots, umlauts, hyphens, digits, other
 * scripts. */
export const secrets = [
  "Jörg Müller-Lüdenscheidt",
  "Zbigniew Szczęsny",
  "O'Rourke",
  "Kvasnička & Sýkora s.r.o.",
  "Ångströmsgatan",
  "Dr. Quill",
  "Hövelmann Fördertechnik",
  "PaloVerdeMills",
  "Werk Nordhorn 7",
  "Łódź",
  "田中製作所",
  "Tanaka.Y",
  "Frøya",
  "Çelikoğlu",
] as const;

/** The part of a secret that must not be seen anywhere: its longest word. */
export const essence = (secret: string): string =>
  [...secret.matchAll(/[\p{L}\p{M}]+/gu)].map(([word]) => word).sort((a, b) => b.length - a.length)[0];
