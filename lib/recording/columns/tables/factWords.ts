import type { WordsByLanguage } from "./quantityWords.js";

/** What a column of a table about recordings or motors can say, besides the temperature. */
export type FactWord = "recording" | "motor" | "batch" | "rig" | "date" | "hours";

/**
 * Headings of tables about recordings or motors by language (ISO 639-1), folded, several words joined by `_`; words
 * that say nothing of their own (`no.`, `id`, `of the`) are left out. From general dictionaries, written from memory.
 */
export const factWords: Readonly<Record<FactWord, WordsByLanguage>> = {
  recording: {
    en: "recording recordings file filename log logfile log_file data_file measurement",
    de: "aufzeichnung aufnahme datei dateiname messdatei messung logdatei",
    fr: "enregistrement fichier mesure",
    es: "grabacion registro archivo fichero medicion",
    it: "registrazione file misura",
    pt: "gravacao registo arquivo ficheiro medicao",
    nl: "opname bestand bestandsnaam meting",
    sv: "inspelning fil filnamn matning",
    pl: "nagranie plik pomiar",
  },
  motor: {
    en: "motor motors serial s_n sn motor_serial motor_sn",
    de: "motor motoren motornummer motornr seriennummer seriennr fabriknummer prufling",
    fr: "moteur no_serie num_serie numero_serie n_serie no_de_serie n_de_serie num_de_serie numero_de_serie",
    es: "motor no_serie num_serie numero_serie n_serie no_de_serie n_de_serie num_de_serie numero_de_serie",
    it: "motore matricola numero_di_serie",
    pt: "motor numero_de_serie",
    nl: "motor motornummer serienummer",
    sv: "motor motornummer serienummer",
    pl: "silnik numer_seryjny",
  },
  batch: {
    en: "batch lot production_lot production_batch",
    de: "los losnummer losnr charge chargennummer chargennr fertigungslos produktionslos",
    fr: "lot lot_fabrication lot_production",
    es: "lote lote_fabricacion lote_produccion",
    it: "lotto lotto_produzione",
    pt: "lote lote_producao",
    nl: "batch partij partijnummer",
    sv: "batch parti sats",
    pl: "partia",
  },
  rig: {
    en: "rig bench test_rig test_bench testbench test_stand teststand",
    de: "prufstand pruefstand prufplatz pruefplatz messplatz messstand teststand",
    fr: "banc banc_essai banc_essais banc_d_essai banc_d_essais banc_test",
    es: "banco banco_prueba banco_pruebas banco_ensayo banco_ensayos",
    it: "banco banco_prova banco_prove",
    pt: "bancada banco_teste banco_testes banco_ensaio banco_ensaios",
    nl: "testbank proefbank proefstand",
    sv: "provbank provrigg testrigg rigg",
    pl: "stanowisko",
  },
  date: {
    en: "date day test_date date_test date_tested tested tested_on measurement_date recording_date",
    de: "datum tag prufdatum pruefdatum messdatum testdatum",
    fr: "date jour date_essai date_mesure date_test",
    es: "fecha dia fecha_prueba fecha_ensayo fecha_medicion",
    it: "data giorno data_prova data_misura",
    pt: "data dia data_teste data_ensaio data_medicao",
    nl: "datum dag testdatum meetdatum",
    sv: "datum dag testdatum",
    pl: "data dzien data_pomiaru",
  },
  hours: {
    en: "hours operating_hours running_hours run_hours service_hours hours_run hours_use",
    de: "stunden betriebsstunden laufstunden",
    fr: "heures heures_fonctionnement heures_service heures_marche",
    es: "horas horas_funcionamiento horas_servicio horas_uso horas_operacion",
    it: "ore ore_funzionamento ore_servizio ore_esercizio",
    pt: "horas horas_funcionamento horas_operacao horas_uso",
    nl: "uren bedrijfsuren draaiuren",
    sv: "timmar drifttimmar",
    pl: "godziny motogodziny",
  },
};

/** Words of such a heading that say nothing of their own. */
export const fillWords =
  "no nr num number nummer numero numer n id ids name of the on in der des de du la le el los del da do di della van";
