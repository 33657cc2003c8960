import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, expect, it, test } from "vitest";
import { factOf } from "../../lib/study/life/factHeadings.js";
import { lifeTable } from "../../lib/study/life/readLifeTable.js";
import { readAbout } from "../../lib/study/pipeline/aboutTable.js";
import { otherTables } from "../../lib/study/pipeline/otherTables.js";
import { doubtOfLimits } from "../../lib/study/population/doubtfulLimits.js";

const home = mkdtempSync(join(tmpdir(), "fact-headings-"));
afterAll(() => rmSync(home, { recursive: true, force: true }));

const written = (name: string, text: string | Uint8Array) => {
  mkdirSync(home, { recursive: true });
  writeFileSync(join(home, name), text);
  return join(home, name);
};

const latin1 = (text: string) => Uint8Array.from(text, (c) => c.charCodeAt(0));

// Words of general dictionaries, no source.
it.each([
  ["Motor;Charge;Datum;Prüfstand;Temperatur [°C];Betriebsstunden", "m1;C7;04.03.2026;P2;31,5;120"],
  ["Seriennummer;Los-Nr.;Prüfdatum;Prüfplatz;Motortemperatur (°C);Stunden", "m1;C7;2026-03-04;P2;31,5;120"],
  ["Moteur;N° de lot;Date d'essai;Banc d'essai;Température [°C];Heures", "m1;C7;04.03.2026;P2;31,5;120"],
  [
    "Número de serie;Lote;Fecha;Banco de pruebas;Temperatura (°C);Horas de uso",
    "m1;C7;04/03/2026;P2;31,5;120",
  ],
  ["Motore;Lotto;Data;Banco;Temperatura [°C];Ore", "m1;C7;04/03/2026;P2;31,5;120"],
  ["Serial no.;Lot #;Test date;Test bench;Temp. [°C];Operating hours", "m1;C7;2026-03-04;P2;31.5;120"],
  ["Serienummer;Partij;Datum;Testbank;Temperatuur [°C];Draaiuren", "m1;C7;04-03-2026;P2;31,5;120"],
])("a table about motors headed %s is understood", async (heading, line) => {
  for (const text of [`${heading}\n${line}\n`, latin1(`${heading}\n${line}\n`)]) {
    const facts = await readAbout(written("about.csv", text), { order: "day-month" });
    expect(facts.ignored).toEqual([]);
    expect(facts.find("runs/x.csv", "m1", {})).toEqual({
      motor: "m1",
      batch: "C7",
      rig: "P2",
      date: "2026-03-04",
      temperature: 31.5,
      hours: 120,
    });
  }
});

it.each([
  "Motor type",
  "Motortyp",
  "Ambient temperature",
  "Umgebungstemperatur",
  "Stand",
  "Kunde",
  "Set",
  "T",
])("%s is no fact that a study knows", (heading) => {
  expect(factOf(heading)).toBeUndefined();
});

test("a word of several meanings counts by its cells", async () => {
  // A load in French and an electric charge in English: numbers are no names of batches for sure.
  expect((await readAbout(written("load.csv", "motor,Charge\nm1,0.5\nm2,1.5\n"))).ignored).toEqual([
    "Charge",
  ]);
  expect((await readAbout(written("data.csv", "motor,data\nm1,raw\n"))).ignored).toEqual(["data"]);
  expect((await readAbout(written("day.csv", "motor,day\nm1,3\n"))).ignored).toEqual(["day"]);
});

test("what is not understood can be stated, and the message shows how", async () => {
  const about = written("stated.csv", "Gerät,Posten\nm1,P7\n");
  await expect(readAbout(about)).rejects.toThrow("--about-column motor=Gerät");
  const facts = await readAbout(about, { columns: { motor: "Gerät", batch: "Posten" } });
  expect(facts.find("x.csv", "m1", {})).toMatchObject({ motor: "m1", batch: "P7" });
  expect(facts.taken).toEqual({ motor: "Gerät", batch: "Posten" });
  await expect(readAbout(about, { columns: { batch: "Los" } })).rejects.toThrow(
    'has no column "Los" for batch',
  );
});

test("two columns that say the same are not chosen between, and a stated one wins", async () => {
  const about = written("two.csv", "motor,Los,Charge\nm1,L1,C1\n");
  expect((await readAbout(about)).ignored).toEqual(["Los", "Charge"]);
  const facts = await readAbout(about, { columns: { batch: "Charge" } });
  expect(facts.ignored).toEqual(["Los"]);
  expect(facts.find("x.csv", "m1", {}).batch).toBe("C1");
});

test("a column of files counts where it names a recording of the study", async () => {
  const about = written("files.csv", "motor,file,batch\nm1,r1.csv,B1\nm1,r2.csv,B2\n");
  const facts = await readAbout(about, { paths: ["runs/r1.csv", "runs/r3.csv"] });
  expect(facts.find("runs/r1.csv", "?", {})).toMatchObject({ motor: "m1", batch: "B1" });
  const drawings = written("drawings.csv", "motor,file,batch\nm1,one.step,B1\n");
  const other = await readAbout(drawings, { paths: ["runs/r1.csv"] });
  expect(other.ignored).toEqual(["file"]);
  expect(other.find("runs/r1.csv", "m1", {}).batch).toBe("B1");
});

test("such tables among recordings are told, and life tables headed so are read", async () => {
  const table = written("motoren.csv", latin1("Motor;Charge;Prüfstand;Datum\nm1;C7;P2;2026-03-04\n"));
  const recording = written("lauf.csv", "Zeit [s];Strom [A];Temperatur [°C]\n0;1;20\n");
  expect(otherTables([table, recording])).toEqual([table]);
  const { lives } = await lifeTable(
    "Motor,Los,after [h],by [h],Temperatur [K]\nm1,L1,120,120,300.15\n",
    "pasted",
  );
  expect(lives).toEqual([
    { after: 120, by: 120, motor: "m1", group: "L1", temperature: expect.closeTo(27, 9) },
  ]);
});

test("limits that no motor keeps or that none could reach are asked about, others are not", () => {
  const kv = [31, 32, 33];
  expect(doubtOfLimits("kv", kv, { lower: 1e9 })).toMatch(/^all 3 motors lie below .*check the file$/);
  expect(doubtOfLimits("kv", kv, { upper: 0.03 })).toMatch(/^all 3 motors lie above/);
  expect(doubtOfLimits("coulombFriction", [0.011, 0.012], { upper: 30 })).toMatch(/^no motor comes near/);
  expect(doubtOfLimits("coulombFriction", [0.011, 0.012], { upper: 0.12 })).toBeUndefined();
  expect(doubtOfLimits("kv", kv, { lower: 0, upper: 32.5 })).toBeUndefined();
  expect(doubtOfLimits("kv", [], { lower: 1 })).toBeUndefined();
});
