/** A text read as JSON or as a program prints its values. */
export interface LooseJson {
  readonly value: unknown;
  /** The text breaks off within a value: what was whole before is kept. */
  readonly cut: boolean;
}

class NotJson extends Error {}

const deepest = 64;
const space = /(?:[\s\ufeff]+|\/\/[^\n\r]*|#[^\n\r]*|\/\*[\s\S]*?\*\/)*/y;
const numberText = /[+-]?(?:0x[\da-f]+|(?:\d+(?:\.\d*)?|\.\d+)(?:e[+-]?\d+)?)(?![\w.])/iy;
const word = /[+-]?[A-Za-z_$][\w$]*/y;
const constants: ReadonlyMap<string, unknown> = new Map<string, unknown>([
  ["true", true],
  ["True", true],
  ["false", false],
  ["False", false],
  ["null", null],
  ["None", null],
  ["undefined", null],
  ["nan", null],
  ["NaN", null],
  ["Infinity", null],
  ["-Infinity", null],
  ["inf", null],
  ["-inf", null],
]);
const closing: Readonly<Record<string, string>> = { "[": "]", "{": "}", "(": ")" };

/**
 * Reads values as JSON, JavaScript and Python write them: single quotes, keys without quotes, tuples, a comma after the
 * last item, `None`, `NaN`, comments, a name with an equals sign or a call (`array(...)`) around them, one value after
 * the other (they become a list), and a text that breaks off. Undefined for anything else.
 *
 * @example
 * looseJson("{'t': [0, 0.1], 'ok': True}")?.value; // { t: [0, 0.1], ok: true }
 */
export function looseJson(text: string): LooseJson | undefined {
  const reader = new Reader(text.trimEnd().replace(/;$/, "").trimEnd());
  try {
    const values: unknown[] = [];
    const named: Record<string, unknown> = Object.create(null);
    let names = 0;
    while (!reader.atEnd()) {
      const name = reader.name();
      const value = reader.value(0);
      if (name === undefined) values.push(value);
      else {
        named[name] = value;
        names += 1;
      }
      reader.between();
      if (reader.cut) break;
    }
    if (names > 0 && values.length > 0) return undefined;
    const value = names > 0 ? { ...named } : values.length === 1 ? values[0] : values;
    return values.length + names === 0 ? undefined : { value, cut: reader.cut };
  } catch (error) {
    if (error instanceof NotJson) return undefined;
    throw error;
  }
}

/** Goes through a text value by value. */
class Reader {
  private at = 0;
  cut = false;

  constructor(private readonly text: string) {}

  private skip(): void {
    space.lastIndex = this.at;
    this.at += space.exec(this.text)?.[0].length ?? 0;
  }

  private match(pattern: RegExp): string | undefined {
    pattern.lastIndex = this.at;
    const m = pattern.exec(this.text);
    if (m !== null) this.at += m[0].length;
    return m?.[0];
  }

  atEnd(): boolean {
    this.skip();
    return this.at >= this.text.length;
  }

  /** Commas and semicolons between values that stand one after the other. */
  between(): void {
    this.skip();
    this.match(/[,;]/y);
  }

  /** `name =` before a value. */
  name(): string | undefined {
    this.skip();
    const m = this.match(/(?:(?:const|let|var|export|default)\s+)*[A-Za-z_$][\w$.]{0,60}\s*=\s*(?=[[{(])/y);
    return m?.replace(/^(?:(?:const|let|var|export|default)\s+)*/, "").replace(/\s*=\s*$/, "");
  }

  value(depth: number): unknown {
    this.skip();
    const c = this.text[this.at];
    if (c === undefined) {
      this.cut = true;
      return null;
    }
    if (depth > deepest) throw new NotJson();
    if (c === "[" || c === "(") return this.list(closing[c], depth);
    if (c === "{") return this.object(depth);
    if (c === '"' || c === "'") return this.quoted(c);
    const number = this.match(numberText);
    if (number !== undefined) {
      // Half a number at the end of a text is none.
      if (this.at >= this.text.length && depth > 0) {
        this.cut = true;
        return null;
      }
      return Number(number.replace(/^\+/, ""));
    }
    const name = this.match(word);
    if (name === undefined) throw new NotJson();
    if (constants.has(name)) return constants.get(name);
    if (this.at >= this.text.length) {
      this.cut = true;
      return null;
    }
    return this.call(depth);
  }

  /** `array([1, 2], dtype=float32)`: its first argument. */
  private call(depth: number): unknown {
    this.match(/(?:\.[A-Za-z_]\w*)*/y);
    if (this.text[this.at] !== "(") throw new NotJson();
    this.at += 1;
    const value = this.value(depth + 1);
    this.match(/[^()[\]{}'"]{0,80}\)/y);
    return value;
  }

  private list(end: string, depth: number): unknown[] {
    this.at += 1;
    const out: unknown[] = [];
    for (;;) {
      this.skip();
      if (this.text[this.at] === end) {
        this.at += 1;
        return out;
      }
      if (this.at >= this.text.length) {
        this.cut = true;
        return out;
      }
      const value = this.value(depth + 1);
      // What broke off within is kept where it is a list or has whole members.
      if (!this.cut || typeof value === "object") out.push(value);
      if (this.cut) return out.filter((v) => v !== null || !this.cut);
      this.comma(end);
    }
  }

  private object(depth: number): Record<string, unknown> {
    this.at += 1;
    const out: Record<string, unknown> = {};
    for (;;) {
      this.skip();
      if (this.text[this.at] === "}") {
        this.at += 1;
        return out;
      }
      const key = this.key();
      if (key === undefined) return out;
      const value = this.value(depth + 1);
      if (!this.cut || (typeof value === "object" && value !== null))
        Object.defineProperty(out, key, { value, enumerable: true, configurable: true, writable: true });
      if (this.cut) return out;
      this.comma("}");
    }
  }

  private key(): string | undefined {
    const c = this.text[this.at];
    const key = c === '"' || c === "'" ? this.quoted(c) : (this.match(/[\w$.-]+/y) ?? "");
    this.skip();
    if (this.at >= this.text.length) {
      this.cut = true;
      return undefined;
    }
    if (this.cut || this.match(/[:=]/y) === undefined) throw new NotJson();
    return key;
  }

  private comma(end: string): void {
    this.skip();
    const c = this.text[this.at];
    if (c === ",") this.at += 1;
    else if (c !== end && c !== undefined) throw new NotJson();
  }

  private quoted(mark: string): string {
    const from = this.at + 1;
    let to = from;
    while (to < this.text.length && this.text[to] !== mark) {
      if (this.text[to] === "\n" && to - from > 4000) throw new NotJson();
      to += this.text[to] === "\\" ? 2 : 1;
    }
    if (to >= this.text.length) this.cut = true;
    this.at = to + 1;
    return this.text.slice(from, to).replace(/\\(["'\\/])/g, "$1");
  }
}
