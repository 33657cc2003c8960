/**
 * What test files ask of vitest, kept in a list instead of run, so that one warm process runs them again for every
 * mutant. Matchers are vitest's own.
 */
import {
  Any,
  Anything,
  ArrayContaining,
  addCustomEqualityTesters,
  chai,
  GLOBAL_EXPECT,
  getState,
  JestAsymmetricMatchers,
  JestChaiExpect,
  JestExtend,
  setState,
} from "@vitest/expect";

type Body = (...given: unknown[]) => unknown;
/** Tests and preparations of a file or a group within it. */
export interface Group {
  readonly tests: (readonly [string, Body] | Group)[];
  readonly before: Body[];
  readonly after: Body[];
  readonly beforeOne: Body[];
  readonly afterOne: Body[];
}
const empty = (): Group => ({ tests: [], before: [], after: [], beforeOne: [], afterOne: [] });
let current = empty();

/** What a file registers while `load` imports it. */
export async function collected(load: () => Promise<unknown>): Promise<Group> {
  current = empty();
  const group = current;
  await load();
  return group;
}

/** Runs a group up to its first failure, which is thrown; `starts` is told of every test. */
export async function runGroup(group: Group, starts: (name: string) => void): Promise<void> {
  for (const prepare of group.before) await prepare();
  try {
    for (const test of group.tests) {
      if (!Array.isArray(test)) {
        await runGroup(test as Group, starts);
        continue;
      }
      const [name, body] = test as readonly [string, Body];
      starts(name);
      for (const prepare of group.beforeOne) await prepare();
      await body({ skip: () => undefined, expect });
      for (const tidy of group.afterOne) await tidy();
    }
  } finally {
    for (const tidy of group.after) await tidy();
  }
}

chai.use(JestExtend);
chai.use(JestChaiExpect);
chai.use(JestAsymmetricMatchers);
export const expect = Object.assign(
  (value: unknown, message?: string) => {
    setState({ assertionCalls: 0 }, expect as never);
    return chai.expect(value, message);
  },
  chai.expect,
  {
    any: (kind: unknown) => new Any(kind),
    anything: () => new Anything(),
    arrayContaining: (items: unknown[]) => new ArrayContaining(items),
    addEqualityTesters: addCustomEqualityTesters,
    getState: () => getState(expect as never),
    setState: (state: object) => setState(state, expect as never),
  },
);
(globalThis as Record<symbol, unknown>)[GLOBAL_EXPECT] = expect;
setState({ assertionCalls: 0, isExpectingAssertions: false }, expect as never);

const bodyOf = (given: readonly unknown[]): Body => given.find((one) => typeof one === "function") as Body;

function add(name: string, ...given: unknown[]): void {
  current.tests.push([name, bodyOf(given)]);
}
function group(_name: string, ...given: unknown[]): void {
  const outer = current;
  const inner = empty();
  inner.beforeOne.push(...outer.beforeOne);
  inner.afterOne.push(...outer.afterOne);
  current = inner;
  bodyOf(given)();
  current = outer;
  outer.tests.push(inner);
}
const nothing = (): void => undefined;
type Adds = (name: string, ...given: unknown[]) => void;
function withVariants(put: Adds) {
  const each =
    (rows: readonly unknown[]) =>
    (name: string, ...given: unknown[]) => {
      for (const row of rows) {
        const body = bodyOf(given);
        put(name, () => (Array.isArray(row) ? body(...row) : body(row)));
      }
    };
  return Object.assign(put, {
    each,
    for: (rows: readonly unknown[]) => each(rows.map((row) => [row])),
    skip: nothing as Adds,
    skipIf: (skip: unknown) => (skip ? (nothing as Adds) : put),
    runIf: (run: unknown) => (run ? put : (nothing as Adds)),
  });
}
export const test = withVariants(add);
export const it = test;
export const describe = withVariants(group);
export const beforeAll = (body: Body): void => void current.before.push(body);
export const afterAll = (body: Body): void => void current.after.push(body);
export const beforeEach = (body: Body): void => void current.beforeOne.push(body);
export const afterEach = (body: Body): void => void current.afterOne.push(body);
export const vi = { setConfig: nothing };
